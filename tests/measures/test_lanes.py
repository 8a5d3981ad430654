"""Open passing lanes.  References: shapely's distance from a point to a line string, and plain geometry by hand."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.lanes import lane_gaps, passing_lanes


def test_a_lane_by_hand():
    """Ball (0, 0), a mate at (30, 0): opponents 3 m beside the line, at (33, 4) = 5 m beyond, behind, missing."""
    opponents = [[[12, 3], [33, 4], [-1, 0.5], [np.nan, np.nan]]]
    assert lane_gaps([[0, 0]], [[[30, 0]]], opponents).tolist() == [[[3.0, 5.0, np.inf, np.inf]]]
    lanes = passing_lanes([[0, 0]], [[[30, 0]]], opponents)
    assert lanes.open.tolist() == [[True]]
    assert (lanes.narrowest_m.item(), lanes.length_m.item(), lanes.nearest.item()) == (3.0, 30.0, 0)


@pytest.mark.parametrize(("off_m", "is_open"), [(1.99, False), (2.0, True), (2.01, True)])
def test_a_lane_is_open_from_its_width_on(off_m, is_open):
    lanes = passing_lanes([[0, 0]], [[[20, 0]]], [[[10, off_m]]], lane_m=2.0)
    assert lanes.open.item() is is_open


@pytest.mark.parametrize(("x", "counts"), [(-1.0, False), (0.0, False), (0.5, True)])
def test_who_presses_from_behind_the_ball_shuts_no_lane(x, counts):
    lanes = passing_lanes([[0, 0]], [[[20, 0]]], [[[x, 1.0]]])
    assert lanes.open.item() is not counts
    assert lanes.nearest.item() == (0 if counts else -1)


def test_a_marker_at_the_receiver_shuts_the_lane_from_behind_him():
    assert passing_lanes([[0, 0]], [[[20, 0]]], [[[21.9, 0]]]).open.item() is False
    assert passing_lanes([[0, 0]], [[[20, 0]]], [[[22.0, 0]]]).open.item() is True


@pytest.mark.parametrize(("length", "is_open"), [(4.99, False), (5.0, True), (40.0, True), (40.01, False)])
def test_only_a_mate_within_reach_is_an_option(length, is_open):
    lanes = passing_lanes([[0, 0]], [[[length, 0]]], [[[0, 30]]], shortest_m=5, longest_m=40)
    assert lanes.open.item() is is_open


def test_the_passer_is_no_option_for_himself_and_the_missing_are_none():
    mates = [[[1, 0], [20, 0], [np.nan, np.nan]]]
    lanes = passing_lanes([[0, 0]], mates, np.zeros((1, 0, 2)), passer=[0])
    assert lanes.open.tolist() == [[False, True, False]] and lanes.count.tolist() == [1]
    np.testing.assert_array_equal(lanes.narrowest_m, [[np.nan, np.inf, np.nan]])
    np.testing.assert_array_equal(lanes.length_m, [[np.nan, 20, np.nan]])
    nowhere = passing_lanes([[np.nan, np.nan]], mates, [[[5, 5]]])
    assert not nowhere.open.any() and (nowhere.nearest == -1).all()


def test_gaps_against_shapely():
    rng = np.random.default_rng(5)
    start, end, opponents = (
        rng.uniform(-40, 40, (6, 2)),
        rng.uniform(-40, 40, (6, 9, 2)),
        rng.uniform(-40, 40, (6, 11, 2)),
    )
    gaps = lane_gaps(start, end, opponents)
    for n, p, q in np.ndindex(gaps.shape):
        ahead = np.dot(end[n, p] - start[n], opponents[n, q] - start[n]) > 0
        expected = LineString([start[n], end[n, p]]).distance(Point(opponents[n, q])) if ahead else np.inf
        assert gaps[n, p, q] == pytest.approx(expected, abs=1e-9)


def test_turning_and_mirroring_the_pitch_change_nothing():
    rng = np.random.default_rng(6)
    ball, mates, others = (
        rng.uniform(-40, 40, (5, 2)),
        rng.uniform(-40, 40, (5, 10, 2)),
        rng.uniform(-40, 40, (5, 11, 2)),
    )
    lanes = passing_lanes(ball, mates, others)
    for turn in ([-1, -1], [1, -1]):
        other = passing_lanes(ball * turn, mates * turn, others * turn)
        np.testing.assert_allclose(other.narrowest_m, lanes.narrowest_m)
        np.testing.assert_array_equal(other.open, lanes.open)


def test_a_further_opponent_never_opens_a_lane():
    rng = np.random.default_rng(7)
    ball, mates, others = (
        rng.uniform(-40, 40, (5, 2)),
        rng.uniform(-40, 40, (5, 10, 2)),
        rng.uniform(-40, 40, (5, 11, 2)),
    )
    fewer = passing_lanes(ball, mates, others[:, :10])
    assert not (passing_lanes(ball, mates, others).open & ~fewer.open).any()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (dict(ball=[[0, 0]], mates=[[1, 1]], opponents=[[[2, 2]]]),
         r"^start \(1, 2\), end \(1, 2\), opponents \(1, 1, 2\); expected \(N, 2\), \(N, P, 2\) and \(N, Q, 2\)\.$"),
        (dict(ball=[[0, 0]], mates=[[[1, 1]]], opponents=[[[2, 2]]], lane_m=-1),
         r"^a lane of -1 m; expected a width of at least 0 m\.$"),
        (dict(ball=[[0, 0]], mates=[[[1, 1]]], opponents=[[[2, 2]]], passer=[0, 1]),
         r"^passer has shape \(2,\); expected \(1,\), one an instant\.$"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_refused(arguments, words):
    with pytest.raises(TacticalKitError, match=words):
        passing_lanes(**arguments)
