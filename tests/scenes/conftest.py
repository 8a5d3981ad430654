"""A small invented match, made by hand: enough passes, carries, actions and frames to draw every chart."""

import numpy as np
import pandas as pd
import pytest

from tactical_kit.match import Match, Period, Player, Team, Tracking
from tactical_kit.measures.index import index_match
from tactical_kit.moments import Moments
from tactical_kit.pitch import Pitch

ODD_NAME = "<b>$x$&\"'"
PLACES = np.array([(-40, 0), (-20, 20), (-20, -20), (0, 0), (10, 18), (25, -5)], float)


def _team(team_id, name, first):
    players = [
        Player(f"{team_id}{i + 1}", ODD_NAME if first and i == 1 else f"{name[0]}{i + 1} Player{i + 1}", team_id, i + 1)
        for i in range(len(PLACES))
    ]
    return Team(team_id, name, "", tuple(players))


def make_match(pitch=None, tracking=True, events=True):
    pitch = pitch or Pitch()
    home, away = _team("h", "Alder Town", True), _team("a", "Beck Rovers", False)
    periods = (Period(1, 600.0, 1), Period(2, 600.0, -1))
    rng = np.random.default_rng(5)
    rows, scale = [], np.array([pitch.half_length / 52.5, pitch.half_width / 34])
    for period in periods:
        for step, time_s in enumerate(np.arange(2.0, 590.0, 3.0)):
            side = (step // 8) % 2
            team = (home, away)[side]
            sign = period.home_attacks * (1 if side == 0 else -1)
            i = int(rng.integers(6))
            j = int((i + rng.integers(1, 6)) % 6)
            start = (PLACES[i] + rng.normal(0, 3, 2)) * scale * sign
            end = (PLACES[j] + rng.normal(0, 3, 2)) * scale * sign
            done = bool(rng.random() < 0.8)
            rows.append({
                "period": period.number, "time_s": time_s, "end_s": time_s + 1, "kind": "pass", "team": team.team_id,
                "player": team.players[i].player_id, "receiver": team.players[j].player_id if done else "",
                "success": done, "outcome": "complete" if done else "intercepted", "x": start[0], "y": start[1],
                "end_x": end[0], "end_y": end[1],
            })  # fmt: skip
            if not done:
                other = (away, home)[side]
                rows.append({
                    "period": period.number, "time_s": time_s + 1, "kind": "interception", "team": other.team_id,
                    "player": other.players[j].player_id, "success": True, "x": end[0], "y": end[1],
                })  # fmt: skip
    found = _tracking(home, away, periods, scale) if tracking else None
    return Match("m1", home, away, periods, pitch, pd.DataFrame(rows) if events else None, found, invented=True)


def _tracking(home, away, periods, scale):
    rate = 5.0
    parts = []
    for period in periods:
        t = np.arange(int(period.duration_s * rate)) / rate
        sway = np.stack([2 * np.sin(t / 5), 2 * np.cos(t / 7)], -1)[:, None]
        ours, theirs = PLACES * scale * period.home_attacks, -PLACES * scale * period.home_attacks
        xy = np.concatenate([ours + sway, theirs - sway], axis=1)
        on_ball = (t // 3).astype(int) % 12
        ball = np.column_stack([xy[np.arange(len(t)), on_ball], np.full(len(t), 0.2)])
        parts.append((np.full(len(t), period.number), t, xy, ball))
    number, time_s, xy, ball = (np.concatenate(p) for p in zip(*parts))
    ids = tuple(p.player_id for team in (home, away) for p in team.players)
    return Tracking(
        rate, number.astype("int8"), time_s, ids, np.repeat([0, 1], 6).astype("int8"), xy.astype("float32"),
        ball.astype("float32"), np.ones(len(time_s), bool),
    )  # fmt: skip


@pytest.fixture(scope="session")
def match():
    return make_match()


@pytest.fixture(scope="session")
def index(match):
    return index_match(match, _phases(match))


@pytest.fixture(scope="session")
def events_index():
    return index_match(make_match(tracking=False))


@pytest.fixture(scope="session")
def new_match():
    """The factory itself, for other sizes and data levels."""
    return make_match


@pytest.fixture(scope="session")
def odd_name():
    return ODD_NAME


def _phases(match):
    rows = [
        {
            "period": p,
            "start_s": 0.0,
            "end_s": 600.0,
            "team": t,
            "players": (),
            "side": s,
            "phase": f,
            "estimated": False,
        }
        for p in (1, 2)
        for t, s, f in (("h", "in", "build-up"), ("a", "out", "high press"))
    ]
    return Moments.build("phase", rows, {"side": "str", "phase": "str", "estimated": "bool"})
