"""The index: every column against a plain loop over the rows.  Common practice, no source."""

import numpy as np
import pytest

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.index import index_match
from tactical_kit.measures.words import IN_PHASES, OUT_PHASES, PHASES, SCORE_STATES
from tactical_kit.moments import Moments


def action(time_s, kind="pass", player="H10", period=1, x=0.0, y=0.0, **more):
    return dict(kind=kind, period=period, time_s=time_s, team=player[0], player=player, x=x, y=y) | more


def test_the_words_are_those_of_the_phases():
    from tactical_kit.phases import words

    assert (words.IN_PHASES, words.OUT_PHASES) == (IN_PHASES, OUT_PHASES)
    assert set(PHASES) == {*IN_PHASES, *OUT_PHASES}


def test_actions_lie_in_the_attacking_frame_of_their_side(make_match):
    """Home attacks +x in the first half, -x in the second; away the other way."""
    rows = [
        action(1, x=30, y=12, end_x=40, end_y=10),
        action(2, player="A10", x=30, y=12),
        action(3, period=2, x=30, y=12),
        action(4, period=2, player="A10", x=30, y=12),
    ]
    index = index_match(make_match(rows))
    assert index.actions[["x", "y"]].to_numpy().tolist() == [[30, 12], [-30, -12], [-30, -12], [30, 12]]
    names = [index.zones.name(z) for z in index.actions["zone"]]
    assert names[0] == names[3] == "final third, left half-space"
    assert names[1] == names[2] == "own third, right half-space"
    assert index.actions["end_zone"].tolist()[1] == -1
    assert index.actions["timeline_s"].tolist() == [1, 2, 2703, 2704]


def test_extra_time_with_changed_ends(make_match):
    """Ends change in any period, extra time included: the attacking frame follows each of them."""
    from tactical_kit.match import Period

    periods = (Period(1, 2700, 1), Period(2, 2700, -1), Period(3, 900, -1), Period(4, 900, 1))
    rows = [action(1, x=30, y=12, period=p, player=who) for p in (1, 2, 3, 4) for who in ("H10", "A10")]
    index = index_match(make_match(rows, periods=periods))
    assert index.actions["x"].tolist() == [30, -30, -30, 30, -30, 30, 30, -30]
    assert index.actions["timeline_s"].tolist()[::2] == [1, 2701, 5401, 6301]


def test_what_is_no_action_is_not_there(make_match):
    rows = [
        action(0, "period-start", player="H1"), action(1), action(2, "card", detail="yellow"), action(3, "out"),
        action(4, "offside"), action(5, "substitution", receiver="H12"),
    ]  # fmt: skip
    assert index_match(make_match(rows)).actions["kind"].tolist() == ["pass"]


def test_score_state_turns_after_the_goal(make_match):
    """Home scores at 10 s, an own goal by home at 20 s, another at 30 s; the goal's own shot is still level."""
    goal = dict(kind="shot", outcome="goal", success=True)
    rows = [
        action(5), action(10, **goal), action(11), action(12, player="A3"), action(20, **goal, detail="own-goal"),
        action(21), action(30, **goal, detail="own-goal"), action(31), action(32, player="A3"),
    ]  # fmt: skip
    states = index_match(make_match(rows)).actions["score_state"].tolist()
    assert states == [
        "level", "level", "leading", "trailing", "leading", "level", "level", "trailing", "leading",
    ]  # fmt: skip


def test_the_shoot_out_does_not_count(make_match):
    from tactical_kit.match import Period

    periods = (Period(1, 2700, 1), Period(2, 2700, -1), Period(5, 300, 1))
    rows = [action(10, "shot", period=5, outcome="goal"), action(20, "shot", period=5, outcome="goal")]
    assert index_match(make_match(rows, periods=periods)).actions["score_state"].tolist() == ["level", "level"]


def test_phases_are_half_open_and_of_the_acting_side(make_match, make_phases):
    phases = make_phases(
        (1, 10, 20, "H", "build-up"), (1, 10, 20, "A", "high press"),
        (1, 20, 30, "A", "attacking transition"), (1, 20, 30, "H", "counter-press"),
    )  # fmt: skip
    rows = [action(9.9), action(10), action(19.9), action(20, player="A5"), action(29.9), action(30)]
    table = index_match(make_match(rows), phases).actions
    assert table["phase"].tolist() == [
        "", "build-up", "build-up", "attacking transition", "counter-press", "",
    ]  # fmt: skip
    assert table["opponent_phase"].tolist() == [
        "", "high press", "high press", "counter-press", "attacking transition", "",
    ]  # fmt: skip


def test_an_answer_belongs_to_the_phase_it_ends(make_match, make_phases):
    """An interception at 20.0 s, when the transition starts, was made in the high press."""
    phases = make_phases((1, 10, 20, "A", "high press"), (1, 20, 30, "A", "attacking transition"))
    rows = [action(20, "interception", "A5"), action(20, "pass", "A5"), action(20.25, "tackle", "A5")]
    table = index_match(make_match(rows), phases).actions
    assert table["phase"].tolist() == ["high press", "attacking transition", "attacking transition"]
    assert index_match(make_match(rows), phases, answer_lookback_s=0).actions["phase"].tolist()[0] == (
        "attacking transition"
    )


def test_a_phase_does_not_reach_into_the_next_period(make_match, make_phases):
    phases = make_phases((1, 2690, 2700, "H", "build-up"))
    rows = [action(2699), action(0, period=2)]
    assert index_match(make_match(rows), phases).actions["phase"].tolist() == ["build-up", ""]


def test_a_word_of_ones_own_for_a_phase_is_kept(make_match, make_phases):
    index = index_match(make_match([action(1)]), make_phases((1, 0, 5, "H", "waiting")))
    assert (index.phase_names, index.actions["phase"][0]) == ((*PHASES, "waiting"), "waiting")


def test_possessions(make_match):
    """New at a change of sides, at a restart and at a period; a tackle alone changes nothing."""
    rows = [
        action(1), action(2), action(3, "tackle", "A4"), action(4), action(5, player="A4"),
        action(6, player="A5", set_play="throw-in"), action(1, player="A5", period=2),
    ]  # fmt: skip
    assert index_match(make_match(rows)).actions["possession"].tolist() == [0, 0, 0, 0, 1, 2, 3]


@pytest.fixture
def tracked(make_match, make_tracking, pass_row):
    """4 s at 25 Hz.  H10 at (10, 0) has the ball, A4 stands 3 m in front of him (49.18586 %), H5 behind."""
    frames = 100
    ball = np.column_stack([np.full(frames, 10.3), np.zeros(frames)])
    tracking = make_tracking({"H10": (10, 0), "H5": (5, 0), "A4": (13, 0), "A9": (-30, 0)}, ball, rate_hz=25.0)
    rows = [action(0, "recovery", x=10), pass_row(3.96, "H10", "H5", (10, 0), (5, 0))]
    return make_match(rows, tracking)


def test_frames_at_five_a_second(tracked):
    index = index_match(tracked)
    f = index.frames
    assert (len(f), f.frame_s) == (20, 0.2)
    assert f.frame.tolist() == list(range(0, 100, 5))
    assert f.time_s == pytest.approx(np.arange(20) / 5)
    assert {index.player_ids[p] for p in f.player} == {"H10"}
    assert {tracked.tracking.players[c] for c in f.holder} == {"H10"}
    assert (f.team == 0).all()
    assert f.x == pytest.approx(np.full(20, 10.3), abs=1e-5)
    # Worked value of the oval, computed: 3 m in front is 49.18586 %.
    assert f.pressure == pytest.approx(np.full(20, 49.18586), abs=1e-3)
    assert index.actions["pressure"].tolist()[1] == pytest.approx(49.18586, abs=1e-3)
    assert np.isnan(index.actions["pressure"].tolist()[0])  # a recovery is no action under pressure


def test_frames_of_the_away_side_are_turned(make_match, make_tracking):
    """A4 at (13, 0) attacks -x; H10, 3 m further towards -x, is in front of him, H5 would be behind."""
    ball = np.column_stack([np.full(10, 13.0), np.full(10, 4.0)])
    tracking = make_tracking({"H10": (10, 4), "A4": (13, 4)}, ball)
    index = index_match(make_match(tracking=tracking, events=False))
    f = index.frames
    assert ((f.team == 1).all(), f.x.tolist()[0], f.y.tolist()[0]) == (True, -13.0, -4.0)
    # Towards (-52.5, 0) from (13, 4) the direction is 3.5 deg off the presser's: nearly the worked 49.18586 %.
    assert f.pressure == pytest.approx(np.full(10, 49.1), abs=0.3)


def test_dead_frames_are_left_out_and_segments_kept(make_match, make_tracking):
    alive = np.repeat([True, False, True], 10)
    tracking = make_tracking({"H10": (0, 0), "A4": (9, 0)}, np.zeros((30, 2)), alive=alive)
    f = index_match(make_match(tracking=tracking, events=False)).frames
    assert f.frame.tolist() == [*range(10), *range(20, 30)]


def test_events_only(make_match):
    index = index_match(make_match([action(1)]))
    assert (len(index.frames), index.has_frames, index.has_events) == (0, False, True)
    assert np.isnan(index.actions["pressure"]).all()
    assert index.frames.phase.shape == index.frames.score.shape == (0, 2)


def test_tracking_only(make_match, make_tracking, make_phases):
    tracking = make_tracking({"H10": (0, 0), "A4": (9, 0)}, np.zeros((30, 2)))
    index = index_match(make_match(tracking=tracking, events=False), make_phases((1, 2, 4, "A", "mid-block")))
    assert (len(index.actions), len(index.codes.x), index.has_frames, index.has_events) == (0, 0, True, False)
    code = index.phase_names.index("mid-block")
    assert index.frames.phase[:, 1].tolist() == [-1] * 10 + [code] * 10 + [-1] * 10
    assert (index.frames.phase[:, 0] == -1).all()
    assert (index.frames.score == -1).all()  # nobody tells of goals
    assert (
        index.actions.dtypes.astype(str).to_dict()
        == index_match(make_match([action(1)])).actions.dtypes.astype(str).to_dict()
    )


def test_nothing_at_all(make_match):
    index = index_match(make_match(events=False))
    assert (len(index.actions), len(index.frames)) == (0, 0)
    assert len(index_match(make_match([])).actions) == 0


def test_codes_say_the_same_as_the_table(tracked):
    index = index_match(tracked)
    c, table = index.codes, index.actions
    assert [index.player_ids[p] for p in c.player] == table["player"].tolist()
    assert [SCORE_STATES[s] for s in c.score] == table["score_state"].tolist()
    assert c.is_kind("pass").tolist() == (table["kind"] == "pass").tolist()
    assert c.success.tolist() == [-1, 1]
    assert c.receiver.tolist()[0] == -1


def test_what_is_no_phase_is_refused(make_match):
    with pytest.raises(TacticalKitError) as caught:
        index_match(make_match([action(1)]), Moments.build("switch", []))
    assert str(caught.value) == "moments of 'switch' have no column 'phase'; expected phases of play."
    with pytest.raises(TacticalKitError) as caught:
        index_match(make_match([action(1)]), rate_hz=0)
    assert str(caught.value) == "rate_hz is 0; expected more than 0."
