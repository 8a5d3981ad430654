"""Switches of play.  Every number by hand geometry from the drawing; the rules are common practice, no source."""

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_switches
from tactical_kit.match import Match, Period, Player, Team, events_table

# Side b stands shifted to the right of side a: the mean of its ten outfield players is y = -6.
B_SHIFTED = [(48, 0), *((18, y) for y in (-22, -12, -4, 6)), *((3, y) for y in (-22, -12, -4, 6)), (-11, -8), (-11, 12)]


def long_ball(drawing, y0=-26.0, y1=26.0, **more):
    """a2 on the right plays to a5 on the left, from 2 s to 4.4 s; a5 then keeps it."""
    d = drawing(9.0, b_stands=list(B_SHIFTED)).stands(a2=(-10, y0), a5=(-4, y1))
    return d.hold("a2", 0, 2).play("a2", "a5", 2, 4.4, **more).hold("a5", 4.4, 9)


def circulated(drawing, third=10.0):
    """a2 (-24) to a3 (-8) to a4 (8) to a5 (24): 48 m across in three passes from 1 s on; `third` = when it arrives."""
    d = drawing(14.0).stands(a2=(-22, -24), a3=(-28, -8), a4=(-28, 8), a5=(-20, 24))
    d.hold("a2", 0, 1).play("a2", "a3", 1, 2).hold("a3", 2, 4).play("a3", "a4", 4, 5).hold("a4", 5, third - 1)
    return d.play("a4", "a5", third - 1, third).hold("a5", third, 14)


def test_a_long_ball_by_hand(drawing):
    """52 m across in 2.4 s; the block's middle stays at -6: 20 m from the ball before, 32 m after."""
    row = find_switches(long_ball(drawing).match()).table.iloc[0]
    assert (row["start_s"], row["end_s"], row["team"], row["players"]) == (2.0, 4.4, "a", ("a2", "a5"))
    assert (row["x"], row["y"]) == (-4, 26)
    assert (row["lateral_m"], row["duration_s"], row["passes"], row["forward_m"]) == (52, pytest.approx(2.4), 1, 6)
    assert row["across_ms"] == pytest.approx(52 / 2.4)
    assert np.mean([y for _, y in B_SHIFTED[1:]]) == -6
    assert row["block_shift_m"] == pytest.approx(0, abs=1e-6)
    assert row["shift_lag_m"] == pytest.approx(32 - 20, abs=1e-5)
    # The nearest of them to (-4, 26): (-11, 12), 15.65 m.
    assert row["receiver_space_m"] == pytest.approx(np.hypot(7, 14), abs=1e-5)
    assert (row["receiver"], row["complete"], row["from_side"], row["to_side"]) == ("a5", True, "strong side", "left")
    assert row["estimated"] == np.False_


def test_a_circulated_switch_by_hand(drawing):
    row = find_switches(circulated(drawing).match()).table.iloc[0]
    assert (row["start_s"], row["end_s"], row["passes"]) == (1.0, 10.0, 3)
    assert (row["lateral_m"], row["duration_s"], row["forward_m"]) == (48, 9.0, 2)
    assert row["players"] == ("a2", "a3", "a4", "a5")
    assert row["from_side"] == "straight across"  # the side b of the drawing stands evenly: middle at 0


def test_two_passes_are_a_switch_by_hand(drawing):
    """-20 to 0 to 18: 38 m across; neither pass alone goes 25 m."""
    d = drawing(8.0).stands(a2=(-20, -20), a6=(-22, 0), a5=(-18, 18))
    d.hold("a2", 0, 1).play("a2", "a6", 1, 2).hold("a6", 2, 3).play("a6", "a5", 3, 4).hold("a5", 4, 8)
    row = find_switches(d.match()).table.iloc[0]
    assert (row["passes"], row["lateral_m"], row["duration_s"]) == (2, 38, 3.0)


def test_the_block_that_shifts_along_has_no_lag(drawing):
    """All of side b go 12 m over while the ball is on its way: middle from -6 to 6, 20 m from the ball both times."""
    d = long_ball(drawing)
    for n in range(2, 12):
        x, y = B_SHIFTED[n - 1]
        d.at(2.0, **{f"b{n}": (x, y)}).at(4.4, **{f"b{n}": (x, y + 12)})
    row = find_switches(d.match()).table.iloc[0]
    assert row["block_shift_m"] == pytest.approx(12, abs=1e-5)
    assert row["shift_lag_m"] == pytest.approx(0, abs=1e-5)


def test_the_receivers_time_ends_when_an_opponent_is_upon_him(drawing):
    """b10 sets out at 4.4 s 20 m away at 5 m/s: 2 m away after 3.6 s."""
    d = long_ball(drawing).at(4.4, b10=(16, 26)).at(8.4, b10=(-4, 26))
    assert find_switches(d.match()).table["receiver_time_s"].item() == pytest.approx(3.6, abs=0.05)
    assert find_switches(d.match(), longest_time_s=2.0).table["receiver_time_s"].item() == pytest.approx(2.0)


def test_the_receivers_time_ends_when_he_lets_it_go(drawing):
    d = drawing(9.0).stands(a2=(-10, -26), a5=(-4, 26), a10=(12, 30)).hold("a2", 0, 2).play("a2", "a5", 2, 4.4)
    d.hold("a5", 4.4, 6).play("a5", "a10", 6, 7).hold("a10", 7, 9)
    row = find_switches(d.match()).table.iloc[0]
    # 1.6 s, and two frames until the ball (16.5 m/s) is more than 1.2 m from his feet.
    assert row["receiver_time_s"] == pytest.approx(1.6 + 0.08, abs=0.001)
    assert row["next_action"] == "forward pass"


@pytest.mark.parametrize(
    ("y0", "y1", "found"),
    [
        (-11.0, 14.0, 1),  # exactly 25 m across and 14 m out
        (-10.99, 14.0, 0),  # a hand short of 25 m across
        (-20.0, 13.99, 0),  # ends a hand too far inside
        (0.0, 26.0, 1),  # from the very middle
        (1.0, 28.0, 0),  # 27 m, but the ball stays on its side
        (26.0, -26.0, 1),  # the other way
    ],
)
def test_edges_of_a_long_ball(drawing, y0, y1, found):
    assert len(find_switches(long_ball(drawing, y0, y1).match(), lateral_m=25, wide_m=14)) == found


@pytest.mark.parametrize(("third", "found"), [(13.0, 1), (13.04, 0)])
def test_a_circulated_switch_takes_twelve_seconds_at_most(drawing, third, found):
    assert len(find_switches(circulated(drawing, third).match())) == found


@pytest.mark.parametrize(("back_to", "found"), [(-3.0, 1), (-3.01, 0)])
def test_a_pass_back_across_ends_it(drawing, back_to, found):
    """-20 to 0, back by 3 m (3.01 m), then to 18."""
    d = drawing(10.0).stands(a2=(-20, -20), a6=(-22, 0), a3=(-28, back_to), a5=(-18, 18))
    d.hold("a2", 0, 1).play("a2", "a6", 1, 2).hold("a6", 2, 3).play("a6", "a3", 3, 4).hold("a3", 4, 5)
    switches = find_switches(d.play("a3", "a5", 5, 6).hold("a5", 6, 10).match()).table
    assert switches["passes"].tolist() == [3] * found


def test_what_follows_a_switch_on_the_same_side_is_not_another(drawing):
    """-20 to 0 to 15, and on to 20 out wide: the switch ends at 15."""
    d = drawing(10.0).stands(a2=(-20, -20), a6=(-22, 0), a8=(-18, 15), a5=(-10, 20))
    d.hold("a2", 0, 1).play("a2", "a6", 1, 2).hold("a6", 2, 3).play("a6", "a8", 3, 4).hold("a8", 4, 5)
    found = find_switches(d.play("a8", "a5", 5, 6).hold("a5", 6, 10).match()).table
    assert found["players"].tolist() == [("a2", "a6", "a8")]


def test_a_long_ball_with_passes_before_and_after_is_the_long_ball_alone(drawing):
    """-20 to -15, across to 15, and on to 20."""
    d = drawing(10.0).stands(a2=(-20, -20), a3=(-24, -15), a4=(-18, 15), a5=(-10, 20))
    d.hold("a2", 0, 1).play("a2", "a3", 1, 2).hold("a3", 2, 3).play("a3", "a4", 3, 5).hold("a4", 5, 6)
    found = find_switches(d.play("a4", "a5", 6, 7).hold("a5", 7, 10).match()).table
    assert found["players"].tolist() == [("a3", "a4")]


def test_more_passes_than_allowed_are_none(drawing):
    match = circulated(drawing).match()
    assert len(find_switches(match, most_passes=3)) == 1
    assert len(find_switches(match, most_passes=2)) == 0
    assert len(find_switches(match, most_passes=1)) == 0


def test_a_ball_lost_on_the_way_breaks_it(drawing):
    d = drawing(12.0).stands(a2=(-22, -24), a3=(-28, -8), a4=(-28, 8), a5=(-20, 24), b10=(-26, 0))
    d.hold("a2", 0, 1).play("a2", "a3", 1, 2).hold("a3", 2, 3).play("a3", "b10", 3, 4, complete=False)
    d.event("interception", "b10", 4).hold("b10", 4, 5).event("pass", "b10", 5, end_s=6, receiver="a4", to="a4",
        success=False, outcome="intercepted")  # fmt: skip
    d.ball_keys += [(5, "b10", 0.0), (6, "a4", 0.0)]
    d.event("interception", "a4", 6).hold("a4", 6, 7).play("a4", "a5", 7, 8).hold("a5", 8, 12)
    assert len(find_switches(d.match())) == 0


@pytest.mark.parametrize("restart", ["throw-in", "free-kick", "goal-kick", "corner"])
def test_a_restart_is_no_switch(drawing, restart):
    assert len(find_switches(long_ball(drawing, set_play=restart).match())) == 0


@pytest.mark.parametrize("detail", ["cross", "cut-back"])
def test_a_cross_is_no_switch(drawing, detail):
    assert len(find_switches(long_ball(drawing, detail=detail).match())) == 0


def test_a_long_ball_that_does_not_arrive_counts_as_far_as_it_went(drawing):
    d = drawing(6.0).stands(a2=(-10, -26), b2=(0, 20)).hold("a2", 0, 2).play("a2", "b2", 2, 4, complete=False)
    row = find_switches(d.event("interception", "b2", 4).hold("b2", 4, 6).match()).table.iloc[0]
    assert (row["complete"], row["receiver"], row["players"], row["lateral_m"]) == (False, "", ("a2",), 46)
    assert np.isnan(row["receiver_space_m"]) and np.isnan(row["receiver_time_s"])
    assert row["next_action"] == ""


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("after_s", "then_s", "repeats"), [(0.0, 0.0, 1), (0.0, 30.0, 1), (30.0, 0.0, 1), (5.0, 5.0, 3), (0.0, 0.0, 2)]
)
def test_wherever_in_the_period_and_whichever_way(drawing, turned, swapped, after_s, then_s, repeats):
    """Start, end, middle, several, adjoining; both directions of attack, either side at home."""
    made = long_ball(drawing).match(turned=turned, swapped=swapped, after_s=after_s, then_s=then_s, repeats=repeats)
    found = find_switches(made).table
    one = after_s + 9.0
    assert found["start_s"].tolist() == pytest.approx([n * one + after_s + 2.0 for n in range(repeats)])
    assert set(found["team"]) == {"a"} and set(found["to_side"]) == {"left"}
    assert found["shift_lag_m"].to_numpy() == pytest.approx(12.0, abs=1e-4)
    assert found["y"].tolist() == [26.0] * repeats


def test_the_tracking_alone_shows_it_and_says_so(drawing):
    found = find_switches(long_ball(drawing).match(events=False)).table
    assert found["players"].tolist() == [("a2", "a5")] and found["estimated"].all()
    # A player has the ball from up to 3 m away on: that much of the way may be missing.
    assert found["lateral_m"].item() == pytest.approx(52, abs=3.0)
    assert found["next_action"].item() == ""


def test_the_events_alone_show_it_without_what_positions_give(drawing):
    row = find_switches(long_ball(drawing).match(tracking=False)).table.iloc[0]
    assert (row["lateral_m"], row["passes"], row["from_side"]) == (52, 1, "")
    assert np.isnan([row[c] for c in ("receiver_space_m", "receiver_time_s", "block_shift_m", "shift_lag_m")]).all()


def test_missing_frames_and_a_missing_receiver_leave_unknown_what_they_hide(drawing):
    hidden = find_switches(long_ball(drawing).hide("a5").match()).table.iloc[0]
    assert np.isnan(hidden["receiver_space_m"]) and np.isnan(hidden["receiver_time_s"])
    gap = find_switches(long_ball(drawing).gap(2.5, 4.0).match()).table
    assert len(gap) == 1 and gap["receiver_space_m"].item() == pytest.approx(np.hypot(7, 14), abs=1e-5)
    few = long_ball(drawing)
    for n in range(2, 6):
        few.hide(f"b{n}")  # six outfield opponents are left: no middle of a block
    row = find_switches(few.match()).table.iloc[0]
    assert np.isnan(row["shift_lag_m"]) and row["from_side"] == ""


def test_nothing_found_has_the_same_columns(drawing):
    nothing = find_switches(drawing(5.0).hold("a3", 0, 5).match())
    assert len(nothing) == 0
    assert nothing.table.dtypes.to_dict() == find_switches(long_ball(drawing).match()).table.dtypes.to_dict()


def test_neither_events_nor_tracking_is_refused():
    teams = (Team(t, t, t, (Player(f"{t}1", t, t, 1, "GK"),)) for t in "ab")
    match = Match("m", *teams, (Period(1, 10.0, 1),), tags=None)
    with pytest.raises(
        MissingDataError, match=r"^Finder 'switch' needs events or tracking; this match has nothing yet\.$"
    ):
        find(match, "switch")
    assert len(find(match.with_data(events=events_table([])), "switch")) == 0
