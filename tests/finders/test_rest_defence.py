"""Rest defence, by drawn sequences; numbers from hand geometry.

The idea after Forcher et al. 2023 (abstract read); the strip is common practice, no source.
"""

import numpy as np
import pandas as pd
import pytest

from tactical_kit.errors import MissingDataError, UnknownNameError
from tactical_kit.finders import find, find_rest_defence
from tactical_kit.measures.rest import rest_defence

PLACEMENTS = [
    {},
    {"turned": True},
    {"swapped": True},
    {"turned": True, "swapped": True},
    {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0},
    {"after_s": 20.0},
]


def attack(drawing, seconds=5.0):
    """a9 has the ball at (30, -25).  a3 (-5, -8), a4 (-5, 8) and a6 (5, 0) stay; b10 (0, 0) and b11 (-2, 10) are left
    up; everybody else is at least at 25."""
    drawn = drawing(seconds).stands(a3=(-5, -8), a4=(-5, 8), a6=(5, 0), a9=(30, -25))
    drawn.stands(a2=(26, -15), a5=(25, 24), a7=(30, -12), a8=(32, 6), a10=(34, 18), a11=(36, 2))
    drawn.stands(
        **{f"b{n}": (38, 5 * n - 28) for n in range(2, 6)}, **{f"b{n}": (30, 6 * n - 45) for n in range(6, 10)}
    )
    return drawn.stands(b10=(0, 0), b11=(-2, 10)).carry("a9", 0, seconds).event("out", "a9", seconds)


def only(moments):
    assert len(moments) == 1, moments.table
    return moments.table.iloc[0]


def assert_three_against_two(row):
    assert (row.team, row.players, set(row.left_up)) == ("a", ("a3", "a4", "a6"), {"b10", "b11"})
    assert (row.n_for, row.n_against, row.superiority, row.n_for_end, row.n_against_end) == (3, 2, 1, 3, 2)
    # Mean place (-5/3, 0), 50.83 m from the own goal line and 31.67 m behind the ball; a3 to a4 is 16 m; a6 is the root
    # of 164 from either; b10 is 5 m from a6, b11 the root of 13 from a4.
    np.testing.assert_allclose([row.x, row.y, row.line_m, row.ball_m], [-5 / 3, 0, 50.8333, 31.6667], atol=1e-3)
    np.testing.assert_allclose(
        [row.width_m, row.spacing_m, row.cover_m], [16, np.sqrt(164), (5 + np.sqrt(13)) / 2], atol=1e-4
    )


@pytest.mark.parametrize("where", PLACEMENTS)
def test_three_against_two(drawing, where):
    row = only(find_rest_defence(attack(drawing).match(**where)))
    shift = where.get("after_s", 0.0)
    assert (row.start_s, row.end_s) == (shift, 5 + shift)
    assert_three_against_two(row)
    ended = "out" if "then_s" in where else "period-end"
    assert (row.ended, row.counter_faced, row.outcome, row.estimated) == (ended, False, "", False)


def test_one_fewer_at_the_end(drawing):
    """a6 runs from (5, 0) at 3 s to (27, 0) at 4 s: he is above x = 20 from 3.68 on, in less than a third of it."""
    drawn = attack(drawing).at(0, a6=(5, 0)).at(3, a6=(5, 0)).at(4, a6=(27, 0))
    row = only(find_rest_defence(drawn.match()))
    assert (row.n_for, row.n_for_end, row.players) == (3, 2, ("a3", "a4", "a6"))
    assert only(find_rest_defence(drawn.match(), stay_share=0.8)).players == ("a3", "a4")


def test_the_end_is_the_last_frame(drawing):
    """a6 is gone from 4.9 on; the last frame is 4.96."""
    drawn = attack(drawing).at(0, a6=(5, 0)).at(4.8, a6=(5, 0)).at(4.9, a6=(27, 0))
    assert only(find_rest_defence(drawn.match())).n_for_end == 2


def test_the_strip_grows_with_its_thresholds(drawing):
    """Only a5 (25, 24), a2 (26, -15) and those at 30 and more are outside; at 2.5 m behind the ball a5 and a2 are in."""
    match = attack(drawing).match()
    assert only(find_rest_defence(match, behind_m=2.5, goal_line_m=20.0)).n_for == 5
    assert only(find_rest_defence(match, behind_m=2.5)).n_for == 3  # still no further up than 30 m from the goal line
    assert only(find_rest_defence(match, behind_m=36.0)).n_for == 0


def test_nobody_stays(drawing):
    row = only(find_rest_defence(attack(drawing).match(), behind_m=36.0))
    assert (row.players, row.n_against) == ((), 0) and np.isnan([row.x, row.line_m, row.spacing_m, row.cover_m]).all()


def test_no_attack_no_rest_defence(drawing):
    """The same side with the ball 10 m past halfway; a spell that begins between 9.5 and 18.5 counts by the nearer of
    the two (`find_phases`), so 13.9 is none and 14.1 is one."""
    for x in (10.0, 13.9):
        drawn = attack(drawing)
        drawn.keys["a9"] = [(0.0, x, -25.0)]
        assert len(find_rest_defence(drawn.match())) == 0
    drawn.keys["a9"] = [(0.0, 14.1, -25.0)]
    assert len(find_rest_defence(drawn.match())) == 1


def test_a_set_play_is_no_attack_in_this_sense(drawing):
    drawn = attack(drawing, 6.0)
    drawn.rows.clear()
    drawn.ball_keys.clear()
    drawn.stands(a9=(52, -33.5)).hold("a9", 0, 0.5).play("a9", "a11", 0.5, 2, set_play="corner").hold("a11", 2, 6)
    assert len(find_rest_defence(drawn.match())) == 0
    assert len(find_rest_defence(drawn.match(), phases=("set play",))) == 1


def test_at_least_so_long(drawing):
    match = attack(drawing).match()
    assert len(find_rest_defence(match, min_s=5.0)) == 1 and len(find_rest_defence(match, min_s=5.01)) == 0


def countered(drawing, back=False):
    """a9 loses the ball to b10 at 5.0, at (0, 0); he carries it to (-30, 0) by 9 (or turns back to (20, 0))."""
    drawn = attack(drawing, 12.0)
    drawn.rows.clear()
    drawn.ball_keys.clear()
    drawn.carry("a9", 0, 4).play("a9", "b10", 4, 5, complete=False).event("interception", "b10", 5.0, success=True)
    drawn.at(0, b10=(0, 0)).at(5, b10=(0, 0)).at(9, b10=(20, 0) if back else (-30, 0))
    return drawn.carry("b10", 5, 12)


def test_the_counter_attack_it_faced(drawing):
    row = only(find_rest_defence(countered(drawing).match()))
    assert (row.end_s, row.ended, row.counter_faced, row.outcome) == (5.0, "lost", True, "final third")


def test_a_loss_without_a_counter_attack(drawing):
    row = only(find_rest_defence(countered(drawing, back=True).match()))
    assert (row.ended, row.counter_faced, row.outcome) == ("lost", False, "")


def test_played_back(drawing):
    """a9 plays back to a6 at (0, 0), who keeps it: the attack is over, the possession is not."""
    drawn = attack(drawing, 14.0).stands(a6=(0, 0))
    drawn.rows.clear()
    drawn.ball_keys.clear()
    drawn.carry("a9", 0, 4).play("a9", "a6", 4, 5).carry("a6", 5, 14)
    row = only(find_rest_defence(drawn.match()))
    assert row.ended == "played back" and not row.counter_faced and 4 < row.end_s < 7


def test_several(drawing):
    found = find_rest_defence(attack(drawing).match(repeats=3, after_s=6.0)).table
    assert found["start_s"].tolist() == [6.0, 17.0, 28.0] and (found["superiority"] == 1).all()


def test_missing_frames_and_players(drawing):
    """A gap parts the attack in two; nobody saw how the first part ended."""
    drawn = attack(drawing).gap(2.0, 3.0).event("carry", "a9", 3.2, end_s=4.8)
    found = find_rest_defence(drawn.match()).table
    assert found["start_s"].tolist() == [0.0, 3.0] and found["end_s"].tolist() == [2.0, 5.0]
    assert (found["n_for"] == 3).all() and found["ended"].tolist() == ["", "period-end"]
    assert found["counter_faced"].iloc[0] is pd.NA and not found["counter_faced"].iloc[1]
    row = only(find_rest_defence(attack(drawing).hide("a4").match()))
    assert (row.n_for, row.players) == (2, ("a3", "a6"))


def still(match, time_s=2.0):
    return match.with_data(events=None, tracking=None, stills=(match.snapshot(1, time_s),))


@pytest.mark.parametrize("where", PLACEMENTS[:4])
def test_a_still_is_enough(drawing, where):
    row = only(find_rest_defence(still(attack(drawing).match(**where))))
    assert (row.start_s, row.end_s) == (2.0, 2.0)
    assert_three_against_two(row)
    assert row.counter_faced is pd.NA and (row.ended, row.outcome) == ("", "") and row.estimated


@pytest.mark.parametrize(("away", "found"), [(3.0, 1), (3.05, 0)])
def test_who_has_the_ball_in_a_still(drawing, away, found):
    """The nearest player, a9 at (30, -25), at most 3 m from it."""
    drawn = attack(drawing)
    drawn.ball_keys.clear()
    drawn.ball(0, 30 + away, -25)
    assert len(find_rest_defence(still(drawn.match()))) == found


def test_a_still_in_midfield_is_no_attack(drawing):
    drawn = attack(drawing)
    drawn.keys["a9"] = [(0.0, 17.0, -25.0)]
    none = find_rest_defence(still(drawn.match()))
    some = find_rest_defence(attack(drawing).match())
    assert len(none) == 0 and none.table.dtypes.to_dict() == some.table.dtypes.to_dict()


def test_from_tracking_alone(drawing):
    """Play that begins there counts as a free kick for nine seconds; after them it is an attack."""
    row = only(find_rest_defence(attack(drawing, 14.0).match(events=False)))
    assert_three_against_two(row)
    assert row.estimated and row.start_s == pytest.approx(9.0, abs=0.21)


def test_refusals(drawing):
    match = attack(drawing).match()
    with pytest.raises(
        MissingDataError,
        match=r"^Finder 'rest defence' needs tracking or stills; this match has events\.( These finders .*)?$",
    ):
        find(match.with_data(tracking=None), "rest defence")
    with pytest.raises(UnknownNameError, match=r"^a phase with the ball is 'attack'; expected one of .*"):
        find_rest_defence(match, phases=("attack",))


def test_the_attack_is_over_when_the_ball_is_won_by_a_tackle(drawing):
    """b3 takes the ball off a9 at 4.0 and plays it at 5.6: those 1.6 s are no attack."""
    drawn = attack(drawing, 12.0).stands(b3=(31, -25), b4=(40, 0))
    drawn.rows.clear()
    drawn.ball_keys.clear()
    drawn.carry("a9", 0, 4).event("tackle", "b3", 4.0, success=True, outcome="won").hold("b3", 4, 5.6)
    row = only(find_rest_defence(drawn.play("b3", "b4", 5.6, 7).carry("b4", 7, 12).match()))
    assert (row.end_s, row.ended) == (4.0, "lost") and row.counter_faced is not pd.NA


def test_a_keeper_who_has_saved_is_not_attacked(drawing):
    """a9 shoots at 2.0, b1 saves at 2.4 and holds the ball until 9.0."""
    drawn = attack(drawing, 14.0).stands(b1=(46, 0), b4=(30, 20))
    drawn.rows.clear()
    drawn.ball_keys.clear()
    drawn.carry("a9", 0, 2).event("shot", "a9", 2.0, end_s=2.4, outcome="saved", success=False)
    drawn.event("save", "b1", 2.4).hold("b1", 2.4, 9)
    row = only(find_rest_defence(drawn.play("b1", "b4", 9, 10).carry("b4", 10, 14).match()))
    assert row.ended == "lost" and row.end_s == pytest.approx(2.4)


def test_an_attack_that_went_on(drawing):
    """Looked at as progression, a ball that is then held in the final third went on; it was not played back."""
    drawn = attack(drawing, 16.0)
    drawn.rows.clear()
    drawn.ball_keys.clear()
    drawn.at(0, a9=(0, -25)).at(6, a9=(0, -25)).at(9, a9=(30, -25))
    drawn.keys["a9"] = drawn.keys["a9"][1:]
    found = find_rest_defence(drawn.carry("a9", 0, 16).match(), phases=("progression",))
    assert found["ended"].tolist() == ["went on"]


def test_ten_metres_by_the_rounding_of_the_data():
    """Single precision puts 11.06 a millionth of a metre above 21.06 - 10."""
    own, other = np.float32([[[11.06, 0], [30, 0]]]), np.float32([[[11.07, 0], [30, 0]]])
    found = rest_defence(own.astype(float), other.astype(float), np.float32([21.06]).astype(float), 22.5)
    assert (found.n_for[0], found.n_against[0]) == (1, 0)


def test_a_ball_that_flies_back_says_nothing_of_who_stayed(drawing):
    """a9 plays it at 2.0 to a4 at (-5, 8), who has it at 8.0: until then the strip would sink behind all of them."""
    drawn = attack(drawing, 12.0)
    drawn.rows.clear()
    drawn.ball_keys.clear()
    row = only(find_rest_defence(drawn.carry("a9", 0, 2).play("a9", "a4", 2, 8).carry("a4", 8, 12).match()))
    assert row.ended == "played back" and row.end_s > 6.0
    assert (row.n_for, row.n_against, row.n_for_end, row.n_against_end) == (3, 2, 2, 2)  # a6 (5, 0): the ball at 9.5
    assert row.players == ("a3", "a4", "a6")
