"""How like football a match looks: whole-match figures against published ranges.

Each row is a function of a `Match` alone, so any match with events and tracking can be laid beside the ranges.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from tactical_kit.match import Match

__all__ = ["ROWS", "RealismRow", "realism_table"]


@dataclass(frozen=True)
class RealismRow:
    """One line of the table: a figure, the range it must lie in, and where the range comes from."""

    name: str
    unit: str
    low: float
    high: float
    source: str


_CIES = "CIES monthly report 64 (2021), Altmann et al. 2023 and UEFA figures: 50-66 min"
_MEMORY = "usual league means, from memory"
ROWS: tuple[RealismRow, ...] = (
    RealismRow(
        "distance per outfield player, mean",
        "km",
        9.0,
        14.0,
        "Andrzejewski et al. 2013, JSCR 27:2134; Silva et al. 2024, Biol. Sport 41(3):223",
    ),
    RealismRow(
        "distance per team", "km", 95.0, 118.7, "World Cup 2018: 101-113 km a team (FIFA report), 5 % either way"
    ),
    RealismRow("share of distance under 7.2 km/h", "%", 25.0, 45.0, "about 35 %: Silva et al. 2024"),
    RealismRow("share of distance over 25 km/h", "%", 1.0, 4.0, "2-3 %: Andrzejewski et al. 2013"),
    RealismRow(
        "distance over 19.8 km/h per outfield player",
        "m",
        771.0,
        1296.0,
        "618-1001 m and sprints of 153-295 m on top, added up; thresholds differ: Gualtieri et al. 2023",
    ),
    RealismRow(
        "peak speed of the fastest",
        "m/s",
        7.7,
        9.8,
        "8.09-8.79 m/s, 5 % either way: Silva et al. 2025; records 36-37 km/h",
    ),
    RealismRow("ball in play", "min", 50.0, 66.0, _CIES),
    RealismRow("passes per team", "", 350.0, 600.0, _MEMORY),
    RealismRow("passes completed", "%", 75.0, 88.0, _MEMORY),
    RealismRow("shots per team, mean of both", "", 9.0, 16.0, _MEMORY),
    RealismRow(
        "shots on target",
        "%",
        5.0,
        65.0,
        "about a third, from memory; three standard deviations of 22 shots (30 %) either way",
    ),
    RealismRow("corners per team, mean of both", "", 3.0, 7.0, _MEMORY),
    RealismRow("fouls per team, mean of both", "", 9.0, 14.0, _MEMORY),
    RealismRow("goals, both", "", 0.0, 8.0, "2.6-3.2 a match from memory; a single match scatters (Poisson, 99.5 %)"),
    RealismRow(
        "changes of possession, both",
        "",
        190.0,
        320.0,
        "about 200 controlled, 306 under one control rule: Shen 2021; 206 losses: Bauer & Anzer 2021",
    ),
    RealismRow(
        "passes per defensive action, mean of both",
        "",
        6.0,
        16.0,
        "weak: secondary pages say 6-8 aggressive, over 15 passive",
    ),
)


def realism_table(match: Match) -> pd.DataFrame:
    """Lay a match beside published ranges.

    Parameters
    ----------
    match : Match
        With events and tracking.

    Returns
    -------
    DataFrame
        Row, value, low, high, unit, inside, source. Distances come from positions averaged over half a second.
        For rows "per player" and "per team" the value is the mean; ``least`` and ``most`` give the spread.
    """
    values = {**_running(match), **_play(match)}
    rows = []
    for row in ROWS:
        value, least, most = values[row.name]
        rows.append(
            {
                "row": row.name,
                "value": value,
                "least": least,
                "most": most,
                "low": row.low,
                "high": row.high,
                "unit": row.unit,
                "inside": bool(row.low <= least and most <= row.high),
                "source": row.source,
            }
        )
    return pd.DataFrame(rows)


def _one(value: float) -> tuple[float, float, float]:
    return float(value), float(value), float(value)


def _running(match: Match) -> dict[str, tuple[float, float, float]]:
    tracking = match.need_tracking("The realism table")
    every = max(1, round(tracking.rate_hz / 5))
    keepers = {p.player_id for team in match.teams for p in team.players if p.position == "GK"}
    total = np.zeros(len(tracking.players))
    slow, fast, sprint, present = total.copy(), total.copy(), total.copy(), total.copy()
    peak = 0.0
    for number in np.unique(tracking.period):
        xy = tracking.xy[tracking.period == number][::every].astype(float)
        step = np.sqrt(((xy[1:] - xy[:-1]) ** 2).sum(axis=2))
        rate = tracking.rate_hz / every
        speed = step * rate
        known = np.isfinite(step)
        step = np.where(known, step, 0.0)
        speed = np.where(known, speed, 0.0)
        total += step.sum(axis=0)
        slow += (step * (speed < 2.0)).sum(axis=0)
        fast += (step * (speed > 5.5)).sum(axis=0)
        sprint += (step * (speed > 25 / 3.6)).sum(axis=0)
        present += known.sum(axis=0) / rate
        peak = max(peak, float(speed.max()))
    length = sum(p.duration_s for p in match.periods)
    outfield = np.array([p not in keepers for p in tracking.players])
    whole = outfield & (present > 0.97 * length)
    km = total[whole] / 1000
    team_km = [total[np.asarray(tracking.team_index) == k].sum() / 1000 for k in (0, 1)]
    share = present[outfield] / length
    return {
        "distance per outfield player, mean": _one(km.mean()),
        "distance per team": (float(np.mean(team_km)), min(team_km), max(team_km)),
        "share of distance under 7.2 km/h": _one(100 * slow[outfield].sum() / total[outfield].sum()),
        "share of distance over 25 km/h": _one(100 * sprint[outfield].sum() / total[outfield].sum()),
        "distance over 19.8 km/h per outfield player": _one(fast[outfield].sum() / share.sum()),
        "peak speed of the fastest": _one(peak),
        "ball in play": _one(float(np.asarray(tracking.alive).sum()) / tracking.rate_hz / 60),
    }


def _play(match: Match) -> dict[str, tuple[float, float, float]]:
    events = match.need_events("The realism table")
    teams = [team.team_id for team in match.teams]

    def count(kind: str, team: str | None = None, **wanted: str) -> int:
        mask = events["kind"] == kind
        if team:
            mask &= events["team"] == team
        for column, value in wanted.items():
            mask &= events[column] == value
        return int(mask.sum())

    passes = [count("pass", team) for team in teams]
    completed = [100 * count("pass", team, outcome="complete") / max(1, n) for team, n in zip(teams, passes)]
    own_goals = count("shot", detail="own-goal")
    shots = count("shot") - own_goals
    on_target = count("shot", outcome="goal") - own_goals + count("shot", outcome="saved")
    corners = int((events["set_play"] == "corner").sum())
    ppda = [_ppda(match, team) for team in teams]
    return {
        "passes per team": (float(np.mean(passes)), float(min(passes)), float(max(passes))),
        "passes completed": (float(np.mean(completed)), min(completed), max(completed)),
        "shots per team, mean of both": _one(shots / 2),
        "shots on target": _one(100 * on_target / max(1, shots)),
        "corners per team, mean of both": _one(corners / 2),
        "fouls per team, mean of both": _one(count("foul") / 2),
        "goals, both": _one(count("shot", outcome="goal")),
        "changes of possession, both": _one(_changes(match)),
        "passes per defensive action, mean of both": _one(float(np.mean(ppda))),
    }


def _changes(match: Match) -> int:
    # control passes to the other side, in play or over a dead ball
    events = match.need_events("The realism table")
    own = events["kind"].isin(["pass", "carry", "shot", "take-on"])
    teams = events.loc[own, "team"].to_numpy()
    return int((teams[1:] != teams[:-1]).sum())


def _ppda(match: Match, team: str) -> float:
    events = match.attacking_events
    theirs = match.opponent(team).team_id
    passes = int(((events["kind"] == "pass") & (events["team"] == theirs) & (events["x"] <= 10.5)).sum())
    acts = events["kind"].isin(["tackle", "interception", "foul"]) & (events["team"] == team) & (events["x"] >= -10.5)
    return passes / max(1, int(acts.sum()))
