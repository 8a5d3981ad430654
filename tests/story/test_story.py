"""The match story: only what the whole interval bears is told, and each line leads to its moments."""

import dataclasses
import re

import drawing as drawn
import numpy as np
import pytest

import tactical_kit as tk
from tactical_kit.claims import Condition, add_to_claim_sheet, claim, matching, run_claim_sheet
from tactical_kit.claims.words import SHARE_WORDS
from tactical_kit.finders import find, finder_names, get_finder
from tactical_kit.match import Period, empty_events, events_table
from tactical_kit.moments import Moments
from tactical_kit.story import FACTS, KINDS, NUMBERS, SINGLES, TOPICS, Fact, Number, match_story
from tactical_kit.story.shapes import shape_lines
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
    told = [line for line in story.where(kind="frequent") if line.topic != "Shape"]
    assert len(told) > 15
    for line in told:
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
        if line.topic == "Shape":
            continue
        halves = line.of["period"].value_counts()
        assert halves.min() >= 10
        assert re.search(r"interval .* (more|less)", line.text) and "first half" in line.text


def test_order_and_parts(story):
    places = [(TOPICS.index(line.topic), KINDS.index(line.kind)) for line in story]
    assert places == sorted(places)
    assert sum(len(story.where(kind=k)) for k in KINDS) == len(story)
    home = story.where(team="home")
    assert 0 < len(home) < len(story) and {line.team for line in home} == {story.match.home.team_id, ""}
    assert {line.team for line in story if "The sides differ" in line.text} == {""}
    for line in story:
        if line.kind == "frequent":
            own, other = story.match.team(line.team), story.match.opponent(line.team)
            assert line.text.startswith(own.name) and other.name not in line.text


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
    assert said[0][1] == "Side A at 07:22, distance of one shot: 60 m; the median of all 30 is 16.2 m."
    assert (
        list(far_out(found.where(found["goal_distance_m"] < 59), Number("", "shot", "", "goal_distance_m"), match))
        == []
    )


# What a finder says by no value: it did not happen, rather than that it is unknown.
NOTHING_IS_AN_ANSWER = {"third_s", "opponent_drawn", "conceded"}


@pytest.mark.parametrize("fact", FACTS, ids=lambda fact: fact.says)
def test_what_is_unknown_is_no_witness(fact):
    """A moment of which it is not known must not count as one of which it is not true."""
    columns = get_finder(fact.finder).columns
    asked = {Condition.from_text(text).column for text in fact.where}
    left_out = {Condition.from_text(t).column for t in fact.of if t.endswith(" is known") or t in columns}
    for name in asked - NOTHING_IS_AN_ANSWER:
        assert columns[name].dtype not in ("float64", "boolean") or name in left_out | {"seconds"}, name


def test_no_finder_is_left_unasked():
    asked = {one.finder for one in (*FACTS, *NUMBERS)} | {"line-up shape"}
    assert {*finder_names()} - asked == {"phase", "possession"}


def test_moments_that_cannot_be_so_are_not_counted(match):
    """Who faces the goal already cannot turn; where no line was beaten none was gone through."""
    turned = next(f for f in FACTS if f.says.startswith("turned"))
    found = find(match, "between the lines")
    assert len(matching(found, list(turned.of), match)) == int((found["facing"] != "goal").sum()) < len(found)
    through = next(f for f in FACTS if f.says.startswith("went through the line"))
    found = find(match, "lines beaten")
    assert len(matching(found, list(through.of), match)) == int((found["line"] != "").sum()) < len(found)


def test_changes_of_shares_are_counted_right(match, story):
    """By hand: of the side, of the moments looked at, in either half."""
    told = [line for line in story.where(kind="changed") if "where" in line.entry]
    assert told
    for line in told:
        for period, name in ((1, "first half"), (2, "second half")):
            count, base = (len(m.where(period=period, team=line.team)) for m in (line.moments, line.of))
            assert f"{name} {count} of {base}, " in line.text
        where = [Condition.from_text(text) for text in line.entry["where"]]
        mask = np.logical_and.reduce([c.mask(line.of, match) for c in where])
        assert line.of["moment_id"][mask].tolist() == line.moments["moment_id"].tolist()


def test_extra_time_is_no_second_half():
    """Nine shots in the second half are few, however many come in extra time."""
    match = long_match((24, 6), n=30)
    events = match.events.copy()
    late = events.index[events["period"] == 2][9:]
    events.loc[late, "period"] = 3
    told = match_story(match.with_data(events=events, periods=(*match.periods, Period(3, 2000.0, 1))),
                       facts=(SCORED,), numbers=(), singles=(), progress=False)  # fmt: skip
    assert told.asked == 0 and not told.where(kind="changed").lines


def test_nothing_found_is_said_of_how_many():
    missed = Fact("Near the goals", "shot", "hit the woodwork", ("outcome is woodwork",))
    told = match_story(long_match((30, 30)), facts=(missed,), numbers=(), singles=(), progress=False)
    assert "Side A never hit the woodwork: 0 of 60, 0 %, 95 % interval 0-6 %. (shot: none of 60)" in str(told)
    assert told.caution == "An outline to start from, no findings: look at the moments before you write."
    assert "Moments that were looked at, Side A v Side B: " in str(told) and "shot 60 v 0" in str(told)


@pytest.mark.parametrize("width", [80, 120])
def test_the_text_fits_and_tears_nothing(story, width):
    lines = story.to_text(width).splitlines()
    assert max(map(len, lines)) <= width
    assert not [line for line in lines if line.endswith("-") or line.lstrip().startswith("%")]


def test_shapes_by_hand():
    """Side a without the ball: 4-4-2 for 5 of 6 minutes, then 5-4-1 for all 4; with the ball too little time."""
    match = drawn.Drawing(4.0).hold("a3", 0, 4).match()
    rows = [
        {"period": period, "start_s": start, "end_s": start + seconds, "team": "a", "players": (), "side": side,
         "phase": phase, "shape": shape, "seconds": seconds}
        for period, start, seconds, side, phase, shape in (
            (1, 0.0, 300.0, "out", "mid-block", "4-4-2"), (1, 400.0, 60.0, "out", "mid-block", "4-2-3-1"),
            (2, 0.0, 240.0, "out", "mid-block", "5-4-1"), (2, 300.0, 100.0, "in", "build-up", "3-2-5"),
        )
    ]  # fmt: skip
    found = Moments.build("line-up shape", rows, {"side": "str", "phase": "str", "shape": "str", "seconds": "float64"})
    told = [
        (kind, team, text, int(inside.sum()), int(of.sum()))
        for kind, team, text, inside, of in shape_lines(found, match)
    ]
    assert told == [
        ("frequent", "a", "Side A without the ball: mid-block 4-4-2 (5.0 of 10.0 min).", 1, 3),
        ("changed", "a", "Side A, mid-block: 4-4-2 in the first half (5.0 of 6.0 min), 5-4-1 in the second half (4.0 of 4.0 min).", 3, 3),
    ]  # fmt: skip


def test_few_may_be_set():
    match = long_match((4, 4), n=4)
    assert not match_story(match, facts=(SCORED,), numbers=(), singles=(), progress=False).lines
    told = match_story(match, facts=(SCORED,), numbers=(), singles=(), few=5, progress=False)
    assert [line.text.split(":")[0] for line in told] == ["Side A always scored from their shots"]
