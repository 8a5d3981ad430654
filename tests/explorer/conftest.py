"""A small invented match for the explorer: random walks and random passes, quick to make."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
import pytest

from tactical_kit.errors import TacticalKitError
from tactical_kit.finders import finder
from tactical_kit.finders.registry import _FINDERS
from tactical_kit.match import Match, Period, Player, Team, Tracking, events_table
from tactical_kit.moments import Column, Moments

POSITIONS = ("GK", "RB", "RCB", "LCB", "LB", "DM", "RCM", "LCM", "RW", "LW", "ST")


def _team(code: str, name: str) -> Team:
    players = [
        Player(f"{code}{i + 1}", f"{name} Player {i + 1}", code, i + 1, POSITIONS[i % 11], i < 11) for i in range(13)
    ]
    return Team(code, name, name[:3], tuple(players))


def _tracking(half_s: float, rate: float, rng: np.random.Generator) -> Tracking:
    n = int(half_s * rate)
    players = [f"h{i + 1}" for i in range(13)] + [f"a{i + 1}" for i in range(13)]
    index = np.array([0] * 13 + [1] * 13, np.int8)
    period = np.repeat(np.array([1, 2], np.int8), n)
    time_s = np.tile(np.arange(n) / rate, 2)
    t = np.arange(2 * n) / rate
    home = np.stack([np.linspace(-45, 20, 11), np.tile([0, -20, 20], 4)[:11]], axis=1)
    base = np.full((26, 2), np.nan)
    base[:11], base[13:24] = home, -home
    phase = rng.uniform(0, 2 * np.pi, (26, 2))
    xy = base[None] + 6 * np.sin(t[:, None, None] / 7 + phase)
    xy[period == 2] *= -1
    ball = np.stack([40 * np.sin(t / 23), 25 * np.sin(t / 11), np.abs(np.sin(t)) * 0.5], axis=1)
    alive = (t % 60) < 50
    owner = np.where(np.sin(t / 23 + 1) > 0, 0, 1).astype(np.int8)
    return Tracking(
        rate, period, time_s, tuple(players), index, xy.astype(np.float32), ball.astype(np.float32), alive, owner
    )


def _events(half_s: float, rng: np.random.Generator) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for period in (1, 2):
        sign = {"h": 1 if period == 1 else -1, "a": -1 if period == 1 else 1}
        rows.append({"period": period, "time_s": 0.0, "kind": "period-start"})
        t, team, spell = 1.0, "h", 0
        while t < half_s - 6:
            x0, x1 = np.sort(rng.uniform(-45, 48, 2))
            y0, y1 = rng.uniform(-30, 30, 2)
            passer, receiver = rng.choice(11, 2, replace=False) + 1
            good = bool(rng.random() < 0.8)
            rows.append(
                {
                    "period": period, "time_s": t, "end_s": t + 1.2, "kind": "pass", "team": team,
                    "player": f"{team}{passer}",
                    "receiver": f"{team}{receiver}" if good else f"{'a' if team == 'h' else 'h'}{receiver}",
                    "success": good, "outcome": "complete" if good else "intercepted",
                    "set_play": "kick-off" if t == 1.0 else "",
                    "x": sign[team] * x0, "y": sign[team] * y0, "end_x": sign[team] * x1, "end_y": sign[team] * y1,
                }
            )  # fmt: skip
            spell += 1
            if good and spell > 3:
                goal = bool(rng.random() < 0.15)
                rows.append(
                    {
                        "period": period, "time_s": t + 2, "kind": "shot", "team": team, "player": f"{team}{receiver}",
                        "success": goal, "outcome": "goal" if goal else "saved", "x": sign[team] * 42.0, "y": 2.0,
                    }
                )  # fmt: skip
                team, spell = ("a" if team == "h" else "h"), 0
            if not good:
                team, spell = ("a" if team == "h" else "h"), 0
            t += 4.0
        rows.append({"period": period, "time_s": half_s, "kind": "period-end"})
    rows.append({"period": 1, "time_s": 100.0, "kind": "card", "detail": "yellow", "team": "a", "player": "a4"})
    return rows


def make_match(half_s: float = 300.0, rate: float = 10.0, seed: int = 7, **changes: object) -> Match:
    """Return the invented match."""
    rng = np.random.default_rng(seed)
    match = Match(
        "synthetic", _team("h", "Alder Town"), _team("a", "Birch Vale"),
        (Period(1, half_s, 1), Period(2, half_s, -1)), events=events_table(_events(half_s, rng)),
        tracking=_tracking(half_s, rate, rng), invented=True,
    )  # fmt: skip
    return match.with_data(**changes) if changes else match


@pytest.fixture(scope="session")
def match() -> Match:
    """Two halves of five minutes with events and tracking."""
    return make_match()


TOY = {
    "length_m": Column("float64", "how far the pass went", "m"),
    "spell": Column("int64", "which pass of its kind it was, from 0 to 4"),
    "outcome": Column("str", "what came of it"),
    "good": Column("boolean", "it arrived"),
    "receiver": Column("str", "who got it"),
    "near": Column("object", "who stood near"),
}


def toy_moments(match: Match, *, least_m: float = 0.0, side: str = "both", strict: bool = False) -> Moments:
    """Find every pass.

    Parameters
    ----------
    match : Match
        With events.
    least_m : float, default 0
        Shorter passes are left out, m.
        They say little.
    side, strict : str and bool
        Whatever.
    """
    if least_m > 1000:
        raise TacticalKitError(f"least_m is {least_m:g}; a pitch is not that long.")
    passes = match.attacking_events
    passes = passes[passes["kind"] == "pass"]
    rows = []
    for i, p in enumerate(passes.itertuples()):
        length = float(np.hypot(p.end_x - p.x, p.end_y - p.y))
        if length < least_m:
            continue
        rows.append(
            {
                "period": int(p.period), "start_s": p.time_s, "end_s": p.time_s + 2.0, "team": p.team,
                "players": (p.player, p.receiver), "x": p.x if i % 7 else np.nan, "y": p.y,
                "length_m": np.nan if i % 5 == 0 else length, "spell": i % 5, "outcome": "" if i % 9 == 0 else p.outcome,
                "good": pd.NA if i % 4 == 0 else bool(p.success), "receiver": p.receiver,
                "near": (p.player, "x") if i % 3 else (),
            }
        )  # fmt: skip
    return Moments.build("toy", rows, TOY, {"least_m": least_m, "side": side, "strict": strict}, match.match_id)


@pytest.fixture
def toy() -> Iterator[str]:
    """A finder of passes with columns of every kind, and one that no match allows."""
    finder("toy", needs=("events",), finds="A pass, with whatever a test may ask of it.", columns=TOY)(toy_moments)

    @finder("toy of stills", needs=("stills", "events or tracking"), finds="Nothing that this match has.")
    def find_nothing(match: Match) -> Moments:
        raise AssertionError("it cannot be asked")

    yield "toy"
    for name in ("toy", "toy of stills"):
        del _FINDERS[name]
