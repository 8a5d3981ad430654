"""The shape of a side without the ball, instant by instant: first line, back line, how it runs and hunts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match, Tracking
from tactical_kit.measures.sides import keepers_of

__all__ = ["Grid", "Shape", "last_held", "make_grid", "team_shape"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Grid:
    """The instants that are judged: N of them, about five a second, each spell starting with one.

    An instant stands for the time from itself to the next one of its spell (or the spell's end), so that the
    instants of all spells tile the live time.

    Parameters
    ----------
    spell : (N,) int ndarray
        Row of the spell in the table of spells.
    frame : (N,) int ndarray
        Frame of the tracking, -1 without.
    time_s, end_s : (N,) float ndarray
        The span it stands for.
    since_s : (N,) float ndarray
        Seconds since the side got the ball (gaps in the data included).
    """

    spell: NDArray[np.int64]
    frame: NDArray[np.int64]
    time_s: Floats
    end_s: Floats
    since_s: Floats

    def __len__(self) -> int:
        return len(self.spell)


@dataclass(frozen=True, eq=False)
class Shape:
    """What is measured at each instant of a grid, in the attacking frame of the side with the ball.

    All arrays have shape (N,); NaN where too few players are in the data.

    Parameters
    ----------
    ball_x, ball_y : float
        Ball, m.
    held_x : float
        Where along the pitch a player of the side with the ball last had it in reach, m: a pass on its way changes
        nothing until it is received.
    first_m, back_m : float
        Distance of the first line and of the back line of the side without the ball from its own goal, m.
    depth_m : float
        Distance between the two lines, m.
    goal_side : float
        Share of its outfield players that are nearer to their goal line than the ball.
    retreat_ms : float
        Mean speed of its outfield players towards their own goal, m/s.
    nearest_m : float
        Distance of its nearest outfield player to the ball, m.
    hunters : float
        Number of its outfield players who are near the ball and run at it.
    """

    ball_x: Floats
    ball_y: Floats
    held_x: Floats
    first_m: Floats
    back_m: Floats
    depth_m: Floats
    goal_side: Floats
    retreat_ms: Floats
    nearest_m: Floats
    hunters: Floats


def make_grid(match: Match, spells: pd.DataFrame, rate_hz: float = 5.0) -> Grid:
    """Lay a grid of about `rate_hz` instants a second over the spells, anchored at the start of each."""
    start, end = spells["start_s"].to_numpy(float), spells["end_s"].to_numpy(float)
    tracking = match.tracking
    if tracking is not None:
        step = max(1, round(tracking.rate_hz / rate_hz))
        first, last = spells["first"].to_numpy(np.int64), spells["last"].to_numpy(np.int64)
        count = -(-(last - first) // step)
    else:
        first = np.full(len(spells), -1, np.int64)
        count = np.maximum(np.ceil((end - start) * rate_hz - 1e-6).astype(np.int64), 1)
    spell = np.repeat(np.arange(len(spells)), count)
    k = np.arange(len(spell)) - np.repeat(np.cumsum(count) - count, count)
    if tracking is not None:
        frame = first[spell] + k * step
        time_s = tracking.time_s[frame].astype(float)
        time_s[k == 0] = start
    else:
        frame = np.full(len(spell), -1, np.int64)
        time_s = start[spell] + k / rate_hz
    end_s = np.append(time_s[1:], 0.0)
    final = np.append(np.diff(spell) != 0, True)[: len(spell)]
    end_s[final] = end[spell[final]]
    origin = start.copy()  # when the side got the ball
    continues, period = spells["continues"].to_numpy(bool), spells["period"].to_numpy()
    for i in np.flatnonzero(continues):
        if i and period[i - 1] == period[i]:
            origin[i] = origin[i - 1]
    return Grid(spell, frame, time_s, end_s, time_s - origin[spell])


def team_shape(
    match: Match,
    spells: pd.DataFrame,
    grid: Grid,
    *,
    first_line_players: int = 3,
    back_line_players: int = 4,
    hunt_m: float = 12.0,
    hunt_speed_ms: float = 2.0,
    hunt_own_ms: float = 1.0,
    hunt_tight_m: float = 2.5,
    contact_m: float = 1.2,
    min_players: int = 6,
) -> Shape:
    """Measure the side without the ball at each instant of the grid; arrays of shape (N,).

    Parameters
    ----------
    match : Match
        With tracking.
    spells : DataFrame
        See `possession_spells`.
    grid : Grid
        The instants.
    first_line_players, back_line_players : int, default 3 and 4
        The first line is the mean of the foremost three outfield players, the back line of the deepest four;
        each is one shorter for each outfield player short of ten (a sending-off, players missing from the
        data), but at least two.
    hunt_m, hunt_speed_ms : float, default 12 and 2
        A player hunts the ball who is at most so far from it and runs towards it at least so fast, m and m/s...
    hunt_own_ms : float, default 1
        ...by at least this much faster than his side as a whole moves that way: running back past the ball
        is not hunting it, m/s.
    hunt_tight_m : float, default 2.5
        Who is at most this near the ball hunts it anyway, m.
    contact_m : float, default 1.2
        A player at most this far from the ball has it in reach, m.
    min_players : int, default 6
        With fewer outfield players in the data at an instant, the lines are NaN.

    Notes
    -----
    The goalkeeper is left out.  Speeds are differences over 0.4 s, so a turn shorter than that is flattened.
    Source: common practice, no source.
    """
    tracking = match.tracking
    assert tracking is not None
    n = len(grid)
    side = spells["side"].to_numpy(np.int64)[grid.spell]
    home_attacks = {p.number: p.home_attacks for p in match.periods}
    sign = np.array([home_attacks[p] for p in spells["period"].tolist()], float)[grid.spell] * np.where(
        side == 0, 1, -1
    )
    keeper = keepers_of(match, tracking)
    before, after = _neighbours(tracking, grid.frame)
    span = (tracking.time_s[after] - tracking.time_s[before]).astype(np.float32)
    span[span <= 0] = np.nan
    ball = _known_ball(tracking, grid.frame) * sign[:, None]
    columns = {name: np.full(n, np.nan) for name in Shape.__dataclass_fields__}
    columns["ball_x"], columns["ball_y"] = ball[:, 0], ball[:, 1]
    half = match.pitch.half_length
    held = np.zeros(n, bool)
    for attacking in (0, 1):
        rows = np.flatnonzero(side == attacking)
        who = np.flatnonzero((tracking.team_index == 1 - attacking) & ~keeper)
        if not len(rows) or len(who) < 2:
            continue
        us = np.ix_(grid.frame[rows], np.flatnonzero(tracking.team_index == attacking))
        reach = np.hypot(*(tracking.xy[..., i][us] - tracking.ball[grid.frame[rows], None, i] for i in (0, 1)))
        held[rows] = (reach <= contact_m).any(axis=1)
        turn = sign[rows].astype(np.float32)[:, None]
        take = np.ix_(grid.frame[rows], who)
        x, y = tracking.xy[..., 0][take] * turn, tracking.xy[..., 1][take] * turn
        vx = (tracking.xy[..., 0][np.ix_(after[rows], who)] - tracking.xy[..., 0][np.ix_(before[rows], who)]) * turn
        vy = (tracking.xy[..., 1][np.ix_(after[rows], who)] - tracking.xy[..., 1][np.ix_(before[rows], who)]) * turn
        vx, vy = vx / span[rows, None], vy / span[rows, None]
        bx, by = ball[rows, 0].astype(np.float32)[:, None], ball[rows, 1].astype(np.float32)[:, None]

        seen = np.isfinite(x)
        number = seen.sum(axis=1)
        ordered = np.sort(np.where(seen, x, np.inf), axis=1)  # foremost of the defenders first (lowest x)
        enough = number >= min_players
        first, back = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
        for short in np.unique(np.clip(10 - number[enough], 0, 10)):
            mine = np.flatnonzero(enough & (np.clip(10 - number, 0, 10) == short))
            first[mine] = ordered[mine, : max(2, first_line_players - int(short))].mean(axis=1)
            k = max(2, back_line_players - int(short))
            where = number[mine][:, None] - 1 - np.arange(k)[None, :]
            back[mine] = np.take_along_axis(ordered[mine], where, axis=1).mean(axis=1)
        columns["first_m"][rows] = half - first
        columns["back_m"][rows] = half - back
        columns["depth_m"][rows] = back - first
        columns["goal_side"][rows] = np.where(enough, (seen & (x > bx)).sum(axis=1) / np.maximum(number, 1), np.nan)
        moving = np.isfinite(vx)
        retreat = np.where(moving, vx, 0).sum(axis=1) / np.maximum(moving.sum(axis=1), 1)
        columns["retreat_ms"][rows] = np.where(enough, retreat, np.nan)

        dx, dy = bx - x, by - y
        distance = np.hypot(dx, dy)
        distance[~np.isfinite(distance)] = np.inf
        columns["nearest_m"][rows] = distance.min(axis=1)
        with np.errstate(invalid="ignore", divide="ignore"):
            towards = (dx * vx + dy * vy) / np.maximum(distance, 0.5)
            drift_x = retreat[:, None]
            drift_y = (np.where(moving, vy, 0).sum(axis=1) / np.maximum(moving.sum(axis=1), 1))[:, None]
            of_his_own = towards - (dx * drift_x + dy * drift_y) / np.maximum(distance, 0.5)
        runs = (distance <= hunt_m) & (towards >= hunt_speed_ms) & (of_his_own >= hunt_own_ms)
        columns["hunters"][rows] = (runs | (distance <= hunt_tight_m)).sum(axis=1)
    columns["held_x"] = last_held(columns["ball_x"], held, grid.spell)
    columns["nearest_m"][~np.isfinite(columns["nearest_m"])] = np.nan
    return Shape(**columns)


def last_held(ball_x: Floats, held: NDArray[np.bool_], spell: NDArray[np.int64]) -> Floats:
    """Carry the place of the ball when it was last in reach forward; a spell starts where its ball is."""
    fresh = held | (np.diff(spell, prepend=-1) != 0)
    return ball_x[np.maximum.accumulate(np.where(fresh, np.arange(len(spell)), 0))]


def _neighbours(tracking: Tracking, frame: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Frames 0.2 s before and after, kept inside the stretch of data without a break."""
    reach = max(1, round(0.2 * tracking.rate_hz))
    starts = np.array([s.start for s in tracking.segments])
    stops = np.array([s.stop for s in tracking.segments])
    segment = np.searchsorted(starts, frame, "right") - 1
    return np.maximum(frame - reach, starts[segment]), np.minimum(frame + reach, stops[segment] - 1)


def _known_ball(tracking: Tracking, frame: NDArray[np.int64]) -> Floats:
    """Ball at the frames, (N, 2); where it is not in the data, on the line between its neighbours in the period."""
    ball = tracking.ball[frame, :2].astype(float)
    unknown = ~np.isfinite(ball).all(axis=1)
    if unknown.any():
        known = ~unknown
        for number in np.unique(tracking.period[frame[unknown]]):
            here = tracking.period[frame] == number
            if (known & here).any():
                for axis in (0, 1):
                    ball[here & unknown, axis] = np.interp(
                        tracking.time_s[frame[here & unknown]],
                        tracking.time_s[frame[here & known]],
                        ball[here & known, axis],
                    )
    return ball
