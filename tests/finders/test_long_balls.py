"""Long balls, by drawn sequences; numbers worked out by hand.  Definitions: common practice, no source; a second ball is
a loose ball after a contest that follows a long ball (Sunjic et al. 2025, metres and seconds the kit's own)."""

import numpy as np
import pandas as pd
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_long_balls


def aerial(drawing, first="a11", second="b6", height=9.0, start=(-22, 26), drop=(16, 10), detail="long", **places):
    """a5 at (-22, 26) hits a11 at (16, 10): 41.2 m, gain 38; a11 heads on, loose, b6 at (8, 4) picks it up.

    Near the drop, within 10 m: a11 himself; b4 at (19, 7), 4.24 m, and b6 at (8, 4), 10 m, unless drawn elsewhere.
    """
    where = {"a5": start, "a11": drop, "b6": (8, 4), "b4": (19, 7), "b5": (18, 25), "b7": (0, 20)} | places
    drawn = drawing(12.0).stands(**where)
    drawn.hold("a5", 0, 2).event(
        "pass", "a5", 2, end_s=4.5, receiver=first if first[0] == "a" else "", success=first[0] == "a",
        outcome="complete" if first[0] == "a" else "intercepted", detail=detail, to="a11",
    )  # fmt: skip
    drawn.ball_keys += [(2.0, "a5", 0.0)]
    half = (np.array(start) + drop) / 2
    drawn.ball(3.2, *half, height).ball(4.5, *drop, 1.8)
    drawn.event("duel", first, 4.5, success=True, outcome="won").ball(5.5, 10, 6)
    drawn.ball_keys += [(6.5, second, 0.0), (12.0, second, 0.0)]
    return drawn.event("recovery", second, 6.5, success=True).event("pass", second, 11.5, end_s=12, success=False)


def only(moments):
    assert len(moments) == 1, moments.table
    return moments.table.iloc[0]


PLACEMENTS = [
    {}, {"turned": True}, {"swapped": True}, {"turned": True, "swapped": True}, {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0}, {"after_s": 20.0},
]  # fmt: skip


@pytest.mark.parametrize("where", PLACEMENTS)
def test_first_ball_won_second_lost(drawing, where):
    row = only(find_long_balls(aerial(drawing).match(**where)))
    shift = where.get("after_s", 0.0)
    assert (row.start_s, row.end_s, row.team, row.players) == (2 + shift, 6.5 + shift, "a", ("a5", "a11"))
    np.testing.assert_allclose(
        [row.x, row.y, row.drop_x, row.drop_y, row.gain_m, row.distance_m],
        [-22, 26, 16, 10, 38, (38**2 + 16**2) ** 0.5], atol=1e-4,
    )  # fmt: skip
    assert (row.cue, row.target, row.complete, row.pressure) == ("wide", "a11", True, 0)
    assert row.won_first and not row.won_second and row.second_by == "b6" and row.second_after_s == 2.0
    # b6 is exactly 10 m away (at most), short of the drop; b4 is goal-side of it; a11 stands on it.
    assert (row.n_for, row.n_against, row.goal_side, row.goal_side_against) == (1, 2, 0, 1)
    assert not row.contested and not row.estimated


def test_first_ball_lost_second_won_from_the_half_space(drawing):
    """b4 heads it at the drop, (16, 10); a8 at (9, 8), 7.28 m away and short of it, picks it up."""
    drawn = aerial(drawing, first="b4", second="a8", start=(-22, 15), a8=(9, 8), b4=(16, 10))
    row = only(find_long_balls(drawn.match()))
    assert (row.cue, row.target, row.complete) == ("half-space", "a11", False)
    assert not row.won_first and row.won_second and row.second_by == "a8"
    assert (row.n_for, row.goal_side, row.contested) == (2, 1, True)


def test_under_pressure_from_the_middle_and_brought_down_at_once(drawing):
    """b10 is 3 m in front of a3: 49.2 % in the oval (Andrienko et al. 2017, formula from memory: in front, 3 m), the goal being straight ahead."""
    drawn = aerial(drawing, start=(-30, 0), first="a11", second="a11", b10=(-27, 0))
    drawn.rows = [r for r in drawn.rows if r["kind"] == "pass"][:1]
    drawn.carry("a11", 4.5, 7)
    row = only(find_long_balls(drawn.match()))
    assert row.cue == "under pressure" and row.pressure == pytest.approx(49.18586, abs=0.01)
    assert row.won_first and row.won_second and row.second_by == "a11" and row.second_after_s == 0
    assert only(find_long_balls(drawn.match(), pressure_percent=row.pressure)).cue == "under pressure"  # at least
    assert only(find_long_balls(drawn.match(), pressure_percent=49.2)).cue == "centre"


def test_a_goal_kick_headed_on_to_a_team_mate(drawing):
    drawn = aerial(drawing)
    drawn.rows[0]["set_play"] = "goal-kick"
    drawn.rows[1:] = []
    drawn.event("pass", "a11", 4.5, end_s=5.5, receiver="a8", success=True, outcome="complete", detail="header")
    row = only(find_long_balls(drawn.match()))
    assert (row.cue, row.won_first, row.won_second, row.second_by) == ("goal kick", True, True, "a8")
    assert row.second_after_s == 1.0 and row.end_s == 5.5


def test_out_of_play_before_anybody_has_it(drawing):
    drawn = aerial(drawing)
    drawn.rows[1:] = []
    drawn.event("touch", "a11", 4.5).event("out", "a11", 6.0)
    row = only(find_long_balls(drawn.match()))
    assert row.won_first and row["won_second"] is pd.NA and row.second_by == "" and np.isnan(row.second_after_s)
    assert row.end_s == 4.5
    drawn.rows[0].update(success=False, outcome="out", receiver="")
    drawn.rows[1:] = []
    drawn.event("out", "a5", 4.5)
    row = only(find_long_balls(drawn.match()))
    assert row["won_first"] is pd.NA and row["won_second"] is pd.NA


@pytest.mark.parametrize(("place", "number"), [((-20, 26), 1), ((-21.2, 27.83), 1), ((-21.2, 27.84), 0)])
def test_charged_down_but_called_long(drawing, place, number):
    """Met 2 m from the passer at (-22, 26): straight ahead; 0.8 m of 1.997 m (0.4006) and of 2.006 m (0.3987)."""
    drawn = drawing(8.0).stands(a5=(-22, 26), b8=place).hold("a5", 0, 2)
    drawn.play("a5", "b8", 2, 2.2, complete=False, detail="long").hold("b8", 2.2, 8)
    drawn.event("block", "b8", 2.2).event("recovery", "b8", 3, success=True)
    assert len(find_long_balls(drawn.match())) == number


# -- near misses --------------------------------------------------------------------------------------
@pytest.mark.parametrize(("drop", "number"), [((3, 26), 1), ((2.9, 26), 0)])
def test_at_least_twenty_five_metres(drawing, drop, number):
    assert len(find_long_balls(aerial(drawing, drop=drop, detail="").match())) == number


@pytest.mark.parametrize(("drop", "number"), [((-7, -4), 1), ((-7.1, -4), 0)])
def test_a_gain_of_at_least_fifteen_metres(drawing, drop, number):
    """30 m across: a switch, unless it gains ground."""
    assert len(find_long_balls(aerial(drawing, drop=drop).match())) == number


@pytest.mark.parametrize(("height", "number"), [(3.0, 1), (2.9, 0)])
def test_at_least_three_metres_high(drawing, height, number):
    assert len(find_long_balls(aerial(drawing, height=height).match())) == number


@pytest.mark.parametrize(("detail", "number"), [("cross", 0), ("cut-back", 0), ("through", 1), ("", 1)])
def test_a_cross_is_no_long_ball(drawing, detail, number):
    assert len(find_long_balls(aerial(drawing, detail=detail).match())) == number


def test_a_second_ball_too_late(drawing):
    match = aerial(drawing).match()
    assert not only(find_long_balls(match, within_s=2.0)).won_second
    assert only(find_long_balls(match, within_s=1.9))["won_second"] is pd.NA


@pytest.mark.parametrize(("near_m", "number"), [(10.0, 2), (9.9, 1), (4.3, 1), (4.2, 0)])
def test_near_means_at_most(drawing, near_m, number):
    assert only(find_long_balls(aerial(drawing).match(), near_m=near_m)).n_against == number


@pytest.mark.parametrize(("b4", "contested"), [((18.5, 10), True), ((18.6, 10), False)])
def test_contested(drawing, b4, contested):
    assert only(find_long_balls(aerial(drawing, b4=b4).match())).contested == contested


# -- several, gaps, missing players, other data -------------------------------------------------------
@pytest.mark.parametrize("after_s", [0.0, 5.0])
def test_several_in_a_row(drawing, after_s):
    found = find_long_balls(aerial(drawing).match(repeats=3, after_s=after_s))
    np.testing.assert_allclose(found["start_s"], [2 + after_s + i * (12 + after_s) for i in range(3)])
    assert found["second_by"].tolist() == ["b6"] * 3


def test_none(drawing):
    found = find_long_balls(drawing(4.0).hold("a4", 0, 1).play("a4", "a3", 1, 2).hold("a3", 2, 4).match())
    assert len(found) == 0
    assert found.table.dtypes.to_dict() == find_long_balls(aerial(drawing).match()).table.dtypes.to_dict()


def test_frames_missing(drawing):
    row = only(find_long_balls(aerial(drawing).gap(2.5, 3.0).match()))
    assert row.n_against == 2
    row = only(find_long_balls(aerial(drawing).gap(3.0, 7.0).match()))  # the drop is not seen
    assert np.isnan(row.n_for) and row["contested"] is pd.NA and row.won_first and not row.won_second


def test_players_missing(drawing):
    row = only(find_long_balls(aerial(drawing).hide("b4").match()))
    assert (row.n_against, row.goal_side_against) == (1, 0)
    row = only(find_long_balls(aerial(drawing, first="b4", second="a8").hide("a11").match()))
    assert row.n_for == 0 and row.target == ""


def test_a_ball_without_heights(drawing):
    """Then the word of the events decides, and without any such word all but through balls count."""
    match = aerial(drawing).match()
    flat = match.tracking.ball * np.array([1, 1, 0], np.float32)
    flat_match = match.with_data(tracking=type(match.tracking)(**{
        **{f: getattr(match.tracking, f) for f in ("rate_hz", "period", "time_s", "players", "team_index", "xy", "alive")},
        "ball": flat,
    }))  # fmt: skip
    assert len(find_long_balls(flat_match)) == 1
    for detail, number in (("", 1), ("through", 0)):
        events = match.events.assign(detail=match.events["detail"].replace("long", detail))
        assert len(find_long_balls(flat_match.with_data(events=events))) == number


def test_events_alone(drawing):
    row = only(find_long_balls(aerial(drawing).match(tracking=False)))
    assert row.won_first and not row.won_second and row.target == "a11" and row.cue == "wide"
    assert np.isnan(row.n_for) and np.isnan(row.pressure) and row["contested"] is pd.NA


def test_tracking_alone(drawing):
    """The ball is seen with a11 from a touch of his on, and then with b6."""
    drawn = aerial(drawing, second="b6")
    drawn.ball_keys = [k for k in drawn.ball_keys if k[0] < 4.5]
    drawn.ball(4.4, 16, 10, 1.0).hold("a11", 4.4, 4.48).ball(5.4, 9, 5).hold("b6", 6.5, 12)
    row = only(find_long_balls(drawn.match(events=False)))
    assert row.estimated and row.players == ("a5", "a11") and row.won_first and not row.won_second
    assert row.second_by == "b6"
    # He has it from 6.5 to 12 at least; nobody has it under control for six seconds.
    late = only(find_long_balls(drawn.match(events=False), control_s=6.5))
    assert late.second_by == "" and late["won_second"] is pd.NA


def test_neither(drawing):
    with pytest.raises(
        MissingDataError, match=r"^Finder 'long ball' needs events or tracking; this match has nothing yet\.$"
    ):
        find(aerial(drawing).match(events=False, tracking=False), "long ball")


def test_every_parameter_is_kept(drawing):
    assert dict(find_long_balls(aerial(drawing).match()).params) == {
        "least_m": 25.0, "least_gain_m": 15.0, "least_height_m": 3.0, "cut_off_share": 0.4, "pressure_percent": 30.0,
        "near_m": 10.0, "contest_m": 2.5, "within_s": 10.0, "control_s": 0.5,
    }  # fmt: skip
