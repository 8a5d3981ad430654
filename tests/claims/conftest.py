"""Moments made by hand, the demonstration match, and a small match of events alone."""

from functools import lru_cache

import pandas as pd
import pytest

import tactical_kit as tk
from tactical_kit.match import Match, Period, Player, Team
from tactical_kit.match.events import events_table
from tactical_kit.moments import Moments

TYPES = {"won": "bool", "n_for": "int64", "n_against": "int64", "regain_s": "float64", "outcome": "str", "route": "str"}


@pytest.fixture
def made():
    """Make moments of a finder "demo": `made(37, won=range(31))` or with whole columns."""

    def make(count, won=(), finder="demo", params=None, match_id="m", period=1, **columns):
        won = set(won)
        rows = pd.DataFrame(
            {
                "period": [period] * count if isinstance(period, int) else list(period),
                "start_s": [60.0 * i for i in range(count)],
                "end_s": [60.0 * i + 5 for i in range(count)],
                "team": "A",
                "players": [()] * count,
                "won": [i in won for i in range(count)],
                "n_for": 3,
                "n_against": 2,
                "regain_s": 1.0,
                "outcome": "lost",
                "route": "short",
            }
        )
        for name, values in columns.items():
            rows[name] = values
        return Moments.build(finder, rows, TYPES, params or {}, match_id)

    return make


@lru_cache(maxsize=1)
def _demo():
    return tk.demo_match()


@pytest.fixture(scope="session")
def demo():
    return _demo()


@lru_cache(maxsize=1)
def _small():
    def squad(team, first):
        return tuple(Player(f"{first}{i}", f"{team} Player {i}", team, i, "", i <= 11) for i in range(1, 13))

    def event(period, time_s, kind, team="", player="", **more):
        return {"period": period, "time_s": time_s, "kind": kind, "team": team, "player": player, **more}

    def spell(period, start, end, team, first, restart=""):
        """A side passes from `start` on until `end` (not included), every ten seconds."""
        for time_s in range(start, end, 10):
            yield event(
                period, float(time_s), "pass", team, f"{first}2", receiver=f"{first}3", success=True,
                outcome="complete", end_s=time_s + 2.0, x=0.0, y=0.0, end_x=5.0, end_y=0.0,
                set_play=restart if time_s == start else "",
            )  # fmt: skip

    rows = []
    rows += spell(1, 0, 300, "A", "a", "kick-off")
    rows += spell(1, 310, 320, "B", "b", "kick-off")
    rows += spell(1, 320, 600, "A", "a")
    rows += spell(2, 0, 600, "A", "a", "kick-off")
    for period in (1, 2):
        rows += spell(period, 600, 1200, "B", "b")
    rows.append(event(1, 300.0, "shot", "A", "a9", outcome="goal", success=True, x=40.0, y=0.0))
    rows.append(event(2, 900.0, "substitution", "A", "a11", receiver="a12"))
    for period in (1, 2):
        rows.append(event(period, 1200.0, "period-end"))
    return Match(
        "small", Team("A", "Reds of A", "Reds", squad("A", "a")), Team("B", "Blues of B", "Blues", squad("B", "b")),
        (Period(1, 1200.0, 1), Period(2, 1200.0, -1)), events=events_table(rows), invented=True,
    )  # fmt: skip


@pytest.fixture(scope="session")
def small():
    """Two halves of twenty minutes: A has the ball for ten, then B; A scores at 5:00; a12 comes on at 60:00."""
    return _small()
