"""Possession spells on sketches small enough to check by eye; reference: the sketch itself."""

import re
from dataclasses import replace

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError, UnknownNameError
from tactical_kit.match import events_table
from tactical_kit.phases import find_phases, find_possessions

PATH = ((0.0, 0.0), (10.0, 0.0))


def spans(found):
    return list(found.table[["period", "start_s", "end_s", "team"]].itertuples(index=False, name=None))


@pytest.fixture(params=["both", "events", "positions"])
def data(request):
    """The three kinds of match: events and tracking, events alone, tracking alone."""
    return {
        "both": {},
        "events": {"tracking": False},
        "positions": {"events": False},
    }[request.param]


def three_spells(sketch, **kwargs):
    s = sketch(**kwargs)
    s.play(10, 0, PATH, began="kick-off").play(8, 1, PATH, began="interception").play(6, 0, PATH, began="recovery")
    return s.dead(4, "period-end", 0)


def test_middle_start_end_and_adjoining(sketch, data):
    found = find_possessions(three_spells(sketch).match(**data))
    assert spans(found) == [(1, 0.0, 10.0, "a"), (1, 10.0, 18.0, "b"), (1, 18.0, 24.0, "a")]
    assert found["won_in_play"].tolist() == [False, True, True]
    assert found["outcome"].tolist()[:2] == ["lost", "lost"]


def test_how_it_began_and_ended_comes_from_the_events(sketch):
    found = find_possessions(three_spells(sketch).match())
    assert found["began"].tolist() == ["kick-off", "interception", "recovery"]
    assert found["outcome"].tolist() == ["lost", "lost", "period-end"]
    assert found["players"].tolist() == [("a7",), ("b7",), ("a7",)]
    assert found["passes"].tolist() == [1, 0, 0]
    assert not found["estimated"].any()


@pytest.mark.parametrize(
    ("time_s", "team", "expected"),
    [(9.9, "a", [2, 0, 0]), (9.97, "a", [2, 0, 0]), (10.0, "b", [1, 1, 0]), (15.0, "", [1, 0, 0])],
)
def test_every_pass_counts_for_its_side_also_a_frame_from_a_change(sketch, time_s, team, expected):
    """The change is at 10 s; the last pass before it counts, one without a side does not (common practice, no source)."""
    match = three_spells(sketch).match()
    late = {
        "period": 1,
        "time_s": time_s,
        "kind": "pass",
        "team": team,
        "player": f"{team}7" if team else "",
        "success": False,
    }
    events = events_table([*match.events.to_dict("records"), late | {"event_id": "late", "outcome": "intercepted"}])
    found = find_possessions(match.with_data(events=events))
    assert spans(found) == spans(find_possessions(match))
    assert found["passes"].tolist() == expected


def test_inferred_spells_are_marked(sketch):
    s = three_spells(sketch)
    assert find_possessions(s.match(tracking=False))["estimated"].all()
    only = find_possessions(s.match(events=False))
    assert only["estimated"].all() and only["passes"].isna().all()
    assert only["began"].tolist() == ["kick-off", "recovery", "recovery"]
    assert only.params["source"] == "positions"


def test_place_is_in_the_frame_of_the_side(sketch, data):
    s = (
        sketch(home_attacks=(-1,))
        .play(5, 1, ((20, 5), (30, 5)), began="free-kick")
        .play(5, 0, ((-30, -5), (0, 0)), began="recovery")
    )
    found = find_possessions(s.match(**data))
    np.testing.assert_allclose(found.table[["x", "y"]], [[20, 5], [-30, -5]], atol=1e-5)


def test_dead_ball_belongs_to_nobody(sketch, data):
    s = sketch().play(5, 0, PATH, began="kick-off").event("out", 0, 10, 34, time_s=5.0)
    s.dead(7, "").play(5, 1, ((0, 33.8), (10, 20)), began="throw-in")
    found = find_possessions(s.match(**data))
    assert next((a, b) for _, a, b, _ in spans(found)) == (0.0, 5.0)
    assert found["start_s"].tolist()[1] == 12.0
    assert found["team"].tolist() == ["a", "b"]
    assert found["won_in_play"].tolist() == [False, False]
    assert found["began"].tolist() == ["kick-off", "throw-in"]


def test_a_touch_of_the_other_side_breaks_no_spell(sketch):
    """At least min_control_s wins the ball: 1.0 s in, 0.96 s out (25 Hz, one frame less)."""
    for seconds, teams in ((1.0, ["a", "b", "a"]), (0.96, ["a"])):
        s = sketch().play(6, 0, PATH, began="kick-off").play(seconds, 1, PATH, began="interception")
        s.play(6, 0, PATH, began="recovery")
        assert find_possessions(s.match(), min_control_s=1.0)["team"].tolist() == teams


def test_a_shot_counts_whatever_its_length(sketch):
    s = sketch().play(6, 0, PATH, began="kick-off").play(0.6, 1, ((40, 0), (45, 0)), began="interception", passes=False)
    s.event("shot", 1, 45, 0, time_s=6.4, outcome="saved")
    s.play(6, 0, PATH, began="claim")
    assert find_possessions(s.match())["team"].tolist() == ["a", "b", "a"]


def test_clearance_wins_nothing_unless_the_side_then_has_the_ball(sketch):
    s = sketch().play(6, 0, PATH, began="kick-off").event("clearance", 1, -30, 0, time_s=3.0)
    assert find_possessions(s.match())["team"].tolist() == ["a"]
    s = sketch().play(3, 0, PATH, began="kick-off").event("clearance", 1, -30, 0)
    s.play(2, 0, PATH, passes=False).play(5, 1, PATH, began="recovery")
    found = find_possessions(s.match())
    assert spans(found) == [(1, 0.0, 5.0, "a"), (1, 5.0, 10.0, "b")]
    assert found["began"].tolist() == ["kick-off", "clearance"]


def test_a_tackle_wins_the_ball_when_its_side_then_controls_it(sketch):
    s = sketch().play(6, 0, PATH, began="kick-off").play(6, 1, PATH, began="tackle")  # first carry 0.4 s later
    found = find_possessions(s.match())
    assert found["end_s"].tolist() == [6.4, 12.0] and found["began"].tolist() == ["kick-off", "tackle"]
    s = sketch().play(6, 0, PATH, began="kick-off").event("tackle", 1, 0, 0, time_s=3.0, outcome="won")
    assert find_possessions(s.match())["team"].tolist() == ["a"]


def test_a_header_wins_the_ball_when_it_reaches_a_team_mate(sketch):
    for success, end in ((True, 4.2), (False, 5.0)):
        s = sketch().play(3, 0, PATH, began="kick-off")
        s.event("pass", 1, 0, 0, detail="header", success=success, end_s=4.2)
        s.play(2, 0, PATH, passes=False).play(5, 1, PATH, began="recovery")
        assert find_possessions(s.match())["end_s"].tolist() == [end, 10.0]


@pytest.mark.parametrize(("away_s", "after", "early"), [(5.0, 5.0, True), (5.04, 5.04, False)])
def test_won_back_within_five_seconds(sketch, away_s, after, early):
    """The coaches' five seconds (Bauer & Anzer 2021), both ends in: loss at 10.0, regain at 15.0 is in (limit 5, at most), 15.04 is out."""
    s = (
        sketch()
        .play(10, 0, PATH, began="kick-off")
        .play(away_s, 1, PATH, began="interception")
        .play(5, 0, PATH, began="recovery")
    )
    found = find_possessions(s.match(), counter_press_s=5.0).table
    assert found["won_back_after_s"][0] == pytest.approx(after)
    assert found["won_back_early"].tolist() == [early, False, False]


def test_ball_out_ends_the_window_and_a_goal_kick_is_no_loss_in_play(sketch):
    """A ball out of play ends the window (design)."""
    s = sketch().play(10, 0, PATH, began="kick-off").play(2, 1, PATH, began="interception").dead(1, "out", 1)
    s.play(4, 0, ((0, 34), (9, 9)), began="throw-in").dead(1, "out", 0).play(
        4, 1, ((-47, 0), (-40, 9)), began="goal-kick"
    )
    found = find_possessions(s.match()).table
    assert found["won_back_after_s"].isna().all() and not found["won_back_early"].any()
    assert found["won_in_play"].tolist() == [False, True, False, False]


def test_gap_in_the_tracking_is_left_out_and_the_spell_goes_on(sketch):
    s = sketch().play(5, 0, PATH, began="kick-off").missing(3).play(5, 0, PATH)
    found = find_possessions(s.match())
    assert spans(found) == [(1, 0.0, 5.0, "a"), (1, 8.0, 13.0, "a")]
    assert found["won_in_play"].tolist() == [False, False]
    assert found["outcome"].tolist()[0] == ""
    s = sketch().play(5, 0, PATH, began="kick-off").missing(3).play(5, 1, PATH)
    assert find_possessions(s.match())["won_in_play"].tolist() == [False, True]


def test_ends_changed_in_extra_time(sketch, data):
    s = sketch(home_attacks=(1, -1, 1, -1))
    for _ in range(3):
        s.play(6, 0, PATH, began="kick-off").play(6, 1, ((-30, 4), (0, 0)), began="interception").dead(
            1, "period-end", 0
        )
        s.next_period()
    found = find_possessions(s.play(6, 1, PATH, began="kick-off").match(**data))
    assert found["period"].tolist() == [1, 1, 2, 2, 3, 3, 4]
    assert found["team"].tolist() == ["a", "b"] * 3 + ["b"]
    np.testing.assert_allclose(found.table["x"][[1, 3, 5]], -30, atol=1e-5)


def test_unknown_ball_and_players_leave_live_time_tiled(sketch):
    match = three_spells(sketch).match(events=False)
    match.tracking.ball[:] = np.nan
    found = find_possessions(match)
    assert spans(found) == [(1, 0.0, 24.0, "a")] and found["estimated"].all()


def test_owner_flag_is_used_where_there_are_no_events(sketch):
    match = three_spells(sketch).match(events=False)
    owner = np.full(len(match.tracking), -1, np.int8)
    owner[10:100], owner[100:590] = 0, 1
    object.__setattr__(match.tracking, "owner", owner)
    found = find_possessions(match)
    assert found.params["source"] == "owner"
    assert spans(found) == [(1, 0.0, 4.0, "a"), (1, 4.0, 24.0, "b")]


def test_neither_events_nor_tracking(sketch):
    match = sketch().play(2, 0, PATH, began="kick-off").match().with_data(events=None, tracking=None)
    message = (
        "Possession and phases need events on the ball or tracking; match 'sketch' has nothing yet. Load an events "
        "table with passes and carries, or tracking; spells and phases logged by hand can be kept as tags instead."
    )
    with pytest.raises(MissingDataError, match=f"^{re.escape(message)}$"):
        find_possessions(match)


def test_a_source_that_is_not_there(sketch):
    match = sketch().play(2, 0, PATH, began="kick-off").match(events=False)
    with pytest.raises(MissingDataError, match=r"^source 'events' is not in match 'sketch'; it has 'positions'\.$"):
        find_possessions(match, source="events")
    message = "source is 'event'; expected one of 'auto', 'events', 'owner', 'positions'. Did you mean 'events'?"
    with pytest.raises(UnknownNameError, match=f"^{re.escape(message)}$"):
        find_possessions(match, source="event")


def test_a_foul_with_advantage_stops_nothing_in_the_events(sketch):
    s = sketch().play(6, 0, PATH, began="kick-off").event("foul", 1, 0, 0, time_s=3.0)
    found = find_possessions(s.match(tracking=False))
    assert len(found) == 1 and found["end_s"][0] > 5
    s = (
        sketch()
        .play(6, 0, PATH, began="kick-off")
        .event("foul", 1, 0, 0)
        .dead(9, "")
        .play(3, 0, PATH, began="free-kick")
    )
    found = find_possessions(s.match(tracking=False))
    assert found["outcome"].tolist()[0] == "foul" and found["start_s"].tolist()[1] == 15.0


def test_a_thin_log_of_events_beside_tracking_is_not_believed(sketch):
    """Goals and substitutions alone say nothing of the ball: the positions decide; alone they are refused."""
    match = three_spells(sketch).match()
    thin = match.with_data(events=match.events[match.events["kind"].isin(["period-end"])])
    assert find_possessions(thin).params["source"] == "positions"
    assert find_possessions(thin)["team"].tolist() == ["a", "b", "a"]
    message = (
        "Possession and phases need events on the ball or tracking; match 'sketch' has events without one. Load an "
        "events table with passes and carries, or tracking; spells and phases logged by hand can be kept as tags "
        "instead."
    )
    with pytest.raises(MissingDataError, match=f"^{re.escape(message)}$"):
        find_possessions(thin.with_data(tracking=None))


def test_a_tracking_without_frames_counts_as_none(sketch):
    match = three_spells(sketch).match()
    t = match.tracking
    empty = replace(t, period=t.period[:0], time_s=t.time_s[:0], xy=t.xy[:0], ball=t.ball[:0], alive=t.alive[:0])
    for find in (find_possessions, find_phases):
        assert find(match.with_data(tracking=empty)).table.equals(find(match.with_data(tracking=None)).table)
