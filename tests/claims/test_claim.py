"""A claim: counts, ids of both sides, counterexamples, sentences; what is not part of the whole is refused.

Common practice, no source, but for the interval of 31 of 37 (computed).
"""

import pickle

import numpy as np
import pytest

import tactical_kit as tk
from tactical_kit.claims import claim
from tactical_kit.errors import TacticalKitError
from tactical_kit.finders import find


def test_a_claim_that_is_supported(made):
    found = made(37, won=range(31))
    c = claim("Builds with one man more.", found.where(won=True), of=found, word="usually")
    assert (c.count, c.base, c.share) == (31, 37, 31 / 37)
    assert c.numbers == "31 of 37, 84 %, 95 % interval 69-92 %"
    assert c.sentence == (
        "Builds with one man more: 31 of 37, 84 %, 95 % interval 69-92 %. "
        "“usually” (at least 65 %) is supported: the whole interval, 69-92 %, fits."
    )
    assert str(c) == (
        "Builds with one man more\n"
        "31 of 37, 84 %, 95 % interval 69-92 %\n"
        "“usually” (at least 65 %) is supported: the whole interval, 69-92 %, fits.\n"
        "6 counterexamples: demo-032, demo-033, demo-034, demo-035, demo-036, demo-037"
    )
    assert c.holds and c.verdict.status == "supported"
    assert c.moment_ids == tuple(f"demo-{i:03d}" for i in range(1, 32))
    assert c.base_ids == tuple(found["moment_id"])
    assert list(c.counterexamples["moment_id"]) == [f"demo-{i:03d}" for i in range(32, 38)]
    assert c.judged_on == c.interval
    assert c.dependence == ""


def test_the_counterexamples_of_seldom_are_those_that_have_it(made):
    found = made(30, won=[4, 9])
    c = claim("They seldom won it", found.where(won=True), of=found)
    assert c.word.word == "seldom"  # from the text
    assert list(c.counterexamples["moment_id"]) == ["demo-005", "demo-010"]
    assert "2 counterexamples: demo-005, demo-010" in str(c)


def test_half_the_time_has_counterexamples_only_where_it_does_not_fit(made):
    found = made(40, won=range(32))
    c = claim("They won it half the time", found.where(won=True), of=found)
    assert list(c.counterexamples["moment_id"]) == list(
        found.where(won=True)["moment_id"]
    )  # of these there are too many
    even = claim("They won it half the time", found.where(found["start_s"] < 1200), of=found)
    assert (even.count, len(even.counterexamples)) == (20, 0)
    assert "counterexample" not in str(even)


def test_without_a_word_the_verdict_is_counted(made):
    found = made(37, won=range(31))
    c = claim("Builds with one man more", found.where(won=True), of=found)
    assert (c.word, c.verdict.status, c.holds) == (None, "counted", False)
    assert "counterexample" not in str(c)


def test_no_instances(made):
    found = made(0)
    c = claim("They usually won it", found, of=found)
    assert str(c) == "They usually won it\nno instances\nThere is nothing to count, so nothing can be said."
    assert np.isnan(c.share) and c.interval is None and c.judged_on is None and len(c.counterexamples) == 0
    assert c.to_dict()["verdict"] == "no instances"


def test_a_moment_given_twice_or_in_another_order_counts_once(made):
    found = made(20, won=range(12))
    part = found.where(won=True)
    back = tk.Moments(part.table.iloc[::-1].reset_index(drop=True), part.finder, part.params, part.match_id)
    assert claim("a", back, of=found).moment_ids == claim("a", part, of=found).moment_ids


@pytest.mark.parametrize(
    ("of", "why"),
    [
        (dict(finder="other"), "they come from the finder 'demo', those in `of` from 'other'"),
        (dict(match_id="n"), "they are of the match 'm', those in `of` of 'n'"),
        (dict(params={"least_m": 5}), "they were found with least_m = None, those in `of` with 5"),
        (dict(won=()), None),
    ],
)
def test_what_is_not_part_of_the_whole_is_refused(made, of, why):
    part = made(5, won=range(5))
    whole = made(5, **{"won": range(5), **of})
    if why is None:
        assert claim("a", part, of=whole).count == 5  # the finder's own columns may say what they like
        return
    with pytest.raises(TacticalKitError) as refused:
        claim("a", part, of=whole)
    assert str(refused.value) == (
        f"`moments` must be among the moments in `of`: {why}. Take them from there, as moments=of.where(...)."
    )


def test_other_moments_of_the_same_names_are_refused(made):
    part, whole = made(5), made(3)
    with pytest.raises(TacticalKitError) as refused:
        claim("a", part, of=whole)
    assert str(refused.value) == (
        "`moments` must be among the moments in `of`: 'demo-004' is not in `of`, or is another moment there (2 such "
        "moments). Take them from there, as moments=of.where(...)."
    )
    later = made(3, start_s=[0.0, 60.0, 121.0])
    with pytest.raises(TacticalKitError) as refused:
        claim("a", later, of=whole)
    assert "'demo-003' is not in `of`, or is another moment there (1 such moment)" in str(refused.value)


def test_what_is_no_moments_is_refused(made):
    found = made(3)
    with pytest.raises(TacticalKitError) as refused:
        claim("a", found.table, of=found)
    assert str(refused.value) == "`moments` is DataFrame; expected Moments, as a finder returns them."
    double = tk.Moments(found.table.iloc[[0, 0, 1]], "demo", {}, "m")
    with pytest.raises(TacticalKitError) as refused:
        claim("a", found, of=double)
    assert str(refused.value) == "`of` has the moment 'demo-001' twice; each instance counts once."


def test_several_from_one_possession_widen_the_interval(made):
    found = made(40, won=range(24))
    spells = np.arange(40) // 4
    c = claim("They mostly won it", found.where(won=True), of=found, possession=spells)
    assert c.judged_on.low < c.interval.low and c.judged_on.high > c.interval.high
    assert c.resampled.possessions == 10
    assert c.dependence == (
        "40 instances from 10 possessions (up to 4 from one) depend on each other: drawing possessions gives "
        f"{c.resampled.interval.reach()}, single instances give 45-74 %; at either end the wider one counts."
    )
    assert c.numbers == f"24 of 40, 60 %, {c.judged_on.words()}"
    assert c.dependence in str(c) and c.dependence in c._repr_html_()
    few = claim("They mostly won it", found.where(won=True), of=found, possession=np.arange(40) // 10)
    assert few.verdict.words == "Too few to judge “mostly”: 40 instances from only 4 possessions, fewer than 10."
    single = claim("They mostly won it", found.where(won=True), of=found, possession=np.arange(40))
    assert single.resampled is None and single.judged_on == single.interval


def test_what_belongs_together_may_change_nothing(made):
    found = made(40, won=range(0, 40, 2))  # one of each two from one possession
    c = claim("They mostly won it", found.where(won=True), of=found, possession=np.arange(40) // 2)
    assert c.judged_on == c.interval
    assert c.dependence == (
        "40 instances from 20 possessions (up to 2 from one) depend on each other: drawing possessions gives "
        "50-50 %, which changes nothing here (single instances: 35-65 %)."
    )


def test_with_the_match_there_are_clocks_and_possessions(demo):
    spells = find(demo, "phase").where(side="in", team="BRL")
    c = claim("They mostly build up", spells.where(phase="build-up"), of=spells, match=demo)
    assert c.resampled.possessions < c.base
    assert all(":" in label for label in c.clock_labels)
    first = c.counterexamples.table.iloc[0]
    assert demo.clock.label(int(first.period), first.start_s) in str(c)


def test_the_words_may_mean_other_shares(made):
    found = made(40, won=range(24))
    part = found.where(won=True)
    assert claim("a", part, found, "usually").verdict.status == "undecided"
    assert claim("a", part, found, "usually", words={"usually": (0.4, 1)}).verdict.status == "supported"
    assert claim("a", part, found, "usually", level=0.5).interval.level == 0.5
    assert claim("a", part, found, "usually", few=41).verdict.status == "too few"


def test_text_is_data_on_a_page(made):
    found = made(12, won=range(3))
    c = claim("<script>alert(1)</script> usually", found.where(won=True), of=found)
    page = c._repr_html_()
    assert "<script>" not in page and "&lt;script&gt;" in page
    assert page.count("data-moment=") == 9
    assert 'data-moment="demo-004"' in page


def test_the_same_input_gives_the_same_answer_and_travels(made):
    found = made(40, won=range(24))
    a, b = (claim("mostly", found.where(won=True), of=found, possession=np.arange(40) // 4) for _ in range(2))
    assert str(a) == str(b) and a.resampled == b.resampled
    assert str(pickle.loads(pickle.dumps(a))) == str(a)
