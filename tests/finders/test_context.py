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


def test_a_clearance_is_not_a_loss_and_a_touch_is_looked_through(drawing):
    assert next_actions(follow(drawing, "clearance"), [1], [2.0], ["a6"])[0] == "clearance"
    d = drawing(8.0).hold("a3", 0, 1).play("a3", "a6", 1, 2).event("touch", "a6", 2.0).hold("a6", 2, 4)
    kept = d.play("a6", "a8", 4, 5)
    assert next_actions(kept.match(), [1], [2.0], ["a6"])[0] == "forward pass"
    d = drawing(8.0).hold("a3", 0, 1).play("a3", "a6", 1, 2).event("touch", "a6", 2.0).ball(4, 3, -6)
    assert next_actions(d.event("recovery", "b6", 4.0).match(), [1], [2.0], ["a6"])[0] == "lost"


@pytest.mark.parametrize("taker", ["a6", "b7"])
def test_nothing_follows_once_play_has_stopped(drawing, taker):
    """He lets it run out; whoever takes the throw-in begins anew."""
    d = drawing(12.0).hold("a3", 0, 1).play("a3", "a6", 1, 2).event("out", "a6", 3.0).dead_ball(3, 6)
    match = d.hold("a6", 2, 3).hold(taker, 6, 6).play(taker, taker[0] + "9", 6, 7, set_play="throw-in").match()
    assert next_actions(match, [1], [2.0], ["a6"])[0] == ""


def test_nothing_is_said_of_an_unknown_player(drawing):
    match = follow(drawing, "tackle", by="b6", outcome="won")
    assert next_actions(match, [1, 1], [2.0, 2.0], ["", "nobody"]).tolist() == ["", ""]


@pytest.mark.parametrize("at", [1.96, 2.0])
def test_the_pass_that_was_cut_off_is_not_what_happened_to_him(drawing, at):
    """b6 plays a frame before a6 has it, or at the same instant by the log; a6 plays on at 3."""
    d = drawing(8.0).hold("b6", 0, at).play("b6", "a6", at, 2.04, complete=False).event("interception", "a6", 2.0)
    match = d.hold("a6", 2.04, 3).play("a6", "a8", 3, 4).match()
    assert next_actions(match, [1], [2.0], ["a6"])[0] == "forward pass"
    # Nor does the pass of a team-mate that took no longer than a frame break it off.
    d = drawing(8.0).hold("a3", 0, at).play("a3", "a6", at, 2.04).hold("a6", 2.04, 3).play("a6", "a8", 3, 4)
    assert next_actions(d.match(), [1], [2.0], ["a6"])[0] == "forward pass"


def test_too_few_events_say_nothing(drawing):
    """One shot in three stretches of play: the next that is logged of him may be minutes later."""
    match = attack(drawing).match(repeats=3, after_s=3.0)
    shot = match.events[match.events["kind"] == "shot"].tail(1).reset_index(drop=True)
    assert next_actions(match.with_data(events=shot), [1], [4.0], ["a9"])[0] == ""


def test_own_goals(drawing):
    """a6 plays it into his own net at 4.0: his possession ended in an own goal; so b's would have ended in a goal."""
    d = drawing(8.0).stands(a6=(-45, 0)).hold("a6", 0, 4)
    d.event("carry", "a6", 0.0, end_s=4.0).event("shot", "a6", 4.0, end_s=4.5, detail="own-goal", outcome="goal")
    after = aftermath(d.ball(4.5, -52.5, 0).dead_ball(4.52, 8).match(), [1], [1.0], ["a"]).iloc[0]
    assert after["ended"] == "own goal" and np.isnan(after["goal_s"]) and np.isnan(after["shot_s"])
    # b6 crosses and a4 puts it into his own net.
    d = drawing(8.0).stands(b6=(-45, 20), a4=(-48, 0)).hold("b6", 0, 2).event("carry", "b6", 0.0, end_s=2.0)
    d.play("b6", "a4", 2, 3, complete=False)
    d.event("shot", "a4", 3.0, end_s=3.3, detail="own-goal", outcome="goal")
    after = aftermath(d.ball(3.3, -52.5, 0).dead_ball(3.32, 8).match(), [1], [1.0], ["b"]).iloc[0]
    assert after["goal_s"] == pytest.approx(2.0) and np.isnan(after["shot_s"])


def test_what_counts_as_a_possession_can_be_said(drawing):
    """a6 has it for 0.4 s, then b7 for 0.4 s, then a6 again: what he does then is not of the first spell."""
    d = drawing(9.0).stands(a6=(-10, 0), b6=(-5, -4), b7=(-9, 0)).hold("b6", 0, 1)
    d.play("b6", "a6", 1, 2, complete=False).event("interception", "a6", 2.0).hold("a6", 2, 2.4)
    d.event("recovery", "b7", 2.4).hold("b7", 2.4, 2.76).event("recovery", "a6", 2.8)
    match = d.at(2.8, a6=(-10, 0)).at(6, a6=(30, 0)).carry("a6", 2.8, 9).match()
    short = aftermath(match, [1], [2.0], ["a"], min_control_s=0.3).iloc[0]
    assert short["kept_s"] == pytest.approx(0.4) and short["ended"] == "lost" and np.isnan(short["third_s"])
    late = aftermath(match, [1], [2.0], ["a"], begins_s=0.5).iloc[0]  # by half a second only the second one counts
    assert np.isnan(late["kept_s"]) and late["ended"] == ""
