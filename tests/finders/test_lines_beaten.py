"""Lines beaten, by drawn sequences.  Side b stands in a 4-4-2: first line x = -11 (y = +-5), midfield line x = 3
(y = +-6, +-20), back line 18 (+-20) and 19 (+-7).  Definition: the sources named in `measures/beaten.py`;
all numbers worked out by hand."""

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_lines_beaten


def through_the_middle(drawing):
    """a4 at (-20, 0) into a11 at (8, 0): past the first line (gap 10) and the midfield line (gap 12), six men."""
    drawn = drawing(6.0).stands(a4=(-20, 0), a11=(8, 0), a6=(-25, 12))
    return drawn.hold("a4", 0, 2).play("a4", "a11", 2, 3.4).hold("a11", 3.4, 6)


def only(moments):
    assert len(moments) == 1, moments.table
    return moments.table.iloc[0]


PLACEMENTS = [
    {},
    {"turned": True},
    {"swapped": True},
    {"turned": True, "swapped": True},
    {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0},
    {"after_s": 20.0},
]


@pytest.mark.parametrize("where", PLACEMENTS)
def test_a_pass_through_two_lines(drawing, where):
    row = only(find_lines_beaten(through_the_middle(drawing).match(**where)))
    shift = where.get("after_s", 0.0)
    assert (row.start_s, row.end_s, row.team, row.players) == (2 + shift, 3.4 + shift, "a", ("a4", "a11"))
    assert (row.by, row.opponents_beaten, row.line, row.lines_beaten, row.how) == (
        "pass", 6, "midfield line", 2, "through",
    )  # fmt: skip
    np.testing.assert_allclose([row.x, row.y, row.gain_m, row.gap_m], [-20, 0, 28, 12], atol=1e-4)
    assert set(row.beaten) == {"b6", "b7", "b8", "b9", "b10", "b11"} and set(row.beaten[:2]) == {"b10", "b11"}
    assert (row.receiver, row.set_play, row.estimated) == ("a11", "", False)


def test_a_pass_around_the_first_line(drawing):
    """a3 at (-20, -9) to a2 at (-8, -26): crosses x = -11 at y = -21.75, outside the forward at -5; two men."""
    drawn = drawing(5.0).stands(a3=(-20, -9), a2=(-8, -26)).hold("a3", 0, 1).play("a3", "a2", 1, 2).hold("a2", 2, 5)
    row = only(find_lines_beaten(drawn.match()))
    assert (row.line, row.how, row.opponents_beaten, row.lines_beaten) == ("first line", "around", 2, 1)
    assert np.isnan(row.gap_m)


def test_a_ball_over_the_back_line(drawing):
    """a6 at (10, 0) to a11 at (30, 0), six metres high on its way: the back four, and no other line."""
    drawn = drawing(6.0).stands(a6=(10, 0), a11=(30, 0)).hold("a6", 0, 1).ball(1, 10, 0, 0).ball(1.8, 18.5, 0, 6)
    drawn = drawn.play("a6", "a11", 1, 3).hold("a11", 3, 6)
    row = only(find_lines_beaten(drawn.match()))
    assert (row.line, row.how, row.opponents_beaten) == ("back line", "over", 4)


def test_a_carry_through_the_first_line(drawing):
    """a4 carries from (-20, 0) to (-6, 0): between the two forwards, 10 m apart."""
    drawn = drawing(6.0).at(1, a4=(-20, 0)).at(4, a4=(-6, 0)).stands(a6=(-25, 12), a8=(-6, 12), a7=(-6, -12))
    row = only(find_lines_beaten(drawn.hold("a4", 0, 1).carry("a4", 1, 4).hold("a4", 4, 6).match()))
    assert (row.by, row.players, row.receiver) == ("carry", ("a4",), "")
    assert (row.line, row.how, row.opponents_beaten, row.gap_m) == ("first line", "through", 2, 10)


def test_three_opponents_without_a_line(drawing):
    """To x = 2.9: the first line and one of four midfielders drawn at x = 2: no midfield line, three men."""
    drawn = drawing(6.0).stands(a4=(-20, 0), a11=(2.9, 0), b10=(-21, -5), b11=(-11, 5), b6=(2, -6), b7=(2, 6))
    drawn = drawn.hold("a4", 0, 2).play("a4", "a11", 2, 3.4).hold("a11", 3.4, 6)
    row = only(find_lines_beaten(drawn.match()))
    # First line: -21 and -11, mean -16: beaten by half of it; b6, b7 two of four but the mean 2.5 is short of 2.9.
    assert (row.opponents_beaten, row.line, row.lines_beaten) == (3, "midfield line", 2)
    drawn.stands(b8=(6, -20), b9=(6, 20))  # mean now 4: the midfield line is not beaten
    row = only(find_lines_beaten(drawn.match()))
    assert (row.opponents_beaten, row.line, row.lines_beaten) == (3, "first line", 1)
    assert len(find_lines_beaten(drawn.match(), least_lines=2, least_opponents=4)) == 0
    assert len(find_lines_beaten(drawn.match(), least_lines=2, least_opponents=3)) == 1


def jumped_out(drawing):
    """After a minute in the block the full-back b2 (18, -20) has jumped alone to (-38, -6); a4 plays round him."""
    drawn = drawing(62.0).stands(a4=(-42, 0), a3=(-32, -14)).at(56, b2=(18, -20)).at(58, b2=(-38, -6))
    drawn = drawn.play("a4", "a3", 0, 1).play("a3", "a4", 2, 3).hold("a4", 3, 59)
    return drawn.play("a4", "a3", 59, 60).hold("a3", 60, 62)


def test_a_man_who_has_jumped_out_is_no_line_of_his_own(drawing):
    """By the places at the instant he would be the first line, being so far ahead of the two forwards at -11."""
    assert len(find_lines_beaten(jumped_out(drawing).match())) == 0
    row = only(find_lines_beaten(jumped_out(drawing).match(), least_opponents=1))
    assert (row.opponents_beaten, row.lines_beaten, row.line, row.beaten) == (1, 0, "", ("b2",))


def test_a_pass_of_which_nobody_knows_whom_it_reached(drawing):
    """Events that say that it arrived, not at whom: it beats whom it beats, and what came next is unknown."""
    drawn = through_the_middle(drawing)
    drawn.rows[-1]["receiver"] = ""
    row = only(find_lines_beaten(drawn.match()))
    assert (row.players, row.receiver, row.opponents_beaten, row.next_action) == (("a4",), "", 6, "")


# -- near misses --------------------------------------------------------------------------------------
def test_a_pass_level_with_the_line_beats_nobody(drawing):
    for end_x, number in ((-11.0, 0), (-10.9, 1)):
        drawn = drawing(5.0).stands(a4=(-20, 0), a6=(end_x, 0))
        drawn = drawn.hold("a4", 0, 1).play("a4", "a6", 1, 2).hold("a6", 2, 5)
        assert len(find_lines_beaten(drawn.match())) == number


def test_a_pass_that_does_not_arrive_beats_nobody(drawing):
    drawn = drawing(6.0).stands(a4=(-20, 0), b6=(8, 0))
    drawn = drawn.hold("a4", 0, 2).play("a4", "b6", 2, 3.4, complete=False).hold("b6", 3.4, 6)
    assert len(find_lines_beaten(drawn.match())) == 0


def test_a_back_pass_beats_nobody(drawing):
    drawn = drawing(6.0).stands(a4=(-20, 0), a11=(8, 0))
    assert len(find_lines_beaten(drawn.hold("a11", 0, 2).play("a11", "a4", 2, 3.4).hold("a4", 3.4, 6).match())) == 0


def test_a_line_that_drops_with_the_ball_is_not_beaten(drawing):
    """The back four runs from 18.5 to 32 while the ball flies from 10 to 30."""
    drawn = drawing(6.0).stands(a6=(10, 0), a11=(30, 0))
    for shirt, y in ((2, -20), (3, -7), (4, 7), (5, 20)):
        drawn.at(1, **{f"b{shirt}": (18.5, y)}).at(3, **{f"b{shirt}": (32, y)})
    assert len(find_lines_beaten(drawn.hold("a6", 0, 1).play("a6", "a11", 1, 3).hold("a11", 3, 6).match())) == 0


@pytest.mark.parametrize(("least_carry_m", "number"), [(14.0, 1), (14.1, 0)])
def test_a_carry_of_at_least_so_far(drawing, least_carry_m, number):
    drawn = drawing(6.0).at(1, a4=(-20, 0)).at(4, a4=(-6, 0)).stands(a6=(-25, 12), a8=(-6, 12), a7=(-6, -12))
    match = drawn.hold("a4", 0, 1).carry("a4", 1, 4).hold("a4", 4, 6).match()
    assert len(find_lines_beaten(match, least_carry_m=least_carry_m)) == number


# -- several, gaps, missing players, other data -------------------------------------------------------
@pytest.mark.parametrize("after_s", [0.0, 5.0])
def test_several_in_a_row(drawing, after_s):
    found = find_lines_beaten(through_the_middle(drawing).match(repeats=3, after_s=after_s))
    np.testing.assert_allclose(found["start_s"], [2 + after_s + i * (6 + after_s) for i in range(3)])


def test_two_that_adjoin(drawing):
    """a4 through the first line to a6 at (-5, 0); he at once through midfield to a11 at (8, 0)."""
    drawn = drawing(6.0).stands(a4=(-20, 0), a6=(-5, 0), a11=(8, 0)).hold("a4", 0, 1).play("a4", "a6", 1, 2)
    found = find_lines_beaten(drawn.play("a6", "a11", 2, 3).hold("a11", 3, 6).match())
    assert found["line"].tolist() == ["first line", "midfield line"] and found["start_s"].tolist() == [1, 2]
    assert found["opponents_beaten"].tolist() == [2, 4]


def test_none(drawing):
    found = find_lines_beaten(drawing(3.0).hold("a4", 0, 3).match())
    full = find_lines_beaten(through_the_middle(drawing).match())
    assert len(found) == 0 and found.table.dtypes.to_dict() == full.table.dtypes.to_dict()


def test_frames_missing_on_the_way(drawing):
    """Without frames in flight the straight line decides; without any near the pass nothing is known."""
    row = only(find_lines_beaten(through_the_middle(drawing).gap(2.2, 3.2).match()))
    assert (row.opponents_beaten, row.how) == (6, "through")
    assert len(find_lines_beaten(through_the_middle(drawing).gap(0.5, 5.5).match())) == 0


def test_a_player_missing(drawing):
    row = only(find_lines_beaten(through_the_middle(drawing).hide("b6").match()))
    assert row.opponents_beaten == 5 and row.lines_beaten == 2
    few = through_the_middle(drawing)
    for shirt in (2, 3, 4, 5):
        few.hide(f"b{shirt}")
    row = only(find_lines_beaten(few.match()))  # six opponents left: no lines, but six beaten
    assert row.opponents_beaten == 6 and np.isnan(row.lines_beaten) and row.line == "" and row.how == ""


def test_from_tracking_alone(drawing):
    found = find_lines_beaten(through_the_middle(drawing).match(events=False))
    row = only(found.where(by="pass"))
    assert row.estimated and row.players == ("a4", "a11") and row.lines_beaten == 2 and row.next_action == ""


def test_positions_are_needed(drawing):
    match = through_the_middle(drawing).match(tracking=False)
    with pytest.raises(
        MissingDataError, match=r"^Finder 'lines beaten' needs tracking; this match has events\. These finders do with "
    ):
        find(match, "lines beaten")


def test_every_parameter_is_kept(drawing):
    found = find_lines_beaten(through_the_middle(drawing).match())
    assert dict(found.params) == {"least_lines": 1, "least_opponents": 3, "least_carry_m": 5.0, "over_m": 2.0}
