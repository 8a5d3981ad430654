"""Events and tracking of the simulated match tell the same story (common practice, no source)."""

import numpy as np
import pytest

from tactical_kit.demo import simulate
from tactical_kit.match.events import BODY_PARTS, KINDS, PASS_OUTCOMES, SET_PLAYS, SHOT_OUTCOMES


@pytest.fixture(scope="module")
def table(made):
    """Events with the ball and the player at their instant."""
    events, tracking = made.match.events.copy(), made.match.tracking
    events = events[(events["player"] != "") & (events["kind"] != "substitution")].reset_index(drop=True)
    at = np.array([tracking.index_at(p, t) for p, t in zip(events["period"], events["time_s"], strict=True)])
    column = np.array([tracking.column(p) for p in events["player"]])
    xy = events[["x", "y"]].to_numpy()
    events["from_ball"] = np.linalg.norm(tracking.ball[at, :2] - xy, axis=1)
    events["from_player"] = np.linalg.norm(tracking.xy[at, column] - xy, axis=1)
    return events


def test_events_lie_at_the_ball(table):
    assert table["from_ball"].max() <= 1.0


@pytest.mark.parametrize(
    ("kinds", "most"),
    [
        (["pass", "shot", "carry", "take-on", "clearance"], 1.3),
        (["interception", "recovery", "claim", "touch", "duel"], 1.3),
        (["tackle", "foul"], 1.05),  # a leg's length
        (["block"], 1.2),
        (["save"], 1.45),  # a keeper's stretched arms; the tracked point is his middle
    ],
)
def test_events_lie_at_the_player(table, kinds, most):
    some = table[table["kind"].isin(kinds) & ~((table["kind"] == "shot") & (table["detail"] == "own-goal"))]
    assert len(some)
    assert some["from_player"].max() <= most
    assert some["from_player"].median() <= 1.0


def test_receptions_lie_at_the_receiver(made):
    events, tracking = made.match.events, made.match.tracking
    some = events[(events["kind"] == "pass") & (events["outcome"] == "complete")]
    at = np.array([tracking.index_at(p, t) for p, t in zip(some["period"], some["end_s"], strict=True)])
    column = np.array([tracking.column(p) for p in some["receiver"]])
    xy = some[["end_x", "end_y"]].to_numpy()
    assert np.linalg.norm(tracking.ball[at, :2] - xy, axis=1).max() <= 1.0
    assert np.linalg.norm(tracking.xy[at, column] - xy, axis=1).max() <= 1.3


def test_words_and_order(made):
    events = made.match.events
    assert set(events["kind"]) <= set(KINDS)
    assert set(events["set_play"]) <= {"", *SET_PLAYS}
    assert set(events["body_part"]) <= {"", *BODY_PARTS}
    assert set(events.loc[events["kind"] == "pass", "outcome"]) <= set(PASS_OUTCOMES)
    assert set(events.loc[events["kind"] == "shot", "outcome"]) <= set(SHOT_OUTCOMES)
    for _, half in events.groupby("period"):
        assert half["time_s"].is_monotonic_increasing
    done = events["end_s"].notna()
    assert (events.loc[done, "end_s"] >= events.loc[done, "time_s"]).all()
    assert events["event_id"].is_unique
    assert set(events["related"]) - {""} <= set(events["event_id"])


def test_the_ball_is_dead_after_it_went_out(made):
    events, tracking = made.match.events, made.match.tracking
    for row in events[events["kind"].isin(["out", "offside"])].itertuples():
        assert not tracking.alive[tracking.index_at(row.period, row.time_s + 0.2)]


def test_ownership_is_not_given_away(made):
    assert made.match.tracking.owner is None
    assert made.match.invented and made.match.label == "invented demonstration data"


def test_same_seed_same_match_to_the_byte_and_another_seed_another(made):
    again = simulate()
    assert again.exact_xy.tobytes() == made.exact_xy.tobytes()
    assert again.exact_ball.tobytes() == made.exact_ball.tobytes()
    assert again.match.events.equals(made.match.events)
    assert again.truth.patterns.equals(made.truth.patterns)
    other = simulate(seed=made.seed + 1)
    assert other.exact_ball.tobytes() != made.exact_ball.tobytes()


def test_a_lower_rate_is_the_same_match_with_fewer_frames(made):
    slow = simulate(rate_hz=5)
    np.testing.assert_array_equal(slow.match.tracking.xy[:100], made.match.tracking.xy[:500:5])
    assert len(slow.truth.in_phase) == len(slow.match.tracking)


def test_an_interception_cuts_off_a_pass_on_its_way(made):
    """The pass just before was meant for a man whom its course would have met, and was still short of him."""
    events = made.match.events
    both = events[events["kind"].isin(["interception", "recovery"])]
    passes = events[(events["kind"] == "pass") & (events["outcome"] == "intercepted")]
    cut = both[both["kind"] == "interception"].merge(passes, left_on=["period", "time_s"], right_on=["period", "end_s"])
    assert len(cut) == (both["kind"] == "interception").sum()
    assert (cut["team_x"] != cut["team_y"]).all()


def test_interceptions_and_tackles_come_in_usual_numbers():
    """About 8-20 interceptions and 12-25 tackles a side and match: from memory. Mean of five matches."""
    events = [simulate(seed=seed, rate_hz=1).match.events for seed in range(501, 506)]
    interceptions, tackles = (
        np.mean([(e["kind"] == kind).sum() / 2 for e in events]) for kind in ("interception", "tackle")
    )
    shots = [e[(e["kind"] == "shot") & (e["detail"] != "own-goal")] for e in events]
    blocked = np.mean([(s["outcome"] == "blocked").mean() for s in shots])
    assert 8 <= interceptions <= 20
    assert 12 <= tackles <= 25
    assert 0.15 <= blocked <= 0.35  # some 20-30 % of shots: from memory


def test_a_shot_against_the_frame_comes_back_into_play():
    seen = 0
    for seed in range(501, 507):
        made = simulate(seed=seed)
        events, tracking = made.match.events, made.match.tracking
        for row in events[events["outcome"] == "woodwork"].itertuples():
            seen += 1
            at = tracking.index_at(row.period, row.end_s)
            x, y, z = tracking.ball[at]
            assert abs(abs(x) - 52.5) < 1.3
            assert abs(y) < 4.8 and z < 3.2
            assert tracking.alive[at]
            assert abs(tracking.ball[at + 5, 0]) < 52.5
    assert seen
