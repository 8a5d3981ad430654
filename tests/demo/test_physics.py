"""Bounds of movement in every frame, on the engine's unrounded positions at 25 Hz.

Speed is the first difference of position over 1/25 s, acceleration the difference of two such speeds over 1/25 s.
"""

import numpy as np
import pytest

HZ = 25


@pytest.fixture(scope="module")
def motion(made):
    same = np.diff(made.exact_period) == 0
    velocity = np.diff(made.exact_xy, axis=0) * HZ
    velocity[~same] = np.nan
    return velocity


def test_speed_of_every_player_in_every_frame(motion):
    # bound of the project; peak of a match 8.1-8.8 m/s (Silva et al. 2025), records 10 m/s
    assert np.nanmax(np.linalg.norm(motion, axis=2)) <= 9.8


def test_acceleration_in_every_frame(motion):
    # bound of the project
    assert np.nanmax(np.linalg.norm(np.diff(motion, axis=0), axis=2) * HZ) <= 7.0


def test_a_running_start_is_weaker_than_a_standing_start(motion):
    # Sonderegger, Tschopp, Taube 2016 (PLoS ONE 11:e0166534): most acceleration 6.0 / 4.3 / 3.2 / 2.3 m/s2
    # (sd 0.3-0.55) from 0 / 6.0 / 10.8 / 15.0 km/h
    speed = np.linalg.norm(motion, axis=2)
    forward = np.diff(speed, axis=0) * HZ
    at = speed[:-1]
    most = [np.nanmax(forward[(at > v - 0.15) & (at < v + 0.15)]) for v in (6.0 / 3.6, 10.8 / 3.6, 15.0 / 3.6)]
    for met, mean, sd in zip(most, (4.33, 3.20, 2.29), (0.40, 0.49, 0.34), strict=True):
        assert met <= mean + 2 * sd
    assert most[0] > most[1] > most[2] > 1.0


def test_speed_of_the_ball_in_every_frame(made):
    # bound of the project; shots 20-35 m/s (weak: no study with a distribution found)
    same = np.diff(made.exact_period) == 0
    speed = np.linalg.norm(np.diff(made.exact_ball, axis=0), axis=1)[same] * HZ
    assert speed.max() <= 35.0
    assert (made.exact_ball[:, 2] >= 0).all()


def test_no_frame_is_missing_and_nobody_jumps(made):
    tracking = made.match.tracking
    for number in (1, 2):
        time = tracking.time_s[tracking.period == number]
        np.testing.assert_allclose(np.diff(time), 1 / HZ, atol=1e-9)
    # a player who is on in two neighbouring frames moved at most 9.8 m/s, rounding of float32 included
    step = np.linalg.norm(np.diff(tracking.xy, axis=0), axis=2)
    step[np.diff(tracking.period) != 0] = np.nan
    assert np.nanmax(step) <= 9.8 / HZ + 1e-4


def test_smoothed_speeds_of_the_match_keep_the_bounds(made):
    speed = np.linalg.norm(made.match.tracking.velocity, axis=2)
    assert np.nanmax(speed) <= 9.8
