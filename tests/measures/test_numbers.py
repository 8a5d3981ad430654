"""Number against number, by hand geometry (common practice, no source)."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.numbers import first_line_numbers, players_near

FOUR_FOUR_TWO = [-11, -11, 4, 4, 4, 4, 18, 18, 18, 18]  # first line -11, midfield 4: 15 m apart
FOUR_THREE_THREE = [-11, -11, -10, 3, 4, 4, 18, 18, 18, 18]
OWN = [-30, -30, -20, -20, -9, -9, 8, 12, 14, 16]


@pytest.mark.parametrize(
    ("own", "other", "numbers"),
    [
        (OWN, FOUR_FOUR_TWO, (6, 2)),
        (OWN, FOUR_THREE_THREE, (6, 3)),
        ([-30, -30, -8, 5, 5, 6, 8, 12, 14, 16], FOUR_FOUR_TWO, (3, 2)),  # two centre-backs and a pivot: 3 v 2
        ([-30, -30, -8, -8, 5, 6, 8, 12, 14, 16], FOUR_FOUR_TWO, (4, 2)),
    ],
)
def test_numbers(own, other, numbers):
    lines = first_line_numbers([own], [other])
    assert (lines.n_for[0], lines.n_against[0]) == numbers
    assert lines.builders.sum() == numbers[0] and lines.pressers.sum() == numbers[1]


@pytest.mark.parametrize(("x", "counts"), [(-6.0, True), (-5.99, False)])
def test_a_third_of_the_way_is_the_edge(x, counts):
    """First line -11, midfield 4: a third of 15 m is 5 m."""
    lines = first_line_numbers([[x, *[20] * 9]], [FOUR_FOUR_TWO], share=1 / 3)
    assert lines.builders[0, 0] == counts


def test_too_few_in_the_data():
    few = [*OWN[:6], *[np.nan] * 4]
    assert np.isnan(first_line_numbers([few], [FOUR_FOUR_TWO]).n_for[0])
    lines = first_line_numbers([OWN], [[*FOUR_FOUR_TWO[:6], *[np.nan] * 4]])
    assert np.isnan(lines.n_against[0]) and not lines.pressers.any() and not lines.builders.any()
    assert first_line_numbers([[*few[:6], 9, *[np.nan] * 3]], [FOUR_FOUR_TWO]).n_for[0] == 6  # seven are enough


def test_shapes_that_do_not_fit():
    with pytest.raises(
        TacticalKitError,
        match=r"^own players of shape \(1, 10\) and opponents of shape \(2, 10\); expected one row a spell in both\.$",
    ):
        first_line_numbers([OWN], [FOUR_FOUR_TWO] * 2)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_order_of_the_players_and_shifting_all_change_nothing(seed):
    rng = np.random.default_rng(seed)
    own, other = rng.uniform(-45, 45, (2, 4, 10))
    lines, shifted = first_line_numbers(own, other), first_line_numbers(own[:, ::-1] + 3, other[:, ::-1] + 3)
    assert lines.n_for.tolist() == shifted.n_for.tolist() and lines.n_against.tolist() == shifted.n_against.tolist()


def test_players_near_against_plain_distances():
    rng = np.random.default_rng(3)
    places, spot = rng.uniform(-20, 20, (5, 11, 2)), rng.uniform(-20, 20, (5, 2))
    expected = [[np.linalg.norm(p - s) <= 10 for p in row] for row, s in zip(places, spot)]
    assert players_near(places, spot, 10).tolist() == expected
    assert players_near([[[3, 4], [np.nan, 0]]], [[0, 0]], 5.0).tolist() == [[True, False]]  # at most
