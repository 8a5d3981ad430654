"""Centre-back carries, by drawn sequences.  Side b stands in a 4-4-2, its forwards at (-11, +-5); numbers by hand."""

import numpy as np
import pandas as pd
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_centre_back_carries


def steps_in(drawing, end=(-18, -9), start=(-32, -9), player="a3"):
    """a3 gets the ball, carries from (-32, -9) to (-18, -9), 14 m in 3 s, and finds a7 at (-6, -10)."""
    drawn = drawing(10.0).at(0, **{player: start}).at(2, **{player: start}).at(5, **{player: end})
    drawn.hold("a4", 0, 0.5).play("a4", player, 0.5, 1.5).hold(player, 1.5, 2).carry(player, 2, 5)
    return drawn.play(player, "a7", 5.2, 6.2).hold("a7", 6.2, 10)


def draws(drawing):
    """b10 comes out from (-7, -9) to (-14, -6): 11 m off, then 5: he has closed 6 m; that frees a7 at (-6, -10)."""
    return steps_in(drawing).at(2, b10=(-7, -9)).at(5, b10=(-14, -6))


def only(moments):
    assert len(moments) == 1, moments.table
    return moments.table.iloc[0]


PLACEMENTS = [
    {}, {"turned": True}, {"swapped": True}, {"turned": True, "swapped": True}, {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0}, {"after_s": 20.0},
]  # fmt: skip


@pytest.mark.parametrize("where", PLACEMENTS)
def test_he_draws_a_forward_and_opens_a_midfielder(drawing, where):
    row = only(find_centre_back_carries(draws(drawing).match(**where)))
    shift = where.get("after_s", 0.0)
    assert (row.start_s, row.end_s, row.team, row.players) == (2 + shift, 5 + shift, "a", ("a3",))
    # Nearest when he sets off: b11 at (-11, 5), |(21, 14)| = 25.24 m; b10 at (-7, -9), 25 m straight ahead.
    np.testing.assert_allclose(
        [row.x, row.y, row.distance_m, row.gain_m, row.space_m, row.space_ahead_m], [-32, -9, 14, 14, 25, 25], atol=1e-4
    )
    assert (row.opponent_drawn, row.drawn_from, row.option_opened) == ("b10", "first line", "a7")
    assert row.option_used and not row.lost and row.next_action == "forward pass"
    # First line: b10 at -14 and b11 at -11, mean -12.5: he ends at -18, short of it.
    assert not row.into_midfield and row.opponents_beaten == 0 and not row.estimated


def test_he_drives_past_the_first_line(drawing):
    """From (-20, 0) to (-8, 0) between the forwards at (-11, +-5): two beaten."""
    drawn = steps_in(drawing, start=(-20, 0), end=(-8, 0), player="a4")
    drawn.rows[0]["player"], drawn.ball_keys[:3] = "a3", [(0.0, "a3", 0.0), (0.5, "a3", 0.0), (0.5, "a3", 0.0)]
    row = only(find_centre_back_carries(drawn.stands(a6=(-20, 12)).match()))
    assert row.into_midfield and row.opponents_beaten == 2 and row.players == ("a4",)
    # b10 and b11 are sqrt(9^2 + 5^2) = 10.3 m away, 29.05 degrees off the straight: ahead.
    assert row.space_m == pytest.approx(106**0.5) and row.space_ahead_m == pytest.approx(106**0.5)


def test_nobody_comes_and_nothing_opens(drawing):
    row = only(find_centre_back_carries(steps_in(drawing).stands(b10=(-11, 5), b11=(-11, 15)).match()))
    assert (row.opponent_drawn, row.drawn_from, row.option_opened) == ("", "", "") and row["option_used"] is pd.NA


def test_of_two_men_opened_the_one_further_up_is_named(drawing):
    """b10 comes out of the lanes to a7 at (-6, -10) and to a11 at (8, -11), who is free of b6 and b8 by 5 m and more.

    At the start the lane to a11 runs from (-32, -9) to (8, -11); b10 at (-7, -9) is 1.25 m from it.  In the end it
    runs from (-18, -9); b10 at (-14, -6) is 3.3 m from it.
    """
    drawn = draws(drawing).stands(a11=(8, -11), b6=(3, 0), b8=(3, -20))
    assert only(find_centre_back_carries(drawn.match())).option_opened == "a11"
    assert not only(find_centre_back_carries(drawn.match())).option_used  # he plays to a7


def test_he_loses_it(drawing):
    drawn = drawing(10.0).at(0, a3=(-32, -9)).at(2, a3=(-32, -9)).at(5, a3=(-18, -9)).stands(b10=(-17, -8))
    drawn.hold("a4", 0, 0.5).play("a4", "a3", 0.5, 1.5).hold("a3", 1.5, 2).carry("a3", 2, 5)
    drawn.event("tackle", "b10", 5.1, success=True, outcome="won").hold("b10", 5.2, 10)
    row = only(find_centre_back_carries(drawn.match()))
    assert row.lost and row.next_action == "lost"


# -- near misses --------------------------------------------------------------------------------------
@pytest.mark.parametrize(("end_x", "number"), [(-25.0, 1), (-25.1, 0)])
def test_a_gain_of_at_least_seven_metres(drawing, end_x, number):
    assert len(find_centre_back_carries(steps_in(drawing, end=(end_x, -9)).match())) == number


@pytest.mark.parametrize(("end", "number"), [((-20, -3.25), 1), ((-20, -3.1), 0)])
def test_a_carry_across_is_no_step_into_midfield(drawing, end, number):
    """Gain 12 m; 5.75 m across makes 13.306 m, a share of 0.902; 5.9 m makes 13.372 m, 0.897."""
    assert len(find_centre_back_carries(steps_in(drawing, end=end).match())) == number


@pytest.mark.parametrize(("b10", "number"), [((-26, -9), 1), ((-26.1, -9), 0)])
def test_at_least_six_metres_of_space(drawing, b10, number):
    found = find_centre_back_carries(steps_in(drawing).at(2, b10=b10).at(4, b10=(-26, -20)).match())
    assert len(found) == number


@pytest.mark.parametrize(("start_x", "number"), [(0.0, 1), (0.1, 0)])
def test_out_of_his_own_half(drawing, start_x, number):
    drawn = steps_in(drawing, start=(start_x, -13), end=(start_x + 9, -13)).stands(b6=(8, 0), b8=(8, -26))
    assert len(find_centre_back_carries(drawn.match())) == number
    assert len(find_centre_back_carries(drawn.match(), furthest_start_m=60)) == 1


def test_a_full_back_is_no_centre_back(drawing):
    assert len(find_centre_back_carries(steps_in(drawing, player="a2").match())) == 0


def test_a_carry_in_the_wrong_direction(drawing):
    assert len(find_centre_back_carries(steps_in(drawing, start=(-18, -9), end=(-32, -9)).match())) == 0


# -- several, gaps, missing players, other data -------------------------------------------------------
@pytest.mark.parametrize("after_s", [0.0, 5.0])
def test_several_in_a_row(drawing, after_s):
    found = find_centre_back_carries(draws(drawing).match(repeats=3, after_s=after_s))
    np.testing.assert_allclose(found["start_s"], [2 + after_s + i * (10 + after_s) for i in range(3)])


def test_two_that_adjoin(drawing):
    """a3 carries and plays square to a4, who carries on at once."""
    drawn = steps_in(drawing)
    drawn.rows[-1].update(receiver="a4", to="a4", end_s=6.0)
    drawn.ball_keys = [*drawn.ball_keys[:-4], (5.2, "a3", 0), (6.0, "a4", 0)]
    drawn.at(0, a4=(-32, 9)).at(6, a4=(-32, 9)).at(9, a4=(-20, 9)).carry("a4", 6, 9).hold("a4", 9, 10)
    found = find_centre_back_carries(drawn.match())
    assert found["players"].tolist() == [("a3",), ("a4",)] and found["start_s"].tolist() == [2, 6]


def test_none(drawing):
    found = find_centre_back_carries(drawing(5.0).hold("a4", 0, 5).match())
    assert len(found) == 0
    assert found.table.dtypes.to_dict() == find_centre_back_carries(draws(drawing).match()).table.dtypes.to_dict()


def test_frames_missing(drawing):
    row = only(find_centre_back_carries(draws(drawing).gap(3.0, 4.5).match()))
    assert row.opponent_drawn == "b10"
    assert len(find_centre_back_carries(draws(drawing).gap(0.5, 4.5).match())) == 0  # nobody knows what space he had


def test_players_missing(drawing):
    row = only(find_centre_back_carries(draws(drawing).hide("b10").match()))
    assert row.opponent_drawn == "" and row.space_m == pytest.approx((21**2 + 14**2) ** 0.5)
    row = only(find_centre_back_carries(draws(drawing).hide("a3").match()))  # the ball's place stands for him
    assert row.space_m == pytest.approx(25)
    few = draws(drawing)
    for shirt in (2, 3, 4, 5):
        few.hide(f"b{shirt}")
    row = only(find_centre_back_carries(few.match()))
    assert row["into_midfield"] is pd.NA
    assert row.drawn_from == "" and row.opponent_drawn == "b10"
    nobody = draws(drawing)
    for shirt in range(1, 12):
        nobody.hide(f"b{shirt}")
    assert len(find_centre_back_carries(nobody.match())) == 0


def test_the_line_of_who_jumps_is_the_one_he_comes_from(drawing):
    """b6 of the midfield four (at x = 3) has come out to (-10, -14), level with the forwards, before he jumps on.

    By the places at the instant he would be one of three in the first line.
    """
    drawn = steps_in(drawing, start=(-32, -9), end=(-20, -9))
    drawn.keys = {p: [(t + 60, x, y) for t, x, y in k] for p, k in drawn.keys.items()}
    drawn.ball_keys = [(t + 60, who, z) for t, who, z in drawn.ball_keys]
    for row in drawn.rows:
        row["time_s"], row["end_s"] = row["time_s"] + 60, row["end_s"] + 60
    drawn.seconds = 70.0
    drawn.play("a4", "a3", 0, 1).play("a3", "a4", 2, 3).hold("a4", 3, 60)
    drawn.at(55, b6=(3, -6)).at(60, b6=(-10, -14)).at(62, b6=(-10, -14)).at(65, b6=(-15, -12))
    row = only(find_centre_back_carries(drawn.match()))
    assert (row.opponent_drawn, row.drawn_from) == ("b6", "midfield line")


@pytest.mark.parametrize(("within_s", "used"), [(0.2, "True"), (0.19, "<NA>")])
def test_the_option_is_used_at_most_so_long_after(drawing, within_s, used):
    """The pass to a7 is struck 0.2 s after the carry."""
    row = only(find_centre_back_carries(draws(drawing).match(), within_s=within_s))
    assert str(row["option_used"]) == used


def test_an_option_is_at_most_so_far(drawing):
    """a7 at (-6, -10) is |(12, -1)| = 12.04 m from the end of the carry."""
    for longest_m, opened in ((12.05, "a7"), (12.0, "")):
        assert only(find_centre_back_carries(draws(drawing).match(), longest_m=longest_m)).option_opened == opened


def test_ahead_is_at_most_the_angle(drawing):
    """b10 and b11 at (9, +-5) from him: 29.05 degrees; b6 and b7 at (23, +-6): 14.6 degrees and 23.77 m."""
    drawn = steps_in(drawing, start=(-20, 0), end=(-8, 0), player="a4")
    drawn.rows[0]["player"], drawn.ball_keys[:3] = "a3", [(0.0, "a3", 0.0), (0.5, "a3", 0.0), (0.5, "a3", 0.0)]
    match = drawn.stands(a6=(-20, 12)).match()
    for angle, ahead in ((29.1, 106**0.5), (29.0, 565**0.5)):
        row = only(find_centre_back_carries(match, half_angle_deg=angle))
        assert row.space_ahead_m == pytest.approx(ahead)


def test_tracking_alone(drawing):
    row = only(find_centre_back_carries(draws(drawing).match(events=False)))
    assert row.estimated and row.next_action == "" and row["lost"] is pd.NA and row.opponent_drawn == "b10"
    assert row.option_used  # the pass is read from the tracking, too


def test_positions_are_needed(drawing):
    with pytest.raises(
        MissingDataError, match=r"^Finder 'centre-back carry' needs tracking; this match has events\. These finders do "
    ):
        find(draws(drawing).match(tracking=False), "centre-back carry")


def test_every_parameter_is_kept(drawing):
    assert dict(find_centre_back_carries(draws(drawing).match()).params) == {
        "least_gain_m": 7.0, "straight_share": 0.9, "least_space_m": 6.0, "furthest_start_m": 52.5, "closed_m": 3.0,
        "reach_m": 8.0, "lane_m": 2.0, "free_m": 3.0, "longest_m": 30.0, "half_angle_deg": 30.0, "within_s": 3.0,
    }  # fmt: skip
