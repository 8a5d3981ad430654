"""What finders share: phases and spells at instants, what came of a moment, what a player did next."""

import numpy as np
import pytest

from tactical_kit.finders.context import aftermath, index_of, next_actions, phase_at, possession_at
from tactical_kit.phases import find_phases, find_possessions


def attack(drawing):
    """a3 to a6 at 1-2 s, a6 goes from x = -20 to 40 (2-8 s), passes to a9 in the box (8-9 s), who scores at 10 s."""
    d = drawing(12.0).hold("a3", 0, 1).play("a3", "a6", 1, 2).carry("a6", 2, 8)
    d.at(2, a6=(-20, 0)).at(8, a6=(40, 0)).stands(a9=(40, -10))
    d.play("a6", "a9", 8, 9).hold("a9", 9, 10)
    d.event("shot", "a9", 10.0, end_s=10.6, end_x=52.5, end_y=0.0, outcome="goal", success=True)
    return d.ball(10.6, 52.5, 0).dead_ball(10.64, 12)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("swapped", [False, True])
def test_what_came_of_an_attack(drawing, turned, swapped):
    """By hand: the carry enters the attacking third (x = 17.5) after 3.75 of its 6 s, the box (36) after 5.6 s."""
    match = attack(drawing).match(turned=turned, swapped=swapped, after_s=3.0)
    after = aftermath(match, [1], [4.0], ["a"]).iloc[0]
    assert after["third_s"] == pytest.approx(4.75, abs=0.05)
    assert after["box_s"] == pytest.approx(6.6, abs=0.05)
    assert after["shot_s"] == pytest.approx(9.0) and after["goal_s"] == pytest.approx(9.0)
    assert after["ended"] == "goal" and after["furthest_x"] > 50


def test_what_came_of_it_from_events_alone(drawing):
    after = aftermath(attack(drawing).match(tracking=False), [1], [1.0], ["a"]).iloc[0]
    assert after["third_s"] == pytest.approx(7.0) and after["box_s"] == pytest.approx(7.0)  # where the carry ends
    assert after["goal_s"] == pytest.approx(9.0)


def test_what_comes_too_late_does_not_count(drawing):
    match = attack(drawing).match()
    after = aftermath(match, [1, 1], [1.0, 1.0], ["a", "b"], within_s=5.0)
    assert np.isnan(after["box_s"][0]) and after["third_s"][0] == pytest.approx(4.75, abs=0.05)
    assert after["ended"][0] == "" and after["kept_s"][0] == 5.0
    assert np.isnan(after["kept_s"][1]) and after["ended"][1] == ""  # side b never had the ball


def test_phases_and_spells_at_instants(drawing):
    match = attack(drawing).match(after_s=3.0)
    assert phase_at(match, [1, 1], [0.5, 4.0], "a").tolist() == ["", "build-up"]
    assert phase_at(match, [1], [4.0], "b")[0] in ("mid-block", "low block", "high press")
    assert possession_at(match, [1, 1], [0.5, 4.0]).tolist() == [-1, 0]
    table = find_phases(match).table
    for row in table.itertuples():
        assert phase_at(match, [1], [row.start_s], row.team)[0] == row.phase  # the start belongs to the span
    assert len(find_possessions(match)) == 1


def test_the_index_is_worked_out_once(drawing):
    match = attack(drawing).match()
    assert index_of(match) is index_of(match)


def follow(drawing, kind="", to=None, **more):
    """a3 plays to a6 (1-2 s); what a6 does at 3 s is asked for."""
    d = drawing(8.0).hold("a3", 0, 1).play("a3", "a6", 1, 2).hold("a6", 2, 4)
    if kind == "pass":
        d.play("a6", to, 3, 4, **more)
    elif kind:
        d.event(kind, more.pop("by", "a6"), 3.0, **more)
    return d.match()


@pytest.mark.parametrize(
    ("action", "expected"),
    [
        ({"kind": "pass", "to": "a8"}, "forward pass"),
        ({"kind": "pass", "to": "a4"}, "square or back pass"),
        ({"kind": "pass", "to": "a8", "detail": "cross"}, "cross"),
        ({"kind": "carry", "end_s": 5.0, "end_x": -12.0, "end_y": 0.0}, "forward carry"),  # 8 m on
        ({"kind": "carry", "end_s": 5.0, "end_x": -20.0, "end_y": 7.0}, "carry"),  # 7 m across
        ({"kind": "carry", "end_s": 5.0, "end_x": -15.0, "end_y": 0.0}, "carry"),  # control only, nothing follows
        ({"kind": "shot", "outcome": "saved"}, "shot"),
        ({"kind": "tackle", "by": "b6", "outcome": "won"}, "lost"),
        ({"kind": "tackle", "by": "b6", "outcome": "lost"}, ""),
        ({"kind": "foul", "by": "b6"}, "foul won"),
        ({}, ""),
    ],
)
def test_next_action(drawing, action, expected):
    match = follow(drawing, **action)
    assert next_actions(match, [1], [2.0], ["a6"])[0] == expected


def test_control_is_looked_through(drawing):
    """A carry of 3 m and then a pass: the pass is what he did."""
    d = drawing(8.0).hold("a3", 0, 1).play("a3", "a6", 1, 2)
    d.event("carry", "a6", 2.0, end_s=3.0, end_x=-17.0, end_y=0.0)
    d.play("a6", "a8", 3, 4)
    assert next_actions(d.match(), [1], [2.0], ["a6"])[0] == "forward pass"
    assert next_actions(d.match(), [1], [2.0], ["a6"], carry_m=3.0)[0] == "forward carry"


def test_without_events_nothing_is_guessed(drawing):
    assert next_actions(follow(drawing).with_data(events=None), [1], [2.0], ["a6"]).tolist() == [""]
