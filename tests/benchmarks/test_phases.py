"""Speed of possession and phases on a whole match, beside a plain loop over the frames.

Run: pytest tests/benchmarks/test_phases.py -m benchmark --benchmark-enable -s
The match is noise at whole-match size (two halves of 48 minutes at 25 Hz, 22 players, an action every 2 s):
speed does not depend on whether it is good football.
"""

from __future__ import annotations

import inspect
import time

import numpy as np
import pytest

from tactical_kit.match import Match, Period, Player, Team, Tracking, events_table
from tactical_kit.phases import find_phases, find_possessions

pytestmark = pytest.mark.benchmark
LIMIT_S = 1.0
RATE, HALF_S = 25, 48 * 60


@pytest.fixture(scope="module")
def match() -> Match:
    rng = np.random.default_rng(7)
    frames = HALF_S * RATE
    teams = tuple(
        Team(
            t, f"Team {t}", "", tuple(Player(f"{t}{i}", f"{t}{i}", t, i + 1, "GK" if i == 0 else "") for i in range(11))
        )
        for t in "ab"
    )
    home = rng.uniform((-45, -30), (45, 30), (22, 2))
    drift = np.cumsum(rng.normal(0, 0.15, (2 * frames // RATE, 22, 2)), axis=0)
    drift = np.clip(drift - drift.mean(axis=0), -12, 12).repeat(RATE, axis=0)
    ball = np.clip(np.cumsum(rng.normal(0, 1.2, (2 * frames // RATE, 2)), axis=0), (-50, -32), (50, 32)).repeat(
        RATE, axis=0
    )
    time_s = np.tile(np.arange(frames) / RATE, 2)
    tracking = Tracking(
        RATE, np.repeat([1, 2], frames).astype(np.int8), time_s, tuple(p.player_id for t in teams for p in t.players),
        np.repeat([0, 1], 11).astype(np.int8), (home + drift).astype(np.float32),
        np.column_stack([ball, np.zeros(len(ball))]).astype(np.float32), (time_s % 60) < 38,
    )  # fmt: skip
    rows, side = [], 0
    for period in (1, 2):
        for k in range(HALF_S // 2):
            at = 2.0 * k
            if at % 60 >= 38:
                continue
            side = 1 - side if rng.random() < 0.15 else side
            rows.append({"period": period, "time_s": at, "kind": "pass", "team": "ab"[side], "player": f"{'ab'[side]}7",
                         "set_play": "throw-in" if at % 60 == 0 else "", "x": float(ball[k * 2 * RATE, 0]),
                         "y": float(ball[k * 2 * RATE, 1])})  # fmt: skip
    periods = (Period(1, HALF_S, 1), Period(2, HALF_S, -1))
    return Match("benchmark", teams[0], teams[1], periods, events=events_table(rows), tracking=tracking)


def anew(finder):
    """The finder without its memory: every round works it out."""
    return inspect.unwrap(finder)


def test_possessions_of_a_whole_match(benchmark, match):
    found = benchmark.pedantic(anew(find_possessions), (match,), rounds=5, warmup_rounds=1)
    assert len(found) > 200 and benchmark.stats.stats.median <= LIMIT_S


def test_phases_of_a_whole_match(benchmark, match):
    found = benchmark.pedantic(anew(find_phases), (match,), rounds=5, warmup_rounds=1)
    median = benchmark.stats.stats.median
    seconds, share = plain_loop(match, minutes=1)
    print(
        f"\nphases of a whole match: {median:.3f} s ({len(found)} rows); the lines and hunters alone in a plain "
        f"loop over frames of pandas tables: about {seconds / share:.0f} s, ratio {seconds / share / median:.0f}"
    )
    assert median <= LIMIT_S


def test_phases_without_events(benchmark, match):
    benchmark.pedantic(anew(find_phases), (match.with_data(events=None),), rounds=5, warmup_rounds=1)
    assert benchmark.stats.stats.median <= LIMIT_S


def test_phases_from_events_alone(benchmark, match):
    benchmark.pedantic(anew(find_phases), (match.with_data(tracking=None),), rounds=5, warmup_rounds=1)
    assert benchmark.stats.stats.median <= LIMIT_S


def plain_loop(match: Match, minutes: float) -> tuple[float, float]:
    """Seconds that a plain loop takes for some minutes, and the share of the match that they are.

    For every frame at 5 Hz: the first and back line of both sides and the two nearest players to the ball.
    """
    tracking = match.tracking
    assert tracking is not None
    import pandas as pd

    started = time.perf_counter()
    frames = range(0, int(minutes * 60 * RATE), RATE // 5)
    result = []
    for frame in frames:
        table = pd.DataFrame(tracking.xy[frame], columns=["x", "y"])
        table["side"] = tracking.team_index
        table["distance"] = np.hypot(table["x"] - tracking.ball[frame, 0], table["y"] - tracking.ball[frame, 1])
        for _, team in table.groupby("side"):
            ordered = team.sort_values("x").iloc[1:]
            result.append(
                (
                    ordered["x"].iloc[:4].mean(),
                    ordered["x"].iloc[-2:].mean(),
                    team.nsmallest(2, "distance").index.tolist(),
                )
            )
    return time.perf_counter() - started, minutes * 60 * RATE / len(tracking)
