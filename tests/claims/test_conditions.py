"""Conditions as texts and tables: what each means, edges, what cannot be read; nothing is run.

Common practice, no source.
"""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tactical_kit.claims.conditions import FORMS, Condition, Operand, column_values, matching
from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.finders import find
from tactical_kit.moments import Moments


@pytest.fixture
def found(made):
    return made(
        6, won=[0, 1, 2], n_for=[2, 3, 4, 5, 6, 7], n_against=[2, 2, 4, 6, 5, 7],
        regain_s=[0.5, 2.0, 5.0, np.nan, 8.0, 2.5], outcome=["lost", "out", "win or lose", "", "goal", "yes"],
        route=["short", "short", "long", "long", "direct switch", "outcome"], players=[("a", "b"), ("b",), (), (), (), ("c",)],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("regain_s at least 2", [1, 2, 4, 5]),
        ("regain_s more than 2", [2, 4, 5]),
        ("regain_s at most 2", [0, 1]),
        ("regain_s is less than 2", [0]),
        ("regain_s <= 2.0", [0, 1]),
        ("regain_s between 2 and 5", [1, 2, 5]),
        ("regain_s is 5", [2]),
        ("regain_s is not 5", [0, 1, 4, 5]),  # what is unknown meets no comparison
        ("regain_s is unknown", [3]),
        ("regain_s is known", [0, 1, 2, 4, 5]),
        ("regain_s at least -1", [0, 1, 2, 4, 5]),
        ("n_for more than n_against", [1, 4]),
        ("n_for is n_against", [0, 2, 5]),
        ("n_for at least n_against + 1", [1, 4]),
        ("n_for < n_against - 0.5", [3]),
        ("n_for is 2 or 3", [0, 1]),
        ("duration_s is 5", [0, 1, 2, 3, 4, 5]),
        ("won", [0, 1, 2]),
        ("not won", [3, 4, 5]),
        ("won is yes", [0, 1, 2]),
        ("won is not true", [3, 4, 5]),
        ("outcome is lost", [0]),
        ("outcome is lost or out", [0, 1]),
        ("outcome is not lost or out", [2, 3, 4, 5]),
        ('outcome is "win or lose"', [2]),
        ('outcome is "win or lose" or goal', [2, 4]),
        ("outcome is 'lost' or \"out\"", [0, 1]),
        ('outcome is ""', [3]),
        ("outcome is known", [0, 1, 2, 4, 5]),
        ("outcome is yes", [5]),
        ("route is direct  switch", [4]),
        ('route is "outcome"', [5]),  # quoted: the word, not the column
        ("route is outcome", []),  # the column
        ("players has a", [0]),
        ("players has a or c", [0, 5]),
        ("players has not b", [2, 3, 4, 5]),
        ("start_s at least 120", [2, 3, 4, 5]),
        ("period is 1", [0, 1, 2, 3, 4, 5]),
    ],
)
def test_a_condition_as_text(found, text, rows):
    condition = Condition.from_text(text)
    assert np.flatnonzero(condition.mask(found)).tolist() == rows
    assert Condition.from_text(condition.to_text()) == condition
    assert len(matching(found, [text])) == len(rows)


@pytest.mark.parametrize(
    ("table", "text"),
    [
        ({"column": "n_for", "op": ">=", "value": 4}, "n_for at least 4"),
        ({"column": "n_for", "op": "at least", "value": 4.5}, "n_for at least 4.5"),
        ({"column": "won", "value": True}, "won"),
        ({"column": "won", "op": "is", "value": False}, "not won"),
        ({"column": "outcome", "op": "is", "value": ["lost", "win or lose"]}, 'outcome is lost or "win or lose"'),
        ({"column": "outcome", "op": "is not", "value": "yes"}, 'outcome is not "yes"'),
        ({"column": "regain_s", "op": "between", "value": [2, 5]}, "regain_s between 2 and 5"),
        ({"column": "n_for", "op": ">", "other": "n_against"}, "n_for more than n_against"),
        ({"column": "n_for", "op": ">", "other": "n_against", "plus": -1}, "n_for more than n_against - 1"),
        ({"column": "regain_s", "op": "is known"}, "regain_s is known"),
        ({"column": "players", "op": "has", "value": "A. O'Brien"}, 'players has "A. O\'Brien"'),
    ],
)
def test_a_condition_as_a_table(table, text):
    condition = Condition.from_table(table)
    assert condition.to_text() == text
    assert Condition.from_text(text) == condition == Condition.of(table) == Condition.of(condition)


@given(st.text(min_size=0, max_size=12).filter(lambda t: '"' not in t or "'" not in t))
def test_any_word_of_a_table_reads_back(word):
    condition = Condition.from_table({"column": "outcome", "op": "is", "value": [word, "other"]})
    assert Condition.from_text(condition.to_text()).values[0].text == word


@pytest.mark.parametrize(
    "text",
    ["", "outcome is", "a b c", "n_for >", "n_for more than 3 or 4", "regain_s between 2", "regain_s between 2 and 3 and 4",
     'outcome is "lost', "outcome is lost or", "1 is 1", "__import__('os')", "n_for is known 3", "not", "x; y"],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_with_the_forms(text):
    with pytest.raises(TacticalKitError) as refused:
        Condition.from_text(text)
    assert str(refused.value) == f"the condition {text!r} cannot be read; expected {FORMS}."


COLUMNS = (
    "moment_id, finder, period, start_s, end_s, team, players, x, y, won, n_for, n_against, regain_s, outcome, route"
)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "outcom is lost",
            f"moments of 'demo' have no column 'outcom'; they have {COLUMNS}, duration_s, minute, phase, "
            "opponent_phase, score. Did you mean 'outcome'?",
        ),
        ("outcome more than 3", "outcome holds words, not numbers; it cannot be 'more than'."),
        ("won at least 1", "won holds yes or no, not numbers; it cannot be 'at least'."),
        ("won is maybe", "won is yes or no; it cannot be 'maybe'."),
        (
            "n_for is many",
            "n_for is a number; it cannot be compared with 'many'. Expected a number, or a column of numbers.",
        ),
        (
            "n_for more than n_aganst",
            "n_for is a number; it cannot be compared with 'n_aganst'. Expected a number, or a column of numbers. "
            "Did you mean 'n_against'?",
        ),
        ("players is a", "players holds several players; write 'players has NAME'."),
        ("outcome has lost", "outcome holds one value a moment; write 'outcome is VALUE', not has."),
        ("score is leading", "score of a moment is told by its match; give the match."),
    ],
)
def test_what_cannot_be_asked_is_refused(found, text, sentence):
    with pytest.raises(TacticalKitError) as refused:
        Condition.from_text(text).mask(found)
    assert str(refused.value) == sentence


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        ({"column": "a", "opp": "is"}, "the condition has the key 'opp'; expected column, op, value, other, plus. Did you mean 'op'?"),
        ({"op": "is"}, "the condition has the column None; expected the name of a column."),
        ({"column": "a", "op": "is", "value": {}}, "the condition on 'a' has the value {}; expected a number, a word, yes or no."),
        ({"column": "a", "op": ">", "other": "b", "plus": "x"}, "the condition on 'a' is against 'b' plus 'x'; expected a column and a number."),
        ({"column": "a", "op": ">", "value": [1, 2]}, f"the condition on 'a' with '>' has the value [1, 2]; expected {FORMS}."),
    ],
)  # fmt: skip
def test_a_table_that_is_none_is_refused(table, sentence):
    with pytest.raises(TacticalKitError) as refused:
        Condition.from_table(table)
    assert str(refused.value) == sentence


def test_a_word_that_never_occurs_is_remarked(found):
    assert Condition.from_text("outcome is lost").notes(found) == []
    assert Condition.from_text("route is shrot").notes(found) == [
        "'shrot' is in no moment of route, which has 'direct switch', 'long', 'outcome', 'short'. Did you mean 'short'?"
    ]
    assert Condition.from_text("n_for is 99").notes(found) == []


def test_sides_and_players_may_be_named(demo):
    shots = find(demo, "shot")
    home = shots.where(team=demo.home.team_id)
    for name in ("home", demo.home.name, demo.home.short_name, demo.home.team_id):
        assert len(matching(shots, [{"column": "team", "op": "is", "value": name}], demo)) == len(home)
    who = demo.players[shots["players"][0][0]]
    by_id, by_name = (matching(shots, [f"players has {word}"], demo) for word in (who.player_id, who.name))
    assert len(by_id) == len(by_name) > 0


def test_what_the_match_tells_of_a_moment(demo):
    shots = find(demo, "shot")
    minute = column_values(shots, "minute", demo)
    assert minute.between(0, 90).all()  # added time stays at 45 and 90
    assert (minute[shots["period"] == 2] >= 45).all()
    score = column_values(shots, "score", demo)
    assert set(score) <= {"leading", "level", "trailing"}
    assert score[0] == "level"  # nobody has scored yet
    phase = column_values(shots, "phase", demo)
    other = column_values(shots, "opponent_phase", demo)
    assert "final third" in set(phase) and "low block" in set(other)
    # At the shot, not eight seconds earlier when the moment begins.
    spans = find(demo, "phase").table
    row = shots.table.iloc[2]
    own = spans[
        (spans.team == row.team)
        & (spans.period == row.period)
        & (spans.start_s <= row.time_s)
        & (spans.end_s > row.time_s)
    ]
    assert phase[2] == own["phase"].iloc[0]


def test_yes_no_and_not_known():
    rows = [
        {"period": 1, "start_s": i, "end_s": i, "team": "a", "players": (), "pressed": v}
        for i, v in enumerate([True, False, pd.NA])
    ]
    found = Moments.build("demo", rows, {"pressed": "boolean"})
    for text, expected in (
        ("pressed", [0]),
        ("not pressed", [1]),
        ("pressed is not yes", [1]),
        ("pressed is unknown", [2]),
    ):
        assert np.flatnonzero(Condition.from_text(text).mask(found)).tolist() == expected


def test_the_score_needs_events(demo):
    spells = find(demo, "possession")
    with pytest.raises(MissingDataError) as refused:
        Condition.from_text("score is leading").mask(spells, demo.with_data(events=None))
    assert str(refused.value) == "The score needs events; this match has tracking."


def test_operands():
    assert Operand("3").number == 3.0 and Operand("3", True).number is None and Operand("x").number is None
