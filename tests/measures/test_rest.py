"""Rest defence by hand geometry; the idea after Forcher et al. 2023, the strip is common practice, no source."""

import numpy as np
import pytest

from tactical_kit.measures.rest import rest_defence

NAN = np.nan
OWN = [[(-5, -8), (-5, 8), (5, 0), (28, -25), (33, 4)]]
OTHER = [[(0, 0), (-2, 10), (30, 3), (40, 0)]]


def test_three_against_two():
    """Ball at 30: three behind, two left up.  Distances: (-5, -8) to (5, 0) is the root of 164, 12.806, the nearest of
    all three; (0, 0) is 5 from (5, 0), (-2, 10) the root of 13, 3.606, from (-5, 8)."""
    rest = rest_defence(OWN, OTHER, [30.0], 22.5)
    assert (rest.n_for[0], rest.n_against[0]) == (3, 2)
    assert rest.stays[0].tolist() == [True, True, True, False, False]
    assert rest.left_up[0].tolist() == [True, True, False, False]
    assert rest.x[0] == pytest.approx(-5 / 3) and rest.width_m[0] == 16
    assert rest.spacing_m[0] == pytest.approx(np.sqrt(164))
    assert rest.cover_m[0] == pytest.approx((5 + np.sqrt(13)) / 2)


@pytest.mark.parametrize(("x", "stays"), [(20.0, 1), (20.01, 0)])
def test_at_least_ten_metres_behind_the_ball(x, stays):
    assert rest_defence([[(x, 0)]], OTHER, [30.0], 22.5).n_for[0] == stays


@pytest.mark.parametrize(("x", "stays"), [(22.5, 1), (22.51, 0)])
def test_not_further_up_than_the_strip(x, stays):
    assert rest_defence([[(x, 0)]], OTHER, [50.0], 22.5).n_for[0] == stays


def test_unknown_is_not_none():
    gone = [[(NAN, NAN)] * 5]
    assert np.isnan(rest_defence(gone, OTHER, [30.0], 22.5).n_for[0])
    assert np.isnan(rest_defence(OWN, gone, [30.0], 22.5).n_against[0])
    assert np.isnan(rest_defence(OWN, OTHER, [NAN], 22.5).n_for[0])


def test_nobody_and_one():
    rest = rest_defence([[(30, 0), (31, 0)], [(0, 0), (31, 0)]], [[(35, 0)], [(35, 0)]], [30.0, 30.0], 22.5)
    np.testing.assert_equal(rest.n_for, [0, 1])
    np.testing.assert_equal(rest.n_against, [0, 0])
    np.testing.assert_equal(rest.x, [NAN, 0])
    for numbers in (rest.width_m, rest.spacing_m, rest.cover_m):
        assert np.isnan(numbers).all()


def test_against_plain_loops():
    rng = np.random.default_rng(8)
    own, other, ball = rng.uniform(-50, 50, (40, 10, 2)), rng.uniform(-50, 50, (40, 9, 2)), rng.uniform(0, 50, 40)
    rest = rest_defence(own, other, ball, 22.5)
    for i in range(40):
        line = min(ball[i] - 10, 22.5)
        stay = [p for p in own[i] if p[0] <= line]
        up = [p for p in other[i] if p[0] <= line]
        assert (rest.n_for[i], rest.n_against[i]) == (len(stay), len(up))
        if len(stay) > 1:
            near = [min(np.hypot(*(p - q)) for k, q in enumerate(stay) if k != j) for j, p in enumerate(stay)]
            assert rest.spacing_m[i] == pytest.approx(np.mean(near))
        if stay and up:
            assert rest.cover_m[i] == pytest.approx(np.mean([min(np.hypot(*(u - p)) for p in stay) for u in up]))
