"""Centre-backs, their space, whom they draw and what they open, by hand geometry (common practice, no source)."""

import dataclasses

import numpy as np
import pytest
from drawing import Drawing
from scipy.spatial.distance import cdist

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.centre_backs import centre_backs_of, drawn_opponent, free_space, opened_options


def test_centre_backs_by_position_or_by_place():
    match = Drawing(60.0).hold("a3", 0, 60).match()
    assert centre_backs_of(match) == {"a3", "a4", "b3", "b4"}
    nameless = dataclasses.replace(
        match.home, players=tuple(dataclasses.replace(p, position="") for p in match.home.players)
    )
    assert centre_backs_of(match.with_data(home=nameless)) == {"a3", "a4", "b3", "b4"}  # at +-9; full-backs at +-26
    assert centre_backs_of(match.with_data(home=nameless), inside_m=8.9) == {"b3", "b4"}
    assert centre_backs_of(match.with_data(home=nameless, tracking=None)) == {"b3", "b4"}
    turned = Drawing(60.0).hold("a3", 0, 60).match(turned=True).with_data(home=nameless)
    assert centre_backs_of(turned) == {"a3", "a4", "b3", "b4"}


def test_space():
    room = free_space([[0, 0], [0, 0], [np.nan, 0]], [[[-4, 0], [9, 5], [9, 6]]] * 3)
    # (9, 5): 29.05 degrees, 10.296 m; (9, 6): 33.7 degrees, outside the 30.
    np.testing.assert_allclose(room.nearest_m, [4, 4, np.nan])
    np.testing.assert_allclose(room.ahead_m, [106**0.5, 106**0.5, np.nan])
    edge = free_space([[0, 0]], [[[3**0.5, 1.0]]])  # exactly 30 degrees
    assert edge.ahead_m[0] == pytest.approx(2.0)
    nobody = free_space([[0, 0]], [[[np.nan, np.nan]]])
    assert nobody.nearest_m[0] == np.inf and nobody.ahead_m[0] == np.inf


def test_nearest_against_scipy():
    rng = np.random.default_rng(5)
    own, opponents = rng.uniform(-40, 40, (6, 2)), rng.uniform(-40, 40, (6, 11, 2))
    expected = [cdist([o], q).min() for o, q in zip(own, opponents)]
    np.testing.assert_allclose(free_space(own, opponents).nearest_m, expected)


@pytest.mark.parametrize(
    ("start", "end", "drawn"),
    [
        ((20, 0), (17, 0), 0),  # the carry ends at (10, 0): 10 m off, then 7: closed 3 m
        ((20, 0), (17.1, 0), -1),  # closed 2.9 m
        ((21.1, 0), (18.1, 0), -1),  # closed 3 m, but 8.1 m away
        ((21, 0), (18, 0), 0),  # 8 m away
        ((-2, 0), (8, 0), -1),  # from behind
        ((0, 8), (6, 2), -1),  # level with the ball when it set off
        ((0.1, 8), (6, 2), 0),
        ((np.nan, 8), (6, 2), -1),
        ((16, 0), (16, 0), -1),  # he stood: the ball came to him
    ],
)
def test_who_is_drawn(start, end, drawn):
    assert drawn_opponent([[0, 0]], [[10, 0]], [[start]], [[end]]).tolist() == [drawn]


def test_the_nearest_of_two_is_drawn():
    before, after = [[(25, 0), (25, 6), (40, 0)]], [[(16, 0), (13, 1), (40, 0)]]
    assert drawn_opponent([[0, 0]], [[10, 0]], before, after).tolist() == [1]


def test_drawn_shapes_that_do_not_fit():
    with pytest.raises(
        TacticalKitError,
        match=r"^opponents of shape \(1, 1, 2\) before and \(1, 2, 2\) after for 1 carries; expected the same opponents "
        r"and one row a carry\.$",
    ):
        drawn_opponent([[0, 0]], [[1, 0]], [[(1, 1)]], [[(1, 1), (2, 2)]])


def opened(opponent_start, opponent_end, mate=(20, 0), ball_end=(8, 0), **more):
    mates = [[(0, 0), mate]]
    return opened_options(
        [[0, 0]], [ball_end], mates, [[ball_end, mate]], [[opponent_start]], [[opponent_end]], [0], **more
    )[0, 1]  # fmt: skip


def test_what_is_opened():
    # The opponent stands in the lane, (14, 0), and comes out to (12, 6): 6 m from the line.
    assert opened((14, 0), (12, 6))
    assert not opened((14, 0), (14, 0))  # still shut
    assert not opened((10, 10), (12, 6))  # it was open before
    assert opened((14, 0), (14, 2.0)) and not opened((14, 0), (14, 1.99))  # at least 2 m from the lane
    assert opened((20, 2), (20, 3)) and not opened((20, 2), (20, 2.99))  # at least 3 m from the man
    assert not opened((14, 0), (14, 6), mate=(8, 0.5))  # he is not ahead of the ball
    assert opened((14, 0), (24, 6), mate=(38, 0)) and not opened((14, 0), (24, 6), mate=(38.1, 0))  # at most 30 m
