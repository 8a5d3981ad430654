"""The cover shadow, by hand and against shapely."""

import numpy as np
import pytest
import shapely

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.cover_shadow import in_cover_shadow, longest_in_shadow


def test_a_presser_shuts_the_lane_behind_him():
    """Ball at (0, 0), presser at (5, 0): the lane to (20, y) passes him at 5 sin(atan(y / 20))."""
    for y, shut in ((0, True), (8, True), (8.7, True), (8.8, False), (20, False)):
        gap = 5 * np.sin(np.arctan(y / 20))
        assert bool(gap < 2) is shut  # 8.73 m aside gives 2.0 m
        assert in_cover_shadow([[0, 0]], [[[20, y]]], [[5, 0]])[0, 0] == shut


def test_the_edge_of_the_shadow_is_open():
    assert not in_cover_shadow([[0, 0]], [[[20, 0]]], [[5, 2]])[0, 0]
    assert in_cover_shadow([[0, 0]], [[[20, 0]]], [[5, 1.999]])[0, 0]


@pytest.mark.parametrize(
    ("mate", "presser"),
    [
        ((4, 0), (5, 0)),  # he marks from behind: no shadow
        ((20, 0), (-1, 0)),  # he stands behind the ball
        ((36, 0), (5, 0)),  # too far
        ((np.nan, np.nan), (5, 0)),
        ((20, 0), (np.nan, np.nan)),
    ],
)
def test_no_shadow(mate, presser):
    assert not in_cover_shadow([[0, 0]], [[mate]], [presser]).any()


def test_thirty_five_metres_are_near_enough():
    assert in_cover_shadow([[0, 0]], [[[35, 0]]], [[5, 0]])[0, 0]


def test_against_shapely():
    """Source: shapely; the distance of the presser to the line from the ball to the team-mate."""
    rng = np.random.default_rng(8)
    ball, mates, presser = (
        rng.uniform(-20, 20, (400, 2)),
        rng.uniform(-20, 20, (400, 5, 2)),
        rng.uniform(-20, 20, (400, 2)),
    )
    got = in_cover_shadow(ball, mates, presser)
    assert 30 < got.sum() < 1900
    for i in range(400):
        for j in range(5):
            line = shapely.LineString([ball[i], mates[i, j]])
            ahead = np.dot(mates[i, j] - ball[i], presser[i] - ball[i]) > 0
            nearer = np.hypot(*(presser[i] - ball[i])) < line.length
            near = shapely.distance(line, shapely.Point(presser[i])) < 2
            assert got[i, j] == (ahead and nearer and near and line.length <= 35)


def test_who_is_in_it_longest():
    shadow = np.array([[1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 1, 1]], bool)
    assert longest_in_shadow(shadow) == 1
    assert longest_in_shadow(shadow, 0.75) == 1  # three of four, on the edge
    assert longest_in_shadow(shadow, 0.76) == -1
    assert longest_in_shadow(shadow[:2]) == 0
    assert longest_in_shadow(np.zeros((0, 3), bool)) == longest_in_shadow(np.zeros((3, 2), bool), 0.0) == -1


def test_a_shadow_below_nothing_is_refused():
    with pytest.raises(TacticalKitError, match=r"^a cover shadow of -1 m; expected at least 0 m\.$"):
        in_cover_shadow([[0, 0]], [[[1, 0]]], [[0, 1]], shadow_m=-1)
