"""Each phase fires on a clear case and not on a near miss; sketches by hand, "common practice, no source"."""

import numpy as np
import pytest

from tactical_kit.errors import UnknownNameError
from tactical_kit.phases import find_phases, phase_codes, phase_evidence

CORNER = ((52.0, 33.5), (44.0, 3.0))
RUNS_BACK = {"lines": (62.0, 84.0), "lines_end": (24.0, 46.0)}  # 38 m in 8 s: a side running back


def phases(found, side, team=None):
    table = found.table[found.table["side"] == side]
    if team:
        table = table[table["team"] == team]
    return [(r.phase, r.start_s, r.end_s) for r in table.itertuples()]


def words(found, side):
    return [p for p, _, _ in phases(found, side)]


def from_keeper(s, seconds=20.0, ball=((-45.0, 0.0), (-32.0, 10.0)), **more):
    return s.play(seconds, 0, ball, began="goal-kick", **more)


def won(s, seconds=8.0, ball=((-15.0, 0.0), (25.0, 0.0)), **more):
    """Side a loses the ball near the middle after 12 s; side b has it."""
    s.play(12, 0, ((-10.0, 0.0), (15.0, 0.0)), began="throw-in", lines=(40.0, 60.0))
    return s.play(seconds, 1, ball, began="interception", **more)


# -- with the ball ------------------------------------------------------------------------------------


def test_build_up(sketch):
    assert phases(find_phases(from_keeper(sketch()).match()), "in") == [("build-up", 0.0, 20.0)]
    # Near miss: the same shape, the ball past the first line in the middle of the pitch.
    s = from_keeper(sketch(), ball=((-2.0, 0.0), (8.0, 5.0)), lines=(35.0, 58.0))
    assert words(find_phases(s.match()), "in") == ["progression"]


def test_build_up_is_left_and_entered_again_at_different_heights(sketch):
    """Out at least build_up_m from the own goal line, in again at less than build_up_m - build_up_slack_m."""
    for x, phase in ((-13.5, "progression"), (-13.7, "build-up")):
        s = from_keeper(sketch(), 10.0, ((-35.0, 0.0), (-35.0, 4.0))).play(10, 0, ((x, 0.0), (x, 5.0)))
        assert words(find_phases(s.match(), build_up_m=39.0), "in")[-1] == phase
    for x, phase in ((-19.5, "progression"), (-19.6, "build-up")):
        s = from_keeper(sketch(), 10.0, ((0.0, 0.0), (0.0, 4.0))).play(10, 0, ((x, 0.0), (x, 5.0)))
        assert words(find_phases(s.match(), build_up_m=39.0, build_up_slack_m=6.0), "in")[-1] == phase


def test_a_pass_on_its_way_changes_nothing_until_it_is_received(sketch):
    s = from_keeper(sketch(), 10.0, ((-35.0, 0.0), (-35.0, 4.0)))
    match = s.play(3, 0, ((-35.0, 4.0), (10.0, 4.0)), passes=False).play(7, 0, ((10.0, 4.0), (12.0, 4.0))).match()
    xy = match.tracking.xy.copy()
    xy[250:325, 7] = (-35.0, 4.0)  # the passer stays; nobody is near the ball for 3 s
    object.__setattr__(match.tracking, "xy", xy)
    (first, _, a), (second, _, _) = phases(find_phases(match), "in")
    assert (first, second) == ("build-up", "progression") and a == pytest.approx(13.0, abs=0.21)


def test_progression_then_final_third_and_their_edge(sketch):
    """At most final_third_m from the goal line attacked it begins; a spell that starts beyond is not in it."""
    for x, phase in ((18.5, "final third"), (18.4, "progression")):
        s = sketch().play(10, 0, ((0.0, 0.0), (0.0, 8.0)), began="throw-in", lines=(18.0, 32.0))
        s.play(10, 0, ((x, 0.0), (x, 8.0)), lines=(18.0, 32.0))
        assert words(find_phases(s.match(), final_third_m=34.0), "in")[-1] == phase
    s = sketch().play(20, 0, ((0.0, 0.0), (35.0, 0.0)), began="throw-in", lines=(20.0, 40.0))
    (first, _, a), (second, b, _) = phases(find_phases(s.match()), "in")
    assert (first, second) == ("progression", "final third")
    assert a == b == pytest.approx(18.5 / 35.0 * 20, abs=0.21)


def test_the_ball_going_to_and_fro_over_the_edge_switches_nothing(sketch):
    s = sketch().play(6, 0, ((19.0, 0.0), (19.0, 9.0)), began="throw-in", lines=(18.0, 32.0))
    for x in (12.0, 18.0, 10.0, 19.0):
        s.play(2, 0, ((x, 0.0), (x, 1.0)), lines=(18.0, 32.0))
    assert words(find_phases(s.match()), "in") == ["final third"]


def test_attacking_transition(sketch):
    found = find_phases(won(sketch(), **RUNS_BACK).match())
    assert phases(found, "in", "b") == [("attacking transition", 12.0, 20.0)]
    # Near miss: the same run, but from a throw-in.
    s = sketch().play(12, 0, ((-10.0, 0.0), (15.0, 0.0)), began="throw-in").dead(5)
    s.play(8, 1, ((-15.0, 33.8), (25.0, 0.0)), began="throw-in", **RUNS_BACK)
    assert "attacking transition" not in words(find_phases(s.match()), "in")


def test_attacking_transition_ends_when_the_side_settles(sketch):
    """Played back and square: from settle_s on it is no transition, though the opponents still run."""
    s = won(sketch(), ball=((-15.0, 0.0), (-20.0, 9.0)), **RUNS_BACK)
    (first, a, b), (second, _, _) = phases(find_phases(s.match()), "in", "b")
    assert (first, a, b) == ("attacking transition", 12.0, pytest.approx(12.0 + 3.0, abs=0.21))
    assert second in ("build-up", "progression")


def test_attacking_transition_lasts_ten_seconds_at_most(sketch):
    s = won(sketch(), 16.0, ((-40.0, 0.0), (25.0, 0.0)), lines=(80.0, 99.0), lines_end=(20.0, 40.0))
    (first, a, b), *_ = phases(find_phases(s.match()), "in", "b")
    assert (first, a, b) == ("attacking transition", 12.0, pytest.approx(22.0, abs=0.21))


@pytest.mark.parametrize(
    ("began", "ball", "throw_to", "fires"),
    [
        ("corner", CORNER, None, True),
        ("penalty", ((41.5, 0.0), (50.0, 2.0)), None, True),
        ("kick-off", ((0.0, 0.0), (-8.0, 3.0)), None, True),
        ("free-kick", ((20.0, 0.0), (44.0, 5.0)), None, True),  # 32.5 m from goal
        ("free-kick", ((-5.0, 0.0), (10.0, 5.0)), None, False),  # 57.5 m
        ("throw-in", ((40.0, 33.8), (44.0, 9.0)), (44.0, 9.0), True),
        ("throw-in", ((40.0, 33.8), (30.0, 25.0)), (30.0, 25.0), False),
        ("goal-kick", ((-47.0, 4.0), (-40.0, 4.0)), None, False),
        ("drop-ball", ((30.0, 0.0), (35.0, 4.0)), None, False),
    ],
)
def test_set_play(sketch, began, ball, throw_to, fires):
    s = sketch().play(6, 0, ball, began=began, lines=(8.0, 25.0), throw_to=throw_to)
    found = find_phases(s.match())
    for side in ("in", "out"):
        assert (words(found, side) == ["set play"]) == fires
        assert ("set play" in words(found, side)) == fires


def test_free_kick_within_reach_sits_on_its_edge(sketch):
    """At most free_kick_reach_m from the middle of the goal."""
    for x, fires in ((52.5 - 38.0, True), (52.5 - 38.1, False)):
        s = sketch().play(5, 0, ((x, 0.0), (x + 10, 5.0)), began="free-kick", lines=(20.0, 30.0))
        assert (words(find_phases(s.match(), free_kick_reach_m=38.0), "in") == ["set play"]) == fires


def test_set_play_ends_by_time_by_loss_and_when_played_out(sketch):
    t = find_phases(sketch().play(20, 0, CORNER, began="corner", lines=(6.0, 20.0)).match(), set_play_s=9.0)
    assert phases(t, "in")[0] == ("set play", 0.0, pytest.approx(9.0, abs=0.21))
    s = (
        sketch()
        .play(4, 0, CORNER, began="corner", lines=(6.0, 20.0))
        .play(6, 1, ((-40.0, 0.0), (10.0, 0.0)), began="claim", **RUNS_BACK)
    )
    found = find_phases(s.match())
    assert phases(found, "in", "a") == [("set play", 0.0, 4.0)]
    assert words(found.where(team="b"), "in") == ["attacking transition"]
    s = (
        sketch()
        .play(4, 0, CORNER, began="corner", lines=(6.0, 20.0))
        .play(6, 0, ((5.0, 0.0), (0.0, 9.0)), lines=(35.0, 55.0))
    )
    assert phases(find_phases(s.match()), "in")[0] == ("set play", 0.0, pytest.approx(4.0, abs=0.21))


# -- without the ball ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "ball", "phase"),
    [
        ((45.0, 76.0), ((-45.0, 0.0), (-38.0, 9.0)), "high press"),
        ((36.0, 60.0), ((-45.0, 0.0), (-38.0, 9.0)), "mid-block"),  # near miss: it waits
        ((38.0, 55.0), ((0.0, 0.0), (4.0, 9.0)), "mid-block"),
        ((16.0, 34.0), ((20.0, 0.0), (25.0, 9.0)), "low block"),
        ((31.0, 47.0), ((10.0, 0.0), (12.0, 9.0)), "mid-block"),  # near miss of the low block
    ],
)
def test_blocks_by_the_heights_of_the_lines(sketch, lines, ball, phase):
    s = sketch().play(15, 0, ball, began="goal-kick", lines=lines)
    assert phases(find_phases(s.match()), "out") == [(phase, 0.0, 15.0)]


def test_low_block_sits_on_its_edge(sketch):
    """Less than low_back_m (here without slack) is low, exactly that is not."""
    for back, phase in ((27.5, "mid-block"), (27.4, "low block")):
        s = sketch().play(10, 0, ((5.0, 0.0), (9.0, 5.0)), began="drop-ball", lines=(back, 50.0))
        assert words(find_phases(s.match(), low_back_m=27.5, block_slack_m=0.0), "out") == [phase]


def test_defensive_transition(sketch):
    found = find_phases(won(sketch(), **RUNS_BACK).match())
    assert phases(found, "out", "a") == [("defensive transition", 12.0, 20.0)]
    # Near miss: the block stands when the ball is lost, so the transition is as short as it can be.
    s = won(sketch(), ball=((-15.0, 0.0), (-10.0, 0.0)), lines=(40.0, 58.0))
    (first, _, end), (second, _, _) = phases(find_phases(s.match(), standing_least_s=2.0), "out", "a")
    assert (first, second) == ("defensive transition", "mid-block") and end == pytest.approx(14.0, abs=0.21)


def test_counter_press(sketch):
    ball = ((10.0, 0.0), (9.8, 0.4))
    found = find_phases(won(sketch(), 4.0, ball, lines=(50.0, 70.0), hunters=(11.0, 1.0)).match())
    assert phases(found, "out", "a") == [("counter-press", 12.0, 16.0)]
    # Near miss: two are as near, but stand off.
    found = find_phases(won(sketch(), 4.0, ball, lines=(50.0, 70.0), hunters=(9.0, 9.0)).match())
    assert "counter-press" not in words(found, "out")
    # Near miss: only one hunts; the second nearest stays away.
    s = won(sketch(), 4.0, ball, lines=(50.0, 70.0), hunters=(11.0, 1.0)).match()
    xy = s.tracking.xy.copy()
    xy[300:, 6] += 25
    object.__setattr__(s.tracking, "xy", xy)
    assert "counter-press" not in words(find_phases(s), "out")
    # Near miss: nobody lost it; the same hunt after a throw-in is pressing.
    s = sketch().play(4, 1, ball, began="throw-in", lines=(50.0, 70.0), hunters=(11.0, 1.0))
    assert "counter-press" not in words(find_phases(s.match()), "out")


@pytest.mark.parametrize(("lasts", "whole"), [(5.0, True), (5.04, True), (6.6, False)])
def test_counter_press_ends_after_five_seconds(sketch, lasts, whole):
    """The coaches' five seconds; what is left over for less than shortest_s stays with it."""
    near = {"lines": (50.0, 70.0)}
    s = won(sketch(), 4.0, ((10.0, 0.0), (9.8, 0.4)), hunters=(11.5, 1.5), **near)
    s.play(lasts - 4.0, 1, ((9.8, 0.4), (9.6, 0.6)), hunters=(1.5, 1.5), **near)
    found = phases(find_phases(s.match(), counter_press_s=5.0), "out", "a")
    assert found[0][:2] == ("counter-press", 12.0)
    assert found[0][2] == pytest.approx(12.0 + lasts if whole else 17.0, abs=0.21)
    assert (len(found) == 1) == whole


def test_counter_press_given_up(sketch):
    s = won(sketch(), 3.4, ((10.0, 0.0), (9.8, 0.4)), lines=(50.0, 70.0), hunters=(11.0, 2.0))
    s.play(5.0, 1, ((9.8, 0.4), (20.0, 0.0)), lines=(48.0, 66.0), lines_end=(25.0, 45.0), hunters=(14.0, 20.0))
    found = phases(find_phases(s.match()), "out", "a")
    assert [p for p, _, _ in found[:2]] == ["counter-press", "defensive transition"]
    assert found[0][2] == pytest.approx(15.4, abs=0.41)


# -- the time line ------------------------------------------------------------------------------------


def story(s):
    s.play(11, 0, ((0.0, 0.0), (-20.0, 5.0)), began="kick-off", lines=(40.0, 60.0))
    s.play(12, 0, ((-30.0, 0.0), (-5.0, 0.0)), lines=(42.0, 72.0), lines_end=(38.0, 55.0))
    s.play(7, 1, ((-10.0, 0.0), (25.0, 0.0)), began="interception", **RUNS_BACK)
    s.play(3, 0, ((-28.0, 0.0), (-20.0, 4.0)), began="tackle", lines=(50.0, 70.0), hunters=(7.0, 2.0))
    s.dead(6, "out", 0).play(
        14, 1, ((-45.0, 5.0), (20.0, 9.0)), began="goal-kick", lines=(40.0, 75.0), lines_end=(20.0, 35.0)
    )
    return s.dead(5, "foul", 0).play(12, 1, ((30.0, 10.0), (44.0, 0.0)), began="free-kick", lines=(10.0, 25.0))


def table_of(found):
    return found.table.drop(columns=["moment_id", "finder", "possession"])


def check_tiling(match, found):
    """At every live frame exactly one row for each side, and none while the ball is dead."""
    for period, frames in match.tracking.iter_periods():
        time_s, alive = match.tracking.time_s[frames], match.tracking.alive[frames]
        rows = found.table[found.table["period"] == period]
        for side in ("in", "out"):
            spans = rows[rows["side"] == side]
            middle = time_s + 0.5 / match.tracking.rate_hz
            inside = (spans["start_s"].to_numpy()[:, None] <= middle) & (middle < spans["end_s"].to_numpy()[:, None])
            np.testing.assert_array_equal(inside.sum(axis=0), alive.astype(int))
        total = rows["end_s"].sum() - rows["start_s"].sum()
        assert total == pytest.approx(2 * alive.sum() / match.tracking.rate_hz)


def test_rows_tile_the_live_time(sketch):
    match = story(sketch()).match()
    found = find_phases(match)
    check_tiling(match, found)
    table = found.table
    for period_start, pair in table.groupby(["period", "possession"]):
        assert set(pair["side"]) == {"in", "out"} and pair["team"].nunique() == 2, period_start


@pytest.mark.parametrize("rate_hz", [25.0, 10.0, 5.0, 12.5])
def test_other_frame_rates_give_the_same_story(sketch, rate_hz):
    match = story(sketch(rate_hz=rate_hz)).match()
    found = find_phases(match)
    check_tiling(match, found)
    at = np.arange(0.25, 75, 0.5)
    reference = story(sketch()).match()
    mine, theirs = phase_codes(found, match, 1, at), phase_codes(find_phases(reference), reference, 1, at)
    assert np.mean(mine.in_phase == theirs.in_phase) > 0.95
    assert np.mean(mine.out_phase == theirs.out_phase) > 0.95


def test_turning_the_pitch_changes_nothing(sketch):
    """Both directions of attack: the same play turned by 180 degrees gives the same rows."""
    a = find_phases(story(sketch(home_attacks=(1,))).match())
    b = find_phases(story(sketch(home_attacks=(-1,))).match())
    assert table_of(a).equals(table_of(b))


def test_swapping_home_and_away_changes_nothing(sketch):
    from dataclasses import replace

    match = story(sketch()).match()
    swapped = replace(
        match, home=match.away, away=match.home,
        periods=tuple(replace(p, home_attacks=-p.home_attacks) for p in match.periods),
        tracking=replace(match.tracking, team_index=(1 - match.tracking.team_index).astype(np.int8)),
    )  # fmt: skip
    assert table_of(find_phases(match)).equals(table_of(find_phases(swapped)))


def test_ends_changed_in_extra_time(sketch):
    single = find_phases(story(sketch()).match())
    s = sketch(home_attacks=(1, -1, -1, 1))
    for _ in range(3):
        story(s).next_period()
    found = find_phases(story(s).match())
    for number in (1, 2, 3, 4):
        part = table_of(found)[found.table["period"] == number].reset_index(drop=True)
        assert part.drop(columns="period").equals(table_of(single).drop(columns="period"))


def test_several_and_none(sketch):
    s = sketch()
    for _ in range(3):
        s.play(5, 0, CORNER, began="corner", lines=(6.0, 20.0)).dead(8, "out", 0)
    assert words(find_phases(s.match()), "in") == ["set play"] * 3
    quiet = sketch().play(2, 0, CORNER, began="corner").match(events=False)
    quiet.tracking.alive[:] = False
    assert len(find_phases(quiet)) == 0


def test_missing_frames(sketch):
    s = (
        won(sketch(), 3.0, **RUNS_BACK)
        .missing(2)
        .play(3, 1, ((5.0, 0.0), (20.0, 0.0)), lines=(45.0, 65.0), lines_end=(30.0, 50.0))
    )
    match = s.match()
    found = find_phases(match)
    check_tiling(match, found)
    # The win still counts after the gap, with the time that has passed.
    assert phases(found, "in", "b")[:2] == [("attacking transition", 12.0, 15.0), ("attacking transition", 17.0, 20.0)]


def test_sending_off_and_players_missing_from_the_data(sketch):
    lines = (45.0, 80.0)
    s = from_keeper(sketch(), 10.0, lines=lines).leaves("b9").play(10, 0, ((-45.0, 0.0), (-38.0, 5.0)), lines=lines)
    assert words(find_phases(s.match()), "out") == ["high press"]
    # A back three: the line is one shorter, so it does not slip towards the midfield.
    s = sketch().leaves("b2").play(10, 0, ((25.0, 0.0), (30.0, 9.0)), began="drop-ball", lines=(24.0, 44.0))
    assert words(find_phases(s.match()), "out") == ["low block"]
    s = (
        sketch()
        .leaves(*(f"b{i}" for i in range(1, 7)))
        .play(10, 0, ((25.0, 0.0), (30.0, 9.0)), began="drop-ball", lines=(24.0, 44.0))
    )
    match = s.match()
    found = find_phases(match)  # too few to judge a block by: it falls back on the middle, and tiles
    check_tiling(match, found)


def test_keepers_are_found_without_positions(sketch):
    known, unknown = story(sketch()), story(sketch(positions_known=False))
    assert table_of(find_phases(known.match())).equals(table_of(find_phases(unknown.match())))


def test_every_threshold_stands_in_the_result(sketch):
    import inspect

    found = find_phases(story(sketch()).match(), low_back_m=26.0)
    names = [p.name for p in inspect.signature(find_phases).parameters.values() if p.kind is p.KEYWORD_ONLY]
    assert set(names) <= set(found.params) and found.params["low_back_m"] == 26.0


def test_same_input_same_output(sketch):
    one, two = (find_phases(story(sketch()).match()).table for _ in range(2))
    assert one.equals(two)


# -- why ----------------------------------------------------------------------------------------------


def test_the_evidence_shows_how_near_a_miss_was(sketch):
    """Lines set by hand: first line the mean of 60, 60 and the midfield at 48 m, back line 36 m."""
    match = from_keeper(sketch(), 10.0, lines=(36.0, 60.0)).match()
    why = phase_evidence(match)
    np.testing.assert_allclose(why["first_m"], 56.0, atol=1e-4)
    np.testing.assert_allclose(why["back_m"], 36.0, atol=1e-4)
    assert set(why["out_phase"]) == {"mid-block"} and set(why["team"]) == {"a"}
    np.testing.assert_allclose(why["retreat_ms"], 0, atol=1e-6)
    assert (why["goal_side"] == 1).all()
    assert list(why["time_s"][:3]) == [0.0, 0.2, 0.4] and why["end_s"].iloc[-1] == 10.0
    moved = phase_evidence(match, press_first_m=56.0, press_back_m=36.0, block_slack_m=0.1)
    assert set(moved["out_phase"]) == {"high press"}


def test_the_evidence_agrees_with_the_moments(sketch):
    for kinds in ({}, {"events": False}, {"tracking": False}):
        match = story(sketch()).match(**kinds)
        why, found = phase_evidence(match), find_phases(match)
        codes = phase_codes(found, match, why["period"], why["time_s"])
        from tactical_kit.phases import IN_PHASES, OUT_PHASES

        assert [IN_PHASES[c] for c in codes.in_phase] == why["in_phase"].tolist()
        assert [OUT_PHASES[c] for c in codes.out_phase] == why["out_phase"].tolist()


def test_the_evidence_refuses_unknown_thresholds(sketch):
    with pytest.raises(
        UnknownNameError, match=r"^a threshold of the phases is 'low_back'; .* Did you mean 'low_back_m'\?$"
    ):
        phase_evidence(story(sketch()).match(), low_back=20)


# -- from events alone --------------------------------------------------------------------------------


def test_events_alone_are_marked_as_estimated(sketch):
    match = story(sketch()).match()
    full, coarse = find_phases(match), find_phases(match.with_data(tracking=None))
    assert coarse["estimated"].all() and not full["estimated"].any()
    assert coarse.table.dtypes.to_dict() == full.table.dtypes.to_dict()
    rows = coarse.table
    for side in ("in", "out"):
        spans = rows[rows["side"] == side]
        assert (spans["start_s"].to_numpy()[1:] >= spans["end_s"].to_numpy()[:-1] - 1e-9).all()
    both = rows.groupby("side")[["start_s", "end_s"]].sum()
    assert (both["end_s"] - both["start_s"]).round(6).nunique() == 1


def test_events_alone_by_kind_of_evidence(sketch):
    """A press shows by defensive actions in the build-up, a counter-press by one within five seconds."""
    base = lambda: from_keeper(sketch(), 12.0)  # noqa: E731
    assert words(find_phases(base().match(tracking=False)), "out") == ["mid-block"]
    pressed = base().event("tackle", 1, 38, 0, time_s=6.0, outcome="lost")
    assert words(find_phases(pressed.match(tracking=False)), "out") == ["high press"]
    match = pressed.match(tracking=False)
    of_nobody = match.with_data(
        events=match.events.assign(team=match.events["team"].where(match.events["kind"] != "tackle", ""))
    )
    assert words(find_phases(of_nobody), "out") == ["mid-block"]  # nobody knows which side tackled
    s = won(sketch(), 8.0, ((5.0, 0.0), (25.0, 0.0)))
    assert [p for p, _, _ in phases(find_phases(s.match(tracking=False)), "out", "a")] == ["defensive transition"]
    s.event("tackle", 0, -10, 0, time_s=15.0, outcome="lost")
    assert phases(find_phases(s.match(tracking=False)), "out", "a")[0][0] == "counter-press"
    s = sketch().play(12, 0, ((25.0, 0.0), (35.0, 5.0)), began="throw-in")
    assert words(find_phases(s.match(tracking=False)), "out") == ["low block"]
