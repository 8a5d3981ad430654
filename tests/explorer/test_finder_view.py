"""Picker, list, filters, halves and claim on the page, without a browser: what the store says stands in the HTML."""

import html
import re

import numpy as np
import pytest
from bokeh.document import Document
from bokeh.events import Tap

from tactical_kit.explorer.app import Screen
from tactical_kit.explorer.claiming import Claiming
from tactical_kit.explorer.number_filters import ColumnFilter
from tactical_kit.explorer.places import places_scene
from tactical_kit.explorer.store import Store
from tactical_kit.match import Player
from tactical_kit.scenes.scene import Disc


@pytest.fixture
def screen(match, toy, tmp_path):
    store = Store(match)
    made = Screen(store, claiming=Claiming(store, tmp_path / "claims.toml"))
    Document().add_root(made.root)  # as if displayed
    made.asking.ask(ask="finder", value="toy")
    return made


def text_of(screen, place):
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", screen.words.shown(place))))


def test_the_picker_names_every_finder_with_its_sentence_and_why_not(screen):
    shown = screen.words.shown("finder-pick")
    assert '<option value="toy" selected>toy</option>' in shown
    assert "<option disabled>toy of stills: needs digitised stills, which this match does not have</option>" in shown
    assert "A pass, with whatever a test may ask of it." in text_of(screen, "finder-pick")
    assert "Nothing that this match has. needs digitised stills, which this match does not have." in text_of(
        screen, "finder-pick"
    )


def test_the_list_has_the_finders_own_columns_with_words_and_units(screen):
    table = screen.words.shown("moment-table")
    assert 'title="how far the pass went">length <i>m</i></th>' in table
    assert table.count("<tr data-ask") == 10
    first = screen.store.page_rows.iloc[1]
    assert re.search(rf'data-value="{first["moment_id"]}".*?<td class="c0 n">{first["length_m"]:.0f}</td>', table)
    assert "<th>side</th>" not in table  # all are of one side
    screen.filters.team.active = 2
    assert "<th>side</th>" in screen.words.shown("moment-table")


def test_pages(screen):
    assert "page 1 of" in text_of(screen, "moment-table")
    screen.asking.ask(ask="page", value="1")
    assert screen.store.page == 1 and "page 2 of" in text_of(screen, "moment-table")


def test_a_moment_in_full(screen):
    assert screen.words.shown("moment-card") == ""
    row = screen.store.moments.table.iloc[1]
    screen.asking.ask(ask="moment", value=row["moment_id"])
    told = text_of(screen, "moment-card")
    assert f"how far the pass went {row['length_m']:.0f} m" in told
    assert "who got it " + screen.store.match.players[row["receiver"]].name in told
    players = screen.store.match.tracking.players
    assert screen.playback.command.data["ring"] == [",".join(str(players.index(p)) for p in row["players"])]
    assert screen.playback.command.data["place_x"] == [row["x"]]


def test_a_limit_typed_or_drawn_filters_the_list_the_pitch_and_the_timeline(screen):
    store = screen.store
    before = len(screen.timeline.moments.data["left"])
    screen.asking.ask(ask="limit", column="length_m", end="low", value="20,5")  # a comma is a point
    assert store.finding.filters == (ColumnFilter("length_m", 20.5, None),)
    assert len(screen.timeline.moments.data["left"]) == len(store.moments) < before
    placed = store.moments.table[["x", "y"]].notna().all(axis=1).sum()
    assert len(screen.places.canvas.sources["main.discs"].data["x"]) == placed
    assert f"{len(store.moments)} of the {len(store.selected_moments)} that fit" in text_of(screen, "moment-head")
    assert "length 20.5 m or more ×" in text_of(screen, "numbers")
    facet = store.facets[0]
    screen.asking.ask(ask="brush", column="length_m", a=0.25, b=0.75)
    limit = store.finding.filter_of("length_m")
    wide = facet.high - facet.low
    assert limit.low == pytest.approx(facet.low + 0.25 * wide, abs=1)
    assert limit.high == pytest.approx(facet.low + 0.75 * wide, abs=1)
    screen.asking.ask(ask="brush", column="length_m", a=0, b=1)  # a click drops it
    assert store.finding.filters == ()


def test_words_and_what_is_unknown(screen):
    store = screen.store
    screen.asking.ask(ask="choice", column="outcome", value="complete", checked=True)
    screen.asking.ask(ask="unknown", column="outcome", value="", checked=True)
    assert store.finding.filter_of("outcome") == ColumnFilter("outcome", values={"complete"}, unknown=True)
    screen.asking.ask(ask="drop", column="outcome")
    assert store.finding.filters == ()
    facet = next(f for f in store.facets if f.column.name == "length_m")
    assert f"unknown, too {facet.unknown}" in text_of(screen, "numbers")


def test_what_cannot_be_read_is_refused_beside_the_picker_and_the_field_shows_what_holds(screen):
    screen.asking.ask(ask="limit", column="length_m", end="low", value="20")
    sent = []
    screen.words.source.on_change("data", lambda attr, old, new: sent.append(dict(new)))
    screen.asking.ask(ask="limit", column="length_m", end="low", value="far")
    assert "a limit of length_m is 'far'; expected a number, or nothing." in text_of(screen, "thresholds")
    assert "numbers" in sent[-1]["slot"]  # written anew, with 20 in the field
    screen.asking.ask(ask="limit", column="length_m", end="high", value="10")
    assert "length_m from 20 to 10: the lower limit lies above the upper one." in text_of(screen, "thresholds")
    screen.asking.ask(ask="limit", column="length_m", end="high", value="30")
    assert 'class="alert"' not in screen.words.shown("thresholds")
    screen.asking.ask(ask="finder", value="toy of stills")
    assert "list is 'toy of stills'; expected one of" in text_of(screen, "finder-pick")
    screen.asking.ask(ask="nothing we know")
    assert screen.asking.answered.data == {"nonce": [0]}


def test_thresholds_with_words_units_and_a_way_back(screen):
    assert "all at their defaults" in text_of(screen, "thresholds")
    assert "Shorter passes are left out, m. They say little." in text_of(screen, "thresholds")
    screen.asking.ask(ask="threshold", name="least_m", value="15")
    assert screen.store.finding.thresholds == (("least_m", 15.0),)
    assert "1 changed" in text_of(screen, "thresholds") and "(default 0)" in text_of(screen, "thresholds")
    screen.asking.ask(ask="threshold", name="strict", value="on", checked=True)
    screen.asking.ask(ask="threshold", name="least_m", value="2000")
    assert "least_m is 2000; a pitch is not that long." in text_of(screen, "thresholds")
    assert dict(screen.store.finding.thresholds) == {"least_m": 15.0, "strict": True}
    screen.asking.ask(ask="threshold", value="")
    assert screen.store.finding.thresholds == ()


def test_empty_states_say_what_to_do(screen):
    screen.asking.ask(ask="limit", column="length_m", end="low", value="400")
    assert "The filters on their numbers leave none: drop one." in text_of(screen, "moment-head")
    assert screen.words.shown("moment-table") == ""
    assert screen.places.canvas.scene.message == "No moment is left"
    screen.asking.ask(ask="drop")
    screen.store.change(segment=((1, 299.0, 300.0),))
    assert "None fits the selection of side, time and phase: widen it." in text_of(screen, "moment-head")
    screen.asking.ask(ask="threshold", name="least_m", value="999")
    assert "None found in this match, of either side. Other thresholds may find some." in text_of(screen, "moment-head")
    assert screen.words.shown("numbers") == ""


def test_places_keep_to_the_pitch_and_say_what_has_none(screen):
    store = screen.store
    scene = places_scene(store.match, store.moments.table, str(store.moments["moment_id"][1]))
    discs = scene.of(Disc)
    missing = int(store.moments["x"].isna().sum())
    assert len(discs) == len(store.moments) - missing
    assert scene.caption == f"{missing} of {len(store.moments)} have no place"
    assert scene.attacking == "Ald attack →" and [d.picked for d in discs].count(True) == 1
    assert all(abs(d.x) <= store.match.pitch.half_length for d in discs)


def test_a_dot_and_a_bar_of_the_timeline_are_picked_to_play(screen):
    store = screen.store
    discs = screen.places.canvas.sources["main.discs"]
    key = discs.data["key"][3]
    discs.selected.indices = [3]
    assert store.moment["moment_id"] == key
    colours = screen.timeline.moments.data["colour"]
    assert len(set(colours)) == 2
    place = store.moments["moment_id"].tolist().index(key)
    assert colours.count(colours[place]) == 1
    other = store.moments.table.iloc[20]
    at = float(store.match.clock.timeline(other["period"], other["start_s"])) + 0.5
    low = screen.timeline.figure.y_range.start
    screen.timeline.figure._trigger_event(Tap(screen.timeline.figure, x=at, y=low + 0.5))
    assert store.moment["moment_id"] == other["moment_id"]
    screen.timeline.figure._trigger_event(Tap(screen.timeline.figure, x=at, y=0.0))  # elsewhere: the cursor alone
    assert store.cursor[1] != other["start_s"] and store.moment["moment_id"] == other["moment_id"]


def test_halves_are_worked_out_only_while_they_are_unfolded(screen):
    assert screen.words.shown("halves") == ""
    screen.root.select_one({"name": "halves-fold"}).active = True
    first, second = (len(screen.store.moments.where(period=p)) for p in (1, 2))
    assert text_of(screen, "half-1-head").startswith(f" First half {first} moments")
    assert f"first half {first} in " in text_of(screen, "halves") and f"second half {second} in " in text_of(
        screen, "halves"
    )
    screen.asking.ask(ask="compare", value="length_m")
    assert screen.store.finding.compare == "length_m" and screen.words.shown("halves").count("<svg") == 2
    screen.asking.ask(ask="compare", column="outcome", value="complete")
    assert screen.store.finding.compare == "outcome:complete" and "<svg" not in screen.words.shown("halves")
    screen.asking.ask(ask="limit", column="length_m", end="low", value="400")
    assert "No moment is left, so there is nothing to compare." in text_of(screen, "halves")
    screen.root.select_one({"name": "halves-fold"}).active = False
    screen.asking.ask(ask="drop")
    assert "No moment is left" in text_of(screen, "halves")  # not worked out again


def test_a_claim_with_its_verdict_its_counterexamples_and_its_sheet(screen):
    screen.root.select_one({"name": "claim-fold"}).active = True
    assert "Filter the moments by one of their own numbers first" in text_of(screen, "claim-verdict")
    screen.asking.ask(ask="limit", column="length_m", end="low", value="15")
    screen.asking.ask(ask="claim-text", value="They usually play it far")
    told = text_of(screen, "claim-verdict")
    checked = screen.claim.claiming.check()
    assert checked.short_verdict in told and checked.sentence in told
    against = re.findall(r'data-ask="moment" data-value="([^"]+)"', screen.words.shown("claim-verdict"))
    assert against == checked.result.counterexamples["moment_id"].tolist()[:24]
    screen.asking.ask(ask="moment", value=against[0])
    assert screen.store.moment["moment_id"] == against[0]
    assert "not in the list: the filters leave it out" in text_of(screen, "moment-card")
    assert "It does not exist yet; the first claim begins it." in text_of(screen, "claim-sheet")
    screen.asking.ask(ask="claim-add", text="They usually play it far")
    assert "Added as claim 1." in text_of(screen, "claim-sheet")
    assert str(screen.claim.claiming.path) in text_of(screen, "claim-sheet")
    assert "1 claim stands in it." in text_of(screen, "claim-sheet")


def test_a_claim_that_is_refused_says_why_and_keeps_what_was_typed(screen):
    screen.root.select_one({"name": "claim-fold"}).active = True
    screen.asking.ask(ask="claim-add", text="Usually far")
    assert 'class="alert">Filter the moments by one of their own numbers first' in screen.words.shown("claim-form")
    assert 'value="Usually far"' in screen.words.shown("claim-form")
    assert not screen.claim.claiming.path.exists()


def test_names_are_data(match, toy):
    evil = "<img src=x onerror=alert(1)>"
    home = match.home
    players = tuple(Player(p.player_id, f"{evil} {i}", "h", p.shirt, p.position) for i, p in enumerate(home.players))
    named = match.with_data(home=type(home)("h", f"{evil} FC", evil, players), label=evil)
    screen = Screen(Store(named))
    Document().add_root(screen.root)
    screen.asking.ask(ask="finder", value="toy")
    screen.asking.ask(ask="choice", column="receiver", value="h2", checked=True)
    screen.asking.ask(ask="moment", value=screen.store.moments["moment_id"][0])
    for name in ("halves", "claim"):
        screen.root.select_one({"name": f"{name}-fold"}).active = True
    screen.asking.ask(ask="compare", value="receiver")
    screen.asking.ask(ask="claim-text", value=f'"{evil}" usually')
    for place, text in screen.words._shown.items():
        assert "<img" not in text, place
    assert np.char.find(screen.words.shown("claim-form"), "&quot;&lt;img") > 0


def test_tags_and_nothing_at_all(match, toy):
    import pandas as pd

    tags = pd.DataFrame({"period": [1], "time_s": [61.0], "tag": ["press"]})
    screen = Screen(Store(match.with_data(events=None, tracking=None, tags=tags)))
    assert "What the analyst logged, tag by tag." in text_of(screen, "finder-pick")
    screen.root.select_one({"name": "claim-fold"}).active = True
    assert "A claim is made of what a finder finds; tags are not." in text_of(screen, "claim-verdict")
    bare = Screen(Store(match.with_data(events=None, tracking=None)))
    for name in ("halves", "claim"):
        bare.root.select_one({"name": f"{name}-fold"}).active = True
    assert "No list: the match has neither events, tracking nor tags." in text_of(bare, "finder-pick")
