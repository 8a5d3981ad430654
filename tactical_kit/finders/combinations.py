"""Combinations of two quick passes: the third man and the one-two."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import next_actions, phase_at
from tactical_kit.finders.registry import finder
from tactical_kit.match import Match
from tactical_kit.measures.lanes import lane_gaps
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.moments import Column, Moments

__all__ = ["find_one_twos", "find_third_men"]

_SHARED = {
    "gain_m": Column("float64", "how far the ball came towards the goal line over both passes", "m"),
    "opponents_beaten": Column("float64", "outfield opponents ahead of the ball before and behind it after"),
    "seconds": Column("float64", "first pass played until the second arrives", "s"),
    "hold_s": Column("float64", "how long the wall had the ball", "s"),
    "first_pass_m": Column("float64", "length of the pass into the wall", "m"),
    "lay_off_m": Column("float64", "length of the pass off the wall", "m"),
    "lay_off": Column("str", "where the wall laid it: back, square or forward"),
    "run_ms": Column("float64", "how fast the man who gets it was going forward when it was laid off", "m/s"),
    "direct_lane_m": Column(
        "float64", "nearest opponent to the straight line to him, when the first pass is played", "m"
    ),
    "phase": Column("str", "phase of the side"),
    "next_action": Column("str", "what he did with the ball"),
    "estimated": Column("bool", "passes read from the tracking alone"),
}
THIRD_MAN = {
    "first": Column("str", "who plays into the wall"),
    "wall": Column("str", "who lays it off"),
    "third": Column("str", "who gets it from the wall"),
    **_SHARED,
}
ONE_TWO = {
    "first": Column("str", "who plays into the wall and gets it back"),
    "wall": Column("str", "who gives it back"),
    **_SHARED,
}


@finder(
    "third man",
    needs=("events or tracking",),
    finds="Up, back and through: a forward pass into a man who lays it off at once to a third man coming on.",
    columns=THIRD_MAN,
)
def find_third_men(
    match: Match,
    *,
    up_m: float = 1.0,
    longest_up_m: float = 25.0,
    hold_s: float = 0.8,
    longest_lay_off_m: float = 15.0,
    run_ms: float = 2.0,
    least_gain_m: float = 2.0,
    square_deg: float = 30.0,
) -> Moments:
    """Find every forward pass that is laid off at once to a third man who is coming forward.

    Parameters
    ----------
    match : Match
        With events, with tracking, or both.
    up_m : float, default 1
        The first pass goes forward at least this far, m.
    longest_up_m : float, default 25
        It is at most this long, m.
    hold_s : float, default 0.8
        The wall has the ball at most so long, a touch or two, s.
    longest_lay_off_m : float, default 15
        The lay-off is at most this long, m.
    run_ms : float, default 2
        The third man goes forward at least this fast when it is laid off, m/s: he runs, not walks.  Not looked at
        where his velocity is not in the data.
    least_gain_m : float, default 2
        From the first pass to where the third man gets it the ball comes forward at least this far, m.
    square_deg : float, default 30
        A lay-off within this angle of straight across is square, degrees.

    Returns
    -------
    Moments
        Finder "third man", from the first pass being played until the lay-off arrives; players (first, wall, third);
        x, y where the wall gets it.  Own columns in `THIRD_MAN`; `run_ms`, `direct_lane_m` and `opponents_beaten`
        are NaN without tracking, `next_action` is "" without events.

    Raises
    ------
    MissingDataError
        Neither events nor tracking.

    Notes
    -----
    Both passes arrive; restarts do not begin one.  `next_action` tells whether the third man played it through.
    A narrow `direct_lane_m` tells that the first man could not have found him directly.
    Source: common practice, no source; 2 m/s is 7.2 km/h, up to where studies of running in matches count the lowest
    class of speed (as Silva et al. 2024, Biol. Sport 41(3):223).  Of 0.6 to 1 s for the wall and 1 to 3 m forward,
    0.8 s and 1 m were taken after trials on simulated matches (seeds 1100-1119).
    """
    params = {
        "up_m": up_m, "longest_up_m": longest_up_m, "hold_s": hold_s, "longest_lay_off_m": longest_lay_off_m,
        "run_ms": run_ms, "least_gain_m": least_gain_m, "square_deg": square_deg,
    }  # fmt: skip
    pairs = _pairs(match, hold_s, longest_up_m, longest_lay_off_m, square_deg)
    keep = (pairs["third"] != pairs["first"]) & (pairs["up_m"] >= up_m) & (pairs["gain_m"] >= least_gain_m)
    rows = _with_positions(match, pairs[keep].reset_index(drop=True))
    rows = rows[rows["run_ms"].isna() | (rows["run_ms"] >= run_ms)]
    rows = rows.assign(players=list(zip(rows["first"], rows["wall"], rows["third"])))
    return _build("third man", match, rows, THIRD_MAN, params)


@finder(
    "one-two",
    needs=("events or tracking",),
    finds="A wall pass: a player plays to a team-mate, runs on, and gets the ball straight back further forward.",
    columns=ONE_TWO,
)
def find_one_twos(
    match: Match,
    *,
    longest_pass_m: float = 25.0,
    hold_s: float = 0.8,
    longest_return_m: float = 20.0,
    least_gain_m: float = 4.0,
    square_deg: float = 30.0,
) -> Moments:
    """Find every pass that comes straight back to its player, who has moved on forward.

    Parameters
    ----------
    match : Match
        With events, with tracking, or both.
    longest_pass_m : float, default 25
        The first pass is at most this long, m.
    hold_s : float, default 0.8
        The wall has the ball at most so long, a touch or two, s.
    longest_return_m : float, default 20
        The return is at most this long, m.
    least_gain_m : float, default 4
        He gets it back at least this far further forward than he played it, m.
    square_deg : float, default 30
        A lay-off within this angle of straight across is square, degrees.

    Returns
    -------
    Moments
        Finder "one-two", from the first pass being played until the return arrives; players (first, wall); x, y where
        he gets it back.  Own columns in `ONE_TWO`; `run_ms`, `direct_lane_m` and `opponents_beaten` are NaN without
        tracking, `next_action` is "" without events.

    Raises
    ------
    MissingDataError
        Neither events nor tracking.

    Notes
    -----
    Both passes arrive; restarts do not begin one.  A return that is played back to where it came from keeps the ball
    and is no one-two.  `direct_lane_m` is the line from the ball to where he gets it back.
    Source: common practice, no source; of 0.6 to 1 s for the wall and 3 to 5 m forward, 0.8 s and 4 m were taken
    after trials on simulated matches (seeds 1100-1119).
    """
    params = {
        "longest_pass_m": longest_pass_m, "hold_s": hold_s, "longest_return_m": longest_return_m,
        "least_gain_m": least_gain_m, "square_deg": square_deg,
    }  # fmt: skip
    pairs = _pairs(match, hold_s, longest_pass_m, longest_return_m, square_deg)
    keep = (pairs["third"] == pairs["first"]) & (pairs["gain_m"] >= least_gain_m)
    rows = _with_positions(match, pairs[keep].reset_index(drop=True))
    rows = rows.assign(players=list(zip(rows["first"], rows["wall"])), x=rows["end_x"], y=rows["end_y"])
    return _build("one-two", match, rows, ONE_TWO, params)


def _pairs(
    match: Match, hold_s: float, longest_first_m: float, longest_second_m: float, square_deg: float
) -> pd.DataFrame:
    """Two completed passes in a row, the second played at once by the man who got the first."""
    passes = pass_table(match)
    one, two = passes.iloc[:-1].reset_index(drop=True), passes.iloc[1:].reset_index(drop=True)
    linked = (one["team"] == two["team"]) & (one["period"] == two["period"]) & (one["receiver"] == two["player"])
    linked &= one["complete"] & two["complete"] & (two["receiver"] != "") & (one["set_play"] == "")
    # Clocks are read to the frame: half a frame is no touch more.
    quick = two["time_s"] - one["end_s"] <= hold_s + 1e-6
    lengths = [np.hypot(p["end_x"] - p["x"], p["end_y"] - p["y"]) for p in (one, two)]
    keep = linked & quick & (lengths[0] <= longest_first_m) & (lengths[1] <= longest_second_m)
    return pd.DataFrame(
        {
            "period": one["period"],
            "start_s": one["time_s"],
            "end_s": two["end_s"],
            "team": one["team"],
            "x": one["end_x"],
            "y": one["end_y"],
            "first": one["player"],
            "wall": one["receiver"],
            "third": two["receiver"],
            "up_m": one["end_x"] - one["x"],
            "gain_m": two["end_x"] - one["x"],
            "seconds": two["end_s"] - one["time_s"],
            "hold_s": np.maximum(two["time_s"] - one["end_s"], 0.0),
            "first_pass_m": lengths[0],
            "lay_off_m": lengths[1],
            "lay_off": _lay_off(two, square_deg),
            "estimated": one["estimated"] | two["estimated"],
            "start_x": one["x"],
            "start_y": one["y"],
            "end_x": two["end_x"],
            "end_y": two["end_y"],
            "frame": one["frame"],
            "off_frame": two["frame"],
            "end_frame": two["end_frame"],
        }
    )[keep].reset_index(drop=True)


def _lay_off(passes: pd.DataFrame, square_deg: float) -> NDArray[np.object_]:
    """Back, square (within this angle of straight across) or forward."""
    forward, across = passes["end_x"] - passes["x"], (passes["end_y"] - passes["y"]).abs()
    square = forward.abs() <= np.tan(np.radians(square_deg)) * across
    return np.where(square, "square", np.where(forward > 0, "forward", "back")).astype(object)


def _with_positions(match: Match, rows: pd.DataFrame) -> pd.DataFrame:
    """Add what only positions show: the run of the man who gets it, the direct lane to him, opponents beaten."""
    n = len(rows)
    numbers = {name: np.full(n, np.nan) for name in ("run_ms", "direct_lane_m", "opponents_beaten")}
    if match.tracking is not None:
        for side in match.teams:
            mine = np.flatnonzero((rows["team"] == side.team_id).to_numpy())
            if not len(mine):
                continue
            his = rows.iloc[mine]
            before, off, after = (
                sides_at(match, his[c], side.team_id, velocities=c == "off_frame")
                for c in ("frame", "off_frame", "end_frame")
            )
            numbers["run_ms"][mine] = _forward_speed(off, his["third"].to_numpy(object))
            numbers["direct_lane_m"][mine] = _direct_lane(before, his)
            numbers["opponents_beaten"][mine] = _beaten(before, after, his)
    return rows.assign(**numbers)


def _forward_speed(sides: Sides, player: NDArray[np.object_]) -> NDArray[np.float64]:
    at = sides.own_index(player)
    speed = sides.own_velocity[np.arange(len(sides)), np.maximum(at, 0), 0]
    return np.where(at >= 0, speed, np.nan)


def _direct_lane(sides: Sides, rows: pd.DataFrame) -> NDArray[np.float64]:
    """Nearest opponent to the line from the ball to the third man, or to where the first man gets it back."""
    ball, end = rows[["start_x", "start_y"]].to_numpy(), rows[["end_x", "end_y"]].to_numpy()
    returned = (rows["third"] == rows["first"]).to_numpy()
    target = np.where(returned[:, None], end, sides.own_place(rows["third"]))
    gap = lane_gaps(ball, target[:, None], sides.other_outfield)[:, 0].min(axis=1, initial=np.inf)
    return np.where(np.isfinite(target).all(axis=1) & np.isfinite(gap), gap, np.nan)


def _beaten(before: Sides, after: Sides, rows: pd.DataFrame) -> NDArray[np.float64]:
    """Outfield opponents strictly ahead of the ball before and strictly behind it after; NaN with nobody there."""
    was, is_now = before.other_outfield[..., 0], after.other_outfield[..., 0]
    with np.errstate(invalid="ignore"):
        beaten = (was > rows["start_x"].to_numpy()[:, None]) & (is_now < rows["end_x"].to_numpy()[:, None])
    known = (np.isfinite(was) & np.isfinite(is_now)).any(axis=1)
    return np.where(known, beaten.sum(axis=1), np.nan)


def _build(
    name: str, match: Match, rows: pd.DataFrame, columns: dict[str, Column], params: dict[str, float]
) -> Moments:
    if not len(rows):
        return Moments.build(name, [], columns, params, match.match_id)
    phase = np.full(len(rows), "", dtype=object)
    for side in match.teams:
        mine = (rows["team"] == side.team_id).to_numpy()
        phase[mine] = phase_at(match, rows["period"][mine], rows["start_s"][mine], side.team_id)
    x, y = match.pitch.onto(rows["x"], rows["y"], margin_m=np.inf)
    then = next_actions(match, rows["period"], rows["end_s"], rows["third"])
    rows = rows.assign(x=x, y=y, phase=phase, next_action=then)
    core = ["period", "start_s", "end_s", "team", "players", "x", "y"]
    return Moments.build(name, rows[[*core, *columns]], columns, params, match.match_id)
