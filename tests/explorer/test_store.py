"""The state of the explorer, without a browser.  Counts are compared with plain pandas on the events."""

import math

import pandas as pd
import pytest

from tactical_kit.errors import MissingDataError, TacticalKitError, UnknownNameError
from tactical_kit.explorer.store import Store, prepare_match, timeline_to_segment
from tactical_kit.finders import finder
from tactical_kit.finders.registry import _FINDERS
from tactical_kit.measures.selection import Selection
from tactical_kit.moments import Moments
from tactical_kit.phases import IN_PHASES, OUT_PHASES


@pytest.fixture
def store(match):
    return Store(match)


def heard(store):
    changes = []
    store.listen(changes.append)
    return changes


def test_it_starts_with_the_home_side_and_the_whole_match(store, match):
    assert store.selection == Selection(team="h")
    assert store.words == "Alder Town, the whole match"
    assert store.timeline_span == (0.0, 600.0)
    passes = match.events[(match.events["kind"] == "pass") & (match.events["team"] == "h")]
    shots = match.events[(match.events["kind"] == "shot") & (match.events["team"] == "h")]
    assert store.n == len(passes) + len(shots)


def test_preparing_a_match_is_done_once(match):
    assert prepare_match(match)[1] is prepare_match(match)[1]


def test_a_segment_counts_what_pandas_counts(store, match):
    store.change(segment=((2, 60.0, 120.0),))
    e = match.events
    inside = e[(e["period"] == 2) & (e["time_s"] >= 60) & (e["time_s"] < 120) & (e["team"] == "h")]
    assert store.n == len(inside[inside["kind"].isin(["pass", "shot"])])
    network = store.measure("network")
    good = inside[(inside["kind"] == "pass") & inside["success"].fillna(False)]
    assert network.n == len(good)


def test_the_ghost_is_the_whole_match_of_the_same_side(store):
    assert store.measure_whole("network") is None  # nothing to compare with
    whole = store.measure("network").n
    store.change(segment=((1, 0.0, 100.0),))
    assert store.measure_whole("network").n == whole > store.measure("network").n
    store.show_ghost(False)
    assert store.measure_whole("network") is None


def test_numbers_are_computed_once_a_selection(store):
    store.change(segment=((1, 0.0, 100.0),))
    first = store.measure("pressure")
    store.change(segment=None)
    store.change(segment=((1, 0.0, 100.0),))
    assert store.measure("pressure") is first


def test_undo_redo_reset(store):
    first = store.selection
    store.change(phases={"build-up"})
    store.change(zones={"final third, centre"})
    assert store.can_undo and not store.can_redo
    store.undo()
    assert store.selection == Selection(team="h", phases={"build-up"})
    store.undo()
    assert store.selection == first and not store.can_undo
    store.redo()
    store.redo()
    store.redo()  # nothing left: no change
    assert store.selection == Selection(team="h", phases={"build-up"}, zones={"final third, centre"})
    store.reset()
    assert store.selection == first
    store.undo()
    assert store.selection.zones == {"final third, centre"}
    store.change(zones=frozenset())
    assert not store.can_redo


def test_a_drag_is_one_step_of_undo(match):
    now = [0.0]
    store = Store(match, clock=lambda: now[0])
    for second in range(5):
        now[0] += 0.2
        store.change(segment=((1, 0.0, 50.0 + second),), merge="brush")
    store.undo()
    assert store.selection == Selection(team="h")
    store.change(segment=((1, 0.0, 60.0),), merge="brush")
    now[0] += 1.0  # a second later it is another drag
    store.change(segment=((1, 0.0, 70.0),), merge="brush")
    store.undo()
    assert store.selection.segment == ((1, 0.0, 60.0),)


def test_listeners_hear_what_changed_and_nothing_else(store):
    changes = heard(store)
    store.change(phases={"build-up"})
    store.change(phases={"build-up"})
    store.show_ghost(False)
    store.show_ghost(False)
    store.undo()
    store.turn_page(1)
    assert changes == [{"selection"}, {"ghost"}, {"selection"}, {"page"}]


def test_teams_and_players_may_be_named_in_any_way(store):
    store.select(Selection(team="home", players={"Alder Town Player 3"}))
    assert store.selection == Selection(team="h", players={"h3"})
    store.toggle("players", "h3")
    store.toggle("players", "h4")
    assert store.selection.players == {"h4"}


def test_a_refused_selection_changes_nothing(store):
    before = store.selection
    with pytest.raises(UnknownNameError) as caught:
        store.change(phases={"mid block"})
    assert "Did you mean 'mid-block'?" in str(caught.value)
    assert store.selection == before and not store.can_undo


def test_an_empty_selection_says_which_condition_emptied_it(store):
    store.change(segment=((1, 0.0, 2.0),), area=(52.0, 33.0, 52.4, 33.9))
    assert store.empty
    left = store.conditions["left"].tolist()
    assert store.empty_words == (
        "Nothing is left: “from the area x 52.0 to 52.4 m, y 33.0 to 33.9 m” keeps none of the "
        f"{left[2]} actions on the ball that the conditions before it leave. Without it there would be {left[2]}."
    )
    assert store.measure("network").n == 0
    store.change(area=None)
    assert store.empty_words == ""


def test_spans_beyond_a_period_are_cut(store):
    store.change(segment=((1, 0.0, math.inf),))
    assert store.selection.segment == ((1, 0.0, 300.0),)


@pytest.mark.parametrize(
    "start, end, expected",
    [
        (0, 600, None),
        (0, 599.4, None),
        (10.4, 20.6, ((1, 10.0, 21.0),)),
        (20.6, 10.4, ((1, 10.0, 21.0),)),  # drawn from right to left
        (290, 310, ((1, 290.0, 300.0), (2, 0.0, 10.0))),  # across the break
        (300, 600, ((2, 0.0, 300.0),)),
        (100, 100, ((1, 100.0, 101.0),)),  # never empty
        (-50, 30, ((1, 0.0, 30.0),)),
    ],
)
def test_a_stretch_of_the_time_line_becomes_spans(match, start, end, expected):
    assert timeline_to_segment(match, start, end) == expected


# -- moments ---------------------------------------------------------------------------------------------


def test_the_list_holds_only_moments_that_touch_the_selection(store):
    every = len(store.moments)
    assert set(store.moments["team"]) == {"h"}
    store.change(segment=((1, 0.0, 100.0),))
    table = store.moments.table
    assert 0 < len(table) < every
    assert ((table["period"] == 1) & (table["start_s"] < 100)).all()


def test_the_list_of_phases_follows_the_phases_of_both_sides(store):
    store.show_list("phase")
    assert set(store.moments["team"]) == {"h"}
    phases = sorted(set(store.moments.where(side="in")["phase"]))
    store.change(phases={phases[0]})
    assert set(store.moments["phase"]) == {phases[0]} and set(store.moments["team"]) == {"h"}
    against = sorted(set(store.all_moments.where(side="out", team="a")["phase"]))[0]
    store.change(phases=frozenset(), opponent_phases={against})
    assert set(zip(store.moments["team"], store.moments["phase"])) <= {("a", against)}


def test_pages(store):
    assert store.pages == -(-len(store.moments) // 10)
    assert len(store.page_words) == len(store.page_rows) == 10
    store.turn_page(10_000)
    assert store.page == store.pages - 1
    assert 1 <= len(store.page_rows) <= 10
    store.change(phases={"build-up"})
    assert store.page == 0


def test_choosing_a_moment_moves_the_cursor(store):
    row = store.moments.table.iloc[12]
    changes = heard(store)
    store.choose_moment(row["moment_id"])
    assert store.cursor == (row["period"], row["start_s"])
    assert store.page == 1 and changes == [{"moment", "page"}]
    assert store.moment["moment_id"] == row["moment_id"]
    with pytest.raises(UnknownNameError) as caught:
        store.choose_moment("possession-9999")
    known = store.moments["moment_id"].tolist()
    assert f"moment is 'possession-9999'; expected one of the {len(known)} listed, from " in str(caught.value)


def test_shots_are_listed_with_who_and_what(store):
    store.show_list("shot")
    assert len(store.moments) > 0
    first = store.page_words[0]
    assert "Alder Town Player" in first and first.endswith(" s")


def test_any_registered_finder_is_listed(match):
    @finder("corner in a test", needs=("events",), finds="Nothing at all.")
    def find_none(match):
        return Moments.build("corner in a test", [])

    try:
        store = Store(match)
        store.show_list("corner in a test")
        assert len(store.moments) == 0 and store.pages == 1 and store.page_words == []
    finally:
        del _FINDERS["corner in a test"]


# -- the text --------------------------------------------------------------------------------------------


def test_the_view_comes_back(store, match):
    store.change(phases={"build-up"}, segment=((1, 0.0, 200.0),), zones={"own third, centre"})
    store.change(zones=frozenset())
    store.show_list("phase")
    store.choose_moment(store.moments["moment_id"][0])
    store.show_ghost(False)
    again = Store(match, store.view)
    assert again.view == store.view
    assert (again.selection, again.finder, again.cursor, again.ghost) == (
        store.selection, store.finder, store.cursor, store.ghost,
    )  # fmt: skip
    assert again.moment["moment_id"] == store.moment["moment_id"]


def test_a_view_that_does_not_fit_changes_nothing(store):
    before = store.view
    for text in ("team=nobody", "list=corners", "at=4:0", "moment=possession-9999", "phase=mid_block"):
        with pytest.raises(TacticalKitError):
            store.apply_view(text)
        assert store.view == before
    store.apply_view("team=away")
    assert store.selection.team == "a"
    store.undo()
    assert store.selection.team == "h"


# -- what may be missing ----------------------------------------------------------------------------------


def test_events_only(match):
    store = Store(match.with_data(tracking=None))
    assert store.gaps == [
        "No tracking: there is no moving pitch, and pressure is the coarser count of defensive actions.",
        "Phases are estimated from events alone.",
    ]
    assert store.measure("pressure").estimated
    assert store.lists[:3] == ["possession", "phase", "shot"]
    assert store.count_words == f"n = {store.n} actions on the ball"
    with pytest.raises(MissingDataError):
        store.change(under_pressure=True)


def test_tracking_only(match):
    store = Store(match.with_data(events=None))
    assert store.gaps == ["No events: there is no pass network, and progression, score and shots are missing."]
    assert store.n == 0 and store.seconds > 0 and not store.empty
    assert store.measure("network").n == 0
    assert "shot" not in store.lists
    store.change(area=(52.0, 33.0, 52.4, 33.9))
    assert store.empty_words.startswith("Nothing is left: “from the area") and "seconds" in store.empty_words


def test_tags_only(match):
    tags = pd.DataFrame({"period": [1, 2], "time_s": [61.0, 5.0], "team": ["Alder Town", None], "tag": ["press", "x"]})
    store = Store(match.with_data(events=None, tracking=None, tags=tags))
    assert store.lists == ["tag"]
    assert store.page_words == ["01:01 · Ald · press · 10 s", "45:05 · x · 10 s"]
    store.change(segment=((1, 0.0, 65.0),))
    assert store.page_words == ["01:01 · press · 10 s"]
    assert store.empty_words == "This match has neither events nor tracking, so there is nothing to select."
    assert len(store.gaps) == 3


def test_nothing_at_all(match):
    store = Store(match.with_data(events=None, tracking=None))
    assert store.lists == [] and len(store.moments) == 0 and store.page_words == []
    assert store.view == "team=h"


def test_a_pressing_selection_is_compared_on_the_same_side_of_the_ball(match):
    store = Store(match)
    store.change(phases={"high press"})
    # Without the ball the map shows the pressure that the side puts on; so must what it is compared with.
    assert store.measure("pressure").on_side == store.measure_whole("pressure").on_side is False
    assert "on the ball" not in store.count_words and store.count_words.endswith("min without the ball")


def test_a_segment_outside_the_match_is_refused_and_not_the_whole_match(match):
    store, last = Store(match), match.periods[-1]
    with pytest.raises(
        TacticalKitError,
        match=rf"^the segment \(9000 to 9100 s of period {last.number}\) lies outside the match; nothing of it was played\.$",
    ):
        store.change(segment=((last.number, 9000.0, 9100.0),))
    assert store.selection.segment is None


def test_the_last_half_second_is_the_last_second(match):
    total = match.clock.total_s
    segment = timeline_to_segment(match, total - 0.5, total)
    assert segment is not None and sum(b - a for _, a, b in segment) == pytest.approx(1, abs=0.5)


@pytest.mark.parametrize("with_ball", [True, False])
@pytest.mark.parametrize(
    "others", [{}, {"segment": ((1, 30.0, 200.0),)}, {"score_states": frozenset({"trailing"})}, {"team": None}]
)
def test_the_count_of_a_phase_is_the_length_of_its_list(match, with_ball, others):
    """Counted one way for the boxes and another way for the list: both must agree."""
    store = Store(match)
    store.show_list("phase")
    store.change(**others)
    own, other = store.phase_counts(with_ball)
    assert set(own) == set(IN_PHASES if with_ball else OUT_PHASES)
    assert set(other) == set(OUT_PHASES if with_ball else IN_PHASES)
    assert sum(own.values()) > 0 and sum(other.values()) > 0
    # With both sides the list holds either side's phases.
    for condition, counts in (("phases", own), *((("opponent_phases", other),) if store.selection.team else ())):
        for phase, count in counts.items():
            if phase == "set play" and (not with_ball or store.selection.team is None):
                continue  # alone it is taken for one with the ball, and with both sides the list holds it twice
            store.change(**{condition: frozenset({phase})})
            assert len(store.moments) == count, (condition, phase)
        store.change(**{condition: frozenset()})


def test_without_phases_nothing_is_counted(match):
    store = Store(match.with_data(events=None, tracking=None))
    assert store.phase_counts(True) == ({}, {})


def test_what_is_no_match_is_refused_in_a_sentence():
    with pytest.raises(
        TacticalKitError,
        match=r"^the explorer takes a match, got 'nonsense'\. Read one first: tk\.explore\(tk\.read_match\(path\)\)\.$",
    ):
        Store("nonsense")
