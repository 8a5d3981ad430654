"""The functions for a notebook cell."""

import re

import pytest

import tactical_kit as tk
from tactical_kit.errors import MissingDataError, TacticalKitError, UnknownNameError
from tactical_kit.measures.pass_network import pass_network
from tactical_kit.measures.selection import Selection
from tactical_kit.scenes import Disc, Zone
from tactical_kit.scenes.charts import network_scene

SHOWS = (tk.show_pass_network, tk.show_progression, tk.show_pressure)


def test_match_and_index_give_the_same_scene(index):
    text = "team=h;time=1:0:300"
    from_index = tk.show_pass_network(index, text)
    assert from_index == network_scene(pass_network(index, Selection.from_text(text)), index.match)


@pytest.mark.parametrize("show", SHOWS)
def test_a_match_is_prepared_once(match, show):
    first = show(match, Selection(team="h"))
    kept = vars(match)["_prepared_for_charts"]
    assert show(match, "team=h") == first
    assert vars(match)["_prepared_for_charts"] is kept


@pytest.mark.parametrize("show", SHOWS)
def test_compare_adds_the_whole_match(index, show):
    plain, compared = show(index, "team=h;time=1:0:600"), show(index, "team=h;time=1:0:600", compare=True)
    assert plain != compared
    assert any("whole match" in item.text for item in compared.legend)
    assert not any("whole match" in item.text for item in plain.legend)


def test_compare_of_pressing_stays_on_the_same_side_of_the_ball(index):
    scene = tk.show_pressure(index, "team=a;phase=high_press", compare=True)
    assert scene.title == "Pressure by Beck Rovers"
    notes = {z.note for z in scene.of(Zone) if z.note}
    assert notes == {"= 0"}  # in this match the side presses high all the time


def test_empty_selection_names_the_condition(index):
    scene = tk.show_pass_network(index, "team=h;phase=low_block")
    assert re.fullmatch(
        r"No completed passes left to draw\.\n“in a low block” leaves nothing; without it \d+ actions would be left\.",
        scene.message,
    )


def test_instant_by_clock(match):
    scene = tk.show_instant(match, "46:40", team="away", names=True)
    assert scene.title == "46:40" and len(scene.of(Disc)) == 12
    assert tk.show_instant(match, "46:40", compare="46:30").of(Disc, "ghost")


def test_what_is_missing_is_said(new_match, match):
    with pytest.raises(MissingDataError, match=r"^A snapshot of an instant needs tracking; this match has events\. "):
        tk.show_instant(new_match(tracking=False), "10:00")
    with pytest.raises(TacticalKitError, match=r"^clock 'ten'; expected minutes:seconds as '63:12', or"):
        tk.show_instant(match, "ten")
    with pytest.raises(TacticalKitError, match=r"^a chart needs a Match or a MatchIndex; met str\.$"):
        tk.show_pressure("match")
    with pytest.raises(TacticalKitError, match=r"^show_instant needs a Match; met str\.$"):
        tk.show_instant("match", "10:00")
    with pytest.raises(UnknownNameError, match=r"^team 'x' does not play in this match; "):
        tk.show_pass_network(match, "team=x")


@pytest.mark.parametrize("data", [{"tracking": False}, {"events": False}, {"tracking": False, "events": False}])
@pytest.mark.parametrize("show", SHOWS)
def test_every_level_of_data_gives_a_picture_or_says_why_not(new_match, show, data):
    scene = show(new_match(**data), "team=h")
    assert scene.source == "invented demonstration data"
    assert scene.message or scene.n > 0


def test_notebook_cell_shows_a_png(index):
    data, facts = tk.show_progression(index, "team=h")._repr_png_()
    assert data.startswith(b"\x89PNG") and facts["alt"].startswith("Where the ball gains ground, Alder Town.")


def test_why_a_picture_is_empty_counts_what_the_picture_counts(new_match):
    """Seconds for the pressure map of tracking; no condition is blamed for events that are not there."""
    match = new_match(events=False)
    assert (
        tk.show_pass_network(match, "team=h").message == "No completed passes left to draw.\nThe match has no events."
    )
    assert tk.show_progression(match, "team=h").message.endswith("\nThe match has no events.")
    assert re.fullmatch(
        r"No time on the ball left to draw\.\n“first half 09:59-10:00” leaves nothing; without it \d\d+ seconds would be "
        r"left\.",
        tk.show_pressure(match, "team=h;time=1:599.99:600").message,
    )


@pytest.mark.parametrize("clocks", [{"clock": 63}, {"clock": "01:00", "compare": 63}])
def test_a_clock_that_is_no_text(match, clocks):
    with pytest.raises(TacticalKitError, match=r"^clock 63; expected a text with minutes and seconds, as '63:12'\.$"):
        tk.show_instant(match, **clocks)
