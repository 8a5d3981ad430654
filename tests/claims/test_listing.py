"""Finders and moments as text.  Common practice, no source."""

import pandas as pd
import pytest

from tactical_kit.claims.listing import (
    about_finder,
    finders_text,
    moments_table,
    moments_text,
    threshold_value,
)
from tactical_kit.errors import TacticalKitError
from tactical_kit.finders import find, finder_names, get_finder


def test_every_finder_is_listed_with_needs_and_sentence(demo):
    text = finders_text()
    for name in finder_names():
        assert any(line.startswith(f"{name} ") for line in text.splitlines())
        assert " ".join(get_finder(name).finds.split()) in " ".join(text.split())
    assert "Cannot run" not in text
    full = finders_text(demo)
    assert full.endswith(
        f"\n{len(finder_names())} of {len(finder_names())} finders can run on a match with events and tracking."
    )
    poor = finders_text(demo.with_data(events=None))
    assert "    Cannot run here: this match has no events." in poor


def test_lines_keep_to_the_width():
    assert max(map(len, finders_text(width=80).splitlines())) <= 80


@pytest.mark.parametrize("name", finder_names())
def test_all_about_a_finder(name):
    text = about_finder(name)
    finder = get_finder(name)
    for column, described in finder.columns.items():
        assert f"  {column} " in text
        assert " ".join(described.words.split()) in " ".join(text.split())
    for threshold, default in finder.thresholds.items():
        assert f"  {threshold} " in text and repr(default) in text


def test_what_a_threshold_means_is_told():
    text = " ".join(about_finder("shot").split())
    assert "before_s 8.0 The moment begins this long before the shot, not before the period does, s." in text
    assert "in Python tk.find_shots(match)" in text
    with pytest.raises(TacticalKitError, match=r"^finder is 'shott'; expected one of .* Did you mean 'shot'\?$"):
        about_finder("shott")


@pytest.mark.parametrize(
    ("finder", "setting", "value"),
    [
        ("shot", "before_s=5", ("before_s", 5.0)),
        ("shot", " before_s = 2.5 ", ("before_s", 2.5)),
        ("possession", "source=events", ("source", "events")),
        ("phase", "first_line_players=4", ("first_line_players", 4)),
    ],
)
def test_a_threshold_is_set(finder, setting, value):
    found = threshold_value(finder, setting)
    assert found == value and type(found[1]) is type(value[1])


@pytest.mark.parametrize(
    ("setting", "sentence"),
    [
        ("before_s", "'before_s' sets nothing; expected threshold=value, as before_s=5."),
        ("before_s=far", "before_s is 'far'; expected a number, as its default 8.0."),
        (
            "befor_s=5",
            "a threshold of finder 'shot' is 'befor_s'; expected one of 'before_s', 'after_s', 'shoot_out'. Did you mean 'before_s'?",
        ),
    ],
)
def test_a_threshold_that_cannot_be_set(setting, sentence):
    with pytest.raises(TacticalKitError) as refused:
        threshold_value("shot", setting)
    assert str(refused.value) == sentence


def test_moments_are_listed_with_clock_and_names(demo):
    shots = find(demo, "shot")
    table = moments_table(shots, demo)
    row = shots.table.iloc[0]
    assert table["clock"][0] == demo.clock.label(int(row.period), row.start_s)
    assert table["team"][0] == demo.team(row.team).short_name
    assert table["players"][0] == demo.players[row.players[0]].name
    assert pd.api.types.is_float_dtype(table["goal_distance_m"])
    text = moments_text(shots, demo)
    assert text.endswith(f"\n\n{len(shots)} moments of 'shot'.")
    assert len(text.splitlines()) == len(shots) + 3
    assert moments_text(shots.where(outcome="nothing"), demo) == "0 moments of 'shot'."


def test_control_characters_of_data_do_not_reach_the_terminal(demo, made):
    found = made(1, outcome="\x1b[31mred")
    assert "�[31mred" in moments_text(found, demo)
