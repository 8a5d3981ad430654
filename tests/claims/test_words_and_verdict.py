"""What words for how often stand for, and what a count says about one.

Common practice, no source: the shares are the kit's own, stated beside the word wherever it is shown.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tactical_kit.claims.interval import Interval, wilson_interval
from tactical_kit.claims.verdict import (
    COUNTED,
    NO_INSTANCES,
    NOT_BORNE,
    SUPPORTED,
    TOO_FEW,
    UNDECIDED,
    judge_share,
)
from tactical_kit.claims.words import SHARE_WORDS, ShareWord, contradicted, no_word, share_word, word_in, word_table
from tactical_kit.errors import TacticalKitError


def judge(count, base, word, **options):
    return judge_share(count, base, wilson_interval(count, base), share_word(word), **options)


def test_each_word_says_its_range():
    assert {w: meaning.range_words() for w, meaning in SHARE_WORDS.items()} == {
        "always": "in every instance",
        "almost always": "at least 90 %",
        "usually": "at least 65 %",
        "mostly": "more than 50 %",
        "half the time": "40-60 %",
        "sometimes": "15-45 %",
        "seldom": "at most 25 %",
        "almost never": "at most 10 %",
        "never": "in no instance",
    }


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("at least 60 %", 0.6, 1.0), ("More than 50%", 0.5, 1.0), ("at most 12.5 %", 0.0, 0.125),
        ("60-80 %", 0.6, 0.8), ("60 to 80 %", 0.6, 0.8), ("two in three", 0.57, 0.77),
        ("about 1 in 4", 0.15, 0.35), ("nine out of ten", 0.8, 1.0), ("Usually", 0.65, 1.0),
    ],
)  # fmt: skip
def test_a_share_may_be_said_in_words_or_figures(text, low, high):
    found = share_word(text)
    assert (found.low, found.high) == pytest.approx((low, high))


@pytest.mark.parametrize(("share", "fits"), [(0.5, False), (0.5001, True), (1.0, True)])
def test_mostly_is_more_than_half(share, fits):
    assert SHARE_WORDS["mostly"].fits(share) is fits


def test_the_user_may_set_other_shares_and_other_words():
    table = word_table({"usually": (0.8, 1), "as a rule": [0.75, 1.0]})
    assert table["usually"].low == 0.8
    assert share_word("as a rule", {"as a rule": [0.75, 1.0]}).range_words() == "at least 75 %"
    assert SHARE_WORDS["usually"].low == 0.65


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (
            lambda: share_word("usualy"),
            "the word 'usualy' stands for no share; expected one of 'always', 'almost always', 'usually', 'mostly', "
            "'half the time', 'sometimes', 'seldom', 'almost never', 'never', or a share as 'at least 60 %', "
            "'at most 20 %', '60-80 %' or 'two in three'. Did you mean 'usually'?",
        ),
        (
            lambda: ShareWord("odd", 0.9, 0.1),
            "the word 'odd' stands for 0.9 to 0.1; expected two shares from 0 to 1, the lower first, as [0.65, 1.0]; "
            "[1, 1] is always and [0, 0] is never.",
        ),
        (
            lambda: share_word("60-180 %"),
            "the word '60-180 %' stands for 0.6 to 1.8; expected two shares from 0 to 1, the lower first, as "
            "[0.65, 1.0]; [1, 1] is always and [0, 0] is never.",
        ),
        (
            lambda: word_table({"often": 0.5}),
            "the word 'often' stands for 0.5; expected two shares, as [0.65, 1.0].",
        ),
    ],
)
def test_a_word_that_stands_for_nothing_is_refused(call, sentence):
    with pytest.raises(TacticalKitError) as refused:
        call()
    assert str(refused.value).lower() == sentence.lower()


def test_the_longest_word_of_a_sentence_counts():
    assert word_in("They almost always go long").word == "almost always"
    assert word_in("Nevertheless they go long") is None
    assert word_in("Seldom short").word == "seldom"


@pytest.mark.parametrize(
    ("count", "base", "word", "status", "fits", "words"),
    [
        (31, 37, "usually", SUPPORTED, True, "“usually” (at least 65 %) is supported: the whole interval, 69-92 %, fits."),
        (20, 37, "usually", UNDECIDED, False, "“usually” (at least 65 %) cannot be decided: 54 % does not fit, but the interval reaches up to 69 %."),
        (27, 37, "usually", UNDECIDED, True, "“usually” (at least 65 %) cannot be decided: 73 % fits, but the interval reaches down to 57 %."),
        (10, 37, "usually", NOT_BORNE, False, "“usually” (at least 65 %) is not borne: the whole interval, 15-43 %, lies outside."),
        (2, 37, "seldom", SUPPORTED, True, "“seldom” (at most 25 %) is supported: the whole interval, 1-18 %, fits."),
        (12, 37, "seldom", UNDECIDED, False, "“seldom” (at most 25 %) cannot be decided: 32 % does not fit, but the interval reaches down to 20 %."),
        (18, 37, "half the time", UNDECIDED, True, "“half the time” (40-60 %) cannot be decided: 49 % fits, but the interval reaches down to 33 % and up to 64 %."),
        (200, 400, "half the time", SUPPORTED, True, "“half the time” (40-60 %) is supported: the whole interval, 45-55 %, fits."),
        (20, 40, "mostly", UNDECIDED, False, "“mostly” (more than 50 %) cannot be decided: 50 % does not fit, but the interval reaches up to 65 %."),
        (37, 37, "always", SUPPORTED, True, "“always” (in every instance) is true of all 37 instances of this match; beyond it the interval reaches down to 91 %."),
        (36, 37, "always", NOT_BORNE, False, "“always” (in every instance) is not borne: 1 instance speaks against it."),
        (2, 37, "never", NOT_BORNE, False, "“never” (in no instance) is not borne: 2 instances speak against it."),
        (0, 37, "never", SUPPORTED, True, "“never” (in no instance) is true of all 37 instances of this match; beyond it the interval reaches up to 9 %."),
        (1, 3, "never", NOT_BORNE, False, "“never” (in no instance) is not borne: 1 instance speaks against it."),
        (9, 9, "usually", TOO_FEW, True, "Too few to judge “usually”: 9 instances, fewer than 10."),
        (1, 1, "seldom", TOO_FEW, False, "Too few to judge “seldom”: 1 instance, fewer than 10."),
    ],
)  # fmt: skip
def test_what_a_count_says_about_a_word(count, base, word, status, fits, words):
    found = judge(count, base, word)
    assert (found.status, found.fits, found.words) == (status, fits, words)


def test_ten_are_enough_and_the_least_can_be_set():
    assert judge(10, 10, "mostly").status == SUPPORTED
    assert judge(10, 10, "mostly", few=11).status == TOO_FEW
    assert judge(5, 5, "mostly", few=5).status == SUPPORTED


def test_instances_of_a_few_possessions_are_few():
    found = judge(30, 30, "usually", possessions=3)
    assert (found.status, found.words) == (
        TOO_FEW,
        "Too few to judge “usually”: 30 instances from only 3 possessions, fewer than 10.",
    )


def test_without_an_instance_nothing_is_said():
    found = judge_share(0, 0, None, share_word("usually"))
    assert (found.status, found.words, found.holds) == (
        NO_INSTANCES, "There is nothing to count, so nothing can be said.", False,
    )  # fmt: skip


def test_without_a_word_those_that_would_be_borne_are_named():
    found = judge_share(31, 37, wilson_interval(31, 37), None, SHARE_WORDS.values())
    assert (found.status, found.words) == (
        COUNTED,
        "No word for how often was claimed; it supports “usually” (at least 65 %), “mostly” (more than 50 %).",
    )
    none = judge_share(6, 10, wilson_interval(6, 10), None, SHARE_WORDS.values())
    assert none.words == "No word for how often was claimed; it supports none of the words."


def test_an_interval_that_ends_on_the_border_of_a_word():
    half = share_word("at least 50 %")
    mostly = share_word("mostly")
    on_it = Interval(0.5, 0.8)
    assert judge_share(13, 20, on_it, half).status == SUPPORTED  # at least 50 % includes 50 %
    assert judge_share(13, 20, on_it, mostly).status == UNDECIDED  # more than 50 % does not
    below = Interval(0.2, 0.5)
    assert judge_share(7, 20, below, half).status == UNDECIDED
    assert judge_share(7, 20, below, mostly).status == NOT_BORNE


words = st.sampled_from([w for w in SHARE_WORDS.values() if not w.exact])
counts = st.integers(10, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(counts, words)
def test_a_verdict_agrees_with_the_share(pair, word):
    count, base = pair
    found = judge_share(count, base, wilson_interval(count, base), word)
    fits = word.fits(count / base)
    assert found.holds == fits  # supported and undecided with a fitting share; never against the share
    if found.status == SUPPORTED:
        assert fits
    if found.status == NOT_BORNE:
        assert not fits


@given(counts)
def test_more_instances_for_it_never_turn_a_word_for_much_down(pair):
    count, base = pair
    order = [NOT_BORNE, UNDECIDED, SUPPORTED]
    status = [order.index(judge(c, base, "usually").status) for c in (count, min(base, count + 1))]
    assert status[0] <= status[1]


@pytest.mark.parametrize(
    ("word", "share", "which"),
    [
        ("usually", 0.9, "without"), ("always", 0.9, "without"), ("mostly", 0.4, "without"), ("seldom", 0.1, "with"),
        ("never", 0.0, "with"), ("half the time", 0.5, ""), ("half the time", 0.7, "with"),
        ("half the time", 0.3, "without"), ("one in three", 0.1, "without"), ("one in three", 0.5, "with"),
        ("at most 60 %", 0.5, "with"), ("at least 20 %", 0.5, "without"),
    ],
)  # fmt: skip
def test_which_instances_speak_against_a_word(word, share, which):
    assert share_word(word).against(share) == which


def test_a_claim_at_the_border_is_seldom_supported_by_chance():
    """Where the true share is just below 65 %, "usually" is supported in about 1 of 40 matches: one end of a 95 % interval."""
    rng = np.random.default_rng(1)
    counts = rng.binomial(60, 0.6499, 4000)
    wrong = np.mean([judge(int(c), 60, "usually").status == SUPPORTED for c in counts])
    assert 0.005 < wrong < 0.045
    right = np.mean([judge(int(c), 60, "usually").status == SUPPORTED for c in rng.binomial(60, 0.9, 1000)])
    assert right > 0.9


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("They did not always lose it", None),
        ("They didn't always lose it", None),
        ("They usually, but not always, lost it", "usually"),
        ("They usually went short and seldom lost it", None),
        ("They usually, really usually lost it", "usually"),
        ("Almost always, and never less", None),
        ("They almost never did", "almost never"),
    ],
)
def test_a_denied_word_and_several_words_are_none(text, word):
    found = word_in(text)
    assert (found.word if found else None) == word


def test_why_a_sentence_gives_no_word():
    assert "several words for how often in its text, “usually” and “seldom”;" in no_word("Usually short, seldom long")
    assert "says “not always” in its text" in no_word("It isn't always so")
    assert no_word("They go long").startswith("has no word for how often")


def test_a_sentence_that_says_another_word_is_told():
    said = contradicted("They seldom lost it", SHARE_WORDS["mostly"])
    assert said.startswith("has the word “mostly” (more than 50 %), but its text says “seldom” (at most 25 %);")
    assert contradicted("They seldom lost it", share_word("at most 10 %")) == ""
    assert contradicted("They lost it", SHARE_WORDS["mostly"]) == ""


def test_a_share_in_figures_is_the_share_that_is_written():
    """33.3 / 100 as floats is less than 333 / 1000, and 333 of 1000 are at most 33.3 %."""
    assert share_word("at most 33.3 %").fits(333 / 1000)
    assert share_word("at least 58.3 %").fits(583 / 1000)
    assert share_word("12.3-58.3 %").fits(583 / 1000)


def test_more_than_all_is_refused():
    with pytest.raises(TacticalKitError):
        share_word("more than 100 %")
    assert not share_word("more than 0 %").fits(0.0)
