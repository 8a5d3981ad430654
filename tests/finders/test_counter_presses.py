"""Counter-pressing, by drawn sequences; numbers from hand geometry, the hull against shapely.

The five seconds (coaches' rule, Bauer & Anzer 2021; edges by design): a ball lost at 10.0 and back at 15.0 is in, at 15.04 out; a ball that goes out ends
the window; a goal kick is no loss in play.  The rest is common practice, no source.
"""

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import MultiPoint

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_counter_presses

PLACEMENTS = [
    {},
    {"turned": True},
    {"swapped": True},
    {"turned": True, "swapped": True},
    {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0},
    {"after_s": 20.0},
]


def hunted(drawing, speed=3.0, hunters=3, kept_until=10.0):
    """a6 at (-20, 0) plays to b6 at (10, 0), who has it at 3.0 and keeps it.  Up to three of side a, 10 m from him to
    the left, to the right and behind, run at him from 3.0 until 6.0; the other opponents are far."""
    drawn = drawing(kept_until).stands(a6=(-20, 0), b6=(10, 0), b7=(30, 0), b8=(28, -20), b9=(28, 20))
    ways = {"a7": ((0, 0), (1, 0)), "a8": ((10, 10), (0, -1)), "a11": ((10, -10), (0, 1))}
    for k, (player, ((x, y), (dx, dy))) in enumerate(ways.items()):
        way = 3 * speed if k < hunters else 0.0
        drawn.at(0, **{player: (x, y)}).at(3, **{player: (x, y)}).at(6, **{player: (x + way * dx, y + way * dy)})
    drawn.hold("a6", 0, 1).play("a6", "b6", 1, 3, complete=False).event("interception", "b6", 3.0, success=True)
    return drawn.hold("b6", 3, kept_until)


def only(moments):
    assert len(moments) == 1, moments.table
    return moments.table.iloc[0]


@pytest.mark.parametrize("where", PLACEMENTS)
def test_three_hunt_the_ball(drawing, where):
    drawn = hunted(drawing)
    row = only(find_counter_presses(drawn.match(**where)))
    start = 3 + where.get("after_s", 0.0)
    assert (row.start_s, row.end_s, row.team) == (start, start + 5, "a")
    assert row.pressed and row.beaten and not row.regained and row.ended == "kept"
    assert (row.loser, row.won_by, row.near_count, row.near_opponents) == ("a6", "interception", 3, 1)
    # They start at 3.0, speeds look 0.2 s to both sides: at 3.0 half the speed, at 3.2 all of it.
    assert row.reaction_s == pytest.approx(0.2) and row.first_presser == row.players[0]
    assert set(row.players) == {"a7", "a8", "a11"}
    np.testing.assert_allclose([row.hunters, row.closing_ms], [3.0, 3.0], atol=1e-3)
    np.testing.assert_allclose([row.x, row.y], [10, 0], atol=1e-4)
    places = [drawn.place_of(f"a{n}", np.array([3.0]))[0] for n in range(2, 12)]
    assert row.hull_m2 == pytest.approx(MultiPoint(places).convex_hull.area, rel=1e-5)
    assert np.isnan(row.regain_s) and not row.estimated


@pytest.mark.parametrize("where", PLACEMENTS)
def test_one_alone_is_no_counter_press(drawing, where):
    row = only(find_counter_presses(hunted(drawing, hunters=1).match(**where)))
    assert not row.pressed
    assert row.hunters == pytest.approx(1) and not row.beaten and row.players == ("a7",)


def test_a_jog_is_no_counter_press(drawing):
    row = only(find_counter_presses(hunted(drawing, speed=1.9).match()))
    assert not row.pressed and row.hunters == 0 and row.closing_ms == pytest.approx(1.9, abs=1e-3)
    assert np.isnan(row.reaction_s) and row.first_presser == ""
    assert only(find_counter_presses(hunted(drawing, speed=2.05).match())).pressed


def test_running_back_past_the_ball_is_no_counter_press(drawing):
    """All ten of side a run at 6 m/s towards their own goal, three of them with the ball on their way."""
    drawn = drawing(10.0).hold("a6", 0, 1).play("a6", "b6", 1, 3, complete=False).stands(b6=(0, 0))
    for n in range(2, 12):
        place = (24.0, n - 9.0) if n in (8, 9, 10) else (18.0, 6.0 * n - 36)
        if n != 6:
            drawn.at(0, **{f"a{n}": place}).at(3, **{f"a{n}": place}).at(7, **{f"a{n}": (place[0] - 24, place[1])})
    drawn.at(0, a6=(10, 20)).at(3, a6=(10, 20)).at(7, a6=(-14, 20))
    drawn.event("interception", "b6", 3.0, success=True).hold("b6", 3, 10)
    row = only(find_counter_presses(drawn.match()))
    assert row.closing_ms > 4 and row.hunters < 1 and not row.pressed


def test_a_hunt_that_is_called_off(drawing):
    """Three run at 3 m/s from 3.0 to 4.2, then stand 6.4 m off.  Of the eleven instants from 0.4 to 2.4 s four see them
    run and one (1.2 s, which looks 0.2 s to both sides of the stop) half the speed: 12 / 11 hunt, at 13.5 / 11 m/s."""
    drawn = hunted(drawing)
    for player, (dx, dy) in {"a7": (1, 0), "a8": (0, -1), "a11": (0, 1)}.items():
        x, y = drawn.keys[player][0][1:]
        drawn.keys[player] = [(3.0, x, y), (4.2, x + 3.6 * dx, y + 3.6 * dy)]
    row = only(find_counter_presses(drawn.match()))
    assert not row.pressed
    np.testing.assert_allclose([row.hunters, row.closing_ms], [12 / 11, 13.5 / 11], atol=1e-3)
    assert only(find_counter_presses(drawn.match(), judged_to_s=1.0)).pressed


def test_thresholds_of_the_hunt(drawing):
    """Two of three run: two hunt, the nearest three close at 2 m/s on average (3, 3 and 0)."""
    match = hunted(drawing, hunters=2).match()
    row = only(find_counter_presses(match, closing_least_ms=1.99))
    assert row.pressed and row.hunters == pytest.approx(2.0)
    assert not only(find_counter_presses(match, closing_least_ms=2.01)).pressed
    assert only(find_counter_presses(match, closing_least_ms=1.9, hunters_least=2.0)).pressed
    assert not only(find_counter_presses(match, closing_least_ms=1.9, hunters_least=2.01)).pressed


@pytest.mark.parametrize(("metres", "near"), [(10.0, 3), (9.99, 0)])
def test_at_most_ten_metres_is_near(drawing, metres, near):
    assert only(find_counter_presses(hunted(drawing).match(), near_m=metres)).near_count == near


def back(drawing, at):
    """The ball is lost at 10.0; a7 has it again at `at`."""
    drawn = drawing(20.0).stands(a6=(-20, 0), b6=(10, 0), a7=(4, 0), b7=(6, 0))
    drawn.hold("a6", 0, 8).play("a6", "b6", 8, 10, complete=False).event("interception", "b6", 10.0, success=True)
    drawn.hold("b6", 10, at - 0.6).play("b6", "a7", at - 0.6, at, complete=False)
    return drawn.event("interception", "a7", at, success=True).hold("a7", at, 20)


@pytest.mark.parametrize(("at", "regained"), [(10.6, True), (15.0, True), (15.04, False), (18.0, False)])
def test_the_five_seconds(drawing, at, regained):
    found = find_counter_presses(back(drawing, at).match()).table
    row = found.iloc[0]
    assert (len(found), row.team, row.start_s) == (2, "a", 10.0)
    assert row.regained == regained and row.ended == ("regained" if regained else "kept")
    assert row.regain_s == pytest.approx(at - 10) and row.end_s == pytest.approx(min(at, 15.0))
    assert found.iloc[1].team == "b" and not found.iloc[1].regained


def test_a_ball_that_goes_out_ends_the_window(drawing):
    """Out at 12, thrown in by side a at 13: not regained in open play."""
    drawn = drawing(20.0).stands(a6=(-20, 0), b6=(10, 0))
    drawn.hold("a6", 0, 8).play("a6", "b6", 8, 10, complete=False).event("interception", "b6", 10.0, success=True)
    drawn.hold("b6", 10, 12).event("out", "b6", 12.0).dead_ball(12, 13)
    drawn.hold("a2", 13, 13).play("a2", "a6", 13, 14, set_play="throw-in").carry("a6", 14, 20)
    row = only(find_counter_presses(drawn.match()))
    assert (row.regained, row.ended, row.end_s) == (False, "out", 12.0) and np.isnan(row.regain_s)
    assert not row.beaten


def test_a_hunt_that_forces_the_ball_out_was_not_beaten(drawing):
    """The three hunt from 3.0 on; the ball goes out at 6.0, within the five seconds."""
    drawn = hunted(drawing).dead_ball(6, 10).event("out", "b6", 6.0)
    row = only(find_counter_presses(drawn.match()))
    assert row.pressed and row.ended == "out" and not row.beaten


def test_lost_in_a_tackle_and_won_back_in_a_tackle(drawing):
    """b7 takes it off a6 at 3.0 and plays at 3.8; a7 takes it off b8 at 6.0 and plays at 7.0: lost for 3 s."""
    drawn = drawing(12.0).stands(a6=(0, 0), b7=(1, 0), b8=(10, 0), a7=(11, 0), a9=(20, 0)).carry("a6", 0, 3)
    drawn.event("tackle", "b7", 3.0, success=True, outcome="won").hold("b7", 3, 3.8).play("b7", "b8", 3.8, 5)
    drawn.carry("b8", 5, 6).event("tackle", "a7", 6.0, success=True, outcome="won").hold("a7", 6, 7)
    found = find_counter_presses(drawn.play("a7", "a9", 7, 8).carry("a9", 8, 12).match()).table
    assert found["team"].tolist() == ["a", "b"] and found["start_s"].tolist() == [3.0, 6.0]
    assert found["end_s"].iloc[0] == 6.0 and found["regain_s"].iloc[0] == pytest.approx(3.0)
    assert found["loser"].tolist() == ["a6", "b8"]


def test_a_goal_kick_is_no_loss(drawing):
    drawn = drawing(12.0).hold("a6", 0, 2).event("shot", "a6", 2.0, outcome="off-target").event("out", "a6", 3.0)
    drawn.dead_ball(3, 6).hold("b1", 6, 6).play("b1", "b3", 6, 8, set_play="goal-kick").carry("b3", 8, 12)
    assert len(find_counter_presses(drawn.match())) == 0


def test_a_ball_in_the_keepers_hands_is_not_hunted(drawing):
    drawn = hunted(drawing)
    drawn.rows[-1].update(kind="claim")
    row = only(find_counter_presses(drawn.match()))
    assert row.won_by == "keeper" and row.hunters > 2 and not row.pressed


def test_won_back_at_once_by_two_near_the_ball(drawing):
    """Back after 0.72 s: nobody can come up to speed, so the two who are tight on the ball are enough."""
    drawn = drawing(8.0).stands(a6=(-20, 0), a7=(8, 0), a8=(11, 2), b6=(10, 0))
    drawn.hold("a6", 0, 1).play("a6", "b6", 1, 3, complete=False).event("interception", "b6", 3.0, success=True)
    drawn.hold("b6", 3, 3.72).event("tackle", "a7", 3.72, success=True, outcome="won")
    drawn.event("recovery", "a7", 3.72, success=True).hold("a7", 3.72, 8)
    match = drawn.match()
    row = find_counter_presses(match).table.iloc[0]
    assert row.pressed and row.regained and row.regain_s == pytest.approx(0.72)
    assert not find_counter_presses(match, hurried_s=0.7).table.iloc[0].pressed


def test_what_was_conceded_when_it_was_beaten(drawing):
    """b6 carries the ball from (10, 0) at 5 to (-20, 0) at 9: their final third begins at -17.5, at 8.67."""
    drawn = hunted(drawing, kept_until=12.0).at(5, b6=(10, 0)).at(9, b6=(-20, 0))
    row = only(find_counter_presses(drawn.match()))
    assert row.beaten and row.conceded == "final third"
    assert only(find_counter_presses(drawn.match(), conceded_s=5.0)).conceded == ""
    drawn.event("shot", "b6", 9.5, outcome="goal", success=True)
    assert only(find_counter_presses(drawn.match())).conceded == "goal"


def test_several_in_a_row(drawing):
    found = find_counter_presses(hunted(drawing).match(repeats=3, after_s=6.0)).table
    np.testing.assert_allclose(found["start_s"], [9.0, 25.0, 41.0])
    assert found["pressed"].all()


def test_adjoining_losses(drawing):
    """b win it at 10.0, a win it back at 11.0: each side lost it once."""
    found = find_counter_presses(back(drawing, 11.0).match()).table
    assert found["team"].tolist() == ["a", "b"] and found["end_s"].iloc[0] == found["start_s"].iloc[1] == 11.0


def test_without_tracking_it_is_not_told_whether_it_was_pressed(drawing):
    row = find_counter_presses(back(drawing, 14.0).match(tracking=False)).table.iloc[0]
    assert row.pressed is pd.NA and row.beaten is pd.NA and row.regained and row.estimated
    assert np.isnan([row.near_count, row.hull_m2, row.reaction_s, row.hunters, row.closing_ms]).all()
    assert (row.first_presser, row.players) == ("", ())


def test_from_tracking_alone(drawing):
    row = only(find_counter_presses(hunted(drawing).match(events=False)))
    assert row.team == "a" and row.pressed and row.loser == "a6" and row.estimated
    assert abs(row.start_s - 3.0) <= 0.12


def test_frames_and_players_missing(drawing):
    """A gap in the middle of the hunt leaves the rest to judge by; a hunter who is not seen is not counted."""
    row = find_counter_presses(hunted(drawing).gap(4.0, 4.4).match()).table.iloc[0]
    assert row.pressed and row.hunters == pytest.approx(3, abs=1e-3)
    assert (row.ended, row.end_s) == ("", 4.0) and row.regained is pd.NA and row.beaten is pd.NA
    row = only(find_counter_presses(hunted(drawing).hide("a8").match()))
    assert row.hunters == pytest.approx(2, abs=1e-3) and row.near_count == 2
    nobody = hunted(drawing)
    for n in range(2, 12):
        nobody.hide(f"a{n}")
    row = only(find_counter_presses(nobody.match()))
    assert row.pressed is pd.NA and np.isnan(row.near_count) and np.isnan(row.hull_m2)


def test_nothing_found_has_the_same_columns(drawing):
    none = find_counter_presses(drawing(5.0).carry("a6", 0, 5).match())
    some = find_counter_presses(hunted(drawing).match())
    assert len(none) == 0 and none.table.dtypes.to_dict() == some.table.dtypes.to_dict()


def test_refusals(drawing):
    bare = hunted(drawing).match().with_data(events=None, tracking=None)
    with pytest.raises(
        MissingDataError, match=r"^Finder 'counter-press' needs events or tracking; this match has nothing yet\.$"
    ):
        find(bare, "counter-press")


def test_each_loss_is_the_others_win(demo):
    lost, won = find(demo, "counter-press").table, find(demo, "transition").table
    key = ["period", "start_s"]
    pd.testing.assert_frame_equal(lost[key].sort_values(key), won[key].sort_values(key))
    assert (lost["team"].to_numpy() != won["team"].to_numpy()).all()
    np.testing.assert_allclose(lost["x"], -won["x"])
    assert (lost.loc[lost["regained"].fillna(False), "regain_s"] <= 5.0 + 1e-6).all()


@pytest.mark.parametrize("where", PLACEMENTS)
def test_where_the_ball_was_lost(drawing, where):
    row = only(find_counter_presses(hunted(drawing).match(**where)))
    assert (row.third, row.corridor) == ("middle third", "centre")
    drawn = hunted(drawing)
    drawn.keys["b6"] = [(0.0, 30.0, -25.0)]  # on the right of side a, in its final third
    row = only(find_counter_presses(drawn.match(**where)))
    assert (row.third, row.corridor) == ("final third", "right wing")


def test_conceded_counts_from_the_loss_and_ends_with_the_next_one(drawing):
    """b7 takes it off a6 at 3.0, plays at 4.0; he is in a's third (-17.5) at 7.0, four seconds after the loss."""
    drawn = drawing(12.0).stands(a6=(0, 0)).at(3, b7=(1, 0)).at(4, b7=(1, 0)).carry("a6", 0, 3)
    drawn.event("tackle", "b7", 3.0, success=True, outcome="won").at(7, b7=(-17.5, 0)).at(9, b7=(-20, 0))
    match = drawn.carry("b7", 4, 12).match()
    assert only(find_counter_presses(match, conceded_s=4.0)).conceded == "final third"
    assert only(find_counter_presses(match, conceded_s=3.96)).conceded == ""


def test_a_parried_ball_can_be_hunted(drawing):
    """The keeper saves at 3.0 but b6 has it: no ball in anybody's hands."""
    drawn = hunted(drawing)
    drawn.rows[0].update(kind="shot", outcome="saved", receiver="", end_s=2.6, success=False)
    drawn.rows[-1].update(kind="recovery")
    row = only(find_counter_presses(drawn.event("save", "b1", 2.6).match()))
    assert row.won_by == "loose ball" and row.pressed


def test_an_opponent_who_scores_an_own_goal_did_not_beat_the_counter_press(drawing):
    drawn = hunted(drawing, kept_until=5.0)
    drawn.event("shot", "b6", 5.0, end_s=5.4, detail="own-goal", outcome="goal", success=True)
    drawn.seconds = 9.0
    row = only(find_counter_presses(drawn.ball(5.4, 52.5, 0).dead_ball(5.44, 9).match()))
    assert row.pressed and row.ended == "own goal" and not row.beaten and row.conceded == ""


@pytest.mark.parametrize(("least_s", "named"), [(1.2, True), (1.4, False)])
def test_who_is_named_hunted_for_so_long(drawing, least_s, named):
    """a8 comes a second after a7 and runs for one second only, at 5 m/s: seen at 4.0 to 5.0, six instants."""
    drawn = hunted(drawing, hunters=1)
    drawn.keys["a8"] = [(0.0, 10.0, 10.0), (4.0, 10.0, 10.0), (5.0, 10.0, 5.0)]
    row = only(find_counter_presses(drawn.match(), hunter_least_s=least_s))
    assert row.players == (("a7", "a8") if named else ("a7",))


def test_near_by_the_rounding_of_the_data(drawing):
    """Ten metres apart at places that single precision cannot hold: 11.06 - 1.06."""
    drawn = hunted(drawing)
    drawn.keys["b6"], drawn.keys["a7"] = [(0.0, 11.06, 0.0)], [(0.0, 1.06, 0.0)]
    drawn.keys["a8"], drawn.keys["a11"] = [(0.0, 0.0, 25.0)], [(0.0, 0.0, -25.0)]
    drawn.stands(a9=(-20, 0), a10=(-20, 5))
    assert only(find_counter_presses(drawn.match())).near_count == 1
