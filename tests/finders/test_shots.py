"""Shots: told where they are taken, own goals for the side they count for, a shoot-out only if it is asked for."""

import pandas as pd
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find_shots
from tactical_kit.match import Period, events_table


def shooting(drawing, *times, **more):
    d = drawing(30.0).stands(a9=(41.5, 0.0))
    for at in times:
        d.event("shot", "a9", at, outcome="saved", success=False, **more)
    return d


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("swapped", [False, True])
def test_a_shot_from_the_penalty_mark(drawing, turned, swapped):
    """11 m from the middle of the goal: Law 1."""
    (shot,) = find_shots(shooting(drawing, 15.0).match(turned=turned, swapped=swapped))
    assert (shot["team"], shot["players"], shot["outcome"]) == ("a", ("a9",), "saved")
    assert (shot["start_s"], shot["end_s"], shot["time_s"]) == (7.0, 18.0, 15.0)
    assert (shot["x"], shot["y"]) == (41.5, 0.0) and shot["goal_distance_m"] == 11.0


def test_at_the_start_and_at_the_end_of_the_period(drawing):
    first, last = find_shots(shooting(drawing, 2.0, 29.0).match())
    assert (first["start_s"], last["end_s"]) == (0.0, 30.0)


def test_several_and_none(drawing):
    assert find_shots(shooting(drawing, 5.0, 5.4, 20.0).match())["time_s"].tolist() == [5.0, 5.4, 20.0]
    assert len(find_shots(drawing(5.0).hold("a3", 0, 5).match())) == 0
    passing = drawing(5.0).hold("a3", 0, 1).play("a3", "a9", 1, 2).event("clearance", "b4", 3.0)
    assert len(find_shots(passing.match())) == 0


@pytest.mark.parametrize("turned", [False, True])
def test_an_own_goal_counts_for_the_other_side(drawing, turned):
    """b4 turns it into his own net from 5 m: for side a it came 5 m from the goal it attacks."""
    d = drawing(20.0).stands(b4=(47.5, 0.0)).event("shot", "b4", 10.0, detail="own-goal", outcome="goal", success=True)
    (shot,) = find_shots(d.match(turned=turned))
    assert (shot["team"], shot["players"], shot["detail"], shot["outcome"]) == ("a", ("b4",), "own-goal", "goal")
    assert (shot["x"], shot["y"], shot["goal_distance_m"]) == (47.5, 0.0, 5.0)


def test_a_shoot_out_is_listed_only_if_it_is_asked_for(drawing):
    match = shooting(drawing, 15.0).match(tracking=False)
    kick = match.events.assign(period=5)
    periods = (*match.periods, Period(5, 60.0, 1))
    both = match.with_data(events=events_table(pd.concat([match.events, kick.assign(event_id="")])), periods=periods)
    assert find_shots(both)["period"].tolist() == [1]
    assert find_shots(both, shoot_out=True)["period"].tolist() == [1, 5]


def test_no_events(drawing):
    match = shooting(drawing, 5.0).match(events=False)
    with pytest.raises(MissingDataError, match=r"^The list of shots needs events; this match has tracking\.$"):
        find_shots(match)
