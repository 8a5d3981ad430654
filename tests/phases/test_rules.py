"""The small tools of the rules, on arrays worked out by hand."""

import re

import numpy as np
import pytest

from tactical_kit.errors import TacticalKitError, UnknownNameError
from tactical_kit.moments import Moments
from tactical_kit.phases import (
    IN_PHASES,
    NO_PHASE,
    OUT_PHASES,
    PHASE_SENTENCES,
    find_phases,
    phase_codes,
    phase_sentence,
)
from tactical_kit.phases.rules import first_true, hysteresis, merge_short, rolling_mean

ONE = np.zeros(6, int)


def test_rolling_mean_stays_in_its_spell_and_skips_unknown():
    values = np.array([1.0, 3.0, np.nan, 10.0, 20.0, np.nan])
    spell = np.array([0, 0, 0, 1, 1, 2])
    np.testing.assert_allclose(rolling_mean(values, spell, 1), [2, 2, 3, 15, 15, np.nan])
    assert rolling_mean(np.array([]), np.array([], int), 3).shape == (0,)


def test_hysteresis_keeps_the_state_between_its_edges():
    """At least `high` switches on, less than `low` off."""
    values = np.array([0.0, 5.0, 10.0, 5.0, 5.0 - 1e-9, 7.0])
    assert hysteresis(values, 5.0, 10.0, ONE).tolist() == [False, False, True, True, False, False]
    # A new spell between the edges starts as the nearer one; an unknown value changes nothing.
    values, spell = np.array([10.0, 7.0, 8.0, np.nan, np.nan, 3.0]), np.array([0, 1, 2, 2, 3, 3])
    assert hysteresis(values, 5.0, 10.0, spell).tolist() == [True, False, True, True, False, False]


def test_first_true_of_each_spell():
    mask = np.array([False, True, True, False, False, True])
    assert first_true(mask, np.array([0, 0, 0, 1, 1, 2]), 3).tolist() == [1, 5, 5]


@pytest.mark.parametrize(
    ("codes", "spell", "merged"),
    [
        ([0, 0, 1, 0, 0, 0], [0] * 6, [0] * 6),  # in the middle
        ([1, 0, 0, 0, 0, 0], [0] * 6, [0] * 6),  # at the start: the one after it
        ([0, 0, 0, 0, 0, 1], [0] * 6, [0] * 6),  # at the end
        ([0, 0, 1, 1, 0, 0], [0] * 6, [0, 0, 1, 1, 0, 0]),  # exactly the shortest: stays
        ([0, 0, 1, 2, 3, 3], [0] * 6, [0, 0, 0, 0, 3, 3]),  # several short ones
        ([0, 0, 0, 1, 2, 2], [0, 0, 0, 1, 2, 2], [0, 0, 0, 1, 2, 2]),  # a whole spell is never merged
        ([1, 2, 3, 3, 3, 3], [0] * 6, [2, 2, 3, 3, 3, 3]),  # what it takes over counts towards the length
    ],
)
def test_merge_short(codes, spell, merged):
    got = merge_short(np.array(codes, np.int8), np.array(spell), np.full(6, 0.5), 1.0)
    assert got.tolist() == merged


def test_every_phase_has_its_sentence():
    assert set(PHASE_SENTENCES) == {("in", p) for p in IN_PHASES} | {("out", p) for p in OUT_PHASES}
    message = (
        f"phase is 'midblock'; expected one of {', '.join(repr(p) for p in OUT_PHASES)}. Did you mean 'mid-block'?"
    )
    with pytest.raises(UnknownNameError, match=f"^{re.escape(message)}$"):
        phase_sentence("out", "midblock")


def test_codes_of_instants(sketch):
    s = sketch(home_attacks=(1, -1)).play(20, 0, ((-40, 0), (-30, 0)), began="goal-kick").dead(5).next_period()
    match = s.play(6, 1, ((0, 0), (-5, 0)), began="kick-off").match()
    found = find_phases(match)
    period = np.array([2, 1, 1, 1, 1, 2, 2, 3])
    time_s = np.array([0.0, 0.0, 19.99, 20.0, 24.0, 5.99, 6.0, 1.0])
    codes = phase_codes(found, match, period, time_s)
    assert codes.team.tolist() == [1, 0, 0, -1, -1, 1, -1, -1]
    built, kicked = IN_PHASES.index("build-up"), IN_PHASES.index("set play")
    assert codes.in_phase.tolist() == [kicked, built, built, -1, -1, kicked, -1, -1]
    assert codes.out_phase.tolist()[0] == OUT_PHASES.index("set play") and codes.out_phase[3] == NO_PHASE
    assert codes.in_phase.dtype == np.int8


def test_codes_of_other_moments_are_refused(sketch):
    match = sketch().play(2, 0, ((0, 0), (1, 0)), began="kick-off").match()
    with pytest.raises(TacticalKitError, match=r"^phase_codes needs the moments of finder 'phase', met 'press'\.$"):
        phase_codes(Moments.build("press", []), match, 1, 0.0)
