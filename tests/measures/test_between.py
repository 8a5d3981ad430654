"""Between the lines: usual lines, the gap, who is pinned, which way a receiver looks.  Geometry by hand."""

import numpy as np
import pytest

from tactical_kit.measures.between import facing_words, in_the_gap, pinned_defender, usual_unit_lines
from tactical_kit.measures.unit_lines import unit_lines

BLOCK = [30, 31, 31, 30, 18, 18, 18, 18, 6, 6]  # back line 30.5, midfield line 18, first line 6


def test_usual_lines_are_the_lines_of_the_instant_where_nothing_else_is_known():
    rng = np.random.default_rng(2)
    x = rng.uniform(-20, 40, (50, 10))
    x[5, :2] = x[6, :4] = np.nan
    now, usual = unit_lines(x), usual_unit_lines(x, np.full(x.shape, np.nan))
    np.testing.assert_array_equal(now.line, usual.line)
    np.testing.assert_allclose(now.x, usual.x)


def test_a_player_keeps_his_line_wherever_he_is():
    usual = np.array([[12, 12, 12, 12, 0, 0, 0, 0, -12, -12]])
    moved = np.array([[30, 31, 31, 10, 18, 18, 18, 36, 6, 20]])
    lines = usual_unit_lines(moved, usual)
    assert lines.line[0].tolist() == [0, 0, 0, 0, 1, 1, 1, 1, 2, 2]
    assert lines.x[0].tolist() == [102 / 4, 90 / 4, 13.0]
    assert unit_lines(moved).line[0].tolist() != lines.line[0].tolist()


def test_who_is_not_there_is_in_no_line_and_moves_none():
    usual = np.array([[12, 12, 12, 12, 0, 0, 0, 0, -12, -12]])
    now = np.array([[30, 31, 31, np.nan, 18, 18, 18, 18, 6, 6]])
    lines = usual_unit_lines(now, usual)
    assert lines.line[0, 3] == -1 and lines.x[0, 0] == pytest.approx(92 / 3)
    few = usual_unit_lines(np.where(np.arange(10) < 6, now, np.nan), usual)
    assert np.isnan(few.x).all() and (few.line == -1).all()


@pytest.mark.parametrize(
    ("x", "y", "inside"),
    [
        (18, 0, True), (17.99, 0, False), (30.5, 0, True), (30.51, 0, False), (24, 22, True), (24, 22.01, False),
        (24, -22, True), (np.nan, 0, False),
    ],
)  # fmt: skip
def test_the_gap_has_its_limits_inside(x, y, inside):
    assert in_the_gap([[[x, y]]], unit_lines([BLOCK])).item() is inside


def test_the_gap_can_be_narrower_and_must_be_wide_enough():
    lines = unit_lines([BLOCK])
    places = [[[19, 0], [20, 0], [28.5, 0], [29, 0]]]
    assert in_the_gap(places, lines, inside_m=2.0).tolist() == [[False, True, True, False]]
    assert in_the_gap(places, lines, least_gap_m=12.5).all()
    assert not in_the_gap(places, lines, least_gap_m=12.51).any()
    assert not in_the_gap(places, unit_lines([BLOCK[:6]])).any()


def test_the_outermost_defender_is_pinned():
    opponents = np.array([[[30, -20], [31, -7], [31, 7], [30, 20], [18, 24]]], float)
    line = [[0, 0, 0, 0, 1]]  # the midfielder further out is not of the back line
    mates = [[[26, 16], [24, 30]]]
    assert pinned_defender([[26, 16]], mates, opponents, line).tolist() == [3]
    assert pinned_defender([[26, -16]], [[[26, -16], [24, -30]]], opponents, line).tolist() == [0]
    assert pinned_defender([[26, 16]], [[[26, 16], [24, 27.9]]], opponents, line).tolist() == [-1]  # 7.9 m outside
    assert pinned_defender([[26, 16]], [[[26, 16], [10.9, 30]]], opponents, line).tolist() == [-1]  # far behind him
    assert pinned_defender([[20, 19]], mates, opponents, line, pin_m=10.0).tolist() == [-1]  # 10.05 m away
    assert pinned_defender([[26, 16]], mates, np.zeros((1, 0, 2)), np.zeros((1, 0), int)).tolist() == [-1]


def test_the_man_outside_is_free_and_not_far_behind():
    opponents = np.array([[[30, -20], [31, -7], [31, 7], [30, 20], [24, 25]]], float)
    line, mates = [[0, 0, 0, 0, 1]], [[[24, 30]]]  # an opponent 5 m from him
    assert pinned_defender([[26, 16]], mates, opponents, line).tolist() == [3]
    assert pinned_defender([[26, 16]], mates, opponents, line, free_m=5.01).tolist() == [-1]
    assert pinned_defender([[26, 16]], mates, opponents, line, behind_m=2.0).tolist() == [3]
    assert pinned_defender([[26, 16]], mates, opponents, line, behind_m=1.99).tolist() == [-1]


def test_a_back_line_drawn_wholly_to_the_other_side_has_nobody_to_pin():
    opponents = np.array([[[30, -30], [31, -20], [31, -10], [30, -2]]], float)
    assert pinned_defender([[27, 2]], [[[27, 20]]], opponents, [[0, 0, 0, 0]]).tolist() == [-1]


@pytest.mark.parametrize(
    ("degrees", "word"),
    [(0, "goal"), (60, "goal"), (60.1, "side"), (119.9, "side"), (120, "own goal"), (180, "own goal")],
)
@pytest.mark.parametrize("sign", [1, -1])
def test_which_way_he_looks(degrees, word, sign):
    angle = np.radians(degrees) * sign
    way = [[np.cos(angle), np.sin(angle)]]
    nowhere = [[np.nan, np.nan]]
    assert facing_words(np.multiply(way, 3.0), nowhere).item() == word  # he runs that way
    assert facing_words([[0.0, 0.0]], np.multiply(way, 12.0)).item() == word  # he stands and looks at the ball
    assert facing_words(nowhere, np.multiply(way, 12.0)).item() == word


def test_standing_is_slower_than_a_metre_a_second():
    ball = [[-10.0, 0.0]]
    assert facing_words([[1.0, 0.0]], ball).item() == "goal"
    assert facing_words([[0.99, 0.0]], ball).item() == "own goal"
    assert facing_words([[np.nan, np.nan]], [[np.nan, np.nan]]).item() == ""
