"""Support at the wide player.  Numbers by hand geometry from the drawing; the rules are common practice, no source.

a5 (left-back) gets the ball at (-10, 28).  Around him: pivot a6 (-18, 16) 14.4 m away, a8 (-4, 12) in the half-space
17.1 m, centre-back a4 (-24, 12) behind 21.3 m, winger a10 (12, 30) down the line 22.1 m.
"""

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_wide_support

AROUND = dict(a5=(-10, 28), a6=(-18, 16), a8=(-4, 12), a4=(-24, 12), a10=(12, 30))


def reception(drawing, seconds=12.0, positions=None, **places):
    """a4 plays to a5, from 2 s to 3 s; a5 then keeps it."""
    d = drawing(seconds) if positions is None else drawing(seconds, a_positions=positions)
    d.stands(**{**AROUND, **{k: v for k, v in places.items() if v is not None}})
    return d.hold("a4", 0, 2).play("a4", "a5", 2, 3).hold("a5", 3, seconds)


def stills(match, *times):
    return match.with_data(events=None, tracking=None, stills=tuple(match.snapshot(1, t) for t in times))


def test_full_support_by_hand(drawing):
    row = find_wide_support(reception(drawing).match()).table.iloc[0]
    assert (row["start_s"], row["end_s"], row["team"], row["receiver"], row["side"]) == (3.0, 5.0, "a", "a5", "left")
    assert (row["x"], row["y"]) == (-10, 28)
    assert row["players"] == ("a5", "a6", "a8", "a10", "a4")
    assert (row["pivot"], row["inside"], row["ahead"], row["behind"]) == ("a6", "a8", "a10", "a4")
    assert row["pivot_distance_m"] == pytest.approx(np.hypot(8, 12), abs=1e-5)
    words = ["pivot_comes", "half_space", "down_the_line", "centre_back_behind", "diamond", "kept"]
    assert all(row[w] for w in words)
    assert row["open_to"] == ("a6", "a8", "a4", "a10") and row["options_open"] == 4  # nearest first
    # Only a6 and a8 are within 20 m: sides 14.4, 17.1 and 14.6 m.
    assert row["triangles"] == 1
    assert row["nearest_m"] == pytest.approx(np.hypot(13, 8), abs=1e-5)  # b9 at (3, 20)
    assert row["estimated"] == np.False_


def test_no_support_by_hand(drawing):
    """Everybody is somewhere else: 35 m to the pivot, nobody in the half-space, down the line or behind."""
    far = dict(a6=(-10, -7), a8=(-6, 5), a4=(-40, 8), a10=(12, 5))
    row = find_wide_support(reception(drawing, **far).match()).table.iloc[0]
    words = ["pivot_comes", "half_space", "down_the_line", "centre_back_behind", "diamond"]
    assert not any(row[w] for w in words)
    assert row["pivot_distance_m"] == pytest.approx(35, abs=1e-5)
    assert row["players"] == ("a5", "a6") and (row["inside"], row["ahead"], row["behind"]) == ("", "", "")
    assert row["triangles"] == 0


def test_the_pivot_who_comes_within_two_seconds(drawing):
    """From (-18, 4), 25.3 m off, at 6 m/s across: at (-18, 16), 14.4 m off, after two seconds."""
    d = reception(drawing, a6=None)
    d.keys.pop("a6")
    d.at(3.0, a6=(-18, 4)).at(5.0, a6=(-18, 16)).at(9.0, a6=(-18, 16))
    assert find_wide_support(d.match()).table["pivot_distance_m"].item() == pytest.approx(np.hypot(8, 12), abs=0.05)
    assert find_wide_support(d.match()).table["pivot_comes"].item()
    at_once = find_wide_support(d.match(), look_s=0.0).table
    assert at_once["pivot_distance_m"].item() == pytest.approx(np.hypot(8, 24), abs=1e-4)
    assert not at_once["pivot_comes"].item()


def test_a_pivot_who_comes_after_the_ball_is_played_on_has_not_come(drawing):
    d = drawing(8.0).stands(**{k: v for k, v in AROUND.items() if k != "a6"})
    d.at(3.4, a6=(-18, 4)).at(5.0, a6=(-18, 16))
    d.hold("a4", 0, 2).play("a4", "a5", 2, 3).hold("a5", 3, 3.4).play("a5", "a10", 3.4, 5).hold("a10", 5, 8)
    row = find_wide_support(d.match()).table.iloc[0]
    assert row["end_s"] == pytest.approx(3.4) and not row["pivot_comes"]
    assert row["pivot_distance_m"] == pytest.approx(np.hypot(8, 24), abs=1e-4)
    assert row["next_action"] == "forward pass"


@pytest.mark.parametrize(
    ("places", "column", "expected"),
    [
        ({"a6": (-19, 16)}, "pivot_comes", True),  # 9 and 12 m: exactly 15 m
        ({"a6": (-19.02, 16)}, "pivot_comes", False),
        ({"a8": (-4, 9.2)}, "half_space", True),  # the centre ends at 9.16 m
        ({"a8": (-4, 9.12)}, "half_space", False),
        ({"a8": (-4, 20.12)}, "half_space", True),
        ({"a8": (-4, 20.2)}, "half_space", False),  # that is the wing
        ({"a8": (-15, 12)}, "half_space", True),  # 5 m behind the ball
        ({"a8": (-15.04, 12)}, "half_space", False),
        ({"a8": (15.3, 12)}, "half_space", True),  # 25.3 and 16 m: 29.93 m
        ({"a8": (15.4, 12)}, "half_space", False),  # 30.02 m
        ({"a10": (-5, 30)}, "down_the_line", True),  # 5 m ahead
        ({"a10": (-5.04, 30)}, "down_the_line", False),
        ({"a10": (12, 20.12)}, "down_the_line", False),  # that is the half-space
        ({"a10": (12, 20.2)}, "down_the_line", True),
        ({"a4": (-15, 12)}, "centre_back_behind", True),  # 5 m behind
        ({"a4": (-14.96, 12)}, "centre_back_behind", False),
        ({"a4": (-28, 4)}, "centre_back_behind", True),  # 18 and 24 m: exactly 30 m
        ({"a4": (-28.04, 4)}, "centre_back_behind", False),
    ],
)
def test_edges_of_each_place(drawing, places, column, expected):
    assert bool(find_wide_support(reception(drawing, **places).match()).table[column].item()) is expected


def test_the_diamond_needs_all_three_but_either_man_inside(drawing):
    pivot_only = find_wide_support(reception(drawing, a8=(-6, 5)).match()).table.iloc[0]
    assert pivot_only["diamond"] and not pivot_only["half_space"]
    half_space_only = find_wide_support(reception(drawing, a6=(-18, 0)).match()).table.iloc[0]
    assert half_space_only["diamond"] and not half_space_only["pivot_comes"]
    for missing in ({"a10": (12, 5)}, {"a4": (-40, 8)}, {"a6": (-18, 0), "a8": (-6, 5)}):
        assert not find_wide_support(reception(drawing, **missing).match()).table["diamond"].item()


@pytest.mark.parametrize(
    ("pivot", "winger", "diamond"),
    [
        ((-4, 30), (12, 5), False),  # the pivot himself is the man down the line: three men
        ((-12, 28.1), (12, 30), False),  # further out than a5 at y = 28
        ((-12, 27.9), (12, 30), True),
    ],
)
def test_a_pivot_who_stands_wide_is_nobody_inside(drawing, pivot, winger, diamond):
    row = find_wide_support(reception(drawing, a6=pivot, a10=winger, a8=(-6, 5)).match()).table.iloc[0]
    assert row["pivot_comes"] and row["down_the_line"] and row["centre_back_behind"] and not row["half_space"]
    assert row["diamond"] == diamond


@pytest.mark.parametrize(("off_m", "is_open"), [(2.01, True), (1.99, False)])
def test_an_opponent_in_the_lane_shuts_it(drawing, off_m, is_open):
    """Halfway to a10: (1, 29); square to the line of (22, 2)."""
    step = np.array([2, -22]) / np.hypot(2, 22) * off_m
    d = reception(drawing).stands(b9=(1 + step[0], 29 + step[1]))
    row = find_wide_support(d.match()).table.iloc[0]
    assert ("a10" in row["open_to"]) is is_open and row["options_open"] == 3 + is_open


@pytest.mark.parametrize(("y", "found"), [(20.16, 1), (20.15, 0), (-26.0, 1)])
def test_only_a_reception_out_wide(drawing, y, found):
    assert len(find_wide_support(reception(drawing, a5=(-10, y)).match())) == found


@pytest.mark.parametrize("receiver", ["a10", "a8", "a4"])
def test_only_a_full_back_or_wing_back(drawing, receiver):
    d = drawing(8.0).stands(**{**AROUND, receiver: (-10, 28), "a5": (-22, 0)}).hold("a3", 0, 2)
    assert len(find_wide_support(d.play("a3", receiver, 2, 3).hold(receiver, 3, 8).match())) == 0


def test_a_pass_that_does_not_arrive_is_no_reception(drawing):
    d = drawing(8.0).stands(**AROUND, b9=(-10, 27)).hold("a4", 0, 2).play("a4", "b9", 2, 3, complete=False)
    assert len(find_wide_support(d.event("interception", "b9", 3).hold("b9", 3, 8).match())) == 0


def test_a_central_midfielder_is_the_pivot_where_no_holding_one_plays(drawing):
    positions = ("GK", "RB", "RCB", "LCB", "LB", "AM", "RCM", "LCM", "RW", "LW", "ST")
    row = find_wide_support(reception(drawing, positions=positions).match()).table.iloc[0]
    assert row["pivot"] == "a8" and row["pivot_distance_m"] == pytest.approx(np.hypot(6, 16), abs=1e-5)
    none = ("GK", "RB", "RCB", "LCB", "LB", "AM", "AM", "AM", "RW", "LW", "ST")
    row = find_wide_support(reception(drawing, positions=none).match()).table
    assert row["pivot"].item() == "" and row["pivot_comes"].isna().all() and row["pivot_distance_m"].isna().all()


def test_a_squad_without_positions_is_told_by_place_and_marked(drawing):
    """The drawing's a5 at (-22, 26) is of the deepest four and wide; a6 at (-20, 0) is the deepest of the next."""
    d = drawing(8.0, a_positions=("",) * 11).hold("a4", 0, 2).play("a4", "a5", 2, 3).hold("a5", 3, 8)
    row = find_wide_support(d.match()).table.iloc[0]
    assert (row["receiver"], row["pivot"], row["behind"], row["estimated"]) == ("a5", "a6", "a4", True)


@pytest.mark.parametrize(("lost_at", "kept"), [(7.96, False), (8.2, True)])
def test_the_ball_is_kept_if_it_is_not_lost_within_five_seconds(drawing, lost_at, kept):
    d = drawing(14.0).stands(**AROUND, b9=(-8, 27)).hold("a4", 0, 2).play("a4", "a5", 2, 3).hold("a5", 3, lost_at)
    d.event("tackle", "b9", lost_at, success=True, outcome="won").event("carry", "b9", lost_at, end_s=14.0, to="b9")
    row = find_wide_support(d.hold("b9", lost_at, 14).match()).table.iloc[0]
    assert bool(row["kept"]) is kept


def test_an_attack_that_ends_with_a_shot_has_not_lost_the_ball(drawing):
    d = drawing(12.0).stands(**AROUND).hold("a4", 0, 2).play("a4", "a5", 2, 3).hold("a5", 3, 4.4)
    d.event("shot", "a5", 4.4, outcome="saved", success=False).event("claim", "b1", 5.4, success=True)
    d.ball_keys += [(5.4, "b1", 0.0), (12, "b1", 0.0)]
    assert find_wide_support(d.match()).table["kept"].tolist() == [True]


def test_the_keeper_is_neither_in_the_half_space_nor_in_a_triangle(drawing):
    row = find_wide_support(reception(drawing, a8=(-6, 5), a1=(-4, 12)).match()).table.iloc[0]
    assert not row["half_space"] and row["triangles"] == 0
    assert "a1" in row["open_to"]  # he can be played to


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("after_s", "then_s", "repeats"), [(0.0, 0.0, 1), (0.0, 30.0, 1), (30.0, 0.0, 1), (5.0, 5.0, 3), (0.0, 0.0, 2)]
)
def test_wherever_in_the_period_and_whichever_way(drawing, turned, swapped, after_s, then_s, repeats):
    made = reception(drawing).match(
        turned=turned, swapped=swapped, after_s=after_s, then_s=then_s, repeats=repeats
    )  # fmt: skip
    found = find_wide_support(made).table
    one = after_s + 12.0
    assert found["start_s"].tolist() == pytest.approx([n * one + after_s + 3.0 for n in range(repeats)])
    assert set(found["team"]) == {"a"} and set(found["side"]) == {"left"} and found["diamond"].all()
    assert found["y"].to_numpy() == pytest.approx(28.0) and set(found["options_open"]) == {4}


def test_at_the_very_end_of_a_period(drawing):
    found = find_wide_support(reception(drawing, seconds=3.4).match()).table
    assert found["end_s"].tolist() == [3.4] and found["next_action"].tolist() == [""]


def test_tracking_alone_shows_it_and_says_so(drawing):
    found = find_wide_support(reception(drawing).match(events=False)).table
    assert found["receiver"].tolist() == ["a5"] and found["estimated"].all() and found["diamond"].all()
    assert found["next_action"].tolist() == [""]


def test_stills_show_the_instant(drawing):
    match = reception(drawing).match()
    found = find_wide_support(stills(match, 1.0, 6.0)).table
    assert found["start_s"].tolist() == found["end_s"].tolist() == [6.0]
    row = found.iloc[0]
    assert row["players"] == ("a5", "a6", "a8", "a10", "a4") and row["diamond"] and row["options_open"] == 4
    assert (row["next_action"], row["phase"]) == ("", "") and found["kept"].isna().all()


def test_missing_frames_and_players(drawing):
    assert len(find_wide_support(reception(drawing).hide("a5").match())) == 0  # nowhere to look around
    hidden = find_wide_support(reception(drawing).hide("a6").match()).table.iloc[0]
    assert hidden["pivot"] == "a8"  # the nearest who is there
    assert find_wide_support(reception(drawing).hide("a10").match()).table["diamond"].item() == np.False_
    gap = find_wide_support(reception(drawing).gap(3.2, 4.8).match()).table
    assert gap["pivot_distance_m"].item() == pytest.approx(np.hypot(8, 12), abs=1e-5)


def test_nothing_found_has_the_same_columns(drawing):
    nothing = find_wide_support(drawing(5.0).hold("a3", 0, 5).match())
    assert len(nothing) == 0
    assert nothing.table.dtypes.to_dict() == find_wide_support(reception(drawing).match()).table.dtypes.to_dict()


def test_events_alone_are_refused(drawing):
    with pytest.raises(
        MissingDataError,
        match=r"^Finder 'wide support' needs tracking or stills; this match has events\. These finders do with what is "
        r"there: .*shot.*\.$",
    ):
        find(reception(drawing).match(tracking=False), "wide support")


def test_called_as_a_function_it_refuses_in_words_too(drawing):
    with pytest.raises(
        MissingDataError,
        match=r"^The support at the wide player needs tracking; this match has events\. Stills show it, too\.$",
    ):
        find_wide_support(reception(drawing).match(tracking=False))


def test_how_flat_a_triangle_may_be_can_be_asked(drawing):
    """Sides 14.4, 17.1 and 14.6 m: the smallest angle is opposite the 14.4 m, 53.3 degrees."""
    match = reception(drawing).match()
    assert find_wide_support(match, least_deg=53.0).table["triangles"].item() == 1
    assert find_wide_support(match, least_deg=54.0).table["triangles"].item() == 0
