"""The match story: only what the whole interval bears is told, and each line leads to its moments."""

import dataclasses
import re

import drawing as drawn
import numpy as np
import pytest

import tactical_kit as tk
from tactical_kit.claims import add_to_claim_sheet, claim, matching, run_claim_sheet
from tactical_kit.claims.words import SHARE_WORDS
from tactical_kit.finders import find, finder_names, get_finder
from tactical_kit.match import empty_events, events_table
from tactical_kit.story import FACTS, KINDS, NUMBERS, SINGLES, TOPICS, Fact, Number, match_story
from tactical_kit.story.single import far_out


@pytest.fixture(scope="module")
def match():
    return tk.demo_match()


@pytest.fixture(scope="module")
def story(match):
    return match_story(match, progress=False)


def test_every_fact_can_be_asked(match):
    """Each names a finder, a topic, and conditions on columns that there are."""
    for fact in FACTS:
        assert fact.topic in TOPICS
        found = find(match, fact.finder)
        of = matching(found, list(fact.of), match) if fact.of else found
        matching(of, list(fact.where), match)
    for number in (*NUMBERS, *SINGLES):
        assert number.topic in TOPICS and number.column in get_finder(number.finder).columns
        assert get_finder(number.finder).columns[number.column].dtype in ("float64", "int64")
        if number.of:
            matching(find(match, number.finder), list(number.of), match)


def test_no_fact_is_blind(match):
    """A fact that is never or always so in 95 minutes of both sides would tell nothing: it is likely misspelt."""
    blind = []
    for fact in FACTS:
        found = find(match, fact.finder)
        of = matching(found, list(fact.of), match) if fact.of else found
        if len(of) >= 10 and len(matching(of, list(fact.where), match)) in (0, len(of)):
            blind.append(fact.says)
    assert blind == []


def test_every_finder_is_run_or_named_with_the_reason(match, story):
    assert {*story.counts, *story.skipped} == {n for n in finder_names() if n not in ("phase", "possession")}
    assert story.skipped == {}
    assert story.counts["shot"] == match.events.query("kind == 'shot'")["team"].value_counts().to_dict()


def test_each_line_holds_as_a_claim(match, story, tmp_path):
    """What is told can be put on a claim sheet, and the sheet bears it."""
    sheet = tmp_path / "outline.toml"
    told = [line for line in story if line.entry]
    for line in told:
        add_to_claim_sheet(sheet, **line.entry)
    result = run_claim_sheet(match, sheet)
    assert result.holds and len(result) == len(told) > 20


def test_frequent_lines_are_counted_right(match, story):
    """Counted again by hand: moments of the side that meet the conditions, and the word fits the whole interval."""
    for line in story.where(kind="frequent"):
        found = find(match, line.entry["finder"])
        of = matching(found, line.entry["of"], match) if line.entry["of"] else found
        of = of.where(team=line.team)
        true = matching(of, line.entry["where"], match)
        assert f"{len(true)} of {len(of)}" in line.text
        assert set(true["moment_id"]) == set(line.moments["moment_id"])
        word, interval = SHARE_WORDS[line.entry["word"]], claim("", true, of, match=match).judged_on
        assert word.exact or (interval.low >= word.low and interval.high <= word.high)


def test_changes_leave_chance_out_and_few_out(story):
    for line in story.where(kind="changed"):
        halves = line.of["period"].value_counts()
        assert halves.min() >= 10
        assert re.search(r"interval .* (more|less)", line.text) and "first half" in line.text


def test_order_and_parts(story):
    places = [(TOPICS.index(line.topic), KINDS.index(line.kind)) for line in story]
    assert places == sorted(places)
    assert sum(len(story.where(kind=k)) for k in KINDS) == len(story)
    home = story.where(team="home")
    assert 0 < len(home) < len(story) and {line.team for line in home} == {story.match.home.team_id}


def test_text_says_the_caution_the_data_and_the_minutes(story):
    text = str(story)
    assert "(invented demonstration data): a first outline" in text.splitlines()[0]
    assert story.caution in text and f"{story.asked} shares and means were compared" in story.caution
    for number, line in enumerate(story.lines):
        assert f"[{number}] {line.text}" in text
    assert "<li" in story._repr_html_() and text.count("[") >= len(story)


def test_the_same_story_twice(match, story):
    assert str(match_story(match, progress=False)) == str(story)


def test_names_are_escaped():
    match = long_match((30, 30))
    home = dataclasses.replace(match.home, name="<b>Lanterns</b>")
    shown = match_story(match.with_data(home=home), facts=(SCORED,), progress=False)._repr_html_()
    assert "<b>Lanterns" not in shown and "&lt;b&gt;Lanterns" in shown


def test_less_data_a_shorter_story(match, story):
    events = match_story(match.with_data(tracking=None), progress=False)
    assert events.skipped and all(why.startswith("needs ") for why in events.skipped.values())
    assert "Not looked for: " in str(events)
    tracking = match_story(match.with_data(events=None), progress=False)
    assert "shot" in tracking.skipped and len(tracking) > 5


def test_nothing_to_tell():
    match = drawn.Drawing(4.0).hold("a3", 0, 4).match(events=False)
    told = match_story(match.with_data(events=empty_events()), progress=False)
    assert len(told) == 0
    assert "Nothing to tell: too few instances, or nothing that stands out." in str(told)


def long_match(shares, n=30):
    """Shots of side a by half: the first so many of each half go in."""
    match = drawn.Drawing(4.0).hold("a3", 0, 4).match()
    import pandas as pd

    rows = []
    for period, goals in zip((1, 2), shares):
        rows += [
            {"period": period, "time_s": 60.0 * i + 30, "kind": "shot", "team": "a", "player": "a9", "x": 40.0, "y": 0.0,
             "outcome": "goal" if i < goals else "saved"} for i in range(n)
        ]  # fmt: skip
    from tactical_kit.match import Period

    return match.with_data(
        events=events_table(pd.DataFrame(rows)), tracking=None, periods=(Period(1, 2700.0, 1), Period(2, 2700.0, -1))
    )


SCORED = Fact("Near the goals", "shot", "scored from their shots", ("outcome is goal",))


@pytest.mark.parametrize(("goals", "kinds"), [((30, 30), {"frequent"}), ((24, 6), {"changed"}), ((15, 17), set())])
def test_what_is_planted_is_told_and_what_is_not_is_not(goals, kinds):
    """30 of 30 twice: always.  24 against 6 of 30: changed.  15 against 17 of 30: chance, so nothing is told."""
    told = match_story(long_match(goals), facts=(SCORED,), numbers=(), singles=(), progress=False)
    assert {line.kind for line in told} == kinds


def test_a_moment_far_out_is_told():
    """29 shots from 12.5 to 19.5 m, one from 60 m: by hand the fence is 3 quartile distances above the upper one."""
    match = long_match((0, 0), n=15)
    events = match.events.copy()
    events["x"] = (52.5 - np.linspace(12.5, 19.5, 30)) * np.where(events["period"] == 1, 1, -1)
    events.loc[7, "x"] = -7.5
    found = find(match.with_data(events=events), "shot")
    said = list(far_out(found, Number("Near the goals", "shot", "distance of one shot", "goal_distance_m"), match))
    assert [row for row, _ in said] == [7]
    assert said[0][1].startswith("Side A at 07:22: distance of one shot 60 m, against ")
    assert (
        list(far_out(found.where(found["goal_distance_m"] < 59), Number("", "shot", "", "goal_distance_m"), match))
        == []
    )
