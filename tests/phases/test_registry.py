"""The register of finders."""

import re

import pytest

from tactical_kit.errors import MissingDataError, TacticalKitError, UnknownNameError
from tactical_kit.finders import find, finder, finder_names, get_finder, list_finders, registry
from tactical_kit.match import empty_events
from tactical_kit.moments import CORE_COLUMNS, Moments


@pytest.fixture
def kept(monkeypatch):
    """Leave the register as it was."""
    monkeypatch.setattr(registry, "_FINDERS", dict(registry._FINDERS))


def test_phases_and_possession_are_listed():
    assert {"phase", "possession"} <= set(finder_names())
    table = list_finders().set_index("name")
    assert table.loc["possession", "needs"] == "events or tracking"
    assert all(table["finds"].str.endswith("."))


def test_unknown_finder_names_the_list_and_the_near_spelling():
    listed = ", ".join(repr(n) for n in finder_names())
    message = f"finder is 'posession'; expected one of {listed}. Did you mean 'possession'?"
    with pytest.raises(UnknownNameError, match=f"^{re.escape(message)}$"):
        get_finder("posession")


def test_unknown_threshold_is_refused_with_the_list(sketch):
    match = sketch().play(3, 0, ((0, 0), (5, 0)), began="kick-off").match()
    known = ", ".join(repr(n) for n in get_finder("possession").thresholds)
    message = (
        f"a threshold of finder 'possession' is 'min_control'; expected one of {known}. Did you mean 'min_control_s'?"
    )
    with pytest.raises(UnknownNameError, match=f"^{re.escape(message)}$"):
        find(match, "possession", min_control=2.0)


def test_missing_data_name_the_finders_that_would_do(kept, sketch):
    @finder("needs tracking", needs=("tracking",), finds="Something only positions show.")
    def find_it(match, reach_m=1.0):
        return Moments.build("needs tracking", [])

    match = sketch().play(3, 0, ((0, 0), (5, 0)), began="kick-off").match(tracking=False)
    less = ", ".join(sorted(n for n in finder_names() if not get_finder(n).missing(match)))
    message = (
        f"Finder 'needs tracking' needs tracking; this match has events. These finders do with what is there: {less}."
    )
    with pytest.raises(MissingDataError, match=f"^{re.escape(message)}$"):
        find(match, "needs tracking")
    table = list_finders(match).set_index("name")
    assert not table.loc["needs tracking", "can_run"] and table.loc["needs tracking", "missing"] == "tracking"
    assert table.loc["phase", "can_run"] and table.loc["phase", "missing"] == ""


def test_a_taken_name_is_refused_and_a_reload_is_not(kept):
    def find_it(match):
        return Moments.build("mine", [])

    finder("mine", finds="Mine.")(find_it)
    finder("mine", finds="Mine.")(find_it)
    with pytest.raises(
        TacticalKitError, match=r"^finder 'mine' is registered already, as .*find_it; give yours another name\.$"
    ):
        finder("mine", finds="Another.")(lambda match: Moments.build("mine", []))


def test_a_finder_of_the_kit_is_not_replaced_by_a_namesake(kept):
    def find_shots(match):
        return Moments.build("shot", [])

    find_shots.__qualname__ = "find_shots"  # as in a notebook, where it stands at the top
    with pytest.raises(
        TacticalKitError,
        match=r"^finder 'shot' is registered already, as tactical_kit\.finders\.shots\.find_shots; give yours another name\.$",
    ):
        finder("shot", finds="Mine.")(find_shots)


def test_no_sentence_and_unknown_needs_are_refused():
    with pytest.raises(
        TacticalKitError, match=r"^finder 'mute' says nothing of what it finds; give one sentence as `finds`\.$"
    ):
        finder("mute")
    message = "a need of finder 'x' is 'trackin'; expected one of 'events', 'tracking', 'stills', 'tags'. Did you mean 'tracking'?"
    with pytest.raises(UnknownNameError, match=f"^{re.escape(message)}$"):
        finder("x", needs=("events or trackin",), finds="X.")


@pytest.mark.parametrize("name", finder_names())
def test_every_finder_with_nothing_to_find_gives_the_same_columns(name, sketch):
    """No moment found, same columns, same types, zero rows."""
    full = (
        sketch().play(6, 0, ((0, 0), (5, 0)), began="kick-off").play(6, 1, ((0, 0), (9, 0)), began="recovery").match()
    )
    quiet = sketch().play(1, 0, ((0, 0), (5, 0)), began="kick-off", passes=False)
    quiet.frames = [(*f[:4], False, f[5]) for f in quiet.frames]  # the ball is dead throughout
    some, none = find(full, name), find(quiet.match(events=False).with_data(events=empty_events()), name)
    assert len(none) == 0
    assert none.table.dtypes.to_dict() == some.table.dtypes.to_dict()
    assert list(none.table)[: len(CORE_COLUMNS)] == list(CORE_COLUMNS)
    assert none.finder == name and none.match_id == "sketch"
    assert set(get_finder(name).thresholds) <= set(none.params)
