"""Wide traps: the ball goes to the side, the way inside is shut, a man jumps, and the side has the numbers there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import phase_at
from tactical_kit.finders.press_outcome import with_outcomes
from tactical_kit.finders.registry import finder
from tactical_kit.match import Match, Tracking
from tactical_kit.measures.closing import best_mean, distance_to, fastest_there, side_velocity, speed_towards
from tactical_kit.measures.holder import ball_holder
from tactical_kit.measures.lanes import passing_lanes
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.moments import Column, Moments

__all__ = ["find_wide_traps"]

COLUMNS = {
    "victim": Column("str", "who got the ball out wide"),
    "side": Column("str", "left or right, as the trapping side looks up the pitch"),
    "jumper": Column("str", "who jumped at him"),
    "jump_s": Column("float64", "from the pass until the jumper set off", "s"),
    "arrive_s": Column("float64", "from when the ball arrived until the jumper was there", "s"),
    "closing_ms": Column("float64", "how fast he ran at the ball, over one second", "m/s"),
    "n_for": Column("int64", "players of the trapping side around the ball", short="trapping"),
    "n_against": Column("int64", "opponents around the ball, the receiver with them", short="shut in"),
    "open_inside": Column("int64", "team-mates further inside whom the receiver could still find"),
    "lane_in_shut": Column("bool", "the lane to the nearest team-mate further inside was shut"),
    "won": Column("bool", "the ball was won"),
    "regain_s": Column("float64", "from the pass until it was won; nothing if it was not", "s"),
    "outcome": Column("str", "won, out, foul, offside, beaten (they got out) or kept"),
    "phase": Column("str", "what the trapping side was doing: high press, mid-block, low block"),
    "estimated": Column("bool", "the pass was read from the tracking alone"),
}
_ORGANISED = ("high press", "mid-block", "low block")
_BEFORE_THE_LAST_THIRD = ("build-up", "progression")
_HZ = 5.0


@finder(
    "wide trap",
    needs=("tracking",),
    finds="A ball to the side on which the receiver is shut in: a man jumps, few ways inside are open, and the side "
    "has at least as many around the ball.",
    columns=COLUMNS,
)
def find_wide_traps(
    match: Match,
    *,
    wide_m: float = 20.16,
    furthest_x_m: float = 12.0,
    run_ms: float = 3.0,
    fast_ms: float = 4.0,
    own_ms: float = 1.0,
    least_run_m: float = 5.0,
    engage_m: float = 3.5,
    inside_m: float = 3.0,
    around_m: float = 12.0,
    surplus: int = 0,
    most_open_inside: int = 2,
    further_in_m: float = 5.0,
    option_m: float = 28.0,
    lane_m: float = 2.0,
    hold_s: float = 4.0,
    regain_after_s: float = 5.0,
    gain_m: float = 10.0,
) -> Moments:
    """Find every wide trap: a ball to the side on which the receiver is shut in.

    Parameters
    ----------
    match : Match
        With tracking; passes come from the events where there are any.
    wide_m : float, default 20.16
        The ball is received at least so far from the middle, in the wing corridor, m.
    furthest_x_m : float, default 12
        The ball is received at most so far up the pitch in the attacking frame of the side with the ball, m.
    run_ms : float, default 3
        The jumper sets off when he runs at the receiver at this speed or more, m/s.
    fast_ms, own_ms : float, default 4 and 1
        His best second is at least 4 m/s, at least 1 m/s faster than his side as a whole moves that way, m/s.
    least_run_m : float, default 5
        He starts, when the ball is struck, at least so far from the receiver, m.
    inside_m : float, default 3
        He starts at most so much nearer to the touchline than him: from the inside or from the front, m.
    engage_m : float, default 3.5
        He comes to at most so far from the receiver before that one's side has lost the ball, m.
    around_m, surplus : float and int, default 12 and 0
        Around the ball, at most 12 m from it, the trapping side has then at least as many outfield players as the
        opponents, and `surplus` more.
    most_open_inside, further_in_m, option_m, lane_m : int and float, default 2, 5, 28 and 2
        The receiver then has at most two open lanes to team-mates further inside (by at least 5 m) who are at most
        28 m away; an open lane has no opponent nearer to it than 2 m (`passing_lanes`).
    hold_s : float, default 4
        He is followed until he plays the ball or it is won or dead, at most so long, s.
    regain_after_s, gain_m : float, default 5 and 10
        What happens at most 5 s after the jumper was there is the outcome, s; the opponents have got out ("beaten") if
        the ball comes at least 10 m nearer to the goal than he had it, m.

    Returns
    -------
    Moments
        Finder "wide trap", from the pass until the jumper is there or the ball is won.  `team` traps; players: the
        jumper and the victim; x, y where the victim gets the ball.  Own columns in `COLUMNS`.

    Raises
    ------
    MissingDataError
        No tracking.

    Notes
    -----
    Only passes that reach the man out wide: a ball to him that is cut off is not seen as a trap.  Asked of the
    block alone (high press, mid-block, low block) in the opponents' build-up or progression.  Every wide trap is
    a press, too, and may be found by both finders.
    Source: common practice, no source; the wing corridor by the markings.
    """
    params = {
        "wide_m": wide_m, "furthest_x_m": furthest_x_m, "run_ms": run_ms, "fast_ms": fast_ms, "own_ms": own_ms,
        "least_run_m": least_run_m, "engage_m": engage_m, "inside_m": inside_m, "around_m": around_m,
        "surplus": surplus, "most_open_inside": most_open_inside, "further_in_m": further_in_m, "option_m": option_m,
        "lane_m": lane_m, "hold_s": hold_s, "regain_after_s": regain_after_s, "gain_m": gain_m,
    }  # fmt: skip
    tracking = match.need_tracking("A wide trap")
    parts = []
    for team in match.teams:
        balls = _wide_balls(match, team.team_id, wide_m, furthest_x_m)
        if not len(balls):
            continue
        jump = _jumps(match, tracking, balls, team.team_id, run_ms, own_ms, engage_m, hold_s)
        numbers = _numbers(jump, around_m, further_in_m, option_m, lane_m)
        fits = (
            (jump.closing_ms >= fast_ms)
            & (jump.nearest_m <= engage_m)
            & (jump.run_m >= least_run_m)
            & (jump.outside_m <= inside_m)
            & (numbers["n_for"] >= numbers["n_against"] + surplus)
            & (numbers["open_inside"] <= most_open_inside)
        ).to_numpy()
        parts.append(_rows(balls, jump, numbers, team.team_id)[fits])
    parts = [p for p in parts if len(p)]
    columns = ["team", "period", "start_s", "end_s", "players", "x", "y", *COLUMNS]
    table = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)
    table = with_outcomes(match, table, after_s=regain_after_s, gain_m=gain_m)
    return Moments.build("wide trap", table.assign(won=table["outcome"] == "won"), COLUMNS, params, match.match_id)


def _wide_balls(match: Match, team: str, wide_m: float, furthest_x_m: float) -> pd.DataFrame:
    """Return the opponents' passes to a man out wide, short of the last third, against the organised side."""
    them = match.opponent(team).team_id
    passes = pass_table(match)
    theirs = passes["team"] == them
    # He has it until the next pass of anybody at most; `_instants` looks whether it was won or went out before.
    later = passes["time_s"].shift(-1).where(passes["period"].shift(-1) == passes["period"], np.inf)
    wide = (passes["end_y"].abs() >= wide_m) & (passes["end_x"] <= furthest_x_m)
    balls = passes.assign(until_s=later)[theirs & passes["complete"] & (passes["receiver"] != "") & wide]
    balls = balls[balls["end_frame"] >= 0].reset_index(drop=True)
    phase = phase_at(match, balls["period"], balls["time_s"], team)
    organised = np.isin(phase, _ORGANISED) & np.isin(
        phase_at(match, balls["period"], balls["time_s"], them), _BEFORE_THE_LAST_THIRD
    )
    return balls.assign(phase=phase)[organised].reset_index(drop=True)


@dataclass(frozen=True, eq=False)
class _Jump:
    """Who jumps at each of N receivers; places in the attacking frame of the trapping side."""

    player: NDArray[np.object_]
    closing_ms: NDArray[np.float64]
    nearest_m: NDArray[np.float64]
    run_m: NDArray[np.float64]  # from how far, when the ball was struck
    outside_m: NDArray[np.float64]  # how much nearer to the touchline than the receiver he came from
    set_off_s: NDArray[np.float64]  # after the pass
    arrive_s: NDArray[np.float64]  # after the ball had arrived
    then: Sides  # the instant in which he was there
    receiver: NDArray[np.int64]  # position among the opponents


def _jumps(
    match: Match,
    tracking: Tracking,
    balls: pd.DataFrame,
    team: str,
    run_ms: float,
    own_ms: float,
    engage_m: float,
    hold_s: float,
) -> _Jump:
    """Follow each receiver from the pass on: who comes at him, from where, how fast, and when he is there."""
    frame, since_s = _instants(match, tracking, balls, team, hold_s)
    n, k = frame.shape
    row = np.arange(n)
    flight_s = (balls["end_s"] - balls["time_s"]).to_numpy(float)
    sides = sides_at(match, frame.ravel(), team, velocities=True)
    who = sides.other_index(np.repeat(balls["receiver"].to_numpy(object), k))
    receiver = np.where((who >= 0)[:, None], sides.other[np.arange(n * k), np.maximum(who, 0)], np.nan)
    out = np.flatnonzero(~sides.own_keeper)
    places, velocity = sides.own[:, out], sides.own_velocity[:, out]
    away = distance_to(places, receiver).reshape(n, k, -1)
    speed = speed_towards(places, velocity, receiver).reshape(n, k, -1)
    faster = speed_towards(places, velocity - side_velocity(velocity), receiver).reshape(n, k, -1) >= own_ms

    has_ball = (since_s >= flight_s[:, None] - 1e-6)[:, :, None]
    near = np.where(has_ball & np.isfinite(away), away, np.inf)
    closing = best_mean(np.moveaxis(np.where(faster, speed, np.nan), 1, 0), round(_HZ))
    jumper = fastest_there(near.min(axis=1), closing, engage_m)
    his_way, his_speed = near[row, :, jumper], speed[row, :, jumper]
    arrived = np.where((his_way <= engage_m).any(axis=1), (his_way <= engage_m).argmax(axis=1), his_way.argmin(axis=1))
    running = his_speed >= run_ms
    start, target = places.reshape(n, k, -1, 2)[row, 0, jumper], receiver.reshape(n, k, 2)[:, 0]
    return _Jump(
        player=np.array(sides.own_ids, dtype=object)[out][jumper],
        closing_ms=closing[row, jumper],
        nearest_m=his_way.min(axis=1),
        run_m=away[row, 0, jumper],
        outside_m=(start[:, 1] - target[:, 1]) * np.sign(target[:, 1]),
        set_off_s=np.where(running.any(axis=1), since_s[running.argmax(axis=1)], np.nan),
        arrive_s=since_s[arrived] - flight_s,
        then=sides_at(match, frame[row, arrived], team),
        receiver=who.reshape(n, k)[:, 0],
    )


def _instants(
    match: Match, tracking: Tracking, balls: pd.DataFrame, team: str, hold_s: float
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the frames (N, K) from each pass until the receiver no longer has it, -1 after that, and the K times."""
    until = np.fmin(balls["until_s"].to_numpy(float), balls["end_s"].to_numpy(float) + hold_s)
    start = balls["time_s"].to_numpy(float)
    longest = float((np.maximum(until, balls["end_s"].to_numpy(float)) - start).max()) if len(balls) else 0.0
    since = np.arange(int(longest * _HZ) + 1) / _HZ
    time_s = start[:, None] + since
    period = np.broadcast_to(balls["period"].to_numpy()[:, None], time_s.shape)
    frame = tracking.indices_at(period.ravel(), time_s.ravel()).reshape(time_s.shape)
    last = np.maximum(until, balls["end_s"].to_numpy(float))[:, None]
    known = (frame >= 0) & (time_s >= balls["end_s"].to_numpy(float)[:, None] - 1e-6)
    won = np.maximum.accumulate(known & (ball_holder(match).team[frame] == match.team_index(team)), axis=1)
    dead = np.maximum.accumulate(known & ~tracking.alive[frame], axis=1)
    # The instant in which it is won still counts: that is when they are there.
    over = dead | np.pad(won[:, :-1], ((0, 0), (1, 0)))
    return np.where((time_s <= last + 1e-6) & ~over, frame, -1), since


def _numbers(jump: _Jump, around_m: float, further_in_m: float, option_m: float, lane_m: float) -> pd.DataFrame:
    """Count both sides around the ball, and the ways inside that are open, when the jumper is there."""
    sides = jump.then
    n = len(sides)
    ball = np.where((jump.receiver >= 0)[:, None], sides.other[np.arange(n), np.maximum(jump.receiver, 0)], np.nan)
    mine, theirs = sides.own[:, ~sides.own_keeper], sides.other[:, ~sides.other_keeper]
    lanes = passing_lanes(ball, sides.other, sides.own, passer=jump.receiver, lane_m=lane_m, longest_m=option_m)
    # Further inside: nearer to the middle of the pitch, or on its other side.
    inside = (ball[:, None, 1] - sides.other[..., 1]) * np.sign(ball[:, 1])[:, None] >= further_in_m
    option = inside & (lanes.length_m <= option_m)
    length = np.where(option, lanes.length_m, np.inf)
    nearest = length.argmin(axis=1)
    return pd.DataFrame({
        "n_for": (distance_to(mine, ball) <= around_m).sum(axis=1),
        "n_against": (distance_to(theirs, ball) <= around_m).sum(axis=1),
        "open_inside": (option & lanes.open).sum(axis=1),
        "lane_in_shut": option.any(axis=1) & ~lanes.open[np.arange(n), nearest],
    })  # fmt: skip


def _rows(balls: pd.DataFrame, jump: _Jump, numbers: pd.DataFrame, team: str) -> pd.DataFrame:
    return pd.DataFrame({
        "team": team,
        "period": balls["period"],
        "start_s": balls["time_s"],
        "end_s": balls["end_s"] + np.maximum(jump.arrive_s, 0.0),
        "players": list(zip(jump.player, balls["receiver"])),
        "x": -balls["end_x"],
        "y": -balls["end_y"],
        "victim": balls["receiver"],
        "side": np.where(-balls["end_y"] > 0, "left", "right"),
        "jumper": jump.player,
        "jump_s": jump.set_off_s,
        "arrive_s": jump.arrive_s,
        "closing_ms": jump.closing_ms,
        "phase": balls["phase"],
        "estimated": balls["estimated"],
        **{c: numbers[c] for c in ("n_for", "n_against", "open_inside", "lane_in_shut")},
    })  # fmt: skip
