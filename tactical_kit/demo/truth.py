"""From the engine's codes to a `Match`, and to the truth about what was meant."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from tactical_kit.match import Match, Period, Player, Team, Tracking
from tactical_kit.match.events import events_table
from tactical_kit.pitch import Pitch

from . import _layout as L

if TYPE_CHECKING:
    from .script import Script, ScriptTeam
    from .simulate import Recording

__all__ = ["Truth", "build_match", "build_truth"]


@dataclass(frozen=True, eq=False)
class Truth:
    """What the players were told and meant, never worked out from where they stood.

    Attributes
    ----------
    owner : (T,) int8
        Side with the ball: 0 home, 1 away, -1 while the ball is dead.
    in_phase, out_phase : (T,) str
        Phase the side with the ball, and the side without it, was told to play; "" while the ball is dead.
        Rows match the frames of ``match.tracking``.
    marking : DataFrame
        period, start_s, end_s, team, marker, marked, why.
    patterns : DataFrame
        pattern, team, period, start_s, end_s, players, done, detail, n_for, n_against, first_ball, second_ball,
        x, y. ``done`` says whether it came off (boolean, <NA> where that has no meaning).
    """

    owner: np.ndarray
    in_phase: np.ndarray
    out_phase: np.ndarray
    marking: pd.DataFrame
    patterns: pd.DataFrame


def _squad(script: Script) -> list[str]:
    return [p.player_id for p in (*script.home.players, *script.away.players)]


def _team(side: ScriptTeam) -> Team:
    players = tuple(
        Player(
            player_id=p.player_id,
            name=p.name,
            team_id=side.team_id,
            shirt=p.shirt,
            position=p.position,
            starter=bool(p.slot),
        )
        for p in side.players
    )
    return Team(team_id=side.team_id, name=side.name, short_name=side.short_name, players=players)


def _played(recordings: list[Recording]) -> list[int]:
    return sorted({pid for r in recordings for _, _, pid in r.occupant})


def build_match(
    script: Script, seed: int, recordings: list[Recording], rate_hz: int
) -> tuple[Match, tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Turn the recordings into a `Match`; also hand back the unrounded 25 Hz arrays."""
    ids, pids = _squad(script), _played(recordings)
    column = {pid: c for c, pid in enumerate(pids)}
    n_home = len(script.home.players)
    xys = []
    for r in recordings:
        xy = np.full((len(r.ball), len(pids), 2), np.nan)
        for slot in range(22):
            spells = [(f, pid) for f, i, pid in r.occupant if i == slot]
            for m, (start, pid) in enumerate(spells):
                end = spells[m + 1][0] if m + 1 < len(spells) else len(r.ball)
                xy[start:end, column[pid]] = r.xy[start:end, slot]
        xys.append(xy)
    step = 25 // rate_hz
    period = np.concatenate([np.full(len(r.ball), r.number, np.int8) for r in recordings])
    time_s = np.concatenate([np.arange(len(r.ball)) / 25.0 for r in recordings])
    exact_xy, exact_ball = np.concatenate(xys), np.concatenate([r.ball for r in recordings])
    alive = np.concatenate([r.flag[:, 0] for r in recordings]).astype(bool)
    keep = np.concatenate([np.arange(len(r.ball)) % step == 0 for r in recordings])
    tracking = Tracking(
        rate_hz=float(rate_hz),
        period=period[keep],
        time_s=time_s[keep],
        players=tuple(ids[p] for p in pids),
        team_index=np.array([0 if p < n_home else 1 for p in pids], np.int8),
        xy=exact_xy[keep].astype(np.float32),
        ball=exact_ball[keep].astype(np.float32),
        alive=alive[keep],
        owner=None,
    )
    match = Match(
        match_id=f"{script.match_id}-seed-{seed}",
        home=_team(script.home),
        away=_team(script.away),
        periods=tuple(
            Period(number=r.number, duration_s=r.duration_s, home_attacks=r.home_attacks) for r in recordings
        ),
        pitch=Pitch(),
        events=_events(script, recordings, ids),
        tracking=tracking,
        day=date.fromisoformat(script.date) if script.date else None,
        label=script.label,
        invented=True,
    )
    return match, (exact_xy, exact_ball, period)


def _events(script: Script, recordings: list[Recording], ids: list[str]) -> pd.DataFrame:
    teams = (script.home.team_id, script.away.team_id)
    rows: list[dict[str, object]] = []
    for r in recordings:
        first = len(rows)
        rows.append({"period": r.number, "time_s": 0.0, "kind": "period-start"})
        base = len(rows)
        for e in r.events:
            kind = L.KINDS[int(e[L.E_KIND])]
            player, receiver = int(e[L.E_PLAYER]), int(e[L.E_RECV])
            success = int(e[L.E_SUCC])
            end = int(e[L.E_END])
            rows.append(
                {
                    "period": r.number,
                    "time_s": e[L.E_FRAME] / 25.0,
                    "end_s": end / 25.0 if end >= 0 else np.nan,
                    "kind": kind,
                    "detail": L.DETAILS[int(e[L.E_DETAIL])],
                    "set_play": L.RESTART_NAMES[int(e[L.E_SP])],
                    "team": teams[int(e[L.E_TEAM])],
                    "player": ids[player] if player >= 0 else "",
                    "receiver": ids[receiver] if receiver >= 0 and kind == "pass" else "",
                    "success": pd.NA if success < 0 else bool(success),
                    "outcome": L.OUTCOMES[int(e[L.E_OUT])],
                    "x": e[L.E_X],
                    "y": e[L.E_Y],
                    "end_x": e[L.E_EX],
                    "end_y": e[L.E_EY],
                    "body_part": L.BODIES[int(e[L.E_BODY])],
                    "related": int(e[L.E_REL]) + base if e[L.E_REL] >= 0 else -1,
                }
            )
        for frame, k, off, on in r.subs:
            rows.append(
                {
                    "period": r.number,
                    "time_s": frame / 25.0,
                    "kind": "substitution",
                    "team": teams[k],
                    "player": ids[off],
                    "receiver": ids[on],
                    "related": -1,
                }
            )
        rows.append({"period": r.number, "time_s": r.duration_s, "kind": "period-end", "related": -1})
        rows[first]["related"] = -1
    table = pd.DataFrame(rows)
    table["row"] = np.arange(len(table))
    table = table.sort_values(["period", "time_s"], kind="stable").reset_index(drop=True)
    name = {row: f"e{m + 1:05d}" for m, row in enumerate(table["row"])}
    table["event_id"] = [name[row] for row in table["row"]]
    table["related"] = [name[int(row)] if row >= 0 else "" for row in table["related"]]
    for text in ("detail", "set_play", "team", "player", "receiver", "outcome", "body_part"):
        table[text] = table[text].where(table[text].notna(), "").astype(str)
    table["success"] = table["success"].astype("boolean")
    return events_table(table.drop(columns="row"))


def build_truth(script: Script, recordings: list[Recording], match: Match, rate_hz: int) -> Truth:
    """Turn the recordings into the truth tables."""
    ids = _squad(script)
    teams = (script.home.team_id, script.away.team_id)
    step = 25 // rate_hz
    flags = np.concatenate([r.flag[::step] for r in recordings])
    marks, patterns = [], []
    for r in recordings:
        last = len(r.ball)
        for m in r.marks:
            end = int(m[L.M_F1]) if m[L.M_F1] >= 0 else last
            if end > m[L.M_F0]:
                marks.append(
                    (
                        r.number,
                        m[L.M_F0] / 25.0,
                        end / 25.0,
                        teams[m[L.M_TEAM]],
                        ids[m[L.M_BY]],
                        ids[m[L.M_OF]],
                        L.MARK_WHY[m[L.M_WHY]],
                    )
                )
        for p in r.patterns:
            kind = L.PATTERNS[int(p[L.A_TYPE])]
            end = int(p[L.A_F1]) if p[L.A_F1] >= 0 else int(p[L.A_F0]) + 100
            start = int(p[L.A_F0])
            end = min(last, max(end, start + 1))
            row: dict[str, object] = {
                "pattern": kind,
                "team": teams[int(p[L.A_TEAM])],
                "period": r.number,
                "start_s": start / 25.0,
                "end_s": end / 25.0,
                "players": tuple(ids[int(v)] for v in p[L.A_P1 : L.A_P4 + 1] if v >= 0),
                "done": pd.NA if p[L.A_DONE] < 0 else bool(p[L.A_DONE]),
                "detail": "",
                "n_for": -1,
                "n_against": -1,
                "first_ball": "",
                "second_ball": "",
                "x": p[L.A_X],
                "y": p[L.A_Y],
            }
            if kind == "press":
                row["detail"] = L.CUES[int(p[L.A_A])]
            elif kind == "set play":
                row["detail"] = L.RESTART_NAMES[int(p[L.A_A])]
            elif kind == "build-up":
                row["n_for"], row["n_against"] = int(p[L.A_A]), int(p[L.A_B])
            elif kind == "rest defence":
                row["n_for"] = int(p[L.A_A])
            elif kind == "long ball":
                row["first_ball"] = teams[int(p[L.A_A])] if p[L.A_A] >= 0 else ""
                row["second_ball"] = teams[int(p[L.A_B])] if p[L.A_B] >= 0 else ""
            patterns.append(row)
    marking = pd.DataFrame(marks, columns=["period", "start_s", "end_s", "team", "marker", "marked", "why"])
    table = pd.DataFrame(patterns)
    table["done"] = table["done"].astype("boolean")
    table = table.sort_values(["period", "start_s"], kind="stable", ignore_index=True)
    return Truth(
        owner=flags[:, 1].astype(np.int8),
        in_phase=np.array(L.IN_NAMES)[flags[:, 2]],
        out_phase=np.array(L.OUT_NAMES)[flags[:, 3]],
        marking=marking,
        patterns=table,
    )
