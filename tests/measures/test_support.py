"""Support out wide.  References: a plain loop with the law of cosines, shapely's area, squads written by hand."""

from itertools import combinations

import numpy as np
import pytest

from tactical_kit.match import Tracking
from tactical_kit.measures.support import trades_of, triangles_around


def angles(a, b, c):
    """The three angles of a triangle in degrees, by the directions of its sides."""
    corners = [np.asarray(p, float) for p in (a, b, c)]
    result = []
    for i in range(3):
        u, v = corners[(i + 1) % 3] - corners[i], corners[(i + 2) % 3] - corners[i]
        turn = np.arctan2(v[1], v[0]) - np.arctan2(u[1], u[0])
        result.append(np.degrees(abs((turn + np.pi) % (2 * np.pi) - np.pi)))
    return result


def test_triangles_against_a_plain_loop():
    rng = np.random.default_rng(3)
    place, mates = rng.uniform(-10, 10, (20, 2)), rng.uniform(-25, 25, (20, 10, 2))
    mates[3, :4] = np.nan
    expected = []
    for p, others in zip(place, mates):
        there = others[np.isfinite(others[:, 0])]
        sides = [(np.hypot(*(p - a)), np.hypot(*(p - b)), np.hypot(*(a - b))) for a, b in combinations(there, 2)]
        sharp = [min(angles(p, a, b)) for a, b in combinations(there, 2)]
        expected.append(sum(max(s) <= 20 and d >= 25 for s, d in zip(sides, sharp)))
    assert triangles_around(place, mates).tolist() == expected and sum(expected) > 20


@pytest.mark.parametrize(
    ("mates", "count"),
    [
        ([[20, 0], [10, 17.32]], 1),  # sides of 20 m (the third 19.9996)
        ([[20.01, 0], [10, 17.32]], 0),
        ([[10, 0], [20, 0]], 0),  # in a line
        ([[10, 0], [0, 10], [10, 10]], 3),
        ([[10, 0], [10, 0]], 0),  # two on one spot
        ([[10, 0]], 0),
    ],
)
def test_triangles_by_hand(mates, count):
    assert triangles_around([[0, 0]], [mates]).tolist() == [count]


@pytest.mark.parametrize(("degrees", "count"), [(25.0, 1), (24.9, 0)])
def test_a_triangle_has_no_sharper_angle_than_25_degrees(degrees, count):
    turn = np.radians(degrees)
    assert triangles_around([[0, 0]], [[[10, 0], [10 * np.cos(turn), 10 * np.sin(turn)]]]).tolist() == [count]


def test_trades_by_the_squad(make_match):
    trades = trades_of(make_match(), "H")
    assert trades.wide == {"H2", "H5", "H12"} and trades.centre_backs == {"H3", "H4"}
    assert trades.pivots == {"H6"} and trades.midfielders == {"H7", "H8", "H14"} and not trades.by_place


def test_trades_by_place(make_match):
    """A 4-3-3 without positions, attacking -x in the second half: the same four are the back line."""
    match = make_match(events=False)
    squads = [
        type(t)(t.team_id, t.name, t.short_name, tuple(type(p)(p.player_id, p.name, p.team_id) for p in t.players))
        for t in match.teams
    ]
    places = [
        (-45, 0),
        (-20, -25),
        (-25, -8),
        (-25, 8),
        (-20, 25),
        (-10, 0),
        (-2, -9),
        (-1, 9),
        (15, -28),
        (18, 0),
        (15, 28),
    ]
    xy = np.stack([places, np.negative(places)]).astype(np.float32)
    tracking = Tracking(
        25.0, np.array([1, 2], np.int8), np.array([5.0, 5.0]), tuple(f"H{n}" for n in range(1, 12)),
        np.zeros(11, np.int8), xy, np.zeros((2, 3), np.float32), np.ones(2, bool),
    )  # fmt: skip
    told = trades_of(match.with_data(home=squads[0], away=squads[1], tracking=tracking), "H")
    assert told.by_place and told.wide == {"H2", "H5"} and told.centre_backs == {"H3", "H4"}
    assert told.pivots == {"H6"} and told.midfielders == {"H7", "H8"}
    nobody = trades_of(match.with_data(home=squads[0], away=squads[1]), "H")
    assert nobody.by_place and not (nobody.wide | nobody.centre_backs | nobody.pivots)
