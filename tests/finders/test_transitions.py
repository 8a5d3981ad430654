"""Transitions, by drawn sequences; all numbers from hand geometry.  Common practice, no source."""

import numpy as np
import pandas as pd
import pytest

from tactical_kit.errors import MissingDataError, UnknownNameError
from tactical_kit.finders import find, find_transitions
from tactical_kit.finders.turnovers import turnovers

PLACEMENTS = [
    {},
    {"turned": True},
    {"swapped": True},
    {"turned": True, "swapped": True},
    {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0},  # right at the start of the period
    {"after_s": 20.0},  # up to its end
]


def three_on_two(drawing, seconds=9.0):
    """b6 at (-25, -4) plays a ball that a6 cuts off at (-10, 0), 2.0 s.  a9 and a10 are ahead of him, seven of his side
    behind; b2 and b3 are goal-side, eight of theirs caught.  At 3 he plays to a9 at (5, -15), who carries from 4 to 8
    to (40, -10): 8.75 m/s up the pitch; there he shoots."""
    drawn = drawing(seconds)
    drawn.stands(**{f"a{n}": (-30, 4 * n - 20) for n in (2, 3, 4, 5, 7, 8, 11)}, a6=(-10, 0), a10=(5, 15))
    drawn.stands(**{f"b{n}": (-25, 4 * n - 28) for n in range(4, 12)}, b2=(15, -6), b3=(15, 6))
    drawn.hold("b6", 0, 1).play("b6", "a6", 1, 2, complete=False).event("interception", "a6", 2.0, success=True)
    drawn.hold("a6", 2, 3).play("a6", "a9", 3, 4)
    drawn.at(0, a9=(5, -15)).at(4, a9=(5, -15)).at(8, a9=(40, -10)).carry("a9", 4, 8)
    return drawn.event("shot", "a9", 8.0, end_s=8.6, outcome="saved", success=False).ball(8.6, 51, 0)


def only(moments):
    assert len(moments) == 1, moments.table
    return moments.table.iloc[0]


@pytest.mark.parametrize("where", PLACEMENTS)
def test_three_against_two(drawing, where):
    row = only(find_transitions(three_on_two(drawing).match(**where)))
    assert (row.start_s, row.team, row.players) == (2 + where.get("after_s", 0.0), "a", ("a6",))
    assert (row.winner, row.loser, row.won_by) == ("a6", "b6", "interception")
    assert (row.third, row.corridor) == ("middle third", "centre")
    assert (row.n_attack, row.n_defend, row.surplus, row.n_behind, row.n_caught) == (3, 2, 1, 7, 8)
    assert row.went_forward and row.first_action == "forward pass" and row.outcome == "shot"
    np.testing.assert_allclose([row.x, row.y], [-10, 0], atol=1e-4)
    # Five seconds after the win he is at 5 + 3 * 8.75 = 31.25.  The pass at 15 m/s is 10 m further up 2/3 s after 3.0.
    np.testing.assert_allclose([row.gain_m, row.forward_s], [41.25, 1.68], atol=1e-3)
    # The final third begins at 17.5: 4 + 12.5 / 8.75 = 5.43, next frame 5.44; the box at 36: 7.543, frame 7.56.
    np.testing.assert_allclose([row.third_s, row.box_s, row.shot_s], [3.44, 5.56, 6.0], atol=1e-6)
    assert (row.n_attack_third, row.n_defend_third) == (1, 0)
    assert 0 < row.duration_s <= row.kept_s + 1e-9 and not row.estimated


def test_several_in_a_row(drawing):
    """The same thing three times: three wins, eight seconds of dead ball between them."""
    found = find_transitions(three_on_two(drawing).match(repeats=3, after_s=8.0)).table
    np.testing.assert_allclose(found["start_s"], [10.0, 27.0, 44.0])
    assert found["moment_id"].is_unique and (found["n_attack"] == 3).all()


def passing_back(drawing, to=(-20.0, 0.0)):
    """a6 wins the ball at (-10, 0), 2.0 s, and plays it to a3, who has it from 3.4 on."""
    drawn = drawing(12.0).stands(a6=(-10, 0), a3=to, b6=(-5, -4), b10=(30, 5), b11=(30, -5))
    drawn.hold("b6", 0, 1).play("b6", "a6", 1, 2, complete=False).event("interception", "a6", 2.0, success=True)
    return drawn.hold("a6", 2, 2.4).play("a6", "a3", 2.4, 3.4).carry("a3", 3.4, 12)


def test_a_side_that_plays_back_did_not_go_forward(drawing):
    row = only(find_transitions(passing_back(drawing).match()))
    assert not row.went_forward and row.first_action == "square or back pass"
    assert row.gain_m == pytest.approx(-10) and np.isnan(row.forward_s) and np.isnan(row.third_s)
    assert np.isnan(row.n_attack_third)


@pytest.mark.parametrize(("least", "forward"), [(5.0, True), (5.01, False)])
def test_forward_is_at_least_so_far(drawing, least, forward):
    match = passing_back(drawing, to=(-5.0, 8.0)).match()
    assert only(find_transitions(match, forward_least_m=least)).went_forward == forward


def test_a_square_pass_is_not_forward(drawing):
    """Half a metre further up is, at the default; level is not."""
    assert only(find_transitions(passing_back(drawing, to=(-9.5, 8.0)).match())).went_forward
    assert not only(find_transitions(passing_back(drawing, to=(-10.0, 8.0)).match())).went_forward


def test_forward_later_is_not_at_once(drawing):
    """Back to a3 first, who then carries it 30 m up: five seconds after the win, at 7.0, he is at 7.5."""
    drawn = passing_back(drawing).at(3.5, a3=(-20, 0)).at(6.5, a3=(5, 0)).at(7.1, a3=(8, 0))
    row = only(find_transitions(drawn.match()))
    assert not row.went_forward and row.gain_m == pytest.approx(17.5, abs=1e-3)
    assert only(find_transitions(drawn.match(), judged_s=5.0)).went_forward


def scramble(drawing, lost_at):
    """a6 wins the ball at 2.0 and b7 takes it off him at `lost_at`; b keep it."""
    drawn = drawing(9.0).stands(a6=(-10, 0), b6=(-5, -4), b7=(-9, 0))
    drawn.hold("b6", 0, 1).play("b6", "a6", 1, 2, complete=False).event("interception", "a6", 2.0, success=True)
    drawn.hold("a6", 2, lost_at).event("tackle", "b7", lost_at, success=True, outcome="won")
    return drawn.event("recovery", "b7", lost_at, success=True).hold("b7", lost_at, 9).event("carry", "b7", lost_at)


@pytest.mark.parametrize(("lost_at", "teams"), [(2.28, []), (2.32, ["a", "b"])])
def test_a_touch_is_no_win(drawing, lost_at, teams):
    """Less than 0.3 s of control is a touch; b's possession goes on over it."""
    found = find_transitions(scramble(drawing, lost_at).match()).table
    assert found["team"].tolist() == teams
    if teams:
        assert found["won_by"].tolist() == ["interception", "tackle"] and found["outcome"].iloc[0] == "lost"
        assert found["winner"].tolist() == ["a6", "b7"] and found["loser"].tolist() == ["b6", "a6"]


def tackled(drawing, who_plays):
    """a6 takes the ball off b6 at 2.0; the events name nothing until it is played at 2.8."""
    drawn = drawing(9.0).stands(a6=(-10, 0), b6=(-9, 0), a7=(-12, 0), a9=(0, 10)).carry("b6", 0, 2)
    drawn.event("tackle", "a6", 2.0, success=True, outcome="won").hold(who_plays, 2, 2.8)
    return drawn.play(who_plays, "a9", 2.8, 3.8).carry("a9", 3.8, 9)


@pytest.mark.parametrize(("who_plays", "since"), [("a6", 2.0), ("a7", 2.8)])
def test_a_tackler_who_plays_on_has_it_from_the_tackle_on(drawing, who_plays, since):
    """A team-mate who picks up the loose ball has it when he plays it."""
    row = only(find_transitions(tackled(drawing, who_plays).match()))
    assert (row.start_s, row.won_by, row.winner, row.loser) == (since, "tackle", who_plays, "b6")
    assert row.kept_s == pytest.approx(9 - since) and row.first_action == "forward pass"


def test_seconds_count_from_the_tackle(drawing):
    """a9 carries from (0, 10) at 4 to (40, 10) at 8; he is in the final third (17.5) at 5.75, next frame 5.76."""
    drawn = tackled(drawing, "a6").at(0, a9=(0, 10)).at(4, a9=(0, 10)).at(8, a9=(40, 10))
    drawn.keys["a9"] = drawn.keys["a9"][1:]
    assert only(find_transitions(drawn.match())).third_s == pytest.approx(3.76)
    assert np.isnan(only(find_transitions(drawn.match(), within_s=3.7)).third_s)


def test_a_tackle_that_was_lost_won_nothing(drawing):
    drawn = tackled(drawing, "a6")
    drawn.rows[1].update(success=False, outcome="lost")
    assert only(find_transitions(drawn.match())).start_s == 2.8


def test_what_the_others_gain_afterwards_is_not_counted(drawing):
    """Lost at 3.0 where it was won; b7 then takes it 24 m the other way."""
    drawn = scramble(drawing, 3.0).at(3, b7=(-10, 0)).at(6, b7=(-34, 0))
    drawn.keys["b7"] = drawn.keys["b7"][1:]
    row = find_transitions(drawn.match()).table.iloc[0]
    assert row.team == "a" and row.gain_m == pytest.approx(0, abs=1e-4) and not row.went_forward


def test_a_pass_logged_a_frame_before_it_is_cut_off_is_not_what_the_winner_did(drawing):
    """b6 plays at 1.96, a6 has it at 2.0 and plays it forward at 3.0."""
    drawn = three_on_two(drawing)
    drawn.rows[0].update(time_s=1.96)
    assert only(find_transitions(drawn.match())).first_action == "forward pass"


@pytest.mark.parametrize("restart", ["throw-in", "goal-kick", "free-kick"])
def test_a_restart_is_no_win_in_open_play(drawing, restart):
    drawn = drawing(12.0).hold("b6", 0, 2).event("carry", "b6", 0.0, end_s=2.0)
    drawn.event("foul" if restart == "free-kick" else "out", "b6", 2.0).dead_ball(2, 5)
    drawn.hold("a3", 5, 5).play("a3", "a6", 5, 6, set_play=restart).carry("a6", 6, 12)
    match = drawn.match()
    assert len(find_transitions(match)) == 0
    assert len(turnovers(match)) == 0 and list(turnovers(match).columns) == list(turnovers(match, min_control_s=1.0))


@pytest.mark.parametrize(
    ("kind", "player", "words"),
    [
        ("interception", "a6", "interception"), ("recovery", "a6", "loose ball"), ("claim", "a1", "keeper"),
        ("carry", "a6", "loose ball"),
    ],
)  # fmt: skip
def test_how_it_was_won(drawing, kind, player, words):
    drawn = drawing(8.0).stands(a1=(-45, 0), a6=(-10, 0)).hold("b6", 0, 1).play("b6", player, 1, 2, complete=False)
    drawn.event(kind, player, 2.0, end_s=8.0, success=True).hold(player, 2, 8)
    row = only(find_transitions(drawn.match()))
    assert (row.won_by, row.winner) == (words, player)


def test_a_keeper_who_walks_with_the_ball_has_not_gone_forward(drawing):
    """He claims at (-48, 0) and walks 2 m in 1.5 s; from his hands it takes the 10 m of `forward_m`."""
    drawn = drawing(9.0).at(2, a1=(-48, 0)).at(3.5, a1=(-46, 0)).hold("b6", 0, 1)
    drawn.play("b6", "a1", 1, 2, complete=False).event("claim", "a1", 2.0).hold("a1", 2, 9)
    row = only(find_transitions(drawn.match()))
    assert row.gain_m == pytest.approx(2, abs=1e-4) and not row.went_forward
    assert only(find_transitions(drawn.match(), forward_m=1.9)).went_forward


def test_what_comes_too_late_is_not_of_the_transition(drawing):
    """The shot comes 6.0 s after the win, the box 5.56: in at most so many seconds."""
    match = three_on_two(drawing).match()
    assert only(find_transitions(match, within_s=6.0)).outcome == "shot"
    assert only(find_transitions(match, within_s=5.0)).outcome == "final third"
    settled = only(find_transitions(match, within_s=3.0))
    assert settled.outcome == "settled" and np.isnan(settled.third_s)


def test_a_goal(drawing):
    drawn = three_on_two(drawing)
    drawn.rows[-1].update(outcome="goal", success=True)
    assert only(find_transitions(drawn.match())).outcome == "goal"


def test_a_man_level_with_the_ball(drawing):
    """a11 two metres behind the ball is with the attack, 2.05 m behind it is not."""
    for x, attack in ((-12.0, 4), (-12.05, 3)):
        drawn = three_on_two(drawing)
        drawn.keys["a11"] = [(0.0, x, 20.0)]
        assert only(find_transitions(drawn.match())).n_attack == attack


def test_without_tracking_the_numbers_are_unknown_and_the_rest_is_told(drawing):
    row = only(find_transitions(three_on_two(drawing).match(tracking=False)))
    assert (row.team, row.winner, row.loser, row.won_by) == ("a", "a6", "b6", "interception")
    assert np.isnan([row.n_attack, row.n_defend, row.surplus, row.n_behind, row.n_caught, row.n_attack_third]).all()
    # The ball goes straight from one known place to the next, so it is where the tracking saw it.
    assert row.gain_m == pytest.approx(41.25) and row.went_forward and row.outcome == "shot" and row.estimated


def test_from_tracking_alone(drawing):
    row = only(find_transitions(three_on_two(drawing).match(events=False)))
    assert abs(row.start_s - 2.0) <= 0.12 and (row.team, row.winner, row.loser) == ("a", "a6", "b6")
    assert (row.won_by, row.n_attack, row.n_defend, row.first_action) == ("interception", 3, 2, "")
    assert row.went_forward and row.outcome == "box" and np.isnan(row.shot_s) and row.estimated


def test_a_win_inside_a_gap_was_not_seen(drawing):
    assert len(find_transitions(three_on_two(drawing).gap(1.5, 2.5).match())) == 0


def test_a_gap_later_and_a_player_missing(drawing):
    whole = only(find_transitions(three_on_two(drawing).match()))
    drawn = three_on_two(drawing).gap(6.0, 6.4).hide("a10")
    row = only(find_transitions(drawn.match()))
    assert (row.n_attack, row.n_defend, row.start_s) == (2, 2, whole.start_s) and row.went_forward


def test_no_ball_in_the_data(drawing):
    match = three_on_two(drawing).match()
    match.tracking.ball[:] = np.nan
    row = only(find_transitions(match))
    assert np.isnan([row.gain_m, row.n_attack, row.third_s]).all() and row.went_forward is pd.NA


def test_nothing_found_has_the_same_columns(drawing):
    none = find_transitions(drawing(5.0).carry("a6", 0, 5).match())
    some = find_transitions(three_on_two(drawing).match())
    assert len(none) == 0 and none.table.dtypes.to_dict() == some.table.dtypes.to_dict()


def test_refusals(drawing):
    match = three_on_two(drawing).match()
    with pytest.raises(UnknownNameError, match=r"^a threshold of finder 'transition' is 'judge_s'; expected one of .*"):
        find(match, "transition", judge_s=2.0)
    bare = match.with_data(events=None, tracking=None)
    with pytest.raises(
        MissingDataError, match=r"^Finder 'transition' needs events or tracking; this match has nothing yet\.$"
    ):
        find(bare, "transition")


def test_every_threshold_is_told(drawing):
    found = find_transitions(three_on_two(drawing).match(), judged_s=2.0)
    assert dict(found.params) == {
        "min_control_s": 0.3, "judged_s": 2.0, "forward_least_m": 0.5, "gain_s": 5.0, "forward_m": 10.0,
        "within_s": 15.0, "level_m": 2.0, "soon_s": 2.0,
    }  # fmt: skip


def test_the_demonstration_match_adds_up(demo):
    found = find_transitions(demo).table
    assert len(found) > 100
    known = found.dropna(subset=["n_attack"])
    whole = known["n_attack"] + known["n_behind"]
    assert whole.between(9, 10).all() and (known["n_defend"] + known["n_caught"]).between(9, 10).all()
    pd.testing.assert_series_equal(
        found["surplus"], found["n_attack"] - found["n_defend"], check_names=False, check_exact=True
    )
    assert (found["end_s"] - found["start_s"] <= found["kept_s"] + 1e-6).all()


def test_the_place_is_that_of_the_ball_when_it_is_won(drawing):
    """b6 shoots at 1.0 and a3 blocks it at (-40, 0) at 1.4; a10 picks it up at (-10, 20) at 4.0, 2.6 s later."""
    drawn = drawing(9.0).stands(a3=(-40, 0), a10=(-10, 20), b6=(-30, 0)).hold("b6", 0, 1)
    drawn.event("shot", "b6", 1.0, end_s=1.4, outcome="blocked", success=False).event("block", "a3", 1.4)
    drawn.ball(1.4, -40, 0).event("recovery", "a10", 4.0, success=True).hold("a10", 4, 9)
    for match in (drawn.match(), drawn.match(turned=True), drawn.match(tracking=False)):
        row = only(find_transitions(match))
        assert (row.start_s, row.winner, row.third, row.corridor) == (4.0, "a10", "middle third", "left half-space")
        np.testing.assert_allclose([row.x, row.y], [-10, 20], atol=1e-4)
    # The block was too long before to say that it won the ball.
    assert only(find_transitions(drawn.match())).won_by == "loose ball"
    assert only(find_transitions(drawn.match(), soon_s=2.6)).won_by == "block"


def saved(drawing, who_plays):
    """b6 shoots at 1.0, a1 saves at 1.4 at (-48, 0); the next that is logged is a pass at 5.0."""
    drawn = drawing(9.0).stands(a1=(-48, 0), a3=(-45, 4), a6=(-20, 0), b6=(-30, 0)).hold("b6", 0, 1)
    drawn.event("shot", "b6", 1.0, end_s=1.4, outcome="saved", success=False).event("save", "a1", 1.4)
    drawn.hold("a1", 1.4, 2).hold(who_plays, 3, 5)
    return drawn.play(who_plays, "a6", 5, 6).carry("a6", 6, 9)


def test_a_keeper_who_saves_and_holds_it_has_it_from_the_save_on(drawing):
    row = only(find_transitions(saved(drawing, "a1").match()))
    assert (row.start_s, row.won_by, row.winner) == (pytest.approx(1.4), "keeper", "a1")
    assert (row.x, row.y) == (pytest.approx(-48), pytest.approx(0)) and row.kept_s == pytest.approx(7.6)


def test_a_parried_ball_that_a_defender_picks_up_is_loose(drawing):
    row = only(find_transitions(saved(drawing, "a3").match()))
    assert (row.start_s, row.won_by, row.winner) == (5.0, "loose ball", "a3")


def lost_and_won_back(drawing):
    """a6 loses the ball to b6 at 2.0 at (10, 3), in the centre; a7 cuts it off from him at 5.0 at (0, -25)."""
    drawn = drawing(12.0).stands(a6=(-5, 3), b6=(10, 3), b7=(0, -28), a7=(0, -25)).hold("a6", 0, 1)
    drawn.play("a6", "b6", 1, 2, complete=False).event("interception", "b6", 2.0, success=True).hold("b6", 2, 4)
    drawn.play("b6", "a7", 4, 5, complete=False).event("interception", "a7", 5.0, success=True)
    return drawn.carry("a7", 5, 12)


@pytest.mark.parametrize("where", PLACEMENTS)
def test_a_ball_won_back_tells_when_and_where_it_was_lost(drawing, where):
    """Two in three of the regains came within five seconds of a loss in the centre: asked of these columns."""
    found = find_transitions(lost_and_won_back(drawing).match(**where)).table
    assert found["team"].tolist() == ["b", "a"]
    first, second = found.iloc[0], found.iloc[1]
    assert np.isnan(first.since_loss_s) and (first.loss_third, first.loss_corridor) == ("", "")
    assert second.since_loss_s == pytest.approx(3.0) and second.corridor == "right wing"
    assert (second.loss_third, second.loss_corridor) == ("middle third", "centre")


def test_a_loss_before_a_restart_is_no_loss_before_the_win(drawing):
    drawn = lost_and_won_back(drawing)
    drawn.event("out", "b6", 3.0).dead_ball(3, 4)
    drawn.rows[2].update(set_play="throw-in")
    won = find_transitions(drawn.match()).where(team="a").table.iloc[0]
    assert np.isnan(won.since_loss_s) and won.loss_corridor == ""


def test_what_came_of_a_short_win_is_not_what_came_of_the_next_one(drawing):
    """b7 takes it back after 0.4 s and a6 has it again 0.4 s later: only then does he carry it to the final third."""
    drawn = drawing(9.0).stands(a6=(-10, 0), b6=(-5, -4), b7=(-9, 0)).hold("b6", 0, 1)
    drawn.play("b6", "a6", 1, 2, complete=False).event("interception", "a6", 2.0, success=True).hold("a6", 2, 2.4)
    drawn.event("recovery", "b7", 2.4, success=True).hold("b7", 2.4, 2.76)
    drawn.event("recovery", "a6", 2.8, success=True).at(2.8, a6=(-10, 0)).at(6, a6=(30, 0)).carry("a6", 2.8, 9)
    found = find_transitions(drawn.match(), min_control_s=0.3).table
    assert found["team"].tolist() == ["a", "b", "a"]
    assert found["outcome"].tolist() == ["lost", "lost", "final third"]
    assert np.isnan(found["third_s"].iloc[0]) and found["since_loss_s"].iloc[2] == pytest.approx(0.4)


def test_what_the_side_reaches_after_it_was_tackled_does_not_count(drawing):
    """a6 carries it towards the final third; b3 tackles him at 5.0 at (17, 0) and plays at 6.0, the ball at (25, 0)."""
    drawn = drawing(9.0).stands(b6=(-5, -4), b3=(18, 0), b4=(40, 10)).hold("b6", 0, 1)
    drawn.at(2, a6=(-10, 0)).at(5, a6=(17, 0)).at(6, b3=(25, 0)).play("b6", "a6", 1, 2, complete=False)
    drawn.at(5, b3=(17, 0)).event("interception", "a6", 2.0, success=True).carry("a6", 2, 5)
    drawn.keys["b3"] = drawn.keys["b3"][1:]
    drawn.event("tackle", "b3", 5.0, success=True, outcome="won").hold("b3", 5, 6).play("b3", "b4", 6, 7)
    row = find_transitions(drawn.hold("b4", 7, 9).match()).table.iloc[0]
    assert row.team == "a" and row.kept_s == pytest.approx(3.0) and np.isnan(row.third_s) and row.outcome == "lost"


def test_won_in_the_final_third_by_a_tackle(drawing):
    drawn = tackled(drawing, "a6")
    for player, (x, y) in {"a6": (25, 0), "b6": (26, 0), "a9": (35, 10)}.items():
        drawn.keys[player] = [(0.0, x, y)]
    assert only(find_transitions(drawn.match())).third_s == 0.0


def test_a_log_of_shots_does_not_say_who_won_the_ball(drawing):
    """The tracking says it, as it does alone; the winner's shot much later is not his first action."""
    match = three_on_two(drawing).match(repeats=3, after_s=8.0)
    shot = match.events[match.events["kind"] == "shot"].tail(1).assign(player="a6")
    told = find_transitions(match.with_data(events=shot.reset_index(drop=True))).table
    alone = find_transitions(match.with_data(events=None)).table
    same = ["winner", "loser", "won_by", "first_action", "x", "y"]
    assert len(told) == 3 and told[same].equals(alone[same])
    assert (
        set(told["winner"]) == {"a6"} and set(told["won_by"]) == {"interception"} and set(told["first_action"]) == {""}
    )


def test_a_ball_put_into_the_own_net_is_no_goal_of_the_side(drawing):
    drawn = drawing(9.0).stands(a6=(-45, 0), b6=(-30, 0)).hold("b6", 0, 1).play("b6", "a6", 1, 2, complete=False)
    drawn.event("interception", "a6", 2.0, success=True).hold("a6", 2, 3)
    drawn.event("shot", "a6", 3.0, end_s=3.5, detail="own-goal", outcome="goal", success=True)
    row = only(find_transitions(drawn.ball(3.5, -52.5, 0).dead_ball(3.52, 9).match()))
    assert row.outcome == "own goal" and np.isnan(row.shot_s)


def test_events_alone_know_where_the_ball_went_out(drawing):
    """a6 wins it at 2.0 at (-40, 0), clears at 2.4, and it is out at 4.0 at (0, 34); the throw-in comes at 20 s."""
    drawn = drawing(24.0).stands(a6=(-40, 0), b6=(-38, 0), b8=(0, 34), b9=(-5, 25)).hold("b6", 0, 1)
    drawn.play("b6", "a6", 1, 2, complete=False).event("interception", "a6", 2.0, success=True)
    drawn.hold("a6", 2, 2.4).event("clearance", "a6", 2.4).event("out", "b8", 4.0).ball(4, 0, 34).dead_ball(4, 20)
    match = drawn.play("b8", "b9", 20, 21, set_play="throw-in").carry("b9", 21, 24).match()
    for known in (match, match.with_data(tracking=None)):
        row = find_transitions(known).table.iloc[0]
        assert (row.outcome, row.first_action) == ("out", "clearance") and row.went_forward
        assert row.gain_m == pytest.approx(40.0, abs=1.01)  # with tracking up to the last frame in play
