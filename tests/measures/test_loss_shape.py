"""Who is near and who hunts at a loss, by hand geometry.  Common practice, no source."""

import numpy as np
import pytest

from tactical_kit.measures.loss_shape import approach_ms, hunting, near_count, nearest_approach_ms

NAN = np.nan
BALL = [[0.0, 0.0]]


@pytest.mark.parametrize(("x", "near"), [(10.0, 1), (10.01, 0)])
def test_at_most_ten_metres_is_near(x, near):
    assert near_count([[[x, 0.0], [30.0, 0.0]]], BALL)[0] == near


def test_nobody_known_is_not_nobody_near():
    assert np.isnan(near_count([[[NAN, NAN]]], BALL)[0]) and np.isnan(near_count([[[0, 0]]], [[NAN, NAN]])[0])


def test_running_at_the_ball():
    """From (3, 4), 5 m off, at (-3, -4) it is 5 m/s straight at it; across it is 0; away it is negative."""
    places, moves = [[[3, 4], [3, 4], [3, 4]]], [[[-3, -4], [4, -3], [3, 4]]]
    np.testing.assert_allclose(approach_ms(places, moves, BALL), [[5, 0, -5]], atol=1e-12)
    # Less the side's own way, a third of (4, -3): (4/3, -1) has no part towards the ball.
    np.testing.assert_allclose(approach_ms(places, moves, BALL, own_way=True), [[5, 0, -5]], atol=1e-12)


def test_a_side_that_runs_back_does_not_hunt():
    """All ten run at 6 m/s towards their goal; the ball lies on the way of two of them, 8 m off."""
    places = np.array([[[8.0, 0.0], [8.0, 1.0], *[[25.0, 4.0 * k - 16] for k in range(8)]]])
    moves = np.tile([[[-6.0, 0.0]]], (1, 10, 1))
    runs, hunts = hunting(places, moves, BALL)
    assert not runs.any() and not hunts.any()
    moves[:, 2:] = 0.0  # the others stand: the side moves 1.2 m/s, the two are 4.8 faster
    runs, hunts = hunting(places, moves, BALL)
    assert hunts.sum() == 2


def alone(distance, speed):
    """One man at a distance who runs at the ball, and nine who stand at 40 m."""
    places = np.array([[[distance, 0.0], *[[40.0, 0.0]] * 9]])
    moves = np.array([[[-speed, 0.0], *[[0.0, 0.0]] * 9]])
    return places, moves


@pytest.mark.parametrize(
    ("distance", "speed", "hunts"),
    [
        (15.0, 4.0, True),
        (15.01, 4.0, False),
        (12.0, 2.0, True),
        (12.0, 1.99, False),
        (2.5, 0.0, True),
        (2.51, 0, False),
    ],
)
def test_edges_of_the_hunt(distance, speed, hunts):
    places, moves = alone(distance, speed)
    assert hunting(places, moves, BALL)[1].sum() == hunts


def test_a_tight_man_does_not_run():
    runs, hunts = hunting(*alone(2.0, 0.0), BALL)
    assert runs.sum() == 0 and hunts.sum() == 1


def test_by_how_much_faster_than_his_side():
    """One of ten at 2 m/s: the side moves 0.2, he is 1.8 faster."""
    assert hunting(*alone(10.0, 2.0), BALL, hunt_own_ms=1.8)[0].sum() == 1
    assert hunting(*alone(10.0, 2.0), BALL, hunt_own_ms=1.81)[0].sum() == 0


def test_the_nearest_three():
    """At 1, 2, 3 and 4 m with 3, 2, 1 and 9 m/s towards the ball: (3 + 2 + 1) / 3."""
    places = [[[1, 0], [0, 2], [-3, 0], [0, -4]]]
    moves = [[[-3, 0], [0, -2], [1, 0], [0, 9]]]
    assert nearest_approach_ms(places, moves, BALL)[0] == pytest.approx(2.0)
    assert np.isnan(nearest_approach_ms([[[1, 0], [0, 2], [NAN, NAN]]], [[[0, 0]] * 3], BALL)[0])
    assert np.isnan(nearest_approach_ms([[[1, 0]]], [[[0, 0]]], BALL)[0])
