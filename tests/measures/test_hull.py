"""The area that players span, against another program and by hand."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from tactical_kit.measures.hull import hull_area

NOBODY = (np.nan, np.nan)


@pytest.mark.parametrize("seed", range(5))
def test_hull_equals_another_program(seed):
    """Reference: scipy.spatial.ConvexHull (volume is the area in the plane)."""
    rng = np.random.default_rng(seed)
    points = rng.normal(scale=15, size=(40, 10, 2))
    points[:, 8:][rng.random((40, 2)) < 0.5] = np.nan
    expected = [ConvexHull(p[np.isfinite(p[:, 0])]).volume for p in points]
    np.testing.assert_allclose(hull_area(points), expected)


def test_worked_shape():
    """A 4-4-2 worked out by hand with the shoelace formula: 924 m2."""
    shape = [(-20, -24), (-22, -8), (-22, 8), (-20, 24), (-8, -22), (-10, -7), (-10, 7), (-8, 22), (4, -6), (2, 6)]
    assert hull_area([shape])[0] == pytest.approx(924.0)


def test_grids_lines_and_nobody():
    grid = [(x, y) for x in (0, 5, 10) for y in (0, 5, 10)]  # many on the edges
    line = [(0, 0), (1, 1), (5, 5)]
    spot, two, none = [(3, 3)] * 3, [(3, 3), NOBODY, (6, 3)], [NOBODY] * 3
    np.testing.assert_allclose(hull_area([line, two, spot, none]), [0, np.nan, 0, np.nan])
    assert hull_area([grid])[0] == 100.0
    assert hull_area(np.empty((0, 3, 2))).shape == (0,)
