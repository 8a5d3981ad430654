"""The laws of the game (Laws 3, 8, 10, 11, 13, 15, 16, 17; in the main from memory) hold in the simulated match."""

import numpy as np
import pandas as pd
import pytest


@pytest.fixture(scope="module")
def events(made):
    return made.match.events


def frames(made, table):
    tracking = made.match.tracking
    return np.array([tracking.index_at(p, t) for p, t in zip(table["period"], table["time_s"], strict=True)])


def test_eleven_against_eleven_in_every_frame(made):
    # Law 3; the simulator sends nobody off
    tracking = made.match.tracking
    here = np.isfinite(tracking.xy[:, :, 0])
    for side in (0, 1):
        assert (here[:, np.asarray(tracking.team_index) == side].sum(axis=1) == 11).all()


def test_substitutes_come_on_when_their_man_goes_off(made, events):
    tracking = made.match.tracking
    subs = events[events["kind"] == "substitution"]
    assert len(subs) == len(made.script.home.substitutions) + len(made.script.away.substitutions)
    for row, i in zip(subs.itertuples(), frames(made, subs), strict=True):
        off, on = tracking.column(row.player), tracking.column(row.receiver)
        assert np.isfinite(tracking.xy[i - 1, off, 0]) and np.isnan(tracking.xy[i:, off, 0]).all()
        assert np.isnan(tracking.xy[:i, on, 0]).all() and np.isfinite(tracking.xy[i, on, 0])
        assert not tracking.alive[i]


def test_sides_change_ends_at_half_time(made):
    first, second = made.match.periods
    assert first.home_attacks == -second.home_attacks
    tracking = made.match.tracking
    keeper = tracking.column(made.script.home.starters[0].player_id)
    for period in made.match.periods:
        x = np.nanmean(tracking.xy[tracking.period == period.number, keeper, 0])
        assert x * period.home_attacks < -30


def test_kick_offs_from_the_centre_spot_with_each_side_in_its_half(made, events):
    # Law 8: all but the kicker in their own half, opponents 9.15 m off
    tracking = made.match.tracking
    kicks = events[events["set_play"] == "kick-off"]
    goals = events[events["outcome"] == "goal"]
    assert len(kicks) >= 2 + len(goals) - 1
    signs = {p.number: p.home_attacks for p in made.match.periods}
    for row, i in zip(kicks.itertuples(), frames(made, kicks), strict=True):
        assert np.hypot(row.x, row.y) < 0.5
        for column, side in enumerate(tracking.team_index):
            xy = tracking.xy[i, column]
            if np.isnan(xy[0]) or tracking.players[column] == row.player:
                continue
            sign = signs[row.period] * (1 if side == 0 else -1)
            assert xy[0] * sign <= 0.5
            if made.match.teams[side].team_id != row.team:
                assert np.hypot(*xy) >= 9.0


def test_restarts_are_taken_where_the_law_says(events):
    throw = events[events["set_play"] == "throw-in"]
    assert (throw["y"].abs() > 33.4).all()
    corner = events[events["set_play"] == "corner"]
    assert (corner["x"].abs() > 51.5).all() and (corner["y"].abs() > 33.0).all()
    goal_kick = events[events["set_play"] == "goal-kick"]
    assert (goal_kick["x"].abs() > 46.5).all() and (goal_kick["y"].abs() < 9.16).all()
    penalty = events[events["set_play"] == "penalty"]
    assert np.allclose(penalty["x"].abs(), 41.5, atol=0.5)


def test_the_other_side_restarts_after_a_ball_out(made):
    # Laws 15-17: the side that did not touch it last takes the throw
    events = made.match.events
    play = events[events["kind"].isin(["out", "pass", "shot"])].reset_index(drop=True)
    seen = 0
    for now, after in zip(play[:-1].itertuples(), play[1:].itertuples(), strict=True):
        if now.kind == "out" and after.set_play == "throw-in":
            assert now.team != after.team
            seen += 1
    assert seen > 10


def test_offside_is_given_when_the_receiver_was_beyond_the_second_last_opponent(made, events):
    # Law 11, positions at the instant the pass was played
    tracking = made.match.tracking
    calls = events[events["kind"] == "offside"]
    by_id = events.set_index("event_id")
    for row in calls.itertuples():
        kick = by_id.loc[row.related]
        i = tracking.index_at(int(kick["period"]), float(kick["time_s"]))
        sign = made.match.attack_sign(row.team, int(row.period))
        there = tracking.xy[i, tracking.column(row.player), 0] * sign
        rivals = np.array([made.match.teams[s].team_id != row.team for s in tracking.team_index])
        second_last = np.sort(tracking.xy[i, rivals, 0][np.isfinite(tracking.xy[i, rivals, 0])] * sign)[-2]
        assert there > max(0.0, second_last, tracking.ball[i, 0] * sign) - 0.05


def test_no_completed_pass_to_a_man_in_an_offside_position(made, events):
    tracking = made.match.tracking
    free = ["throw-in", "goal-kick", "corner"]
    passes = events[(events["kind"] == "pass") & (events["outcome"] == "complete") & ~events["set_play"].isin(free)]
    for row, i in zip(passes.itertuples(), frames(made, passes), strict=True):
        sign = made.match.attack_sign(row.team, int(row.period))
        there = tracking.xy[i, tracking.column(row.receiver), 0] * sign
        rivals = np.array([made.match.teams[s].team_id != row.team for s in tracking.team_index])
        rival_x = tracking.xy[i, rivals, 0]
        second_last = np.sort(rival_x[np.isfinite(rival_x)] * sign)[-2]
        assert there <= max(0.0, second_last, tracking.ball[i, 0] * sign) + 0.1


def test_score_counts_goals_of_either_side(made, events):
    goals = events[events["outcome"] == "goal"]
    assert isinstance(goals, pd.DataFrame)
    assert (goals["kind"] == "shot").all() and goals["success"].all()
    assert len(goals) >= 3  # the demonstration seed was chosen so
