"""Numbers ahead of the ball, worked out by hand; common practice, no source."""

import numpy as np
import pytest

from tactical_kit.measures.ahead import gain_at, numbers_ahead, seconds_to_gain

NAN = np.nan


def test_three_against_two():
    """Ball at -10: the man on it (-10) and two ahead against two goal-side; seven behind, eight caught."""
    own = [[-10, 5, 5, *[-30] * 7]]
    other = [[15, 15, *[-25] * 8]]
    counts = numbers_ahead(own, other, [-10.0])
    assert [float(c[0]) for c in counts] == [3, 2, 7, 8]
    assert (counts.attack[0], counts.defend[0], counts.behind[0], counts.caught[0]) == (3, 2, 7, 8)


@pytest.mark.parametrize(("x", "level"), [(-12.0, 1), (-12.01, 0)])
def test_at_most_two_metres_behind_is_level(x, level):
    assert numbers_ahead([[x, -40]], [[0.0]], [-10.0]).attack[0] == level


@pytest.mark.parametrize(("x", "goal_side"), [(-10.0, 0), (-9.99, 1)])
def test_an_opponent_level_with_the_ball_is_not_goal_side(x, goal_side):
    assert numbers_ahead([[0.0]], [[x]], [-10.0]).defend[0] == goal_side


def test_unknown_players_are_left_out_and_unknown_instants_are_nan():
    counts = numbers_ahead([[0, NAN], [0, 5], [NAN, NAN]], [[1, NAN], [1, 2], [1, 2]], [0.0, NAN, 0.0])
    np.testing.assert_equal(counts.attack, [1, NAN, NAN])
    np.testing.assert_equal(counts.defend, [1, NAN, NAN])


def test_everybody_is_counted_once():
    """The four counts add up to all players, against a plain loop over random places."""
    rng = np.random.default_rng(3)
    own, other, ball = rng.uniform(-50, 50, (50, 10)), rng.uniform(-50, 50, (50, 10)), rng.uniform(-50, 50, 50)
    counts = numbers_ahead(own, other, ball, level_m=2.0)
    for i in range(50):
        attack = sum(x >= ball[i] - 2 for x in own[i])
        defend = sum(x > ball[i] for x in other[i])
        assert [c[i] for c in counts] == [attack, defend, 10 - attack, 10 - defend]


TIMES, X = np.array([0.0, 1.0, 2.0, 3.0, 4.0]), np.array([-10.0, -12.0, NAN, -2.0, 5.0])


def test_gain_between_two_instants():
    assert gain_at(TIMES, X, 0.0, 3.0) == 8.0
    assert gain_at(TIMES, X, 0.0, 2.0) == -2.0  # the last known place
    assert np.isnan(gain_at(TIMES, X, 0.0, 2.5))  # nothing known within a second
    assert np.isnan(gain_at(TIMES, X, -5.0, 3.0))


@pytest.mark.parametrize(("metres", "seconds"), [(8.0, 3.0), (8.01, 4.0), (15.0, 4.0), (15.01, NAN)])
def test_at_least_so_many_metres(metres, seconds):
    np.testing.assert_equal(seconds_to_gain(TIMES, X, 0.0, metres, 4.04), seconds)


def test_the_end_of_the_span_is_not_in_it():
    assert np.isnan(seconds_to_gain(TIMES, X, 0.0, 15.0, 4.0))
