"""Wide traps, by drawn sequences.  Side a has the ball, side b traps; places are in the attacking frame of side a.

a4 at (-30, 8) plays to a5 at (-15, 26), 2 to 3 s.  b9 stands at (0, 26), 15 m from him and level, and from 3 s on
runs at him at 5 m/s; he stops 2 m short at (-13, 26), 5.6 s.  b7 at (-10, 18) stands in the lane to a8 at (-5, 10): the
line from (-15, 26) goes through (-10, 18).  Open further inside are a4, 23.4 m away, and a6 at (-20, 2), 24.5 m.
Around the ball (12 m) b has b9 and b7 (9.4 m), a only a5.  Speeds are looked at every 0.2 s and are means over 0.44 s.
What is called a wide trap is common practice, no source; the numbers are worked out by hand."""

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_wide_traps

PLACEMENTS = [
    {},
    {"turned": True},
    {"swapped": True},
    {"turned": True, "swapped": True},
    {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0},
    {"after_s": 20.0},
]


def trap(drawing, *, at=(-15.0, 26.0), start=(0.0, 26.0), speed=5.0, stop_m=2.0, seconds=9.0, leaves=9.0, **places):
    """The sequence of the docstring: b9 runs straight at `at` and stops `stop_m` short of it."""
    stands = dict(a4=(-30, 8), a5=at, a6=(-20, 2), a8=(-5, 10), b7=(-10, 18)) | places
    drawn = drawing(seconds).stands(**stands)
    way = np.array(at) - np.array(start)
    length = np.hypot(*way)
    stop = np.array(start) + way * (length - stop_m) / length
    drawn.at(3, b9=start).at(3 + (length - stop_m) / speed, b9=tuple(stop))
    drawn.hold("a4", 0, 2).play("a4", "a5", 2, 3)
    return drawn.hold("a5", 3, leaves)


def only(moments):
    assert len(moments) == 1, moments.table
    return moments.table.iloc[0]


@pytest.mark.parametrize("where", PLACEMENTS)
def test_a_full_back_is_shut_in(drawing, where):
    row = only(find_wide_traps(trap(drawing).match(**where)))
    shift = where.get("after_s", 0.0)
    assert (row.team, row.victim, row.jumper, row.players) == ("b", "a5", "b9", ("b9", "a5"))
    assert (row.n_for, row.n_against, row.open_inside, row.lane_in_shut) == (2, 1, 2, True)
    np.testing.assert_allclose([row.x, row.y], [15, -26], atol=1e-4)
    assert row.side == "right"  # as b looks up the pitch
    # He sets off 1.2 s after the pass (at 3.0 s he has half his speed), and is 3.5 m away after 11.5 m, 2.3 s: 5.4 s.
    np.testing.assert_allclose([row.jump_s, row.arrive_s, row.closing_ms], [1.2, 2.4, 5.0], atol=0.02)
    np.testing.assert_allclose([row.start_s, row.end_s], [2 + shift, 5.4 + shift], atol=1e-6)
    assert not row.won and not row.estimated


def test_on_the_other_side(drawing):
    """The drawing mirrored: a2 at (-15, -26) by a3, b8 jumps, b6 stands in the lane to a7; b's left."""
    drawn = drawing(9.0).stands(a3=(-30, -8), a2=(-15, -26), a6=(-20, -2), a7=(-5, -10), b6=(-10, -18))
    drawn.at(3, b8=(0, -26)).at(5.6, b8=(-13, -26))
    row = only(find_wide_traps(drawn.hold("a3", 0, 2).play("a3", "a2", 2, 3).hold("a2", 3, 9).match()))
    assert (row.victim, row.jumper, row.side, row.lane_in_shut) == ("a2", "b8", "left", True)


def test_a_winger_is_shut_in(drawing):
    """a10 gets it at (-5, 28) from a5; b9 comes from (8, 24); b7 stands between him and a8."""
    drawn = drawing(9.0).stands(a5=(-25, 24), a10=(-5, 28), a8=(-8, 12), b7=(-6, 20), a6=(-20, 0))
    drawn.at(3, b9=(8, 24)).at(5.4, b9=(-3.5, 27.5))
    row = only(find_wide_traps(drawn.hold("a5", 0, 2).play("a5", "a10", 2, 3).hold("a10", 3, 9).match()))
    assert (row.victim, row.jumper) == ("a10", "b9")


@pytest.mark.parametrize(
    ("found", "change"),
    [
        (True, {"speed": 4.05}),
        (False, {"speed": 3.95}),  # 4 m/s
        (True, {"stop_m": 3.45}),
        (False, {"stop_m": 3.55}),  # 3.5 m
        (True, {"start": (-9.9, 26), "stop_m": 0.0}),
        (False, {"start": (-10.1, 26), "stop_m": 0.0}),  # from 5 m
        (True, {"at": (-15, 20.2), "start": (0, 20.2), "b7": (-10, 15)}),
        (False, {"at": (-15, 20.1), "start": (0, 20.1), "b7": (-10, 15)}),  # the wing corridor, 20.16 m
        (True, {"start": (-5, 28.9)}),
        (False, {"start": (-5, 29.1)}),  # from outside: he opens the way in
        (True, {"a10": (-15, 33.5)}),  # two of each side within 12 m
        (False, {"a10": (-15, 33.5), "a11": (-6, 27)}),  # two against three
        (False, {"a7": (-16, 8)}),  # a third open lane inside, 18 m
        (True, {"a7": (-16, 22)}),  # not 5 m further inside: no way in (a short one, with two against two)
    ],
)
def test_just_inside_and_just_outside(drawing, found, change):
    assert len(find_wide_traps(trap(drawing, **change).match())) == found


@pytest.mark.parametrize(("x", "found"), [(11.9, True), (12.1, False)])
def test_short_of_the_last_third(drawing, x, found):
    """The same picture 27 m further on; the block stands deeper, too."""
    move = 27.0 if found else 27.2
    block = {f"b{n}": (36, y) for n, y in zip((2, 3, 4, 5), (-18, -6, 6, 18))}
    block |= {
        "b6": (26, -6),
        "b8": (26, -20),
        "b10": (10, -5),
        "b11": (10, 5),
        "b7": (x + 5, 18),
        "a10": (30, 30),
        "a11": (34, 0),
    }
    drawn = trap(
        drawing, at=(x, 26.0), start=(x + 15, 26.0), a4=(-30 + move, 8), a6=(-20 + move, 2), a8=(x + 10, 10), **block
    )
    assert len(find_wide_traps(drawn.match())) == found
    assert len(find_wide_traps(drawn.match(), furthest_x_m=13.0)) == 1


def test_he_plays_on_before_anybody_is_there(drawing):
    """a5 plays it back at 3.8 s, b9 is still 11 m away."""
    drawn = trap(drawing, leaves=3.8).play("a5", "a4", 3.8, 4.8).hold("a4", 4.8, 9)
    assert len(find_wide_traps(drawn.match())) == 0


@pytest.mark.parametrize(("out_at", "found"), [(5.38, 0), (5.42, 1)])
def test_the_ball_goes_out_before_anybody_is_there(drawing, out_at, found):
    """b9 is there at 5.4 s."""
    assert len(find_wide_traps(trap(drawing).dead_ball(out_at, 9.0).match())) == found


def test_what_is_inside_and_what_is_open_can_be_asked(drawing):
    """Further inside than a5 by 16 m is a8, by 18 m a4, by 24 m a6; b7 stands on the line to a8."""
    row = only(find_wide_traps(trap(drawing).match(), further_in_m=24.0))
    assert (row.open_inside, row.lane_in_shut) == (1, False)
    assert only(find_wide_traps(trap(drawing).match(), further_in_m=24.01)).open_inside == 0
    row = only(find_wide_traps(trap(drawing).match(), lane_m=0.0, most_open_inside=3))
    assert (row.open_inside, row.lane_in_shut) == (3, False)


def test_the_ball_is_won(drawing):
    """b9 has it from 6.0 s on: 4 s after the pass, within the frame."""
    drawn = trap(drawing, stop_m=0.5, leaves=5.9, seconds=12.0).hold("b9", 6.0, 12)
    drawn.event("tackle", "b9", 6.0, success=True, outcome="won").event("carry", "b9", 6.2, end_s=11.5, to="b9")
    row = only(find_wide_traps(drawn.match()))
    assert row.won and row.outcome == "won"
    assert 3.9 <= row.regain_s <= 4.3 and row.end_s == pytest.approx(row.start_s + row.regain_s)


def test_they_get_out(drawing):
    """He finds a8, 10 m further up, as b7 is drawn aside: exactly the ten metres that are asked for."""
    drawn = trap(drawing, leaves=6.0, seconds=14.0, b7=(-14, 16)).play("a5", "a8", 6, 7).hold("a8", 7, 14)
    assert only(find_wide_traps(drawn.match(), most_open_inside=3, gain_m=9.99)).outcome == "beaten"
    assert only(find_wide_traps(drawn.match(), most_open_inside=3, gain_m=10.01)).outcome == "kept"


@pytest.mark.parametrize("events", [True, False])
def test_with_and_without_events(drawing, events):
    row = only(find_wide_traps(trap(drawing).match(events=events)))
    assert (row.victim, row.jumper, row.estimated) == ("a5", "b9", not events)


def test_several_in_a_row(drawing):
    found = find_wide_traps(trap(drawing).match(repeats=3, after_s=15.0))
    assert found["start_s"].tolist() == [17.0, 41.0, 65.0]


@pytest.mark.parametrize(("hidden", "left"), [("b9", 0), ("a5", 0), ("b4", 1)])
def test_a_player_who_is_not_seen(drawing, hidden, left):
    """Without the jumper or the receiver nothing can be told; b4 plays no part."""
    assert len(find_wide_traps(trap(drawing).hide(hidden).match())) == left


def test_missing_frames(drawing):
    assert len(find_wide_traps(trap(drawing).gap(3.1, 6.5).match())) == 0
    assert len(find_wide_traps(trap(drawing).gap(0.2, 1.2).match())) == 1


def test_none_has_the_same_columns(drawing):
    none = find_wide_traps(drawing(6.0).hold("a3", 0, 6).match())
    some = find_wide_traps(trap(drawing).match())
    assert len(none) == 0 and none.table.dtypes.to_dict() == some.table.dtypes.to_dict()


def test_refused_without_tracking(drawing):
    events_only = trap(drawing).match(tracking=False)
    with pytest.raises(MissingDataError, match=r"^A wide trap needs tracking; this match has events\.$"):
        find_wide_traps(events_only)
    with pytest.raises(MissingDataError, match=r"^Finder 'wide trap' needs tracking; this match has events\."):
        find(events_only, "wide trap")
