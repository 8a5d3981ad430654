"""Tracking arrays: gaps, look-up, velocities by hand."""

import numpy as np
import pytest

from tactical_kit.errors import TacticalKitError, UnknownNameError
from tactical_kit.match import Tracking
from tactical_kit.match.tracking import smooth_velocity

RATE = 25.0


def tracking(xy, period=None, time_s=None, **more):
    frames, players = xy.shape[:2]
    period = np.ones(frames, np.int8) if period is None else np.asarray(period, np.int8)
    time_s = np.arange(frames) / RATE if time_s is None else np.asarray(time_s, float)
    return Tracking(
        RATE, period, time_s, tuple(f"p{i}" for i in range(players)), (np.arange(players) % 2).astype(np.int8),
        xy.astype(np.float32), np.zeros((frames, 3), np.float32), np.ones(frames, bool), **more,
    )  # fmt: skip


def straight(frames, vx, vy=0.0):
    t = np.arange(frames) / RATE
    return np.stack([vx * t, vy * t], axis=-1)[:, None, :]


def test_uniform_motion_has_its_speed_everywhere():
    # By hand: 3 m/s along x and 4 m/s along y, speed 5 m/s in every frame, ends included.
    velocity = tracking(straight(50, 3, 4)).velocity
    assert velocity == pytest.approx(np.broadcast_to([3, 4], (50, 1, 2)), abs=1e-3)


def test_uniform_acceleration_is_followed():
    # By hand: x = t^2 gives v = 2t; a quadratic is fitted exactly (Savitzky & Golay 1964, order 2).
    t = np.arange(100) / RATE
    velocity = tracking(np.stack([t**2, 0 * t], axis=-1)[:, None, :]).velocity
    assert velocity[:, 0, 0] == pytest.approx(2 * t, abs=2e-3)


def test_velocity_never_looks_across_a_gap():
    # The player stands at 0, is lost for ten frames, and stands at 30 m: no false speed at either side.
    xy = np.zeros((60, 1, 2))
    xy[25:35] = np.nan
    xy[35:, 0, 0] = 30
    velocity = tracking(xy).velocity
    assert np.isnan(velocity[25:35]).all()
    assert velocity[:25] == pytest.approx(np.zeros((25, 1, 2)), abs=1e-3)
    assert velocity[35:] == pytest.approx(np.zeros((25, 1, 2)), abs=1e-3)


def test_velocity_never_looks_across_a_jump_in_time_or_a_period():
    xy = np.zeros((60, 1, 2))
    xy[20:40, 0, 0], xy[40:, 0, 0] = 10, -40
    time_s = np.concatenate([np.arange(20), 30 + np.arange(20), np.arange(20)]) / RATE
    data = tracking(xy, period=[1] * 40 + [2] * 20, time_s=time_s)
    assert [(s.start, s.stop) for s in data.segments] == [(0, 20), (20, 40), (40, 60)]
    assert data.velocity == pytest.approx(np.zeros((60, 1, 2)), abs=1e-3)


def test_short_runs_use_plain_differences_and_single_frames_none():
    positions = straight(3, 2)[:, 0].astype(np.float32)
    assert smooth_velocity(positions, RATE, (slice(0, 3),))[:, 0] == pytest.approx([2, 2, 2], abs=1e-4)
    assert np.isnan(smooth_velocity(positions[:1], RATE, (slice(0, 1),))).all()


@pytest.mark.parametrize("rate", [5.0, 10.0, 25.0, 50.0])
def test_any_rate(rate):
    t = np.arange(int(4 * rate)) / rate
    positions = np.stack([2 * t, -t], axis=-1).astype(np.float32)
    velocity = smooth_velocity(positions, rate, (slice(0, len(t)),))
    assert velocity == pytest.approx(np.broadcast_to([2, -1], velocity.shape), abs=1e-3)


def test_half_open_spans_and_nearest_frames():
    data = tracking(straight(50, 1))
    span = data.between(1, 0.4, 0.8)
    assert data.time_s[span].tolist() == pytest.approx([0.4 + i / 25 for i in range(10)])
    assert data.between(2, 0, 10) == slice(0, 0)
    assert data.index_at(1, 0.41) == 10 and data.index_at(1, 0.43) == 11
    assert data.indices_at(np.array([1, 1, 2]), np.array([0.41, 99.0, 0.0])).tolist() == [10, -1, -1]
    with pytest.raises(TacticalKitError, match=r"^the tracking has no frame within 1 s of period 1, 99 s\.$"):
        data.index_at(1, 99)
    with pytest.raises(UnknownNameError, match=r"^player 'p7' is not in the tracking\.$"):
        data.column("p7")


def test_indices_at_agrees_with_index_at():
    data = tracking(straight(40, 1), period=[1] * 20 + [2] * 20, time_s=[*np.arange(20) / 25, *np.arange(20) / 25])
    rng = np.random.default_rng(4)
    periods, times = rng.integers(1, 3, 200), rng.uniform(0, 0.79, 200)
    assert data.indices_at(periods, times).tolist() == [data.index_at(p, t) for p, t in zip(periods, times)]


def test_no_frames_is_a_tracking_of_no_frames():
    empty = tracking(np.zeros((0, 2, 2)))
    assert len(empty) == 0 and empty.segments == () and empty.velocity.shape == (0, 2, 2)
    assert empty.indices_at(np.array([1]), np.array([0.0])).tolist() == [-1]


def test_all_faults_of_the_arrays_are_told_together():
    with pytest.raises(
        TacticalKitError,
        match=r"^Tracking arrays do not fit: ball has shape \(2, 2\), expected \(3, 3\); rate_hz is 0, expected more "
        r"than 0; a player id stands twice in players\.$",
    ):
        Tracking(0, np.ones(3, np.int8), np.arange(3.0), ("a", "a"), np.zeros(2, np.int8),
                 np.zeros((3, 2, 2), np.float32), np.zeros((2, 2), np.float32), np.ones(3, bool))  # fmt: skip
    with pytest.raises(TacticalKitError, match=r"time does not rise at frame 2 \(period 1, 0\.04 s\)\.$"):
        tracking(np.zeros((3, 1, 2)), time_s=[0, 0.04, 0.04])
    with pytest.raises(TacticalKitError, match=r"time does not rise at frame 1 \(period 1, 1 s\)\.$"):
        tracking(np.zeros((2, 1, 2)), period=[2, 1], time_s=[0, 1])
