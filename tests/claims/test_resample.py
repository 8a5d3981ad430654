"""Resampling against SciPy and worked values, and that it heeds what belongs together."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import fisher_exact, permutation_test, ttest_ind

from tactical_kit.claims.interval import newcombe_interval, wilson_interval
from tactical_kit.claims.resample import (
    permutation_p,
    resampled_difference,
    resampled_mean_difference,
    resampled_share,
)
from tactical_kit.errors import TacticalKitError

# Efron & Tibshirani 1993, the mice: data from memory; ideal standard error computed.
TREATED, CONTROL = [94, 197, 16, 38, 99, 141, 23], [52, 104, 146, 10, 51, 30, 40, 27, 46]


def by_scipy(first, second):
    """Two-sided as "at least as far apart": the absolute difference, large values against."""
    found = permutation_test(
        (first, second), lambda a, b, axis: np.abs(a.mean(axis=axis) - b.mean(axis=axis)), vectorized=True,
        n_resamples=np.inf, alternative="greater",
    )  # fmt: skip
    return found.pvalue


def test_the_mice_exactly():
    p, exact = permutation_p(TREATED, CONTROL)
    assert exact  # 11,440 ways
    assert p == pytest.approx(by_scipy(TREATED, CONTROL), abs=1e-12)


values = st.lists(st.integers(-50, 50).map(float), min_size=2, max_size=6)


@settings(deadline=None, max_examples=40)
@given(values, values)
def test_an_exact_permutation_test_equals_scipy(first, second):
    p, exact = permutation_p(first, second)
    assert exact
    assert p == pytest.approx(by_scipy(first, second), abs=1e-12)
    assert p == pytest.approx(permutation_p(second, first)[0], abs=1e-12)
    assert 1 / math.comb(len(first) + len(second), len(first)) <= p + 1e-12


def test_fishers_tea():
    # Fisher's tea, 3 of 4 against 1 of 4; one-sided 17/70 (from memory, computed): as means of 0 and 1, both sides.
    p, exact = permutation_p([1, 1, 1, 0], [1, 0, 0, 0])
    assert (p, exact) == (pytest.approx(34 / 70), True)
    assert fisher_exact([[3, 1], [1, 3]], "greater").pvalue == pytest.approx(17 / 70)


def test_a_sampled_permutation_test_is_near_the_exact_one_and_never_0():
    p, exact = permutation_p(TREATED, CONTROL, exact_up_to=10)
    assert not exact
    assert p == pytest.approx(by_scipy(TREATED, CONTROL), abs=0.02)
    assert (
        p
        == permutation_p(TREATED, CONTROL, exact_up_to=10)[0]
        != permutation_p(TREATED, CONTROL, exact_up_to=10, seed=1)[0]
    )
    ten = permutation_p(np.arange(10.0), np.arange(10.0) + 3)
    assert ten == (pytest.approx(by_scipy(np.arange(10.0), np.arange(10.0) + 3), abs=1e-12), True)  # 184,756 ways
    far = permutation_p(np.arange(50), np.arange(50) + 1000.0)
    assert far == (1 / 10_000, False)


def test_values_of_one_possession_change_groups_together():
    first, second = [1.0, 1, 1, 1], [0.0, 0, 0, 0]
    assert permutation_p(first, second)[0] == pytest.approx(2 / 70)
    # Two possessions a group: of the six ways to pick two, one and its mirror are as far apart.
    assert permutation_p(first, second, [1, 1, 2, 2], [3, 3, 4, 4])[0] == pytest.approx(2 / 6)


def test_equal_means_are_not_told_apart():
    assert permutation_p([1, 2, 3], [3, 2, 1])[0] == 1.0


def test_the_mice_bootstrap():
    interval, error = resampled_mean_difference(TREATED, CONTROL, draws=20_000)
    # Ideal standard error 26.9081, of 20,000 draws 26.8-26.9; plain percentiles -21 to 84, Welch's t -34 to 95: computed.
    assert error == pytest.approx(26.9081, abs=0.4)
    welch = ttest_ind(TREATED, CONTROL, equal_var=False).confidence_interval()
    assert (interval.low, interval.high) == pytest.approx((welch.low, welch.high), abs=8)
    assert interval.low < -21 and interval.high > 84
    again, _ = resampled_mean_difference(TREATED, CONTROL, draws=20_000)
    assert again == interval
    assert resampled_mean_difference(TREATED, CONTROL, draws=20_000, seed=1)[0] != interval


def test_without_ties_drawing_possessions_is_near_wilson():
    hit = np.arange(200) < 120
    found = resampled_share(hit, np.arange(200))
    wilson = wilson_interval(120, 200)
    assert (found.possessions, found.largest) == (200, 1)
    assert (found.interval.low, found.interval.high) == pytest.approx((wilson.low, wilson.high), abs=0.01)


def test_four_equal_witnesses_in_one_possession_are_one():
    hit = np.repeat(np.arange(50) < 30, 4)
    found = resampled_share(hit, np.repeat(np.arange(50), 4))
    single, one_each = wilson_interval(120, 200), wilson_interval(30, 50)
    assert (found.possessions, found.largest) == (50, 4)
    assert found.interval.high - found.interval.low > 1.7 * (single.high - single.low)
    assert (found.interval.low, found.interval.high) == pytest.approx((one_each.low, one_each.high), abs=0.02)


@pytest.mark.parametrize("every", [True, False])
def test_where_drawing_cannot_tell_the_possessions_are_the_base(every):
    found = resampled_share(np.full(12, every), np.repeat([1, 2, 3], 4))
    assert found.interval == wilson_interval(3 if every else 0, 3)


def test_a_difference_heeds_possessions_and_has_a_seed():
    hit = np.r_[np.repeat(np.arange(20) < 15, 3), np.repeat(np.arange(20) < 8, 3)]
    first = np.arange(120) < 60
    found = resampled_difference(hit, np.repeat(np.arange(40), 3), first)
    plain = newcombe_interval(45, 60, 24, 60)
    assert (found.possessions, found.largest) == (40, 3)
    assert found.interval.high - found.interval.low > 1.4 * (plain.high - plain.low)
    assert found == resampled_difference(hit, np.repeat(np.arange(40), 3), first)
    every = resampled_difference(np.ones(8, bool), np.repeat([1, 2, 3, 4], 2), np.arange(8) < 4)
    assert every.interval == newcombe_interval(2, 2, 2, 2)


def test_labels_that_do_not_fit_are_refused():
    with pytest.raises(TacticalKitError) as refused:
        resampled_share([True, False], [1])
    assert str(refused.value) == "1 labels of possessions for 2 instances; one each."
    with pytest.raises(TacticalKitError) as refused:
        permutation_p([], [1.0])
    assert str(refused.value) == "a permutation test needs values in both groups."


def test_how_often_the_intervals_hold_the_true_share():
    """Simulated: instances that come three from a possession and mostly agree.  Single instances fool; possessions do not."""
    rng = np.random.default_rng(5)
    spells = np.repeat(np.arange(30), 3)
    held = {"single": 0, "wider": 0}
    for _ in range(300):
        base = np.repeat(rng.random(30) < 0.6, 3)
        hit = np.where(rng.random(90) < 0.8, base, rng.random(90) < 0.6)  # true share 0.6 either way
        single = wilson_interval(int(hit.sum()), 90)
        held["single"] += 0.6 in single
        held["wider"] += 0.6 in single.around(resampled_share(hit, spells, draws=500).interval)
    assert held["single"] / 300 < 0.89
    assert held["wider"] / 300 > 0.91


@pytest.mark.parametrize("k", [6, 10, 30])
def test_few_possessions_are_held_as_often_as_many(k):
    """Simulated: possessions of 1 to 6 instances that agree somewhat.  Plain percentiles held 90 % of 10 and 88 % of 6."""
    runs, held, apart = 400, 0, 0
    for seed in range(runs):
        rng = np.random.default_rng(seed)
        spells = np.repeat(np.arange(2 * k), 1 + rng.poisson(2, 2 * k))
        chance = rng.beta(0.5 * 0.7 / 0.3, 0.5 * 0.7 / 0.3, 2 * k)
        hit = rng.random(len(spells)) < chance[spells]
        first = spells < k
        drawn = resampled_share(hit[first], spells[first], draws=500, seed=seed)
        held += 0.5 in wilson_interval(int(hit[first].sum()), int(first.sum())).around(drawn.interval)
        counts = [int(v) for side in (first, ~first) for v in (hit[side].sum(), side.sum())]
        change = resampled_difference(hit, spells, first, draws=500, seed=seed)
        apart += 0 not in newcombe_interval(*counts).around(change.interval)
    assert 0.925 <= held / runs <= 0.99
    assert 0.01 <= apart / runs <= 0.075
