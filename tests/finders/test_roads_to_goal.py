"""Roads to goal: the steps of a drawn attack, and all shots of the demonstration match."""

import dataclasses
import re

import numpy as np
import pandas as pd
import pytest

import tactical_kit as tk
from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.finders.roads_to_goal import STEP_COLUMNS, find_roads_to_goal, road_steps
from tactical_kit.finders.shots import find_shots
from tactical_kit.match import Period, events_table


def attack(drawing, shot="goal", **shot_more):
    """Side a wins the ball in its own half and scores in nine seconds.

    Drawn block of side b: first line x = -11 (b10, b11), midfield x = 3 (b6 to b9), back line x = 18 (b2, b5) and 19
    (b3, b4), keeper b1 at (48, 0).
      1.0  a6 at (-20, 0) cuts a ball off
      2.0  he passes 41.2 m to a9, who is at (20, -10): past all ten, b2 to b5 at 18 and 19 among them
      4.0  a9 carries it to (36, -6)
      8.0  he shoots
    """
    d = drawing(12.0)
    d.hold("b10", 0.0, 0.4).play("b10", "b6", 0.4, 1.0, complete=False).hold("a6", 1.0, 2.0)
    d.event("interception", "a6", 1.0, success=True)
    d.at(0.0, a6=(-20, 0)).at(0.0, a9=(20, -10)).at(4.0, a9=(20, -10)).at(7.0, a9=(36, -6))
    d.play("a6", "a9", 2.0, 4.0).carry("a9", 4.0, 7.0).hold("a9", 7.0, 8.0)
    d.event("shot", "a9", 8.0, outcome=shot, success=shot == "goal", end_x=52.5, end_y=1.0, end_s=8.8, **shot_more)
    d.ball(8.8, 52.5, 1.0)
    return d.dead_ball(8.8, 12.0)


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("turned", [False, True])
def test_the_road_of_a_goal(drawing, turned, swapped):
    found = find_roads_to_goal(attack(drawing).match(turned=turned, swapped=swapped)).table
    assert len(found) == 1
    row = found.iloc[0]
    assert (row["team"], row["outcome"], row["shooter"], row["regain"], row["regain_by"]) == (
        "a", "goal", "a9", "interception", "a6",
    )  # fmt: skip
    assert row["players"] == ("a6", "a9") and (row["steps"], row["passes"]) == (4, 1)
    assert (row["start_s"], row["shot_s"], row["end_s"]) == pytest.approx((1.0, 8.0, 10.0))
    assert row["seconds"] == pytest.approx(7.0)
    assert (row["x"], row["y"], row["start_x"], row["start_y"]) == pytest.approx((36, -6, -20, 0))
    assert row["shot_distance_m"] == pytest.approx(np.hypot(16.5, 6.0))
    # Ten with the pass, nobody with the carry; three lines; at the shot a9 alone and nobody but the keeper.
    assert (row["opponents_beaten"], row["lines_beaten"]) == (10.0, 3.0)
    assert (row["n_attack"], row["n_defend"]) == (1.0, 0.0)
    assert row["space_m"] == pytest.approx(np.hypot(12, 6), abs=1e-4)  # the keeper at (48, 0)


@pytest.mark.parametrize(
    ("kind", "more", "word"),
    [
        ("block", {}, "block"),
        ("tackle", {"success": True, "outcome": "won"}, "tackle"),
        ("pass", {"detail": "header", "to": "a6"}, "header"),
        ("pass", {"to": "a6"}, "first-time pass"),
        ("touch", {}, "loose ball"),
        ("duel", {"success": True, "outcome": "won"}, "aerial duel"),
    ],
)
def test_who_won_the_ball_is_who_had_the_first_touch(drawing, kind, more, word):
    """a8 meets the ball of b10 at (-14, 4), the next man to have it is a6."""
    d = attack(drawing).stands(a8=(-14, 4))
    d.rows = [r for r in d.rows if r["kind"] != "interception"]
    if kind == "pass":
        more = {"end_s": 1.0, "receiver": "a6", "success": True, "outcome": "complete"} | more
    d.event(kind, "a8", 0.6, **more).event("recovery", "a6", 1.0, success=True)
    match = d.match()
    row = find_roads_to_goal(match).table.iloc[0]
    assert (row["regain"], row["regain_by"], row["players"]) == (word, "a8", ("a8", "a6", "a9"))
    assert (row["start_x"], row["start_y"]) == pytest.approx((-14, 4))
    assert road_steps(match, row)["words"].iloc[0] == f"a8: {word}"


def test_the_steps(drawing):
    match = attack(drawing).match()
    steps = road_steps(match, next(iter(find_roads_to_goal(match))))
    assert list(steps.columns) == list(STEP_COLUMNS) and steps["step"].tolist() == [1, 2, 3, 4]
    assert steps["what"].tolist() == ["regain", "pass", "carry", "shot"]
    assert steps["player"].tolist() == ["a6", "a6", "a9", "a9"] and steps["receiver"].tolist() == ["", "a9", "", ""]
    assert steps["time_s"].tolist() == pytest.approx([1.0, 2.0, 4.0, 8.0])
    np.testing.assert_allclose(steps["gain_m"], [np.nan, 40, 16, np.nan], atol=1e-4)
    np.testing.assert_allclose(steps["opponents_beaten"], [np.nan, 10, 0, np.nan])
    assert steps["line"].tolist() == ["", "back line", "", ""]
    # a6 at (-20, 0): strikers at (-11, -+5): 10.30 m.  a9 at (20, -10): b3 at (19, -7), 3.16 m.
    np.testing.assert_allclose(steps["space_m"][:3], [np.hypot(9, 5)] * 2 + [np.hypot(1, 3)], atol=1e-4)
    assert steps["receiver_space_m"][1] == pytest.approx(np.hypot(1, 3), abs=1e-4)
    # Level with the ball at -20 or ahead of it: a6 to a11 are, and a2, a5 at -22 (2 m are level); all ten are goal-side.
    assert (steps["n_attack"][1], steps["n_defend"][1]) == (8.0, 10.0)
    assert steps["words"].tolist() == [
        "a6: interception",
        "a6 passes 41 m to a9, through the back line, 10 opponents beaten",
        "a9 carries the ball 16 m",
        "a9 shoots, goal",
    ]


def test_asked_by_row_by_id_and_by_the_shot(drawing):
    match = attack(drawing).match()
    road, shot = next(iter(find_roads_to_goal(match))), next(iter(find_shots(match)))
    by_row = road_steps(match, road)
    assert road_steps(match, "road to goal-001").equals(by_row) and road_steps(match, shot).equals(by_row)


@pytest.mark.parametrize("outcome", ["saved", "blocked", "off-target", "woodwork"])
def test_a_shot_that_is_no_goal(drawing, outcome):
    assert find_roads_to_goal(attack(drawing, outcome).match())["outcome"].tolist() == [outcome]


def test_a_shot_in_no_possession_begins_with_itself(drawing):
    """A ball struck in the first frame by who is not known to have had it before."""
    d = attack(drawing)
    for row in d.rows:
        if row["kind"] != "shot":
            row["player"] = {"a6": "b6", "a9": "b9"}.get(row["player"], row["player"])
            row["receiver"] = "b9" if row.get("receiver") == "a9" else row.get("receiver", "")
    d.rows = [r for r in d.rows if r["kind"] == "shot"]
    d.rows[0]["time_s"], d.rows[0]["end_s"] = 11.0, 11.5  # the ball is dead
    match = d.match()
    found = find_roads_to_goal(match).table
    assert found["regain"].tolist() == [""] and found["steps"].tolist() == [1]
    assert found["start_s"].tolist() == [11.0] and found["seconds"].tolist() == [0.0]
    assert road_steps(match, "road to goal-001")["what"].tolist() == ["shot"]


@pytest.mark.parametrize("listed", [("interception", "pass", "shot"), ("interception", "carry", "shot"), ("shot",)])
def test_what_the_events_do_not_list_is_read_from_the_tracking(drawing, listed):
    """The same road as with all events: a log without carries, one without passes, a log of shots alone."""
    d = attack(drawing)
    d.rows = [r for r in d.rows if r["kind"] in listed]
    match = d.match()
    row = find_roads_to_goal(match).table.iloc[0]
    assert (row["passes"], row["opponents_beaten"], row["lines_beaten"]) == (1, 10.0, 3.0)
    steps = road_steps(match, row)
    assert steps["what"].tolist()[-3:] == ["pass", "carry", "shot"]
    assert steps["player"].tolist()[-3:] == ["a6", "a9", "a9"] and steps["receiver"].iloc[-3] == "a9"
    np.testing.assert_allclose(steps["gain_m"].iloc[-3:-1], [40, 16], atol=3.0)  # a ball at arm's length
    assert row["estimated"] and steps["estimated"].tolist()[-3:] == [k not in listed for k in ("pass", "carry", "shot")]
    assert not find_roads_to_goal(attack(drawing).match()).table["estimated"].any()
    assert find_roads_to_goal(d.match(tracking=False)).table["passes"].tolist() == [int("pass" in listed)]


def test_an_own_goal_is_told_for_the_side_it_counts_for(drawing):
    d = attack(drawing, "off-target")
    d.rows[-1] |= {"player": "b4", "detail": "own-goal", "outcome": "goal"}
    match = d.match()
    row = find_roads_to_goal(match).table.iloc[0]
    assert (row["team"], row["outcome"], row["shooter"]) == ("a", "own goal", "b4")
    # b4 stands at (19, 7) of the drawing, whose frame is that of side a.
    assert (row["x"], row["y"]) == pytest.approx((19.0, 7.0))
    steps = road_steps(match, row)
    assert steps["what"].tolist() == ["regain", "pass", "carry", "own goal"]
    assert steps["words"].iloc[-1] == "b4: own goal"


@pytest.mark.parametrize("at_end", [False, True])
def test_a_moment_ends_with_the_period(drawing, at_end):
    d = attack(drawing)
    match = d.match() if at_end else d.match(then_s=5.0)
    assert find_roads_to_goal(match, after_s=9.0)["end_s"].tolist() == [12.0 if at_end else 17.0]


@pytest.mark.parametrize("after_s", [0.0, 6.0])
def test_several_in_a_row(drawing, after_s):
    found = find_roads_to_goal(attack(drawing).match(after_s=after_s, repeats=3)).table
    assert found["shot_s"].tolist() == pytest.approx([8 + after_s + i * (12 + after_s) for i in range(3)])
    assert found["steps"].tolist() == [4, 4, 4] and found["opponents_beaten"].tolist() == [10.0] * 3


def test_a_kick_of_a_shoot_out_has_no_road(drawing):
    """It does not count for the score either."""
    match = attack(drawing).match(tracking=False)
    kick = match.events[match.events["kind"] == "shot"].assign(event_id="kick", period=5, time_s=20.0, end_s=20.5)
    both = dataclasses.replace(
        match,
        periods=(*match.periods, Period(5, 60.0, match.periods[0].home_attacks)),
        events=events_table(pd.concat([match.events, kick]).to_dict("records")),
    )
    assert find_shots(both, shoot_out=True)["period"].tolist() == [1, 5]
    assert find_roads_to_goal(both)["period"].tolist() == [1]


def test_no_shot_no_road(drawing):
    d = attack(drawing)
    d.rows = [r for r in d.rows if r["kind"] != "shot"]
    none, some = find_roads_to_goal(d.match()).table, find_roads_to_goal(attack(drawing).match()).table
    assert len(none) == 0 and none.dtypes.to_dict() == some.dtypes.to_dict()


def test_only_the_own_actions_of_the_possession_are_steps(drawing):
    """Near misses: a pass of the other side, one of another possession before, a tackle."""
    d = attack(drawing)
    d.event("tackle", "b3", 6.0, outcome="lost").event(
        "pass", "a2", 0.1, end_s=0.2, receiver="a3", success=True, to="a3"
    )
    assert find_roads_to_goal(d.match())["steps"].tolist() == [4]


def test_a_pass_that_does_not_arrive_beats_nobody(drawing):
    d = attack(drawing)
    for row in d.rows:
        if row["kind"] == "pass" and row["player"] == "a6":
            row |= {"success": False, "outcome": "blocked", "receiver": ""}
    found = find_roads_to_goal(d.match()).table.iloc[0]
    assert found["passes"] == 0 and found["opponents_beaten"] == 0.0


def test_events_alone_leave_numbers_unknown(drawing):
    match = attack(drawing).match(tracking=False)
    row = find_roads_to_goal(match).table.iloc[0]
    assert (row["steps"], row["passes"], row["regain"]) == (4, 1, "interception")
    for name in ("opponents_beaten", "lines_beaten", "space_m", "n_attack", "n_defend"):
        assert np.isnan(row[name]), name
    assert road_steps(match, row)["words"].tolist()[1] == "a6 passes 41 m to a9"


def test_without_opponents_in_the_data_nobody_is_known_to_be_beaten(drawing):
    match = attack(drawing).match()
    t = match.tracking
    own = dataclasses.replace(t, players=t.players[:11], team_index=t.team_index[:11], xy=t.xy[:, :11])
    row = find_roads_to_goal(match.with_data(tracking=own)).table.iloc[0]
    for name in ("opponents_beaten", "lines_beaten", "space_m", "n_attack", "n_defend"):
        assert np.isnan(row[name]), name


def test_after_a_gap_in_the_tracking_the_road_begins_anew(drawing):
    """Who had the ball in the gap is not known: nothing is said of what was before."""
    match = attack(drawing).gap(0.5, 3.2).match()
    row = find_roads_to_goal(match).table.iloc[0]
    assert (row["regain"], row["regain_by"], row["opponents_beaten"]) == ("", "a9", 0.0)
    assert row["start_s"] == pytest.approx(3.2)
    assert road_steps(match, row)["words"].tolist() == [
        "a9: has the ball",
        "a9 carries the ball 16 m",
        "a9 shoots, goal",
    ]


def test_what_is_no_shot_is_refused(drawing):
    match = attack(drawing).match()
    said = "'road to goal-009' is no road to goal of this match; there are 1, from 'road to goal-001' on."
    with pytest.raises(TacticalKitError, match=f"^{re.escape(said)}$"):
        road_steps(match, "road to goal-009")
    possession = next(iter(tk.find_possessions(match)))
    said = "the moment 'possession-001' is no shot of this match; expected a row of find_roads_to_goal or find_shots."
    with pytest.raises(TacticalKitError, match=f"^{re.escape(said)}$"):
        road_steps(match, possession)
    with pytest.raises(MissingDataError, match=r"^The road to goal needs events; this match has tracking\.$"):
        find_roads_to_goal(match.with_data(events=None))


# -- the demonstration match ----------------------------------------------------------------------------------


def test_every_shot_has_its_road(demo):
    """Reference: the shots and passes among the events, counted by plain pandas."""
    roads, shots = find_roads_to_goal(demo).table, find_shots(demo).table
    assert sorted(roads["shot_s"]) == sorted(shots["time_s"])
    events = demo.events
    for row in roads.itertuples():
        mine = events[(events["period"] == row.period) & (events["team"] == row.team) & (events["kind"] == "pass")]
        mine = mine[
            (mine["time_s"] >= row.start_s - 1e-6) & (mine["time_s"] < row.shot_s) & (mine["outcome"] == "complete")
        ]
        assert row.passes == len(mine)
        assert row.end_s >= row.shot_s >= row.start_s and row.steps >= 1 and row.shooter in row.players
        steps = road_steps(demo, row.moment_id)
        assert len(steps) == row.steps and steps["what"].iloc[-1] == "shot"
        assert steps["time_s"].is_monotonic_increasing
        assert steps["opponents_beaten"].sum() == row.opponents_beaten
