"""Answers kept with the match: the same object again, for the same question only, and not beyond the match's life."""

import gc
import pickle
import re
import threading
import time
import weakref

import pandas as pd
import pytest

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match, Period, Player, Team, events_table, forget, remembered
from tactical_kit.match.remember import KEPT
from tactical_kit.moments import Moments


def a_match(**changes):
    sides = [Team(t, t.upper(), "", (Player(f"{t}1", f"Player {t}1", t, 1, "GK"),)) for t in "ab"]
    events = events_table(
        [
            {"kind": "pass", "period": 1, "time_s": s, "team": "a", "player": "a1", "x": 0.0, "y": 0.0}
            for s in (1.0, 2.0)
        ]
    )
    return Match("m", *sides, (Period(1, 60.0, 1),), events=events, **changes)


@pytest.fixture
def asked():
    calls = []

    @remembered
    def count(match, least=1.0, *, names=()):
        calls.append((least, names))
        return [match, len(calls)]

    count.calls = calls
    return count


def test_a_question_is_answered_once(asked):
    match = a_match()
    assert asked(match) is asked(match, 1.0) is asked(match, least=1.0)
    assert len(asked.calls) == 1


def test_other_values_types_and_matches_are_other_questions(asked):
    match = a_match()
    for least in (1.0, 1, True, 2.0):
        asked(match, least)
    asked(match, names=["x"])
    asked(match.with_data(label="another"))
    assert len(asked.calls) == 6


def test_a_parameter_that_cannot_be_hashed_is_answered_anew(asked):
    match = a_match()
    asked(match, names={"x"})
    asked(match, names={"x"})
    assert len(asked.calls) == 2


def test_the_oldest_answer_goes_first(asked):
    match = a_match()
    for i in range(KEPT + 1):
        asked(match, float(i))
    asked(match, float(KEPT))
    assert len(asked.calls) == KEPT + 1
    asked(match, 0.0)
    assert len(asked.calls) == KEPT + 2


def test_an_error_is_not_remembered():
    tries = []

    @remembered
    def fail(match):
        tries.append(1)
        raise ValueError("no")

    match = a_match()
    for _ in range(2):
        with pytest.raises(ValueError, match=r"^no$"):
            fail(match)
    assert len(tries) == 2


def test_events_changed_in_place_are_refused(asked):
    match = a_match()
    asked(match)
    match.events.loc[1, "x"] = 5.0
    message = (
        "the events of <Match A v B: events> were changed in place after they had been used. Change a copy and make a "
        "new match of it: match.with_data(events=changed)."
    )
    with pytest.raises(TacticalKitError, match=f"^{re.escape(message)}$"):
        asked(match)
    asked(match.with_data(events=match.events.copy()))


def test_a_column_added_to_an_answer_does_not_show_in_the_next():
    @remembered
    def found(match):
        return Moments.build("x", [dict(period=1, start_s=0.0, end_s=1.0, team="a", players=())])

    match = a_match()
    first = found(match)
    first.table["mine"] = 1
    first.table.loc[0, "end_s"] = 9.0
    assert list(found(match).table) == list(Moments.build("x", []).table)
    assert found(match).table.loc[0, "end_s"] == 1.0


def test_what_is_remembered_goes_with_the_match(asked):
    match = a_match()
    asked(match)  # the answer holds the match
    gone = weakref.ref(match)
    del match
    gc.collect()
    assert gone() is None


def test_a_match_travels_without_its_memory(asked):
    match = a_match()
    asked(match)
    copy = pickle.loads(pickle.dumps(match))
    assert "_memory" not in copy.__dict__ and copy.events.equals(match.events)
    forget(match)
    asked(match)
    assert len(asked.calls) == 2


def test_a_function_written_anew_is_another_one():
    """As when a cell of a notebook is run again: the same name, another body."""
    cell = "@remembered\ndef answer(match):\n    return {}\n"
    match, names = a_match(), {"remembered": remembered, "__name__": "__main__"}
    given = []
    for value in (1, 2):
        exec(cell.format(value), names)
        given.append(names["answer"](match))
    assert given == [1, 2]


def test_columns_of_the_users_own_may_hold_anything(asked):
    """Lists cannot be watched; the other columns still are."""
    match = a_match()
    match = match.with_data(events=match.events.assign(tags=[["x"], {"y": 1}]))
    assert asked(match) is asked(match) and len(asked.calls) == 1
    match.events.loc[1, "x"] = 5.0
    with pytest.raises(TacticalKitError, match=r"^the events of .* were changed in place after they had been used"):
        asked(match)


def test_values_that_change_columns_are_noticed(asked):
    match = a_match()
    asked(match)
    match.events.loc[0, ["player", "receiver"]] = ["", "a1"]
    with pytest.raises(TacticalKitError, match=r"^the events of .* were changed in place after they had been used"):
        asked(match)


def test_a_table_handed_out_may_be_written_into():
    @remembered
    def table(match):
        return pd.DataFrame({"x": [1.0, 2.0]})

    match = a_match()
    first = table(match)
    first["mine"] = 1
    first.loc[:, "x"] = 0.0
    assert table(match).to_dict("list") == {"x": [1.0, 2.0]}


def test_threads_share_one_answer():
    started = threading.Barrier(4)
    calls, answers = [], []

    @remembered
    def slow(match):
        calls.append(1)
        time.sleep(0.05)
        return object()

    def ask(match):
        started.wait()
        answers.append(slow(match))

    match = a_match()
    threads = [threading.Thread(target=ask, args=(match,)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(10)
    assert len(calls) == 1 and len(answers) == 4 and len(set(answers)) == 1
