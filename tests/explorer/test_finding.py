"""The finder's part of the state: thresholds, filters, undo, the text of a view.  Counts by plain pandas."""

import numpy as np
import pytest

from tactical_kit.errors import TacticalKitError, UnknownNameError
from tactical_kit.explorer.finding import Finding, offers, read_thresholds, thresholds_of
from tactical_kit.explorer.number_filters import ColumnFilter
from tactical_kit.explorer.store import Store
from tactical_kit.finders import finder_names


@pytest.fixture
def store(match, toy):
    made = Store(match)
    made.show_list("toy")
    return made


def test_every_finder_is_offered_and_the_others_say_why_not(match, toy):
    told = {o.name: o.why_not for o in offers(match)}
    assert told["toy"] == "" and told["shot"] == ""
    assert told["toy of stills"] == "needs digitised stills, which this match does not have"
    without = {o.name: o.why_not for o in offers(match.with_data(events=None))}
    assert without["toy"] == "needs events, which this match does not have"
    assert next(iter(without)) == "possession"  # those that can be asked come first
    assert all(o.finds.strip() for o in offers(match))


def test_filters_count_what_pandas_counts(store):
    table = store.all_moments.table
    home = table[table["team"] == "h"]
    store.filter_numbers(ColumnFilter("length_m", 20, 40))
    wanted = home[home["length_m"].between(20, 40)]
    assert store.moments["moment_id"].tolist() == wanted["moment_id"].tolist()
    store.filter_numbers(ColumnFilter("outcome", values={"complete"}, unknown=True))
    wanted = wanted[wanted["outcome"].isin(["complete", ""])]
    assert 0 < len(wanted) == len(store.moments)
    assert len(store.selected_moments) == len(home)
    store.change(segment=((1, 0.0, 100.0),))  # and what the page filters holds as well
    assert 0 < len(store.moments) < len(wanted)


def test_facets_count_what_a_filter_then_leaves(store):
    store.filter_numbers(ColumnFilter("length_m", 10, None))
    facets = {f.column.name: f for f in store.facets}
    for value, left in facets["outcome"].choices:
        store.filter_numbers(ColumnFilter("outcome", values={value}))
        assert len(store.moments) == left, value
    store.filter_numbers(ColumnFilter("outcome", unknown=True))
    assert len(store.moments) == facets["outcome"].unknown > 0


def test_undo_and_redo_reach_finder_thresholds_and_filters(store):
    store.filter_numbers(ColumnFilter("spell", 1, 3))
    store.ask(store.finding.with_threshold("least_m", 15.0))
    store.change(phases={"build-up"})
    store.show_list("shot")
    seen = [store.view]
    while store.can_undo:
        store.undo()
        seen.append(store.view)
    assert seen == [
        "team=h;phase=build-up;list=shot",
        "team=h;phase=build-up;list=toy;with=least_m:15;where=spell:1..3",
        "team=h;list=toy;with=least_m:15;where=spell:1..3",
        "team=h;list=toy;where=spell:1..3",
        "team=h;list=toy",
        "team=h",
    ]
    while store.can_redo:
        store.redo()
    assert store.view == seen[0]


def test_a_drag_over_a_number_is_one_step(match, toy):
    store = Store(match, clock=lambda: 0.0)
    store.show_list("toy")
    for low in range(5):
        store.filter_numbers(ColumnFilter("length_m", low, None), merge="numbers length_m")
    store.undo()
    assert store.finding == Finding("toy")


def test_reset_drops_filters_and_thresholds_but_not_the_finder(store):
    store.filter_numbers(ColumnFilter("spell", 1, 3))
    store.ask(store.finding.with_threshold("least_m", 15.0))
    store.reset()
    assert store.finding == Finding("toy")
    store.undo()
    assert store.finding.filters and store.finding.thresholds == (("least_m", 15.0),)


def test_thresholds_change_what_is_found(store):
    every = len(store.all_moments)
    store.ask(store.finding.with_threshold("least_m", 30.0))
    assert 0 < len(store.all_moments) < every and store.all_moments.params["least_m"] == 30.0
    assert not store.found.is_known(Finding("toy", (("least_m", 31.0),)))
    assert store.found.is_known(store.finding)
    store.ask(store.finding.with_threshold("least_m", 0.0))  # its default is no change
    assert store.finding == Finding("toy")


def test_what_the_finder_refuses_changes_nothing(store):
    before, past = store.view, store.can_undo
    with pytest.raises(TacticalKitError, match=r"^least_m is 2000; a pitch is not that long\.$"):
        store.ask(store.finding.with_threshold("least_m", 2000.0))
    with pytest.raises(TacticalKitError, match=r"^length_m holds numbers: ask by a range\.$"):
        store.filter_numbers(ColumnFilter("length_m", values={"far"}))
    with pytest.raises(UnknownNameError, match=r"^column is 'lenght_m'; expected one of .*Did you mean 'length_m'\?$"):
        store.filter_numbers(ColumnFilter("lenght_m", 1))
    with pytest.raises(UnknownNameError, match=r"^list is 'toy of stills'; expected one of "):
        store.show_list("toy of stills")
    assert store.view == before and store.can_undo == past


def test_listeners_hear_which_part_changed(store):
    heard = []
    store.listen(heard.append)
    store.filter_numbers(ColumnFilter("spell", 1, 3))
    store.ask(store.finding.with_threshold("least_m", 15.0))
    store.ask(Finding("toy", store.finding.thresholds, store.finding.filters, "outcome:complete"))
    assert heard == [{"numbers"}, {"list", "moment"}, {"compare"}]


def test_the_view_comes_back_with_everything(store, match):
    store.ask(
        store.finding.with_threshold("least_m", 12.5).with_threshold("strict", True).with_threshold("side", "a;b")
    )
    store.filter_numbers(
        ColumnFilter("receiver", values={"h2", "h3"}), ColumnFilter("length_m", -3.5, 40, unknown=True)
    )
    store.ask(Finding("toy", store.finding.thresholds, store.finding.filters, "outcome:complete"))
    store.choose_moment(store.moments["moment_id"][0])
    again = Store(match, store.view)
    assert again.view == store.view and again.finding == store.finding
    assert again.moment["moment_id"] == store.moment["moment_id"]


@pytest.mark.parametrize(
    "text, fault",
    [
        ("list=toy;where=width_m:1..", r"column is 'width_m'; expected one of 'length_m', "),
        ("list=toy;where=length_m:far", r"length_m holds numbers: ask by a range\."),
        ("list=toy;where=outcome:1..2", r"outcome holds no numbers: ask by its words\."),
        ("list=toy;with=least:3", r"a threshold of finder 'toy' is 'least'; expected one of 'least_m', "),
        ("list=toy;with=least_m:far", r"threshold least_m is 'far'; expected a number\."),
        ("list=toy;with=strict:maybe", r"threshold strict is 'maybe'; expected yes or no\."),
        ("list=toy;with=least_m", r"'least_m' is no threshold; expected threshold:value\."),
        ("list=toy;compare=width_m", r"compare is 'width_m'; expected one of "),
        ("list=toy;where=length_m:9..1", r"view .* cannot be read: 'where=length_m:9\.\.1': length_m from 9 to 1: "),
    ],
)
def test_a_view_that_does_not_fit_the_finder_is_refused(store, text, fault):
    before = store.view
    with pytest.raises(TacticalKitError, match=f"^{fault}"):
        store.apply_view(text)
    assert store.view == before


def test_a_moment_that_the_filters_leave_out_can_be_played(store):
    every = store.all_moments["moment_id"].tolist()
    store.filter_numbers(ColumnFilter("spell", 0, 0))
    out = next(i for i in every if i not in set(store.moments["moment_id"]))
    store.turn_page(1)
    store.choose_moment(out)
    assert store.moment["moment_id"] == out and store.page == 1
    assert store.cursor == (store.moment["period"], store.moment["start_s"])
    with pytest.raises(UnknownNameError, match=r"^moment is 'toy-9999'; expected one of the \d+ listed, from 'toy-"):
        store.choose_moment("toy-9999")


def test_thresholds_say_what_their_docstring_says():
    told = {t.name: (t.label, t.unit, t.default, t.words) for t in thresholds_of("shot")}
    assert told["before_s"][:3] == ("before", "s", 8.0)
    assert told["before_s"][3].startswith("The moment begins this long before the shot")
    assert thresholds_of("tag") == []
    with pytest.raises(TacticalKitError, match=r"^'a:1' is no threshold; the list 'tag' has no thresholds\.$"):
        read_thresholds("tag", "a:1")


def test_thresholds_of_a_docstring_of_several_lines(toy):
    told = {t.name: t.words for t in thresholds_of("toy")}
    assert told == {
        "least_m": "Shorter passes are left out, m. They say little.", "side": "Whatever.", "strict": "Whatever.",
    }  # fmt: skip


def test_columns_know_their_kind(store):
    assert [(c.name, c.kind, c.unit) for c in store.columns] == [
        ("length_m", "number", "m"), ("spell", "number", ""), ("outcome", "word", ""), ("good", "yes or no", ""),
        ("receiver", "word", ""), ("near", "several", ""),
    ]  # fmt: skip
    assert np.isfinite([f.low for f in store.facets[:2]]).all()


def test_what_is_said_of_a_threshold_is_plain_words():
    said = [t.words for name in finder_names() for t in thresholds_of(name)]
    assert all(said) and not [words for words in said if "`" in words]
