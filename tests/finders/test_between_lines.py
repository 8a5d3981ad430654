"""Between the lines.  Numbers by hand geometry from the drawing; the rules are common practice, no source.

Side b of the drawing: back line x = 18, 19, 19, 18 (mean 18.5), midfield line x = 3, first line x = -11.
"""

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_between_the_lines


def reception(drawing, x=10.0, y=10.0, from_x=-8.0, high=0.0, **more):
    """a6 (from_x, 0) plays to a8 (x, y), from 2 s to 3 s."""
    d = drawing(8.0).stands(a6=(from_x, 0), a8=(x, y)).hold("a6", 0, 2).play("a6", "a8", 2, 3, **more)
    if high:
        d.ball(2.48, (from_x + x) / 2, y / 2, high)
    return d.hold("a8", 3, 8)


def stills(match, *times):
    """The same match as stills of some instants."""
    return match.with_data(events=None, tracking=None, stills=tuple(match.snapshot(1, t) for t in times))


def test_a_reception_by_hand(drawing):
    row = find_between_the_lines(reception(drawing).match()).table.iloc[0]
    assert (row["start_s"], row["end_s"], row["team"], row["players"]) == (2.0, 3.0, "a", ("a8", "a6"))
    assert (row["receiver"], row["passer"], row["x"], row["y"]) == ("a8", "a6", 10, 10)
    assert (row["gap_m"], row["depth_m"], row["corridor"]) == (15.5, 7.0, "left half-space")
    assert row["nearest_m"] == pytest.approx(np.hypot(7, 4), abs=1e-5)  # b7 at (3, 6)
    assert row["placed"] == 2  # he and a11 at (16, 0)
    assert row["delivery"] == "ground" and row["pins"] == ""
    # He stands, and the ball comes from (-18, -10): 151 degrees from the way to the goal.
    assert row["facing"] == "own goal"
    assert row["estimated"] == np.False_


def test_a_receiver_who_comes_into_the_gap_with_the_ball_is_counted(drawing):
    d = drawing(8.0).stands(a6=(-8, 0)).at(2.0, a8=(-2, 10)).at(3.0, a8=(10, 10))
    d.hold("a6", 0, 2).play("a6", "a8", 2, 3).hold("a8", 3, 8)
    assert find_between_the_lines(d.match()).table["placed"].tolist() == [2]  # he and a11


def test_a_keeper_is_not_placed_between_the_lines(drawing):
    d = drawing(8.0).stands(a6=(-8, 0), a1=(10, -5)).hold("a6", 0, 8)
    for match in (d.match(), stills(d.match(), 4.0)):
        found = find_between_the_lines(match, receptions=False).table
        assert found["receiver"].tolist() == ["a11"] and found["placed"].tolist() == [1]


def test_he_pins_the_wide_defender_inside(drawing):
    """a8 at (11, 16) is 8.06 m from b5 (18, 20); a10 at (12, 30) stands 10 m outside b5."""
    match = reception(drawing, 11, 16).match()
    assert find_between_the_lines(match).table["pins"].item() == "b5"
    assert find_between_the_lines(match, pin_m=8.0).table["pins"].item() == ""
    assert find_between_the_lines(match, outside_m=10.0).table["pins"].item() == "b5"
    assert find_between_the_lines(match, outside_m=10.01).table["pins"].item() == ""
    mirrored = reception(drawing, 11, -16).match()
    assert find_between_the_lines(mirrored).table["pins"].item() == "b2"


def test_nobody_is_his_own_man_outside(drawing):
    """b5 has come in to (18, 10.2): a8 at (14, 18.5) is 9.2 m from him, 8.3 m further out, and nobody else is outside."""
    d = reception(drawing, 14, 18.5).stands(b5=(18, 10.2), a10=(16, -3))
    assert find_between_the_lines(d.match()).table["pins"].item() == ""
    assert find_between_the_lines(d.match(), receptions=False).table["pins"].eq("").all()
    d = reception(drawing, 14, 18.5).stands(b5=(18, 10.2))  # a10 at (12, 30)
    assert find_between_the_lines(d.match()).table["pins"].item() == "b5"


def test_a_man_outside_who_is_marked_pins_nobody(drawing):
    """b9 stands 4 m from a10 at (12, 30)."""
    match = reception(drawing, 11, 16).stands(b9=(8, 30)).match()
    assert find_between_the_lines(match).table["pins"].item() == ""
    assert find_between_the_lines(match, free_m=4.0).table["pins"].item() == "b5"


@pytest.mark.parametrize(
    ("before", "facing", "turned"),
    [((6, 10), "goal", False), ((10, 6), "side", True), ((14, 10), "own goal", True), ((9.9, 10), "own goal", True)],
)
def test_which_way_he_looks_and_whether_he_turned(drawing, before, facing, turned):
    """He comes to (10, 10) within a second and runs on for another; then he plays forward."""
    after = (10 + 10 - before[0], 10 + 10 - before[1])
    d = drawing(8.0).stands(a6=(-8, 0), a11=(30, 10)).at(2.0, a8=before).at(4.0, a8=after)
    d.hold("a6", 0, 2).play("a6", "a8", 2, 3).hold("a8", 3, 5).play("a8", "a11", 5, 6).hold("a11", 6, 8)
    row = find_between_the_lines(d.match()).table.iloc[0]
    assert (row["facing"], row["turned"], row["next_action"]) == (facing, turned, "forward pass")


def test_a_full_back_who_stepped_out_still_belongs_to_the_back_line(drawing):
    """b5 stands at x = 3 while the ball is played: the back line is at (18 + 19 + 19 + 3) / 4 = 14.75."""
    d = reception(drawing).at(0.0, b5=(18, 20)).at(1.0, b5=(18, 20)).at(1.6, b5=(3, 20)).at(2.4, b5=(3, 20))
    row = find_between_the_lines(d.at(3.0, b5=(18, 20)).match()).table.iloc[0]
    assert row["gap_m"] == pytest.approx(14.75 - 3)


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"x": 3.0}, 1),  # level with the midfield line
        ({"x": 2.96}, 0),
        ({"x": 18.5}, 1),  # level with the back line
        ({"x": 18.54}, 0),
        ({"from_x": 2.96}, 1),
        ({"from_x": 3.0}, 0),  # played from the midfield line, not from in front of it
        ({"y": 20.16}, 1),  # the edge of the half-space
        ({"y": -20.16}, 1),
        ({"y": 20.2}, 0),
        ({"set_play": "throw-in"}, 0),
        ({"complete": False}, 0),
    ],
)
def test_edges_of_a_reception(drawing, changes, found):
    assert len(find_between_the_lines(reception(drawing, **changes).match())) == found


@pytest.mark.parametrize(("back", "found"), [(7.0, 1), (6.96, 0)])
def test_lines_too_near_together_leave_no_room(drawing, back, found):
    d = reception(drawing, x=5.0).stands(**{f"b{n}": (back, -20 + 10 * n) for n in range(2, 6)})
    assert len(find_between_the_lines(d.match())) == found


def test_a_margin_and_a_wider_strip_can_be_asked(drawing):
    match = reception(drawing, x=4.0, y=22.0).match()
    assert len(find_between_the_lines(match)) == 0
    assert len(find_between_the_lines(match, across_m=22.0)) == 1
    assert len(find_between_the_lines(match, across_m=22.0, inside_m=1.0)) == 1
    assert len(find_between_the_lines(match, across_m=22.0, inside_m=1.01)) == 0


@pytest.mark.parametrize(
    ("changes", "delivery"),
    [({"high": 1.0}, "ground"), ({"high": 1.2}, "air"), ({"detail": "through"}, "through"), ({"detail": "header"}, "air")],
)  # fmt: skip
def test_how_the_ball_came(drawing, changes, delivery):
    assert find_between_the_lines(reception(drawing, **changes).match()).table["delivery"].tolist() == [delivery]


def test_players_placed_by_hand(drawing):
    """a8 walks in at 2 m/s and is in the gap from x = 3 at 1.5 s on; a11 is there from the start."""
    d = drawing(8.0).stands(a6=(-8, 0)).at(0.0, a8=(0, 10)).at(5.0, a8=(10, 10)).hold("a6", 0, 8)
    found = find_between_the_lines(d.match(), receptions=False).table
    assert found["receiver"].tolist() == ["a11", "a8"] and found["players"].tolist() == [("a11",), ("a8",)]
    assert found["start_s"].tolist() == pytest.approx([0.0, 1.6], abs=0.01)  # at five instants a second
    assert found["end_s"].tolist() == [8.0, 8.0]
    assert found["placed"].tolist() == [2, 2] and found["passer"].tolist() == ["", ""]
    assert found["turned"].isna().all() and found["gap_m"].tolist() == [15.5, 15.5]


@pytest.mark.parametrize(("until", "found"), [(2.0, 1), (1.8, 0)])
def test_a_short_spell_is_no_placing(drawing, until, found):
    """a8 jumps in at 1 s and out at `until`; instants 1.0, 1.2 ... are looked at."""
    d = drawing(8.0).stands(a6=(-8, 0), a11=(30, 0)).hold("a6", 0, 8)
    d.at(0.96, a8=(0, 10)).at(1.0, a8=(10, 10)).at(until - 0.04, a8=(10, 10)).at(until, a8=(0, 10))
    assert len(find_between_the_lines(d.match(), receptions=False)) == found


def test_a_moment_out_of_the_gap_does_not_end_a_spell(drawing):
    """Out for two of the instants 0.2 s apart: one spell; out for a second: two."""
    for back_in, spells in ((3.4, 1), (4.0, 2)):
        d = drawing(8.0).stands(a6=(-8, 0), a11=(30, 0)).hold("a6", 0, 8)
        d.at(0.0, a8=(10, 10)).at(2.96, a8=(10, 10)).at(3.0, a8=(0, 10)).at(back_in - 0.04, a8=(0, 10))
        found = find_between_the_lines(d.at(back_in, a8=(10, 10)).match(), receptions=False)
        assert len(found) == spells


def test_nobody_is_placed_once_the_ball_is_past_the_midfield_line(drawing):
    d = drawing(8.0).stands(a6=(4, 0)).hold("a6", 0, 8)
    assert len(find_between_the_lines(d.match(), receptions=False)) == 0


@pytest.mark.parametrize("receptions", [True, False])
@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("after_s", "then_s", "repeats"), [(0.0, 0.0, 1), (0.0, 30.0, 1), (30.0, 0.0, 1), (5.0, 5.0, 3), (0.0, 0.0, 2)]
)
def test_wherever_in_the_period_and_whichever_way(drawing, receptions, turned, swapped, after_s, then_s, repeats):
    drawn = reception(drawing) if receptions else drawing(8.0).stands(a6=(-8, 0), a8=(10, 10)).hold("a6", 0, 8)
    made = drawn.match(turned=turned, swapped=swapped, after_s=after_s, then_s=then_s, repeats=repeats)
    found = find_between_the_lines(made, receptions=receptions).table
    his = found[found["receiver"] == "a8"]
    one = after_s + 8.0
    assert set(found["team"]) == {"a"} and set(his["corridor"]) == {"left half-space"}
    assert his["depth_m"].to_numpy() == pytest.approx(7.0) and his["y"].to_numpy() == pytest.approx(10.0)
    if receptions:
        assert his["start_s"].tolist() == pytest.approx([n * one + after_s + 2.0 for n in range(repeats)])
    elif after_s:
        assert his["start_s"].tolist() == pytest.approx([n * one + after_s for n in range(repeats)], abs=0.21)
    else:
        assert len(his) == 1  # adjoining: he never left


def test_tracking_alone_shows_it_and_says_so(drawing):
    found = find_between_the_lines(reception(drawing).match(events=False)).table
    assert found["receiver"].tolist() == ["a8"] and found["estimated"].all()
    assert found["next_action"].tolist() == [""] and found["turned"].isna().all()


def test_stills_show_who_is_on_the_ball_there_and_who_is_placed(drawing):
    made = reception(drawing).match()
    match = stills(made, 1.0, 4.0)
    found = find_between_the_lines(match).table
    assert found["receiver"].tolist() == ["a8"] and found["start_s"].tolist() == found["end_s"].tolist() == [4.0]
    assert (found["gap_m"].item(), found["depth_m"].item(), found["placed"].item()) == (15.5, 7.0, 2)
    assert (found["facing"].item(), found["phase"].item()) == ("", "")
    placed = find_between_the_lines(match, receptions=False).table
    assert placed[["start_s", "receiver"]].to_numpy().tolist() == [[1.0, "a8"], [1.0, "a11"]]
    turned = find_between_the_lines(stills(reception(drawing).match(turned=True), 1.0, 4.0)).table
    assert turned["receiver"].tolist() == ["a8"] and turned["y"].item() == pytest.approx(10)


def test_missing_frames_and_players(drawing):
    hidden = find_between_the_lines(reception(drawing).hide("a8").match()).table.iloc[0]
    assert (hidden["receiver"], hidden["depth_m"]) == ("a8", 7.0)  # the event says where it ends
    without = reception(drawing)
    for n in (2, 3, 6, 7):
        without.hide(f"b{n}")  # six outfield opponents are left: no lines
    assert len(find_between_the_lines(without.match())) == 0
    assert len(find_between_the_lines(reception(drawing).gap(2.2, 2.8).match())) == 1
    # Nothing of the five seconds around the pass: no place to read off.
    assert len(find_between_the_lines(reception(drawing).gap(0.0, 5.0).match())) == 0


@pytest.mark.parametrize("receptions", [True, False])
def test_nothing_found_has_the_same_columns(drawing, receptions):
    nothing = find_between_the_lines(drawing(5.0).stands(a11=(-5, 0)).hold("a3", 0, 5).match(), receptions=receptions)
    assert len(nothing) == 0
    assert nothing.table.dtypes.to_dict() == find_between_the_lines(reception(drawing).match()).table.dtypes.to_dict()


def test_events_alone_are_refused(drawing):
    with pytest.raises(
        MissingDataError,
        match=r"^Finder 'between the lines' needs tracking or stills; this match has events\. These finders do with "
        r"what is there: .*shot.*\.$",
    ):
        find(reception(drawing).match(tracking=False), "between the lines")


def test_called_as_a_function_it_refuses_in_words_too(drawing):
    with pytest.raises(
        MissingDataError,
        match=r"^Who is between the lines needs tracking; this match has events\. Stills show it, too\.$",
    ):
        find_between_the_lines(reception(drawing).match(tracking=False))


def test_what_facing_is_can_be_asked(drawing):
    """He stands, and the ball comes from (-18, -10): 151 degrees from the way to the goal."""
    match = reception(drawing).match()
    assert find_between_the_lines(match, own_goal_deg=151.5).table["facing"].item() == "side"
    assert find_between_the_lines(match, goal_deg=151.5, own_goal_deg=160.0).table["facing"].item() == "goal"
    assert find_between_the_lines(match, own_goal_deg=150.5).table["facing"].item() == "own goal"
