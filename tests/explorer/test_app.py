"""The views without a browser: what the store says reaches the data of the figures, and the other way round."""

import json

import ipywidgets
import numpy as np
import pandas as pd
import pytest
import traitlets
from bokeh.document import Document
from bokeh.events import ButtonClick
from bokeh.models import ColumnDataSource, Div

import tactical_kit as tk
from tactical_kit.errors import TacticalKitError
from tactical_kit.explorer.app import Screen, final_score
from tactical_kit.explorer.store import Store
from tactical_kit.explorer.timeline import match_marks, phase_bands
from tactical_kit.match import Player


@pytest.fixture
def screen(match):
    made = Screen(Store(match))
    Document().add_root(made.root)  # as if displayed
    return made


def chart_data(screen):
    """Everything the three charts draw, by source name."""
    return {
        f"{chart.name}.{layer}": {k: list(map(str, v)) for k, v in source.data.items()}
        for chart in screen.charts
        for layer, source in chart.canvas.sources.items()
        if layer.startswith("main.")
    }


def changed_charts(before, after):
    return {name.split(".")[0] for name in before if before[name] != after[name]}


ALL = {"network", "progression", "pressure"}


def test_a_segment_changes_all_three_charts(screen):
    before = chart_data(screen)
    screen.timeline.asked.data = {"a": [30.0], "b": [200.0], "nonce": [1]}
    assert screen.store.selection.segment == ((1, 30.0, 200.0),)
    assert changed_charts(before, chart_data(screen)) == ALL
    assert screen.timeline.shown.data == {"a": [30.0], "b": [200.0], "whole": [0], "serial": [1]}
    assert (screen.picks.start.value, screen.picks.end.value) == ("00:30", "03:20")


def test_the_page_is_answered_even_if_nothing_changed(screen):
    screen.timeline.asked.data = {"a": [0.0], "b": [600.0], "nonce": [1]}
    assert screen.timeline.shown.data["serial"] == [1] and not screen.store.can_undo


def test_a_phase_changes_all_three_charts(screen):
    before = chart_data(screen)
    screen.filters.own.active = [1]
    assert screen.store.selection.phases == {"progression"}
    assert changed_charts(before, chart_data(screen)) == ALL


def test_a_player_picked_in_the_network_filters_the_maps(screen):
    before = chart_data(screen)
    discs = screen.charts[0].canvas.sources["main.discs"]
    key = discs.data["key"][0]
    discs.selected.indices = [0]
    assert screen.store.selection.players == {key}
    assert changed_charts(before, chart_data(screen)) == ALL
    assert screen.filters.players.value == [key]
    assert discs.selected.indices == []  # ready for the next pick


def test_a_zone_picked_or_drawn_filters_the_network(screen):
    network = screen.charts[0].canvas.sources["main.discs"]
    before = dict(network.data)
    zones = screen.charts[1].canvas.sources["main.zones"]
    zones.selected.indices = [7]
    assert screen.store.selection.zones == {zones.data["key"][7]}
    assert network.data != before
    screen.store.reset()
    screen.charts[2].canvas.set_area((0.0, -10.0, 30.04, 10.0))
    assert screen.store.selection.area == (0.0, -10.0, 30.0, 10.0)
    assert network.data != before
    # The area stands on every pitch.
    assert all(c.canvas.area == (0.0, -10.0, 30.0, 10.0) for c in screen.charts)
    assert screen.filters.clear_area.visible
    screen.filters.clear_area._trigger_event(ButtonClick(screen.filters.clear_area))
    assert screen.store.selection.area is None and not screen.filters.clear_area.visible
    assert all(c.canvas.area is None for c in screen.charts)


def test_the_network_of_both_sides_says_which_side_it_shows(screen):
    assert "Both sides" not in screen.words.shown("network-head")
    screen.filters.team.active = 2
    assert "a network shows one: Alder Town. Choose Birch Vale" in screen.words.shown("network-head")


def test_a_moment_moves_the_moving_pitch_and_plays(screen):
    row = screen.store.page_rows.iloc[3]
    screen.asking.ask(ask="moment", value=row["moment_id"])
    sent = screen.playback.command.data
    clock = screen.store.match.clock
    assert sent["t"] == [float(clock.timeline(row["period"], row["start_s"]))]
    assert sent["until"] == [float(clock.timeline(row["period"], row["end_s"]))]
    assert sent["play"] == [1]
    table = screen.words.shown("moment-table")
    assert f'data-value="{row["moment_id"]}" class=picked' in table and table.count("class=picked") == 1


def test_the_moving_pitch_turns_with_the_side(screen):
    screen.filters.team.active = 1
    assert screen.playback.command.data["turn"] == [-1]
    assert "What Birch Vale do with the ball" in screen.words.shown("phases-head")
    screen.filters.team.active = 2
    assert screen.store.selection.team is None and screen.playback.command.data["turn"] == [1]


def test_without_the_ball_the_lists_of_phases_change_places(screen):
    screen.filters.role.active = 1
    assert screen.filters.own.labels[0] == "high press" and screen.filters.other.labels[0] == "build-up"
    screen.filters.own.active = [1]
    assert screen.store.selection.phases == {"mid-block"} and not screen.store.selection.has_ball
    screen.filters.role.active = 0
    assert screen.store.selection.phases == frozenset()


def test_clock_fields(screen):
    screen.picks.end.value = "02:00"
    assert screen.store.selection.segment == ((1, 0.0, 120.0),)
    screen.picks.end.value = "soon"
    assert screen.trouble.visible and "clock &#x27;soon&#x27;; expected minutes:seconds" in screen.trouble.text
    assert screen.picks.end.value == "02:00"  # what holds stands there again
    screen.picks.quick.active = 2
    assert screen.store.selection.segment == ((2, 0.0, 300.0),) and not screen.trouble.visible


def test_the_clock_fields_do_not_round_what_was_chosen(screen):
    """Their echo comes late where the document is held, as in a notebook."""
    changes = []
    screen.store.listen(changes.append)
    screen.store.change(segment=((1, 10.4, 100.6),))
    assert screen.store.selection.segment == ((1, 10.4, 100.6),)
    assert screen.picks.start.value == "00:10" and changes == [frozenset({"selection"})]


def test_a_pasted_view_is_taken_on_and_a_bad_one_refused(screen):
    screen.view.value = "team=away;phase=progression;ghost=no"
    assert screen.store.selection.team == "a" and screen.steps.ghost.active == []
    assert screen.filters.own.active == [1]
    screen.view.value = "team=away;phase=progresion"
    assert "Did you mean" in screen.trouble.text
    assert screen.view.value == screen.store.view == "team=a;phase=progression;ghost=no"


def test_words_on_the_page(screen):
    screen.store.change(segment=((1, 0.0, 60.0),), area=(52.0, 33.0, 52.4, 33.9))
    said = screen.words.shown("said")
    assert "Nothing is left" in said and "n = 0" in said
    assert "attack" in screen.words.shown("network-head")
    assert "invented demonstration data" in screen.root.select_one({"name": "head"}).text


def test_the_words_travel_as_one_table_of_what_changed(screen):
    sent = []
    screen.words.source.on_change("data", lambda attr, old, new: sent.append(dict(new)))
    screen.store.turn_page(1)
    assert len(sent) == 1
    assert sorted(sent[0]["slot"]) == ["moment-table"]


def test_the_boxes_of_phases_count_what_they_would_leave(screen):
    def counts(name):
        return dict(json.loads(screen.words.shown(name)))

    store = screen.store
    assert counts("phases") == store.phase_counts(True)[0] and counts("opponent-phases") == store.phase_counts(True)[1]
    screen.filters.own.active = [1]  # its own condition is left out
    assert counts("phases") == store.phase_counts(True)[0] and counts("phases")["build-up"] > 0
    screen.filters.role.active = 1
    assert list(counts("phases")) == screen.filters.own.labels and "high press" in counts("phases")
    store.change(segment=((1, 0.0, 5.0),))
    assert 0 in counts("phases").values()  # still there to be picked


def test_names_are_data(match):
    evil = "<img src=x onerror=alert(1)>"
    home = match.home
    players = (Player("h1", evil, "h", 1, "GK"), *home.players[1:])
    named = match.with_data(home=type(home)("h", f"{evil} FC", evil, players), label=evil)
    screen = Screen(Store(named))
    texts = [d.text for d in screen.root.select({"type": Div})]
    assert not any("<img" in t for t in texts)
    # The box of players draws its labels as HTML.
    assert not any("<img" in label for _, label in screen.filters.players.options)


def test_every_level_of_data_opens(match):
    tags = pd.DataFrame({"period": [1], "time_s": [61.0], "tag": ["press"]})
    for changes, said in (
        ({"tracking": None}, "No tracking"),
        ({"events": None}, "No events"),
        ({"events": None, "tracking": None, "tags": tags}, "No phases of play"),
        ({"events": None, "tracking": None}, "No phases of play"),
    ):
        screen = Screen(Store(match.with_data(**changes)))
        assert said in screen.root.select_one({"name": "head"}).text
        assert (screen.playback is None) == ("tracking" in changes)
        screen.store.change(segment=((1, 0.0, 60.0),))


def test_two_screens_show_one_state(match):
    store = Store(match)
    one, two = Screen(store), Screen(store)
    one.filters.own.active = [0]
    assert two.filters.own.active == [0]
    assert chart_data(one) == chart_data(two)
    two.close()
    one.filters.own.active = []
    assert two.filters.own.active == [0]


# -- time line ---------------------------------------------------------------------------------------------


def test_bands_cover_the_phases_and_part_the_sides(match):
    store = Store(match)
    bands = phase_bands(store)
    assert len(bands["left"]) == len(store.phases)
    assert np.isfinite(bands["top"]).all() and (np.asarray(bands["right"]) > bands["left"]).all()
    away = [i for i, c in enumerate(bands["colour"]) if c != bands["colour"][0]]
    assert away  # both sides are there
    fraction = np.round(np.asarray(bands["top"]) % 1, 2)
    assert len(set(fraction[away]) & set(np.delete(fraction, away))) <= 2  # upper and lower half of a lane


def test_goals_carry_the_score(match):
    marks = match_marks(Store(match))
    scores = [t for t in marks["text"] if t]
    assert scores[-1] == final_score(match)
    assert all(sum(map(int, s.split("–"))) == i + 1 for i, s in enumerate(scores))
    assert "yellow card" in " ".join(marks["hover"])


# -- in Python and as a widget -----------------------------------------------------------------------------


def test_the_explorer_in_python(match):
    explorer = tk.explore(match, view="phase=build-up")
    assert explorer.selection.phases == {"build-up"}
    explorer.selection = tk.Selection(team="away")
    assert explorer.view == "team=a"
    explorer.view = "team=home;ghost=no"
    explorer.go_to("45:10")
    assert explorer.store.cursor == (2, 10.0)
    assert len(explorer.moments) > 0
    assert tk.explore(match, view=explorer.view).view == explorer.view
    with pytest.raises(TacticalKitError, match="cannot be read"):
        tk.explore(match, view="colour=red")


def test_the_widget_follows_and_leads(match):
    explorer = tk.explore(match)
    widget = explorer.as_widget()
    heard = []
    widget.observe(lambda change: heard.append((change["name"], change["new"])), names=["view", "segment"])
    explorer.store.change(segment=((1, 0.0, 60.0),))
    assert widget.segment == ((1, 0.0, 60.0),)
    assert widget.view == "team=h;time=1:0:60"
    widget.segment = ((2, 10.0, 20.0),)
    assert explorer.selection.segment == ((2, 10.0, 20.0),)
    assert widget.view == explorer.view
    widget.view = "team=away"
    assert explorer.selection.team == "a" and widget.segment == ()
    with pytest.raises(traitlets.TraitError, match="Did you mean 'team'"):
        widget.view = "tem=away"
    assert widget.view == explorer.view == "team=a"
    assert [name for name, _ in heard].count("view") == 3
    widget.close()


def test_interact_drives_the_widget_and_a_box_holds_it(match):
    widget = tk.explore(match).as_widget()

    def choose(minutes):
        widget.segment = ((1, 0.0, 60.0 * minutes),) if minutes else ()

    slider = ipywidgets.interactive(choose, minutes=(0, 4))
    text = ipywidgets.Text()
    ipywidgets.link((widget, "view"), (text, "value"))
    box = ipywidgets.VBox([slider, text, widget])
    assert box.children[-1] is widget
    slider.children[0].value = 3
    assert widget.explorer.selection.segment == ((1, 0.0, 180.0),) and text.value == "team=h;time=1:0:180"
    widget.explorer.store.change(phases={"build-up"})
    assert text.value == "team=h;phase=build-up;time=1:0:180"
    text.value = "team=a"
    assert widget.explorer.selection.team == "a" and widget.segment == ()
    widget.close()


def test_the_widget_drives_a_function_of_interact(match):
    widget = tk.explore(match).as_widget()
    heard = []
    made = ipywidgets.interactive(lambda state: heard.append(state), state=widget)
    assert widget in made.children
    widget.explorer.store.change(phases={"build-up"})
    assert heard[-1] == "team=h;phase=build-up"
    widget.value = "team=away"
    assert heard[-1] == widget.view == widget.explorer.view == "team=a"
    widget.close()


def test_a_screen_sends_data_only(screen):
    """A filter replaces columns of sources; it makes no new model."""
    before = {m.id for m in screen.root.references()}
    screen.store.change(phases={"progression"})
    screen.store.change(segment=((1, 0.0, 100.0),))
    assert {m.id for m in screen.root.references()} == before
    assert all(isinstance(s, ColumnDataSource) for c in screen.charts for s in c.canvas.sources.values())
