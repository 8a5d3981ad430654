"""The shape of a block at single instants."""

import re

import numpy as np
import pytest

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.block import BLOCK_COLUMNS, block_numbers, nearest_spread, shift_speed

WORKED = [(-20, -24), (-22, -8), (-22, 8), (-20, 24), (-8, -22), (-10, -7), (-10, 7), (-8, 22), (4, -6), (2, 6)]
BALL = (8.0, 0.0)


def measured(places=WORKED, ball=BALL, **more):
    return block_numbers([places], [ball], 52.5, **more).iloc[0]


def test_worked_shape():
    """Worked out apart: centroid, stretch index (Bourbousson et al. 2010), hull (Frencken et al. 2011), lengths."""
    found = measured()
    expected = {
        "centre_x": -11.4,
        "centre_y": 0.0,
        "height_m": 31.5,  # back four at -21.0
        "first_line_m": 55.5,  # two at 3.0
        "width_m": 48.0,
        "depth_m": 26.0,
        "gap_back_midfield_m": 12.0,  # -21 to -9
        "gap_midfield_first_m": 12.0,  # -9 to 3
        "compactness_m": 16.755787,
        "hull_m2": 924.0,
    }
    for name, value in expected.items():
        assert found[name] == pytest.approx(value, abs=1e-6), name
    assert list(found.index) == list(BLOCK_COLUMNS)


def test_the_area_is_one_that_was_measured_in_defence():
    """Moura et al. 2012: medians of the area in defence 774-1158 m2 (eight matches)."""
    assert 774 <= measured()["hull_m2"] <= 1158


def test_spread_of_moura_is_tied_to_the_squared_distances():
    """Moura et al. 2012: spread = Frobenius norm of the distances = root of 2 N sum |p - c|^2; 254.338357 here."""
    p = np.array(WORKED, float)
    between = np.linalg.norm(p[:, None] - p[None], axis=2)
    assert np.linalg.norm(between) == pytest.approx(254.338357, abs=1e-6)
    found = measured()
    off = p - (found["centre_x"], found["centre_y"])
    assert np.sqrt(2 * 10 * (off**2).sum()) == pytest.approx(254.338357, abs=1e-6)


def test_nearest_five_by_hand():
    """Ball at (8, 0): the strikers (4,-6), (2,6), the two central midfielders (-10,-7), (-10,7), and at 27.2 m a wide
    one, (-8,-22) (the first of two at the same distance)."""
    five = np.array([(4, -6), (2, 6), (-10, -7), (-10, 7), (-8, -22)], float)
    by_hand = np.hypot(*(five - five.mean(axis=0)).T).mean()
    assert measured()["nearest_five_m"] == pytest.approx(by_hand)


def test_a_block_that_moves_as_a_whole_keeps_its_shape():
    moved = measured([(x + 7, y - 3) for x, y in WORKED], (BALL[0] + 7, BALL[1] - 3))
    still = measured()
    assert moved["height_m"] - still["height_m"] == pytest.approx(7.0)
    same = ["width_m", "depth_m", "gap_back_midfield_m", "compactness_m", "nearest_five_m", "hull_m2"]
    np.testing.assert_allclose(moved[same].to_numpy(float), still[same].to_numpy(float))


def test_the_order_of_the_players_does_not_count():
    order = np.random.default_rng(0).permutation(10)
    np.testing.assert_allclose(
        measured(np.array(WORKED)[order]).drop("nearest_five_m").to_numpy(float),
        measured().drop("nearest_five_m").to_numpy(float),
    )


def test_missing_players_and_ball():
    six = [*WORKED[:6], *[(np.nan, np.nan)] * 4]
    seven = [*WORKED[:7], *[(np.nan, np.nan)] * 3]
    assert measured(six).isna().all()  # seven at least
    assert measured(seven).drop("nearest_five_m").notna().all()
    assert measured(six, min_players=6)["width_m"] == 48.0
    blind = measured(ball=(np.nan, np.nan))
    assert np.isnan(blind["nearest_five_m"]) and blind.drop("nearest_five_m").notna().all()


def test_no_instant_is_no_row():
    assert block_numbers(np.empty((0, 10, 2)), np.empty((0, 2)), 52.5).shape == (0, len(BLOCK_COLUMNS))


def test_places_and_ball_must_fit():
    said = re.escape("places of shape (1, 10, 2) and a ball of shape (2, 2); expected (N, Q, 2) and (N, 2).")
    with pytest.raises(TacticalKitError, match=f"^{said}$"):
        block_numbers([WORKED], [BALL, BALL], 52.5)


# -- nearest, shift -----------------------------------------------------------------------------------------


def test_nearest_spread_needs_so_many():
    assert np.isnan(nearest_spread([[(0, 0), (1, 0)]], [(0, 0)], players=3)[0])
    assert np.isnan(nearest_spread([[(0, 0), (np.nan, 0), (2, 0)]], [(0, 0)], players=3)[0])


def test_shift_speed_by_hand():
    """0.4 m every 0.2 s is 2 m/s; a stop halfway gives (1 + 0) m over the last whole second."""
    t = np.arange(11) / 5
    y = np.minimum(t, 1.0) * 2
    found = shift_speed(t, y)
    np.testing.assert_allclose(found[:3], 2.0)
    assert found[5] == pytest.approx((2.0 - 1.2) / 0.8)  # 0.6 to 1.4 s: five frames do not span a whole second
    np.testing.assert_allclose(found[-3:], 0.0, atol=1e-12)
    np.testing.assert_allclose(shift_speed(t, -y), found)  # never negative


def test_shift_speed_of_one_instant_is_unknown():
    assert np.isnan(shift_speed([3.0], [1.0])).all()
    assert np.isnan(shift_speed([0.0, 0.2], [np.nan, 1.0])).all()
