"""Who is on the ball.  Truth comes from places written by hand; common practice, no source."""

from dataclasses import replace

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.measures.holder import ball_holder

H10, A4 = 0, 1  # columns of the two players below


def line(start, end, frames):
    return np.linspace(start, end, frames)


@pytest.fixture
def scene(make_tracking):
    """10 s at 5 Hz: H10 stands at (0, 0) with the ball for 3 s, it rolls 20 m for 2 s to A4, who keeps it for 5 s."""
    x = np.concatenate([np.zeros(15), line(0, 20, 11)[:-1], np.full(25, 20.0)])
    ball = np.column_stack([x, np.zeros(50)])
    return make_tracking({"H10": (0, 0.5), "A4": (20, 0.5)}, ball)


def events(pass_row):
    return [
        dict(kind="recovery", period=1, time_s=0.0, team="H", player="H10", success=True, x=0, y=0),
        pass_row(3.0, "H10", "A4", (0, 0), (20, 0), success=False, end_s=5.0),
        dict(kind="interception", period=1, time_s=5.0, team="A", player="A4", success=True, x=20, y=0),
    ]


def test_with_events(make_match, pass_row, scene):
    held = ball_holder(make_match(events(pass_row), scene))
    assert held.source == "events and tracking"
    assert held.column[:15].tolist() == [H10] * 15
    # At 3.0 s the pass is struck: the ball is still within 1.2 m in that frame and gone in the next.
    assert held.column[15:17].tolist() == [H10, -1]
    assert (held.column[17:24] == -1).all()
    assert (held.column[25:] == A4).all()
    assert (held.team[:24] == 0).all()  # a pass on its way is still the passer's side's
    assert (held.team[25:] == 1).all()
    assert held.params["touch_m"] == 1.2


def test_without_events(make_match, scene):
    held = ball_holder(make_match(tracking=scene, events=False))
    assert held.source == "tracking"
    assert held.column[:15].tolist() == [H10] * 15
    assert (held.column[17:23] == -1).all()
    assert (held.column[27:] == A4).all()
    assert (held.team[:23] == 0).all()
    assert (held.team[27:] == 1).all()


@pytest.mark.parametrize("with_events", [True, False])
def test_dead_ball_is_nobodys(make_match, make_tracking, pass_row, with_events):
    alive = np.ones(20, bool)
    alive[10:15] = False
    tracking = make_tracking({"H10": (0, 0.5), "A4": (20, 0.5)}, np.zeros((20, 2)), alive=alive)
    held = ball_holder(make_match(events(pass_row)[:1], tracking, events=with_events))
    assert held.column.tolist() == [H10] * 10 + [-1] * 5 + [H10] * 5
    assert held.team.tolist() == [0] * 10 + [-1] * 5 + [0] * 5


def test_a_ball_out_of_reach_is_not_held(make_match, make_tracking, pass_row):
    """The edge: exactly 3 m ahead is still a touch ahead at a run, more is not; above 2.5 m it is nobody's."""
    ball = np.array([[3.0, 0, 0], [3.1, 0, 0], [0.5, 0, 2.5], [0.5, 0, 2.6]])
    tracking = make_tracking({"H10": (0, 0), "A4": (20, 0)}, ball)
    held = ball_holder(make_match(events(pass_row)[:1], tracking))
    assert held.column.tolist() == [H10, -1, H10, -1]
    assert held.team.tolist() == [0, 0, 0, 0]


def test_what_tracking_lost_the_event_knows(make_match, make_tracking, pass_row):
    tracking = make_tracking({"H10": (np.nan, np.nan), "A4": (20, 0)}, np.zeros((5, 2)))
    assert ball_holder(make_match(events(pass_row)[:1], tracking)).column.tolist() == [H10] * 5
    no_ball = make_tracking({"H10": (0, 0), "A4": (20, 0)}, np.full((5, 2), np.nan))
    assert ball_holder(make_match(events(pass_row)[:1], no_ball)).column.tolist() == [H10] * 5
    assert ball_holder(make_match(tracking=no_ball, events=False)).column.tolist() == [-1] * 5


def test_hysteresis_without_events(make_match, make_tracking):
    """Taken within 1.2 m, kept to 3 m; near but never within 1.2 m is never taken."""
    x = np.array([2.9, 1.2, 2.9, 3.0, 3.1, 2.9, 2.0])
    tracking = make_tracking({"H10": (0, 0), "A4": (40, 0)}, np.column_stack([x, np.zeros(7)]), rate_hz=1.0)
    held = ball_holder(make_match(tracking=tracking, events=False))
    assert held.column.tolist() == [-1, H10, H10, H10, -1, -1, -1]
    assert held.team.tolist() == [-1, 0, 0, 0, 0, 0, 0]


def test_a_fast_ball_is_not_held_without_events(make_match, make_tracking):
    x = np.arange(-10, 10) * 3.0  # 15 m/s past the player's feet
    tracking = make_tracking({"H10": (0, 0.5), "A4": (60, 0)}, np.column_stack([x, np.zeros(20)]))
    assert (ball_holder(make_match(tracking=tracking, events=False)).column == -1).all()


def test_a_short_gap_between_holds_is_bridged(make_match, make_tracking):
    """The opponent is the nearest for one frame of a dribble, within reach; the hold goes on."""
    a4 = np.full((11, 2), 10.0)
    a4[5] = (0, 1.3)  # nearest, but not within 1.2 m: he does not take it
    ball = np.column_stack([np.zeros(11), np.full(11, 0.0)])
    ball[5] = (0, 0.0)
    h10 = np.zeros((11, 2))
    h10[5] = (0, -1.5)
    tracking = make_tracking({"H10": h10, "A4": a4}, ball)
    held = ball_holder(make_match(tracking=tracking, events=False))
    assert held.column.tolist() == [H10] * 11


def test_a_loose_ball_is_nobodys_until_it_is_controlled(make_match, make_tracking):
    """H10 clears at 1 s, A4 recovers at 3 s: in between neither side has the ball.  A pass would still be H's."""
    x = np.concatenate([np.zeros(5), line(4, 40, 10), np.full(5, 40.0)])
    tracking = make_tracking({"H10": (0, 0), "A4": (40, 0)}, np.column_stack([x, np.zeros(20)]))
    rows = [
        dict(kind="recovery", period=1, time_s=0.0, team="H", player="H10"),
        dict(kind="clearance", period=1, time_s=1.0, team="H", player="H10"),
        dict(kind="recovery", period=1, time_s=3.0, team="A", player="A4"),
    ]
    held = ball_holder(make_match(rows, tracking))
    assert held.team.tolist() == [0] * 5 + [-1] * 9 + [1] * 6
    rows[1]["kind"] = "pass"
    assert ball_holder(make_match(rows, tracking)).team.tolist() == [0] * 14 + [1] * 6


def test_a_lost_tackle_changes_nothing(make_match, make_tracking, pass_row):
    tracking = make_tracking({"H10": (0, 0), "A4": (1, 0)}, np.zeros((10, 2)))
    lost = dict(kind="tackle", period=1, time_s=1.0, team="A", player="A4", outcome="lost")
    held = ball_holder(make_match([*events(pass_row)[:1], lost], tracking))
    assert held.column.tolist() == [H10] * 10
    won = ball_holder(make_match([*events(pass_row)[:1], lost | dict(outcome="won")], tracking))
    assert held.team.tolist() == [0] * 10
    assert won.column.tolist() == [H10] * 5 + [A4] * 5


def test_a_hold_never_crosses_a_gap_in_the_data(make_match, make_tracking):
    first = make_tracking({"H10": (0, 0), "A4": (40, 0)}, np.column_stack([np.zeros(10), np.zeros(10)]))
    time_s = first.time_s.copy()
    time_s[5:] += 60
    ball = first.ball.copy()
    ball[5:, 0] = 2.0  # near enough to keep, too far to take
    gapped = type(first)(5.0, first.period, time_s, first.players, first.team_index, first.xy, ball, first.alive)
    held = ball_holder(make_match(tracking=gapped, events=False))
    assert held.column.tolist() == [H10] * 5 + [-1] * 5
    assert held.team.tolist() == [0] * 5 + [-1] * 5


def test_the_datas_own_word_for_the_side_rules(make_match, make_tracking):
    plain = make_tracking({"H10": (0, 0), "A4": (40, 0)}, np.zeros((4, 2)))
    owner = np.array([1, 1, -1, 0], np.int8)
    owned = type(plain)(5.0, plain.period, plain.time_s, plain.players, plain.team_index, plain.xy, plain.ball,
                        plain.alive, owner)  # fmt: skip
    assert ball_holder(make_match(tracking=owned, events=False)).team.tolist() == [1, 1, 0, 0]


def test_nobody_is_on_the_ball_for_the_side_that_does_not_have_it(make_match, make_tracking):
    """Player and side never contradict each other: else a map of one side would hold the other side's player."""
    ball = np.zeros((10, 2))
    plain = make_tracking({"H10": ball, "A4": (1.0, 0.0)}, ball)
    owner = np.repeat([0, 1], 5).astype(np.int8)
    tracking = replace(plain, owner=owner)
    held = ball_holder(make_match(tracking=tracking, events=False))
    assert held.team.tolist() == owner.tolist()
    assert held.column.tolist() == [H10] * 5 + [-1] * 5


def test_periods_do_not_run_into_each_other(make_match, make_tracking, pass_row):
    """The last holder of the first half does not have the ball when the second starts."""
    period = np.repeat([1, 2], 5)
    tracking = make_tracking({"H10": (0, 0), "A4": (40, 0)}, np.zeros((10, 2)), period=period)
    tracking = type(tracking)(
        5.0, tracking.period, np.tile(np.arange(5) / 5, 2), tracking.players, tracking.team_index, tracking.xy,
        tracking.ball, tracking.alive,
    )  # fmt: skip
    rows = [dict(kind="recovery", period=1, time_s=0.0, team="H", player="H10")]
    held = ball_holder(make_match(rows, tracking))
    assert held.column.tolist() == [H10] * 5 + [-1] * 5
    assert held.team.tolist() == [0] * 5 + [-1] * 5


def test_a_pass_whose_end_is_unknown_lasts_until_the_next_event(make_match, scene, pass_row):
    rows = events(pass_row)
    rows[1]["end_s"] = np.nan
    held = ball_holder(make_match(rows, scene))
    assert (held.column[17:24] == -1).all()
    assert (held.column[25:] == A4).all()


def test_no_frame_and_no_player(make_match, make_tracking):
    none = make_tracking({"H10": (0, 0)}, np.empty((0, 2)))
    held = ball_holder(make_match(tracking=none, events=False))
    assert (held.column.dtype, held.column.shape, held.team.shape) == (np.int16, (0,), (0,))
    assert ball_holder(make_match([], none)).column.shape == (0,)


def test_events_alone_are_refused(make_match, pass_row):
    with pytest.raises(MissingDataError) as caught:
        ball_holder(make_match(events(pass_row)))
    assert str(caught.value) == (
        "The ball holder of each frame needs tracking; this match has events. Events tell who acts, without frames."
    )
