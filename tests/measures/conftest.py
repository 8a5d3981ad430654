"""Small matches written by hand: a few rows of events, a few frames of tracking, all numbers to be done in the head.

Home "H" (Harbour Town) attacks +x in the first half and -x in the second; away "A" (Mill Rovers) the other way.
Rows are written in the pitch frame unless `attacking=True`.
"""

import numpy as np
import pandas as pd
import pytest

from tactical_kit.match import Match, Period, Player, Team, Tracking, events_table
from tactical_kit.moments import Moments

POSITIONS = ("GK", "RB", "RCB", "LCB", "LB", "DM", "RCM", "LCM", "RW", "ST", "LW")
BENCH = ("LB", "ST", "CM")


def squad(team):
    starters = [Player(f"{team}{i + 1}", f"{team} Player {i + 1}", team, i + 1, p) for i, p in enumerate(POSITIONS)]
    bench = [Player(f"{team}{i + 12}", f"{team} Player {i + 12}", team, i + 12, p, False) for i, p in enumerate(BENCH)]
    return tuple(starters + bench)


HOME = Team("H", "Harbour Town", "Harbour", squad("H"))
AWAY = Team("A", "Mill Rovers", "Mill", squad("A"))
HALVES = (Period(1, 2700.0, 1), Period(2, 2700.0, -1))


@pytest.fixture
def make_match():
    """Build a match from rows of events; coordinates of `attacking=True` rows are turned into the pitch frame."""

    def build(rows=(), tracking=None, periods=HALVES, attacking=False, events=True, home=HOME, away=AWAY):
        table = events_table(rows) if events else None
        match = Match("small", home, away, periods, events=table, tracking=tracking)
        if attacking and events:
            sign = match.attack_signs(table["team"], table["period"]).astype(float)
            sign[sign == 0] = 1
            table = table.assign(**{c: table[c] * sign for c in ("x", "y", "end_x", "end_y")})
            match = match.with_data(events=table)
        return match

    return build


def pass_row(time_s, player, receiver, start, end, period=1, success=True, **more):
    row = dict(
        kind="pass", period=period, time_s=time_s, end_s=time_s + 1, team=player[0], player=player, receiver=receiver,
        success=success, outcome="complete" if success else "intercepted",
        x=start[0], y=start[1], end_x=end[0], end_y=end[1],
    )  # fmt: skip
    return row | more


@pytest.fixture(name="pass_row")
def pass_row_fixture():
    return pass_row


@pytest.fixture
def make_tracking():
    """Build tracking from {player: (T, 2) places}, ball (T, 2 or 3) and a rate."""

    def build(places, ball, rate_hz=5.0, period=1, alive=None, start_s=0.0):
        ball = np.asarray(ball, float)
        frames = len(ball)
        if ball.shape[1] == 2:
            ball = np.column_stack([ball, np.zeros(frames)])
        players = tuple(sorted(places, key=lambda p: (p[0] != "H", int(p[1:]))))
        xy = np.stack([np.broadcast_to(np.asarray(places[p], float), (frames, 2)) for p in players], axis=1)
        return Tracking(
            rate_hz,
            np.broadcast_to(np.asarray(period, np.int8), frames).copy(),
            start_s + np.arange(frames) / rate_hz,
            players,
            np.array([p[0] == "A" for p in players], np.int8),
            xy.astype(np.float32),
            ball.astype(np.float32),
            np.ones(frames, bool) if alive is None else np.asarray(alive, bool),
        )

    return build


@pytest.fixture
def make_phases():
    """Build phases from (period, start_s, end_s, team, phase)."""

    def build(*rows):
        table = pd.DataFrame(rows, columns=["period", "start_s", "end_s", "team", "phase"])
        table["players"] = [()] * len(table)
        return Moments.build("phase", table, {"phase": "str"})

    return build
