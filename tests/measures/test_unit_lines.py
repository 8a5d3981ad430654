"""The lines of a block: an exact least-squares cut of the order by depth."""

from itertools import combinations

import numpy as np
import pytest

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.unit_lines import unit_lines

# A worked shape: back four at -21.0, four at -9, two at 3, seen by its opponents.
SHAPE = -np.array([-20, -22, -22, -20, -8, -10, -10, -8, 4, 2], float)


def test_a_four_four_two():
    lines = unit_lines([SHAPE])
    assert lines.line[0].tolist() == [0, 0, 0, 0, 1, 1, 1, 1, 2, 2]
    assert lines.size[0].tolist() == [4, 4, 2]
    np.testing.assert_allclose(lines.x[0], [21, 9, -3])


def test_order_of_players_and_who_is_absent_do_not_matter():
    order = np.random.default_rng(3).permutation(10)
    lines = unit_lines([SHAPE[order]])
    assert lines.line[0].tolist() == unit_lines([SHAPE]).line[0][order].tolist()
    with_gap = unit_lines([np.insert(SHAPE, 4, np.nan)])
    assert with_gap.line[0, 4] == -1
    np.testing.assert_allclose(with_gap.x, lines.x)


def brute(x, least_back, most_back, least_midfield):
    """Plain loops over every allowed cut; the reference."""
    ordered = sorted(x, reverse=True)
    best = None
    for a, b in combinations(range(1, len(x)), 2):
        if not (least_back <= a <= most_back and b - a >= least_midfield):
            continue
        groups = (ordered[:a], ordered[a:b], ordered[b:])
        cost = sum(sum((v - np.mean(g)) ** 2 for v in g) for g in groups)
        if best is None or cost < best[0] - 1e-9:
            best = cost, [np.mean(g) for g in groups]
    return best[1]


def test_against_plain_loops():
    x = np.random.default_rng(8).normal(0, 12, (40, 10))
    np.testing.assert_allclose(unit_lines(x).x, [brute(row, 3, 5, 2) for row in x])
    nine = np.random.default_rng(9).normal(0, 12, (20, 9))
    np.testing.assert_allclose(unit_lines(nine).x, [brute(row, 2, 5, 2) for row in nine])


@pytest.mark.parametrize(("players", "fits"), [(7, True), (6, False)])
def test_too_few_players_have_no_lines(players, fits):
    lines = unit_lines([np.arange(players, dtype=float)])
    assert np.isfinite(lines.x).all() == fits and (lines.line >= 0).all() == fits


def test_a_single_row_without_its_instant_is_refused():
    with pytest.raises(
        TacticalKitError, match=r"^x has shape \(10,\); expected one row an instant and one column a player\.$"
    ):
        unit_lines(SHAPE)
