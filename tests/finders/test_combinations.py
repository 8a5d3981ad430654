"""Third man and one-two.  Numbers by hand geometry from the drawing; the rules are common practice, no source."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_one_twos, find_third_men


def third_man(drawing, up_to=4.0, off_at=3.4, speed=4.0, third="a8", x0=-9.0, **more):
    """a6 (-10, 0) up to a11 (up_to, 0), who lays it off to a8 coming forward at `speed` on y = 8."""
    d = drawing(8.0).stands(a6=(-10, 0), a11=(up_to, 0), b10=(-5, 5), b11=(-5, -5))
    d.at(2.0, **{third: (x0, 8)}).at(5.0, **{third: (x0 + 3 * speed, 8)})
    d.hold("a6", 0, 2).play("a6", "a11", 2, 3, **more).hold("a11", 3, off_at)
    return d.play("a11", third, off_at, off_at + 0.6).hold(third, off_at + 0.6, 8)


def one_two(drawing, run_to=2.0, off_at=3.4):
    """a8 (-6, -10) to a11 (0, -4) and back to a8, who has run on to (run_to, -12)."""
    d = drawing(8.0).stands(a11=(0, -4), b10=(-3, -11), b11=(-9, 0))
    d.at(2.0, a8=(-6, -10)).at(off_at + 0.6, a8=(run_to, -12))
    d.hold("a8", 0, 2).play("a8", "a11", 2, 3).hold("a11", 3, off_at)
    return d.play("a11", "a8", off_at, off_at + 0.6).hold("a8", off_at + 0.6, 8)


def test_a_third_man_by_hand(drawing):
    """The third man is at x = -9 + 4 (4 - 2) = -1 when he gets it: 9 m gained, past b10 and b11 (x = -5)."""
    row = find_third_men(third_man(drawing).match()).table.iloc[0]
    assert (row["start_s"], row["end_s"], row["team"], row["players"]) == (2.0, 4.0, "a", ("a6", "a11", "a8"))
    assert (row["first"], row["wall"], row["third"]) == ("a6", "a11", "a8")
    assert (row["x"], row["y"], row["gain_m"], row["first_pass_m"]) == (4, 0, 9, 14)
    assert (row["seconds"], row["hold_s"]) == pytest.approx((2.0, 0.4))
    assert row["lay_off_m"] == pytest.approx(np.hypot(5, 8))
    assert row["lay_off"] == "back"  # 5 m back on 8 m across: 32 degrees
    assert row["run_ms"] == pytest.approx(4.0, abs=1e-3)
    assert row["opponents_beaten"] == 2
    gap = LineString([(-10, 0), (-9, 8)]).distance(Point(-5, 5))
    assert row["direct_lane_m"] == pytest.approx(gap, abs=1e-5)
    assert row["estimated"] == np.False_


def test_a_square_and_a_forward_lay_off(drawing):
    square = find_third_men(third_man(drawing, up_to=1.0).match()).table.iloc[0]
    assert (square["lay_off"], square["gain_m"]) == ("square", 9)  # 2 m back on 8 m across
    ahead = find_third_men(third_man(drawing, up_to=-8.0).match()).table.iloc[0]
    assert (ahead["lay_off"], ahead["first_pass_m"]) == ("forward", 2)  # 7 m on, 8 m across: 41 degrees


def test_what_square_is_can_be_asked(drawing):
    """5 m back on 8 m across: 32.0 degrees."""
    match = third_man(drawing).match()
    assert find_third_men(match, square_deg=32.1).table["lay_off"].item() == "square"
    assert find_third_men(match, square_deg=31.9).table["lay_off"].item() == "back"


def test_what_the_third_man_then_does(drawing):
    d = third_man(drawing).stands(a10=(30, 20))
    d.ball_keys = [k for k in d.ball_keys if k[0] < 8]
    d.hold("a8", 4, 5).play("a8", "a10", 5, 6.6).hold("a10", 6.6, 8)
    assert find_third_men(d.match()).table["next_action"].tolist() == ["forward pass"]


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"off_at": 3.8}, 1),  # the wall has it for exactly 0.8 s
        ({"off_at": 3.84}, 0),  # one frame longer
        ({"up_to": -9.0}, 1),  # the first pass goes 1 m forward
        ({"up_to": -9.04}, 0),
        ({"up_to": 15.04, "x0": 8.0}, 0),  # it is longer than 25 m
        ({"speed": 2.04}, 1),  # the third man runs
        ({"speed": 1.96}, 0),  # he walks
        ({"x0": -16.0}, 1),  # he gets it at x = -16 + 8 = -8: 2 m gained
        ({"x0": -16.04}, 0),
    ],
)
def test_edges_of_the_third_man(drawing, changes, found):
    assert len(find_third_men(third_man(drawing, **changes).match())) == found


def test_a_long_lay_off_is_none(drawing):
    """From (4, 0) to (-8, 9): 15 m exactly; a hand longer is none."""
    for y, found in ((9.0, 1), (9.05, 0)):
        d = drawing(8.0).stands(a6=(-14, 0), a11=(4, 0)).at(2.0, a8=(-16, y)).at(5.0, a8=(-4, y))
        d.hold("a6", 0, 2).play("a6", "a11", 2, 3).hold("a11", 3, 3.4).play("a11", "a8", 3.4, 4).hold("a8", 4, 8)
        assert len(find_third_men(d.match())) == found


def test_a_lay_off_to_the_first_man_is_a_one_two_not_a_third_man(drawing):
    match = one_two(drawing).match()
    assert len(find_third_men(match)) == 0
    assert len(find_one_twos(match)) == 1
    assert len(find_one_twos(third_man(drawing).match())) == 0


@pytest.mark.parametrize("broken", ["restart", "up lost", "lay-off lost"])
def test_what_begins_with_a_restart_or_is_cut_off_is_none(drawing, broken):
    if broken == "restart":
        d = third_man(drawing, set_play="free-kick")
    else:
        d = drawing(8.0).stands(a6=(-10, 0), a11=(4, 0), b10=(2, 1)).at(2.0, a8=(-9, 8)).at(5.0, a8=(3, 8))
        d.hold("a6", 0, 2)
        if broken == "up lost":
            d.play("a6", "b10", 2, 3, complete=False).event("interception", "b10", 3).hold("b10", 3, 8)
        else:
            d.play("a6", "a11", 2, 3).hold("a11", 3, 3.4).play("a11", "b10", 3.4, 4, complete=False)
            d.event("interception", "b10", 4).hold("b10", 4, 8)
    match = d.match()
    assert len(find_third_men(match)) == 0 and len(find_one_twos(match)) == 0


def test_a_one_two_by_hand(drawing):
    """a8 plays at x = -6 and gets it at x = 2: 8 m; b10 (-3) is beaten, b11 (-9) was behind him all along."""
    row = find_one_twos(one_two(drawing).match()).table.iloc[0]
    assert (row["start_s"], row["end_s"], row["players"]) == (2.0, 4.0, ("a8", "a11"))
    assert (row["x"], row["y"], row["gain_m"]) == (2, -12, 8)
    assert row["first_pass_m"] == pytest.approx(np.hypot(6, 6))
    assert row["lay_off_m"] == pytest.approx(np.hypot(2, 8))
    assert row["lay_off"] == "square"  # 2 m on, 8 m across: 14 degrees
    assert row["opponents_beaten"] == 1
    assert row["run_ms"] == pytest.approx(4.0, abs=1e-3)
    gap = LineString([(-6, -10), (2, -12)]).distance(Point(-3, -11))
    assert row["direct_lane_m"] == pytest.approx(gap, abs=1e-5)


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"run_to": -2.0}, 1),  # 4 m further forward
        ({"run_to": -2.04}, 0),
        ({"run_to": -6.0}, 0),  # straight back to where it came from
        ({"off_at": 3.8}, 1),
        ({"off_at": 3.84}, 0),
    ],
)
def test_edges_of_the_one_two(drawing, changes, found):
    assert len(find_one_twos(one_two(drawing, **changes).match())) == found


@pytest.mark.parametrize(("y", "found"), [(21.0, 1), (21.04, 0)])
def test_a_wall_too_far_off_is_none(drawing, y, found):
    """From (-10, 1) to (5, y): 15 m and 20 m make 25 m; back to (0, 16) in 7 m."""
    d = drawing(9.0).stands(a11=(5, y)).at(2.0, a8=(-10, 1)).at(5.4, a8=(0, 16))
    d.hold("a8", 0, 2).play("a8", "a11", 2, 4).hold("a11", 4, 4.4).play("a11", "a8", 4.4, 5.4).hold("a8", 5.4, 9)
    assert len(find_one_twos(d.match())) == found


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("after_s", "then_s", "repeats"), [(0.0, 0.0, 1), (0.0, 30.0, 1), (30.0, 0.0, 1), (5.0, 5.0, 3), (0.0, 0.0, 2)]
)
@pytest.mark.parametrize("name", ["third man", "one-two"])
def test_wherever_in_the_period_and_whichever_way(drawing, name, turned, swapped, after_s, then_s, repeats):
    drawn = third_man(drawing) if name == "third man" else one_two(drawing)
    made = drawn.match(turned=turned, swapped=swapped, after_s=after_s, then_s=then_s, repeats=repeats)
    found = find(made, name).table
    one = after_s + 8.0
    assert found["start_s"].tolist() == pytest.approx([n * one + after_s + 2.0 for n in range(repeats)])
    assert set(found["team"]) == {"a"} and found["gain_m"].tolist() == pytest.approx([found["gain_m"][0]] * repeats)
    assert found["gain_m"][0] == (9 if name == "third man" else 8)
    assert found["run_ms"].to_numpy() == pytest.approx(4.0, abs=0.01)


def test_at_the_very_end_of_a_period(drawing):
    d = drawing(4.0).stands(a11=(0, -4)).at(2.0, a8=(-6, -10)).at(4.0, a8=(2, -12))
    d.hold("a8", 0, 2).play("a8", "a11", 2, 3).hold("a11", 3, 3.4).play("a11", "a8", 3.4, 4)
    found = find_one_twos(d.match()).table
    assert found["end_s"].tolist() == [4.0] and found["next_action"].tolist() == [""]


def test_events_alone_show_the_passes_not_the_run(drawing):
    for name, drawn in (("third man", third_man(drawing)), ("one-two", one_two(drawing))):
        row = find(drawn.match(tracking=False), name).table.iloc[0]
        assert np.isnan([row[c] for c in ("run_ms", "direct_lane_m", "opponents_beaten")]).all()
    walking = third_man(drawing, speed=1.0).match(tracking=False)
    assert len(find_third_men(walking)) == 1  # whether he runs cannot be seen


def test_tracking_alone_shows_them_and_says_so(drawing):
    for name, drawn in (("third man", third_man(drawing)), ("one-two", one_two(drawing))):
        found = find(drawn.match(events=False), name).table
        assert len(found) == 1 and found["estimated"].all() and found["next_action"].tolist() == [""]


def test_missing_frames_and_players(drawing):
    hidden = find_third_men(third_man(drawing).hide("a8").match()).table.iloc[0]
    assert np.isnan(hidden["run_ms"]) and np.isnan(hidden["direct_lane_m"]) and hidden["opponents_beaten"] == 2
    fewer = find_third_men(third_man(drawing).hide("b10").match()).table.iloc[0]
    assert fewer["opponents_beaten"] == 1
    assert len(find_third_men(third_man(drawing).gap(2.2, 3.2).match())) == 1
    nobody = third_man(drawing)
    for n in range(2, 12):
        nobody.hide(f"b{n}")
    row = find_third_men(nobody.match()).table.iloc[0]
    assert np.isnan(row["opponents_beaten"]) and np.isnan(row["direct_lane_m"])


@pytest.mark.parametrize("name", ["third man", "one-two"])
def test_nothing_found_has_the_same_columns(drawing, name):
    nothing = find(drawing(5.0).hold("a3", 0, 5).match(), name)
    drawn = third_man(drawing) if name == "third man" else one_two(drawing)
    assert len(nothing) == 0 and nothing.table.dtypes.to_dict() == find(drawn.match(), name).table.dtypes.to_dict()


@pytest.mark.parametrize("name", ["third man", "one-two"])
def test_neither_events_nor_tracking_is_refused(drawing, name):
    bare = drawing(5.0).match(events=False, tracking=False)
    with pytest.raises(
        MissingDataError, match=rf"^Finder '{name}' needs events or tracking; this match has nothing yet\.$"
    ):
        find(bare, name)
