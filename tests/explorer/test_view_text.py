"""The short text of a state: round trip and refusals.  Source: the kit's own form, no outside source."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tactical_kit.errors import TacticalKitError
from tactical_kit.explorer.view_text import View
from tactical_kit.measures.selection import CONDITIONS, Selection

TEXT = st.text(st.characters(codec="utf-8"), min_size=1, max_size=12)


@settings(max_examples=60, deadline=None)
@given(
    team=st.none() | TEXT,
    phases=st.frozensets(st.sampled_from(["build-up", "set play"])),
    finder=TEXT,
    moment=TEXT | st.just(""),
    at=st.none() | st.tuples(st.integers(1, 5), st.integers(0, 600_000).map(lambda v: v / 100)),
    ghost=st.booleans(),
)
def test_every_state_survives_the_text(team, phases, finder, moment, at, ghost):
    view = View(Selection(team=team, phases=phases), finder, moment, at, ghost)
    text = view.to_text()
    assert "\n" not in text and " " not in text
    assert View.from_text(text) == view


def test_the_plain_state_is_short():
    assert View().to_text() == "all"
    assert View.from_text("all") == View.from_text("") == View()


def test_conditions_and_state_stand_in_any_order():
    assert View.from_text(" ghost=no ; team=home;at=2:1092.4;list=shot ") == View(
        Selection(team="home"), "shot", "", (2, 1092.4), False
    )


def test_every_fault_is_told_at_once():
    with pytest.raises(TacticalKitError) as caught:
        View.from_text("tem=home;at=9:1;ghost=maybe;ghost=no;score=winning")
    assert str(caught.value) == (
        "view 'tem=home;at=9:1;ghost=maybe;ghost=no;score=winning' cannot be read: "
        f"'tem=home': unknown; expected one of {', '.join(CONDITIONS.values())}, threshold, "
        "list, with, where, compare, moment, at, ghost. Did you mean 'team'?; "
        "'at=9:1': expected a period from 1 to 5 and seconds from 0 up, as at=2:1092.4; "
        "'ghost=maybe': ghost is 'maybe'; expected one of 'yes', 'no'.; "
        "'ghost' stands twice; "
        "'score=winning': score state is 'winning'; expected one of 'leading', 'level', 'trailing'."
    )


@pytest.mark.parametrize("text", ["at=2", "at=x:3", "at=1:nan", "at=1:inf", "at=1:-1", "nonsense", "team="])
def test_bad_text_is_refused(text):
    if text == "team=":
        assert View.from_text(text).selection.team == ""  # no such team: the match refuses it
        return
    with pytest.raises(TacticalKitError, match="cannot be read"):
        View.from_text(text)


def test_no_text_at_all_is_refused():
    with pytest.raises(TacticalKitError) as caught:
        View.from_text(3)
    assert str(caught.value) == "view is a int; expected the short text of `explorer.view`."
