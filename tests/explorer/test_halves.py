"""Half against half, compared with counts by plain pandas; intervals and sentences are those of `tactical_kit.claims`."""

import numpy as np
import pytest

from tactical_kit.claims import newcombe_interval
from tactical_kit.explorer.finding import Finding
from tactical_kit.explorer.halves import compare_halves_of, compared_by, time_of, write_compare
from tactical_kit.explorer.number_filters import ColumnFilter
from tactical_kit.explorer.store import Store
from tactical_kit.finders import find


@pytest.fixture
def store(match, toy):
    made = Store(match)
    made.show_list("toy")
    return made


def by(store, text):
    store.ask(Finding(store.finder, store.finding.thresholds, store.finding.filters, text))
    return compare_halves_of(store)


def test_counts_and_rate_of_each_half(store):
    halves = compare_halves_of(store)
    table = store.moments.table
    assert [len(halves.first), len(halves.second)] == [int((table["period"] == p).sum()) for p in (1, 2)]
    assert halves.rate is not None and halves.rate.time == "in possession"
    assert (halves.rate.first.count, halves.rate.second.count) == (len(halves.first), len(halves.second))
    assert halves.rate.sentence.endswith(("chance.", "large.", "min."))


def test_the_share_of_a_word(store):
    halves = by(store, "outcome:complete")
    table = store.moments.table
    known = table[table["outcome"] != ""]
    counts = [
        (int(((known["period"] == p) & (known["outcome"] == "complete")).sum()), int((known["period"] == p).sum()))
        for p in (1, 2)
    ]
    assert halves.column.name == "outcome" and halves.word == "complete"
    assert [(g.count, g.base) for g in (halves.compared.first, halves.compared.second)] == counts
    place = halves.words.index("complete")
    assert [half[place][0] for half in halves.shares] == [c for c, _ in counts]
    assert sum(share for _, share in halves.shares[0]) == pytest.approx(1)
    # At least as wide as Newcombe's of single instances: several passes come from one possession.
    plain = newcombe_interval(counts[1][0], counts[1][1], counts[0][0], counts[0][1])
    assert halves.compared.interval.low <= plain.low and halves.compared.interval.high >= plain.high


def test_a_filter_on_the_compared_column_does_not_make_every_share_whole(store):
    before = by(store, "outcome:complete").compared
    store.filter_numbers(ColumnFilter("outcome", values={"complete"}))
    after = compare_halves_of(store).compared
    assert (after.first.count, after.first.base) == (before.first.count, before.first.base)


def test_the_mean_of_a_number_and_its_distribution(store):
    store.filter_numbers(ColumnFilter("length_m", 5, None))
    halves = by(store, "length_m")
    for part, group, shares in zip(
        (halves.first, halves.second), (halves.compared.first, halves.compared.second), halves.shares
    ):
        known = part.table["length_m"].dropna()
        assert group.value == pytest.approx(known.mean()) and group.base == len(known)
        assert sum(n for n, _ in shares) == len(known) and sum(s for _, s in shares) == pytest.approx(1)
        counts, _ = np.histogram(known, bins=halves.edges)
        assert [n for n, _ in shares] == counts.tolist()
    assert halves.compared.unit == "m" and "p = " in halves.compared.sentence


def test_what_is_compared_where_nothing_was_chosen(store):
    assert compared_by(store)[0].name == "outcome"
    _column, word = compared_by(store)
    assert word == max(dict(store.facets[2].choices).items(), key=lambda kv: kv[1])[0]
    assert by(store, "good").word == "yes"
    assert by(store, write_compare("receiver", "h3")).word == "h3"
    assert by(store, "receiver:nobody").word in {v for v, _ in store.facets[4].choices}


def test_there_is_no_rate_where_the_time_is_not_that_of_the_halves(store, match):
    store.change(phases={"build-up"})
    assert compare_halves_of(store).no_rate == (
        "How often in equal time is told without other conditions than the side: reset the filter."
    )
    store.select(store.start_selection.replace(team=None))
    assert compare_halves_of(store).no_rate == "How often in equal time is told of one side: choose one."


def test_nothing_left_is_no_error(store):
    store.filter_numbers(ColumnFilter("length_m", 400, None))
    halves = compare_halves_of(store)
    assert len(halves.first) == len(halves.second) == 0 and halves.rate.verdict.status == "no instances"
    assert by(store, "length_m").edges == ()


def test_answers_are_kept(store):
    assert compare_halves_of(store) is compare_halves_of(store)


def test_whose_time_counts(match):
    assert time_of(match, find(match, "possession")) == "in possession"
    phases = find(match, "phase")
    assert time_of(match, phases) == "in play"  # both sides are in a phase at any instant
    assert time_of(match, phases.where(side="out")) == "out of possession"
    assert time_of(match, phases.where(side="nowhere")) == "in play"
