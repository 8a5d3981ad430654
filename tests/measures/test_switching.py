"""Numbers of a switch.  References: SciPy's distances, a plain loop, and geometry by hand."""

import numpy as np
import pytest
from scipy.spatial.distance import cdist

from tactical_kit.errors import MissingDataError
from tactical_kit.match import Tracking
from tactical_kit.measures.switching import block_lag_m, nearest_opponent_m, seconds_free


def test_nearest_opponent_against_scipy():
    rng = np.random.default_rng(1)
    place, others = rng.uniform(-40, 40, (8, 2)), rng.uniform(-40, 40, (8, 11, 2))
    expected = [cdist(place[i : i + 1], others[i]).min() for i in range(8)]
    assert nearest_opponent_m(place, others) == pytest.approx(expected)
    others[:, 3:] = np.nan
    expected = [cdist(place[i : i + 1], others[i, :3]).min() for i in range(8)]
    assert nearest_opponent_m(place, others) == pytest.approx(expected)


def test_nobody_there_is_unknown_not_far():
    assert np.isnan(nearest_opponent_m([[0, 0]], [[[np.nan, np.nan]]])).all()
    assert np.isnan(nearest_opponent_m([[0, 0]], np.zeros((1, 0, 2)))).all()
    assert np.isnan(nearest_opponent_m([[np.nan, 0]], [[[1, 1]]])).all()


@pytest.mark.parametrize(
    ("block", "ball", "later_block", "later_ball", "shift", "lag"),
    [
        (-8, -25, 8, 25, 16, 0),  # stands mirrored: kept up
        (-8, -25, -8, 25, 0, 16),  # did not move: 17 m off before, 33 m after
        (8, 25, 2, -25, 6, 10),  # the other way across: 17 m off before, 27 m after
        (-8, -25, -10, 25, -2, 18),  # went the wrong way
        (0, 0, 10, 30, 10, 20),
    ],
)
def test_lag_by_hand(block, ball, later_block, later_ball, shift, lag):
    got = block_lag_m([block], [ball], [later_block], [later_ball])
    assert (got[0].item(), got[1].item()) == (shift, lag)
    mirrored = block_lag_m([-block], [-ball], [-later_block], [-later_ball])
    assert (mirrored[0].item(), mirrored[1].item()) == (shift, lag)


@pytest.fixture
def free(make_match):
    """H2 at (0, 0) has the ball from frame 5 on at 10 Hz; A2 comes from 12 m at 2 m/s: 12 - 0.2 k at frame k."""

    def build(frames=100, **changes):
        xy = np.full((frames, 4, 2), np.nan, np.float32)
        xy[:, 0], xy[:, 1] = (0, 0), (0, 20)
        xy[:, 2] = np.column_stack([12 - 0.2 * np.arange(frames), np.zeros(frames)])
        ball = np.zeros((frames, 3), np.float32)
        ball[:5, 1] = np.linspace(10, 2, 5)
        parts = dict(
            rate_hz=10.0, period=np.ones(frames, np.int8), time_s=np.arange(frames) / 10,
            players=("H2", "H3", "A2", "A3"), team_index=np.array([0, 0, 1, 1], np.int8), xy=xy, ball=ball,
            alive=np.ones(frames, bool),
        )  # fmt: skip
        parts.update({k: v(parts) for k, v in changes.items()})
        return make_match(events=False, tracking=Tracking(**parts))

    return build


def test_time_until_an_opponent_is_upon_him(free):
    """2 m away at frame 50, 45 frames after frame 5; 5 m away at frame 35."""
    match = free()
    assert seconds_free(match, [5], ["H2"]).item() == pytest.approx(4.5, abs=0.11)
    assert seconds_free(match, [5], ["H2"], tight_m=5.0).item() == pytest.approx(3.0, abs=0.11)
    assert seconds_free(match, [5], ["H2"], longest_s=2.0).item() == pytest.approx(2.0)


def test_time_ends_with_the_ball_dead_or_gone(free):
    def dead(parts):
        return np.arange(len(parts["alive"])) < 25

    def gone(parts):
        ball = parts["ball"].copy()
        ball[20:, 1] = 20  # at the feet of H3
        return ball

    assert seconds_free(free(alive=dead), [5], ["H2"]).item() == pytest.approx(2.0)
    assert seconds_free(free(ball=gone), [5], ["H2"]).item() == pytest.approx(1.5)


def test_what_is_not_in_the_data_is_unknown(free, make_match):
    assert np.isnan(seconds_free(free(), [-1, 5, 5], ["H2", "", "A3"])).all()
    with pytest.raises(
        MissingDataError, match=r"^The time a player has on the ball needs tracking; this match has events\.$"
    ):
        seconds_free(make_match(), [5], ["H2"])
