"""The table of passes: from events, and from who is on the ball in the tracking."""

import drawing as drawn
import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.measures.passes import PASS_COLUMNS, pass_table


def three_passes():
    """a3 to a6 (1-2 s), a6 to a9 cut off by b4 (3-4 s); b4 keeps it, then b4 to b6 (6-7 s)."""
    d = drawn.Drawing(8.0).hold("a3", 0, 1).play("a3", "a6", 1, 2).hold("a6", 2, 3)
    d.play("a6", "b4", 3, 4, complete=False).hold("b4", 4, 6).play("b4", "b6", 6, 7).hold("b6", 7, 8)
    return d.event("interception", "b4", 4.0)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("swapped", [False, True])
def test_passes_of_the_events(turned, swapped):
    table = pass_table(three_passes().match(turned=turned, swapped=swapped))
    assert {c: str(t) for c, t in table.dtypes.items()} == PASS_COLUMNS
    assert table["player"].tolist() == ["a3", "a6", "b4"]
    assert table["receiver"].tolist() == ["a6", "", "b6"]
    assert table["complete"].tolist() == [True, False, True]
    np.testing.assert_allclose(table[["x", "y", "end_x", "end_y"]].to_numpy()[0], [-32, -9, -20, 0])
    np.testing.assert_allclose(table[["x", "y"]].to_numpy()[2], -np.array(drawn.B_STANDS[3]))
    assert table["frame"].tolist() == [25, 75, 150] and table["end_frame"].tolist() == [50, 100, 175]
    assert not table["estimated"].any()


@pytest.mark.parametrize("turned", [False, True])
def test_the_same_passes_from_the_tracking_alone(turned):
    table = pass_table(three_passes().match(turned=turned, events=False))
    assert table["player"].tolist() == ["a3", "a6", "b4"]
    assert table["receiver"].tolist() == ["a6", "", "b6"]
    assert table["outcome"].tolist() == ["complete", "intercepted", "complete"]
    np.testing.assert_allclose(table["time_s"], [1, 3, 6], atol=0.3)
    np.testing.assert_allclose(table["end_s"], [2, 4, 7], atol=0.3)
    np.testing.assert_allclose(table[["end_x", "end_y"]].to_numpy()[0], [-20, 0], atol=1.5)
    assert table["estimated"].all()


def test_a_dead_ball_or_a_gap_between_two_players_is_no_pass():
    for spoilt in (three_passes().dead_ball(1.4, 1.6), three_passes().gap(1.4, 1.6)):
        table = pass_table(spoilt.match(events=False))
        dead = spoilt.dead != []
        assert (table["player"].tolist() == ["a6", "b4"]) == dead  # a short gap in the data is bridged


def without_ends(match):
    events = match.events.copy()
    events["end_s"] = np.nan
    events[["end_x", "end_y"]] = np.nan
    return match.with_data(events=events)


def test_an_unknown_end_is_when_somebody_else_has_the_ball():
    """Drawn at 2, 4 and 7 s; the next actions are at 3, 4 and 8 s.  The receiver has it when it is 1.2 m away."""
    table = pass_table(without_ends(three_passes().match()))
    np.testing.assert_allclose(table["end_s"], [2, 4, 7], atol=0.16)
    np.testing.assert_allclose(table[["end_x", "end_y"]].to_numpy()[0], [-20, 0], atol=1.3)


def test_without_tracking_an_unknown_end_is_the_next_action():
    table = pass_table(without_ends(three_passes().match(tracking=False)))
    assert table["end_s"].tolist() == [3.0, 4.0, 8.0]


def test_a_ball_that_nobody_has_ends_with_the_next_action():
    """Played into the open: the next action is a throw-in at 6 s; six seconds are the most."""
    drawn_out = drawn.Drawing(9.0).hold("a3", 0, 1).ball(3, 0, 34).event("pass", "a3", 1.0, success=False)
    match = drawn_out.event("out", "a3", 6.0).dead_ball(6, 9).match()
    assert pass_table(match)["end_s"].tolist() == [6.0]
    assert pass_table(match, touch_m=9.0)["end_s"].tolist() == [6.0]  # it has no receiver
    assert pass_table(match, longest_flight_s=4.0)["end_s"].tolist() == [5.0]


def test_places_that_the_events_do_not_give_are_the_balls():
    match = three_passes().match(turned=True)
    events = match.events.copy()
    events[["x", "y"]] = np.nan
    table = pass_table(match.with_data(events=events))
    np.testing.assert_allclose(table[["x", "y"]].to_numpy()[0], [-32, -9], atol=1e-4)


def test_a_log_of_shots_leaves_the_passes_to_the_tracking():
    """It says nothing of who has the ball, so the passes are those of the tracking alone."""
    shot = three_passes().event("shot", "b6", 7.5, outcome="saved").match()
    shots = shot.events[shot.events["kind"] == "shot"].reset_index(drop=True)
    told, alone = pass_table(shot.with_data(events=shots)), pass_table(shot.with_data(events=None))
    assert len(alone) == 3 and told.equals(alone)


def test_tracking_alone_finds_the_passes_of_the_demonstration_match():
    """Nine in ten complete passes of the events are found with passer and receiver, within a second."""
    import tactical_kit as tk

    match = tk.demo_match()
    said = pass_table(match).query("complete")
    seen = pass_table(match.with_data(events=None)).query("complete")
    pairs = said.merge(seen, on=["period", "player", "receiver"])
    hit = pairs[(pairs["time_s_x"] - pairs["time_s_y"]).abs() < 1.0].drop_duplicates(["period", "time_s_x"])
    assert len(hit) / len(said) > 0.9 and len(hit) / len(seen) > 0.8


def test_neither_events_nor_tracking():
    with pytest.raises(
        MissingDataError,
        match=r"^A list of passes needs tracking; this match has nothing yet\. Events list them, too\.$",
    ):
        pass_table(three_passes().match(events=False, tracking=False))
