"""Presses, by drawn sequences.  Side a builds up, side b presses; places are in the attacking frame of side a.

a4 gets a back pass at (-32, 0) at 3 s.  b11 stands at (-16, 0), 16 m away, and from 3 s on runs straight at him at 5 m/s to
(-30, 0), where he is 5.8 s into the sequence, 2 m from the ball.  Speeds are looked at every 0.2 s and are means over
0.44 s: at 3.0 s he has half his speed (2.5 m/s, not yet running), at 3.2 s all of it, having gone 1 m.  All else is worked
out by hand; what is called a press is common practice, no source."""

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_presses

PLACEMENTS = [
    {},
    {"turned": True},
    {"swapped": True},
    {"turned": True, "swapped": True},
    {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0},
    {"after_s": 20.0},
]


def jump(drawing, speed=5.0, start=(-16.0, 0.0), stop_x=-30.0, sets_off=3.0, seconds=8.0, passer=(-20, -12), **more):
    """The sequence of the docstring; `speed` along x from `start` to `stop_x`."""
    drawn = drawing(seconds).stands(a4=(-32, 0), a6=passer, b10=(-8, 5), a8=(-6, 1), a7=(-6, -14), **more)
    drawn.at(sets_off, b11=start).at(sets_off + (start[0] - stop_x) / speed, b11=(stop_x, start[1]))
    return drawn.hold("a6", 0, 2).play("a6", "a4", 2, 3).hold("a4", 3, seconds)


def only(moments):
    assert len(moments) == 1, moments.table
    return moments.table.iloc[0]


@pytest.mark.parametrize("where", PLACEMENTS)
def test_a_jump_at_a_back_pass(drawing, where):
    row = only(find_presses(jump(drawing).match(**where)))
    shift = where.get("after_s", 0.0)
    assert (row.team, row.cue, row.presser, row.target, row.players) == ("b", "back pass", "b11", "a4", ("b11",))
    np.testing.assert_allclose([row.start_s, row.end_s], [2 + shift, 5.8 + shift], atol=0.21)
    np.testing.assert_allclose([row.x, row.y], [32, 0], atol=1e-4)  # his attacking frame
    assert (row.jumpers, row.target_position) == (1, "LCB")
    np.testing.assert_allclose([row.closing_ms, row.run_m, row.nearest_m], [5, 15, 2], atol=0.02)
    # a8 at (-6, 1): the line to him passes b11 on his way at less than 1 m; he is 26 m from the ball.
    assert row.lane_shut == "a8"
    assert row.phase in ("mid-block", "high press") and not row.estimated


def test_two_jump_and_the_nearer_comes_second_in_the_order(drawing):
    """b10 runs at the ball, too, at 4 m/s from (-8, 5), and stops 12 m short of it."""
    drawn = jump(drawing)
    way = np.array([-24.0, -5.0]) / np.hypot(24, 5)
    far = np.array([-8.0, 5.0]) + (np.hypot(24, 5) - 12) * way
    drawn.keys["b10"] = []
    drawn.at(3, b10=(-8, 5)).at(3 + (np.hypot(24, 5) - 12) / 4, b10=tuple(far))
    row = only(find_presses(drawn.match(), least_jumpers=2))
    assert (row.jumpers, row.presser, row.players) == (2, "b11", ("b11", "b10"))
    assert len(find_presses(jump(drawing).match(), least_jumpers=2)) == 0


def test_a_jump_at_a_pass_to_the_keeper(drawing):
    """a1 gets it at (-46, 0); b11 runs from (-30, 0) at 6 m/s to (-44.5, 0)."""
    drawn = drawing(8.0).stands(a1=(-46, 0), a3=(-32, -12), a4=(-32, 12), b10=(-20, 8))
    drawn.at(3, b11=(-30, 0)).at(3 + 14.5 / 6, b11=(-44.5, 0))
    row = only(find_presses(drawn.hold("a3", 0, 2).play("a3", "a1", 2, 3).hold("a1", 3, 8).match()))
    assert (row.cue, row.target, row.presser) == ("pass to keeper", "a1", "b11")
    np.testing.assert_allclose([row.closing_ms, row.nearest_m, row.x], [6, 1.5, 46], atol=0.02)


def test_a_jump_at_a_poor_touch(drawing):
    drawn = drawing(8.0).stands(a4=(-32, 0), a8=(-6, 1)).hold("a4", 0, 8).event("touch", "a4", 2.2)
    drawn.at(3, b11=(-16, 0)).at(5.8, b11=(-30, 0))
    row = only(find_presses(drawn.match()))
    assert (row.cue, row.target, row.start_s, row.presser) == ("poor touch", "a4", 2.2, "b11")


@pytest.mark.parametrize(
    ("found", "change"),
    [
        (True, {"speed": 4.05}),
        (False, {"speed": 3.95}),  # 4 m/s
        (True, {"stop_x": -27.05}),
        (False, {"stop_x": -26.95}),  # 5 m
        (True, {"sets_off": 3.8}),
        (False, {"sets_off": 4.2}),  # seen to run at 4.0 and at 4.4 s: at most 2 s after the pass
        (True, {"passer": (-28, -12)}),
        (False, {"passer": (-28.2, -12)}),  # back by 3.8 m: no cue
    ],
)
def test_just_inside_and_just_outside(drawing, found, change):
    assert len(find_presses(jump(drawing, **change).match())) == found


@pytest.mark.parametrize(("start_x", "found"), [(-26.1, False), (-25.9, True)])
def test_he_comes_from_five_metres(drawing, start_x, found):
    """On the first instant in which he runs, 3.2 s, he has gone 1 m: 4.9 and 5.1 m from the ball."""
    assert len(find_presses(jump(drawing, start=(start_x, 0), stop_x=-31.5).match())) == found


@pytest.mark.parametrize(("x", "found"), [(14.9, True), (15.1, False)])
def test_not_on_the_edge_of_the_own_third(drawing, x, found):
    """a5, a full-back, gets the ball at (x, 0) in b's own half; b11 jumps from 16 m further on.  Not the last third yet."""
    block = {f"b{n}": (x + 18, y) for n, y in zip((2, 3, 4, 5), (-20, -7, 7, 20))}
    block |= {f"b{n}": (x + 10, y) for n, y in zip((6, 7, 8, 9, 10), (-6, 6, -20, 20, 0))}
    drawn = drawing(8.0).stands(a5=(x, 0), a6=(8, -12), a3=(x - 20, -5), a2=(x - 12, 5), **block)
    drawn.at(3, b11=(x + 16, 0)).at(5.8, b11=(x + 2, 0))
    drawn.hold("a6", 0, 2).play("a6", "a5", 2, 3).hold("a5", 3, 8)
    assert len(find_presses(drawn.match())) == found
    assert len(find_presses(drawn.match(), least_x_m=-16.0)) == 1


def test_a_block_that_shifts_with_him_does_not_jump(drawing):
    """All ten run alike: he is no faster than his side (own_ms).  With five of them the side moves at 2.5 m/s."""

    def with_others(count):
        drawn = jump(drawing)
        for n, (x, y) in zip(range(2, 2 + count), drawn.b_stands[1:]):
            drawn.keys[f"b{n}"] = []
            drawn.at(3, **{f"b{n}": (x, y)}).at(5.8, **{f"b{n}": (x - 14, y)})
        return drawn.match()

    assert len(find_presses(with_others(9))) == 0
    assert len(find_presses(with_others(4))) == 1
    assert len(find_presses(with_others(9), own_ms=-0.1)) == 1


def test_without_a_cue_only_if_asked_for(drawing):
    drawn = drawing(8.0).stands(a4=(-32, 0)).hold("a4", 0, 8).at(3, b11=(-16, 0)).at(5.8, b11=(-30, 0))
    assert len(find_presses(drawn.match())) == 0
    row = only(find_presses(drawn.match(), uncued=True))
    assert (row.cue, row.target, row.presser) == ("", "a4", "b11")
    np.testing.assert_allclose([row.start_s, row.x, row.y], [3.2, 32, 0], atol=1e-4)


def test_somebody_was_running_at_the_ball_before_the_cue(drawing):
    """b10 runs at a6 from the start, at 3.5 m/s; the back pass at 2 s is the first cue, and b11 jumps at it."""
    drawn = jump(drawing)
    drawn.keys["b10"] = []
    row = only(find_presses(drawn.at(0, b10=(6, -12)).at(3, b10=(-4.5, -12)).match()))
    assert (row.cue, row.presser, row.target, row.start_s) == ("back pass", "b11", "a4", 2.0)
    np.testing.assert_allclose([row.closing_ms, row.run_m, row.nearest_m], [5, 15, 2], atol=0.02)


def test_he_sets_off_when_he_runs_himself(drawing):
    """b10 runs from 3 s on, b11 only from 4.4 s on, when a4 has carried the ball to (-29, 0): 13 m, 12 m seen at 4.6 s."""
    drawn = drawing(8.0).stands(a6=(-20, -12), a8=(-6, 1), a7=(-6, -14))
    drawn.at(3, a4=(-32, 0)).at(4.4, a4=(-29, 0)).at(3, b10=(-8, 5)).at(5, b10=(-16, 4))
    drawn.at(4.4, b11=(-16, 0)).at(6.6, b11=(-27, 0))
    row = only(find_presses(drawn.hold("a6", 0, 2).play("a6", "a4", 2, 3).hold("a4", 3, 8).match()))
    assert (row.presser, row.jumpers) == ("b11", 2)
    np.testing.assert_allclose([row.run_m, row.nearest_m], [12, 2], atol=0.05)


@pytest.mark.parametrize(("until", "jumpers"), [(3.6, 1), (3.9, 2)])
def test_two_steps_are_no_jump(drawing, until, jumpers):
    """b10 runs at the ball at 5 m/s from 3 s on; seen to run at 3.2 and 3.4 s, or at 3.6 s, too: 0.6 s."""
    drawn = jump(drawing)
    way = np.array([-24.0, -5.0]) / np.hypot(24, 5) * 5 * (until - 3)
    drawn.keys["b10"] = []
    row = only(find_presses(drawn.at(3, b10=(-8, 5)).at(until, b10=(-8 + way[0], 5 + way[1])).match()))
    assert row.jumpers == jumpers


def test_speed_out_of_reach_does_not_count(drawing):
    """b11 comes at 6 m/s from 24 m to 16 m and goes on at 3.5 m/s; b10 runs meanwhile at 3.2 m/s, from 15 to 10.2 m."""
    drawn = drawing(11.0).stands(a4=(-32, 0), a6=(-20, -12), a8=(-6, 1), a7=(-6, -14))
    drawn.at(3, b10=(-20, -9)).at(4.5, b10=(-23.84, -6.12))
    drawn.at(3, b11=(-8, 0)).at(3 + 8 / 6, b11=(-16, 0)).at(3 + 8 / 6 + 4, b11=(-30, 0))
    match = drawn.hold("a6", 0, 2).play("a6", "a4", 2, 3).hold("a4", 3, 11).match()
    row = only(find_presses(match))
    np.testing.assert_allclose([row.closing_ms, row.run_m], [6, 23], atol=0.3)
    assert len(find_presses(match, reach_m=16.0)) == 0
    row = only(find_presses(match, reach_m=16.0, fast_ms=3.4))
    np.testing.assert_allclose([row.closing_ms, row.run_m], [3.5, 15.6], atol=0.4)


def test_what_is_a_cue_and_a_shut_lane_can_be_asked(drawing):
    """The pass goes back 12 m."""
    assert only(find_presses(jump(drawing).match(), back_m=12.0)).cue == "back pass"
    assert len(find_presses(jump(drawing).match(), back_m=12.01)) == 0
    assert only(find_presses(jump(drawing).match(), shadow_m=0.0)).lane_shut == ""


def test_a_ball_that_flies_past_him_is_not_near(drawing):
    """a4 plays over b11 at once, as he comes to 6 m: the ball passes over his head."""
    drawn = drawing(8.0).stands(a4=(-32, 0), a6=(-20, -12), a11=(10, 0), b10=(-8, 5), a8=(-6, 14))
    drawn.at(3, b11=(-16, 0)).at(5, b11=(-26, 0))
    drawn.hold("a6", 0, 2).play("a6", "a4", 2, 3).hold("a4", 3, 4.9).play("a4", "a11", 4.9, 6.9).hold("a11", 6.9, 8)
    assert len(find_presses(drawn.match())) == 0


def test_the_ball_is_won(drawing):
    """b11 takes the ball off a4 at 5.8 s and keeps it: 3.8 s after the pass."""
    drawn = jump(drawing, stop_x=-31.5, seconds=12.0)
    drawn.ball_keys = [k for k in drawn.ball_keys if k[0] < 3] + [(3, "a4", 0.0)]
    drawn.hold("a4", 3, 6.1).hold("b11", 6.2, 12).event("tackle", "b11", 6.2, success=True, outcome="won")
    drawn.event("carry", "b11", 6.4, end_s=11.5, success=True, to="b11")
    row = only(find_presses(drawn.match()))
    assert row.outcome == "won"
    assert 4.2 <= row.regain_s <= 4.5 and row.end_s == row.start_s + row.regain_s


def test_they_get_out(drawing):
    """a4 finds a8, who is 26 m further up and keeps it: more than 10 m gained."""
    drawn = drawing(16.0).stands(a4=(-32, 0), a6=(-20, -12), b10=(-8, 5), a8=(-6, 14))
    drawn.at(3, b11=(-16, 0)).at(5.8, b11=(-30, 0))
    drawn.hold("a6", 0, 2).play("a6", "a4", 2, 3).hold("a4", 3, 6).play("a4", "a8", 6, 8).hold("a8", 8, 16)
    row = only(find_presses(drawn.match()))
    assert row.outcome == "beaten" and np.isnan(row.regain_s)
    row = only(find_presses(drawn.match(), gain_m=27.0))
    assert row.outcome == "kept"


@pytest.mark.parametrize("events", [True, False])
def test_with_and_without_events(drawing, events):
    row = only(find_presses(jump(drawing).match(events=events)))
    assert (row.cue, row.presser, row.estimated) == ("back pass", "b11", not events)


def test_several_in_a_row(drawing):
    found = find_presses(jump(drawing).match(repeats=3, after_s=15.0))
    assert found["start_s"].round(1).tolist() == [17.0, 40.0, 63.0]
    assert found["presser"].tolist() == ["b11"] * 3


def test_a_pause_makes_no_new_press(drawing):
    """b11 runs 3.0 to 4.4 s, stands, and runs on after 1.6 s (the pause of 2 s is the limit) or after 2.6 s."""

    def stopping(pause):
        drawn = drawing(12.0).stands(a4=(-32, 0), a6=(-20, -12), b10=(-8, 5), a8=(-6, 1))
        drawn.at(3, b11=(-12, 0)).at(4.4, b11=(-19, 0)).at(4.4 + pause, b11=(-19, 0)).at(6.6 + pause, b11=(-30, 0))
        return drawn.hold("a6", 0, 2).play("a6", "a4", 2, 3).hold("a4", 3, 12).match()

    row = only(find_presses(stopping(1.6)))
    np.testing.assert_allclose([row.start_s, row.end_s, row.run_m], [2, 8.2, 19], atol=0.25)
    assert len(find_presses(stopping(2.6))) == 0  # the first run ends 13 m short, the second has no cue


@pytest.mark.parametrize("hidden", ["b11", "a4", "b4"])
def test_a_player_who_is_not_seen(drawing, hidden):
    """Without the presser nothing is found; without the receiver the ball is still there; b4 plays no part."""
    assert len(find_presses(jump(drawing).hide(hidden).match())) == (hidden != "b11")


def test_missing_frames(drawing):
    assert len(find_presses(jump(drawing).gap(3.2, 5.4).match())) == 0
    assert len(find_presses(jump(drawing).gap(0.2, 1.2).match())) == 1


def test_none_has_the_same_columns(drawing):
    none = find_presses(drawing(6.0).hold("a3", 0, 6).match())
    some = find_presses(jump(drawing).match())
    assert len(none) == 0 and none.table.dtypes.to_dict() == some.table.dtypes.to_dict()


def test_refused_without_tracking(drawing):
    events_only = jump(drawing).match(tracking=False)
    with pytest.raises(MissingDataError, match=r"^A press needs tracking; this match has events\.$"):
        find_presses(events_only)
    with pytest.raises(MissingDataError, match=r"^Finder 'press' needs tracking; this match has events\."):
        find(events_only, "press")
