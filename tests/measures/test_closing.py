"""Closing down, by hand geometry and plain loops."""

import numpy as np
import pytest

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.closing import (
    best_mean,
    bridged,
    distance_to,
    fastest_there,
    set_off_at,
    side_velocity,
    speed_towards,
)


def test_speed_towards_is_the_part_of_the_velocity_that_points_at_the_target():
    """3-4-5 triangles: the target at (3, 4) from each player, unit vector (0.6, 0.8)."""
    place = [[[0, 0], [0, 0], [0, 0], [-3, -4]]]
    velocity = [[[3, 4], [4, -3], [-6, -8], [5, 0]]]
    np.testing.assert_allclose(speed_towards(place, velocity, [[3, 4]]), [[5, 0, -10, 3]])


def test_what_the_target_does_does_not_count():
    """A player who stands while the ball comes to him closes nothing down."""
    assert speed_towards([[[0, 0]], [[0, 0]]], np.zeros((2, 1, 2)), [[20, 0], [1, 0]]).tolist() == [[0], [0]]


def test_unknown_and_on_the_spot_give_nan():
    speed = speed_towards([[[np.nan, 0], [0, 0], [5, 5]]], [[[1, 0], [np.nan, 0], [1, 1]]], [[5, 5]])
    assert np.isnan(speed).all()
    np.testing.assert_array_equal(distance_to([[[np.nan, 0], [2, 1]]], [[5, 5]]), [[np.nan, 5]])


def test_speed_towards_does_not_change_when_everything_is_turned():
    rng = np.random.default_rng(5)
    place, velocity, target = rng.normal(size=(6, 4, 2)), rng.normal(size=(6, 4, 2)), rng.normal(size=(6, 2))
    turn = np.array([[np.cos(0.7), -np.sin(0.7)], [np.sin(0.7), np.cos(0.7)]])
    np.testing.assert_allclose(
        speed_towards(place @ turn, velocity @ turn, target @ turn), speed_towards(place, velocity, target)
    )


def test_it_is_the_rate_at_which_the_distance_falls():
    """Independent: the distance to a target that stands, differentiated by a small step."""
    rng = np.random.default_rng(6)
    place, velocity, target = rng.normal(size=(50, 3, 2)) * 10, rng.normal(size=(50, 3, 2)), rng.normal(size=(50, 2))
    step = 1e-6
    fall = (distance_to(place, target) - distance_to(place + step * velocity, target)) / step
    np.testing.assert_allclose(speed_towards(place, velocity, target), fall, atol=1e-4)


def test_shapes_that_do_not_belong_together_are_refused():
    with pytest.raises(
        TacticalKitError, match=r"^places \(1, 2\), target \(1, 2\); expected \(N, P, 2\) and \(N, 2\)\.$"
    ):
        speed_towards([[0, 0]], [[0, 0]], [[0, 0]])
    with pytest.raises(
        TacticalKitError, match=r"^velocity has shape \(1, 2, 2\); expected \(1, 1, 2\), as the places\.$"
    ):
        speed_towards([[[0, 0]]], [[[0, 0], [1, 1]]], [[0, 0]])


@pytest.mark.parametrize(
    ("pause", "same", "joined"),
    [
        (2, [0] * 12, [[0, 7], [10, 12]]),  # a pause of 2 on the edge, one of 3 beyond it
        (1, [0] * 12, [[0, 3], [5, 7], [10, 12]]),
        (3, [0] * 12, [[0, 12]]),
        (3, [0] * 4 + [1] * 8, [[0, 3], [5, 12]]),  # never across two possessions
    ],
)
def test_spells_are_joined_over_short_pauses(pause, same, joined):
    assert bridged([[0, 3], [5, 7], [10, 12]], same, pause).tolist() == joined


def test_no_spell_stays_none():
    assert bridged(np.empty((0, 2)), [0, 0], 2).shape == (0, 2)


def plain_best(values, length):
    means = [np.mean(values[i : i + length]) for i in range(len(values) - length + 1)]
    means = [m for m in means if np.isfinite(m)]
    known = [v for v in values if np.isfinite(v)]
    return max(means) if means else (np.mean(known) if known else np.nan)


def test_best_mean_as_a_plain_loop():
    rng = np.random.default_rng(7)
    values = rng.normal(size=(12, 40))
    values[rng.random(values.shape) < 0.15] = np.nan
    values[:, 3] = np.nan
    for length in (1, 3, 5, 12, 15):
        np.testing.assert_allclose(best_mean(values, length), [plain_best(v, length) for v in values.T], atol=1e-12)


def test_the_presser_is_the_fastest_of_those_who_got_there():
    near, closing = [[3.0, 3.01, 2.0]], [[4.0, 9.0, 3.9]]  # 3.0 m is near, 3.01 m is not
    assert fastest_there(near, closing, 3.0).tolist() == [0]
    assert fastest_there(near, [[np.nan, 9.0, np.nan]], 3.0).tolist() == [2]  # nobody ran: the nearest


def test_a_side_moves_as_the_mean_of_who_is_there():
    v = np.array([[[1, 2], [3, 0], [np.nan, np.nan]], [[np.nan] * 2] * 3])
    np.testing.assert_array_equal(side_velocity(v), [[[2, 1]], [[np.nan, np.nan]]])


def test_when_he_set_off_against_a_plain_loop():
    rng = np.random.default_rng(5)
    for _ in range(200):
        n, length, pause = int(rng.integers(1, 20)), int(rng.integers(1, 6)), int(rng.integers(0, 3))
        speed, running = rng.uniform(-2, 7, n), rng.random(n) < 0.6
        width = min(length, n)
        means = [speed[i : i + width].mean() for i in range(n - width + 1)]
        fastest = means.index(max(means))
        runs: list[list[int]] = []
        for i in np.flatnonzero(running):
            if runs and i - runs[-1][1] <= pause:
                runs[-1][1] = i + 1
            else:
                runs.append([i, i + 1])
        his = [a for a, b in runs if a < fastest + width and b > fastest]
        expected = his[0] if his else runs[0][0] if runs else 0
        assert set_off_at(speed, running, length, pause) == expected


def test_instants_that_do_not_count_are_not_his_fastest():
    running = [True, False, True, True, False]
    assert set_off_at([9.0, np.nan, 4.0, 4.0, 0.0], running, 2) == 2
    assert set_off_at([np.nan] * 5, running, 2) == 0
