"""Intervals of shares and their differences against worked values and against statsmodels and SciPy.

Worked values: NIST/SEMATECH e-Handbook 7.2.4.1 (seen, and computed), Newcombe 1998a and 1998b (from memory,
recomputed equal), Agresti & Coull 1998 (computed).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from tactical_kit.claims.interval import Interval, newcombe_interval, percent, points, wilson_interval
from tactical_kit.errors import TacticalKitError


@pytest.mark.parametrize(
    ("count", "base", "low", "high", "digits"),
    [
        (6, 32, 0.088895, 0.353092, 6),  # NIST 7.2.4.1: seen + computed (.0888955, .3530916 with a rounded z)
        (81, 263, 0.2553, 0.3662, 4),  # Newcombe 1998a: from memory, recomputed equal
        (15, 148, 0.0624, 0.1605, 4),  # the same
        (0, 20, 0.0, 0.1611, 4),  # the same
        (1, 29, 0.0061, 0.1718, 4),  # the same
        (9, 10, 0.5958, 0.9821, 4),  # Agresti: computed
        (0, 25, 0.0, 0.1332, 4),  # the same
        (31, 37, 0.6886, 0.9235, 4),  # the example of the design page: computed
        (0, 5, 0.0, 0.4345, 4),  # computed
        (5, 5, 0.5655, 1.0, 4),  # computed
    ],
)
def test_wilson_worked_values(count, base, low, high, digits):
    found = wilson_interval(count, base)
    assert (round(found.low, digits), round(found.high, digits)) == (low, high)


def test_wilson_at_another_level():
    found = wilson_interval(4, 20, 0.9)  # NIST 7.2.4.2: set-up seen, computed
    assert (round(found.low, 6), round(found.high, 6)) == (0.093118, 0.378377)


@pytest.mark.parametrize(
    ("first", "second", "low", "high"),
    [
        ((56, 70), (48, 80), 0.0524, 0.3339),  # Newcombe 1998b, method 10: from memory, recomputed equal
        ((9, 10), (3, 10), 0.1705, 0.8090),  # the same
        ((10, 10), (0, 10), 0.6075, 1.0),  # the same
        ((31, 37), (20, 34), 0.0394, 0.4364),  # two halves: computed
        ((420, 600), (115, 180), -0.0155, 0.1417),  # a published contrast that is not clear: computed from seen
    ],
)
def test_newcombe_worked_values(first, second, low, high):
    found = newcombe_interval(*first, *second)
    assert (round(found.low, 4), round(found.high, 4)) == (low, high)


@given(
    st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.sampled_from([0.8, 0.95, 0.99])
)
def test_wilson_equals_statsmodels_and_scipy(pair, level):
    count, base = pair
    found = wilson_interval(count, base, level)
    low, high = proportion_confint(count, base, alpha=1 - level, method="wilson")
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-12)
    other = binomtest(count, base).proportion_ci(level, "wilson")
    assert (found.low, found.high) == pytest.approx((other.low, other.high), abs=1e-12)


counts = st.integers(1, 120).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(counts, counts)
def test_newcombe_equals_statsmodels(first, second):
    found = newcombe_interval(*first, *second)
    low, high = confint_proportions_2indep(*first, *second, method="newcomb", compare="diff")
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)


@given(counts)
def test_wilson_holds_the_share_within_0_and_1(pair):
    count, base = pair
    found = wilson_interval(count, base)
    assert 0 <= found.low <= count / base <= found.high <= 1
    assert (found.low == 0) == (count == 0)
    assert (found.high == 1) == (count == base)


@given(counts)
def test_wilson_moves_up_with_the_count_and_narrows_with_the_base(pair):
    count, base = pair
    found = wilson_interval(count, base)
    if count < base:
        more = wilson_interval(count + 1, base)
        assert more.low > found.low and more.high >= found.high
    ten = wilson_interval(count * 10, base * 10)
    assert ten.high - ten.low < found.high - found.low


@given(counts)
def test_wilson_of_the_others_is_its_mirror(pair):
    count, base = pair
    found, mirror = wilson_interval(count, base), wilson_interval(base - count, base)
    assert (found.low, found.high) == pytest.approx((1 - mirror.high, 1 - mirror.low), abs=1e-12)


@given(counts, counts)
def test_newcombe_the_other_way_round_is_its_mirror_and_holds_the_difference(first, second):
    found, mirror = newcombe_interval(*first, *second), newcombe_interval(*second, *first)
    assert (found.low, found.high) == pytest.approx((-mirror.high, -mirror.low), abs=1e-12)
    difference = first[0] / first[1] - second[0] / second[1]
    assert -1 <= found.low <= difference + 1e-12
    assert difference - 1e-12 <= found.high <= 1


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: wilson_interval(0, 0), "no interval: there are no instances."),
        (lambda: wilson_interval(3, 2), "3 of 2 is no share; expected a count from 0 to the base."),
        (lambda: wilson_interval(-1, 2), "-1 of 2 is no share; expected a count from 0 to the base."),
        (lambda: wilson_interval(1, 2, 95), "level is 95; expected a share between 0 and 1, as 0.95."),
        (lambda: wilson_interval(1, 2, True), "level is True; expected a share between 0 and 1, as 0.95."),
        (lambda: newcombe_interval(1, 2, 0, 0), "no interval: there are no instances."),
    ],
)
def test_what_is_no_share_is_refused(call, sentence):
    with pytest.raises(TacticalKitError) as refused:
        call()
    assert str(refused.value) == sentence


# Common practice, no source.
@pytest.mark.parametrize(
    ("share", "apart", "text"),
    [
        (31 / 37, (), "84"),
        (1 / 8, (), "13"),  # halves go up
        (5 / 8, (), "63"),
        (0.285, (), "29"),
        (199 / 200, (), "99.5"),  # not all
        (1 / 1000, (), "0.1"),  # not none
        (1.0, (), "100"),
        (0.0, (), "0"),
        (0.6496, (0.65,), "64.96"),  # below the mark, and seen to be
        (0.6504, (0.65,), "65.04"),
        (0.65, (0.65,), "65"),
    ],
)
def test_a_rounded_share_never_says_what_is_not_so(share, apart, text):
    assert percent(share, apart) == text


def test_words_of_an_interval():
    assert wilson_interval(31, 37).words() == "95 % interval 69-92 %"
    assert wilson_interval(31, 37, 0.99).words() == "99 % interval 63-94 %"
    assert Interval(-0.1, 0.2).around(Interval(0.0, 0.3)) == Interval(-0.1, 0.3)
    assert [points(v) for v in (0.25, -0.0155, 0.0, 0.0004)] == ["25", "-2", "0", "0.04"]
