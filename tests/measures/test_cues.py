"""Cues to press, by drawn sequences.  Side a has the ball; all places are its attacking frame, in metres.

The cues themselves are common practice, no source; each sequence sits just inside or just outside one threshold."""

import numpy as np
import pytest
from drawing import Drawing

from tactical_kit.errors import MissingDataError
from tactical_kit.measures.cues import CUE_COLUMNS, CUES, cue_table


def cue_of(drawn, **where):
    table = cue_table(drawn.match(**where))
    assert len(table) == 1
    return table.iloc[0]


def one_pass(passer, receiver, seconds=1.0, **places):
    """The receiver has the ball from 2 s + `seconds` on; who is named in `places` stands there."""
    drawn = Drawing(6.0).stands(**places).hold(passer, 0, 2)
    return drawn.play(passer, receiver, 2, 2 + seconds).hold(receiver, 2 + seconds, 6)


@pytest.mark.parametrize("where", [{}, {"turned": True}, {"swapped": True}, {"after_s": 10.0}])
def test_a_back_pass_and_its_columns(where):
    row = cue_of(one_pass("a6", "a4", a6=(-20, 0), a4=(-32, 9)), **where)
    shift = where.get("after_s", 0.0)
    assert (row.time_s, row.end_s) == (2 + shift, 3 + shift)
    assert (row.team, row.player, row.target, row.cue, row.estimated) == ("a", "a6", "a4", "back pass", False)
    np.testing.assert_allclose([row.x, row.y], [-32, 9], atol=1e-4)


@pytest.mark.parametrize(("x", "cue"), [(-24.0, "back pass"), (-23.9, "")])
def test_a_back_pass_goes_back_four_metres(x, cue):
    assert cue_of(one_pass("a6", "a4", a6=(-20, 0), a4=(x, 9))).cue == cue


def test_the_first_that_fits_names_the_cue():
    """To the keeper and back; to the full-back and to the sideline."""
    assert cue_of(one_pass("a4", "a1", a1=(-46, 0))).cue == "pass to keeper"
    assert cue_of(one_pass("a4", "a5", a5=(-22, 33))).cue == "pass to full-back"
    assert CUES.index("pass to keeper") < CUES.index("back pass") < CUES.index("sideline")


@pytest.mark.parametrize(("y", "cue"), [(26.0, "sideline"), (25.9, "")])
def test_the_sideline_is_eight_metres_wide(y, cue):
    assert cue_of(one_pass("a8", "a10", a8=(-6, 14), a10=(0, y), a11=(40, 0))).cue == cue


def coming_short(speed, tight=(30.0, 0.0)):
    """a11 comes towards a6 along y = 0 at this speed, and gets a forward pass at (0, 0); b3 stands at `tight`."""
    drawn = Drawing(6.0).stands(a6=(-20, 0), b3=tight, b2=(30, -20), b4=(30, 8), b5=(30, 20), b6=(30, -8))
    drawn.stands(b7=(30, 3)).at(0, a11=(3 * speed, 0)).at(6, a11=(-3 * speed, 0))
    return drawn.hold("a6", 0, 2).play("a6", "a11", 2, 3).hold("a11", 3, 6)


def test_a_man_who_comes_short_faces_his_own_goal():
    assert cue_of(coming_short(0.6)).cue == "receiver facing own goal"
    assert cue_of(coming_short(0.4)).cue == ""


def test_a_man_with_an_opponent_at_his_back_faces_his_own_goal():
    assert cue_of(coming_short(0.0, tight=(2.9, 0))).cue == "receiver facing own goal"
    assert cue_of(coming_short(0.0, tight=(3.1, 0))).cue == ""
    assert cue_of(coming_short(0.0, tight=(-2.9, 0))).cue == ""  # he stands on the other side


def test_a_slow_square_pass():
    """16 m across in 2 s are 8 m/s, in 1.6 s 10 m/s; 16 m across and 9 m on is no square pass."""
    square = dict(a3=(-32, -8), a4=(-32, 8))
    assert cue_of(one_pass("a3", "a4", 2.0, **square)).cue == "slow square pass"
    assert cue_of(one_pass("a3", "a4", 1.6, **square)).cue == ""
    assert cue_of(one_pass("a3", "a4", 2.5, a3=(-32, -8), a4=(-23, 8))).cue == ""
    assert cue_of(one_pass("a3", "a4", 2.0, a3=(-32, -6), a4=(-32, 5.9))).cue == ""  # 11.9 m


def test_a_goal_kick_and_other_restarts():
    drawn = Drawing(6.0).hold("a1", 0, 2).play("a1", "a3", 2, 3, set_play="goal-kick").hold("a3", 3, 6)
    assert cue_of(drawn).cue == "goal kick"
    drawn = Drawing(6.0).hold("a6", 0, 2).play("a6", "a4", 2, 3, set_play="free-kick").hold("a4", 3, 6)
    assert cue_of(drawn).cue == ""


def test_a_poor_touch_is_told_by_the_events_alone():
    drawn = Drawing(6.0).hold("a6", 0, 6).event("touch", "a6", 2.5)
    row = cue_of(drawn)
    assert (row.cue, row.player, row.target, row.time_s, row.end_s) == ("poor touch", "", "a6", 2.5, 2.5)
    assert len(cue_table(drawn.match(events=False))) == 0


def test_a_pass_that_does_not_arrive_gives_no_cue():
    drawn = Drawing(6.0).hold("a6", 0, 2).play("a6", "b11", 2, 3, complete=False).hold("b11", 3, 6)
    table = cue_table(drawn.match())
    assert len(table) == 0 and list(table.columns) == list(CUE_COLUMNS)


def test_from_the_tracking_alone():
    row = cue_of(one_pass("a6", "a4", a6=(-20, 0), a4=(-32, 9)), events=False)
    assert (row.cue, row.target, row.estimated) == ("back pass", "a4", True)


def test_without_tracking_it_is_refused():
    with pytest.raises(MissingDataError, match=r"^A cue to press needs tracking; this match has events\.$"):
        cue_table(Drawing(2.0).match(tracking=False))
