"""Numbers of a switch of play: how far the block lags behind the ball, how free the man is who gets it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.match import Match
from tactical_kit.measures.holder import ball_holder

__all__ = ["block_lag_m", "nearest_opponent_m", "seconds_free"]

Floats = NDArray[np.float64]


def nearest_opponent_m(place: ArrayLike, opponents: ArrayLike) -> Floats:
    """Return the distance of the nearest opponent to a place at N instants.

    Parameters
    ----------
    place : (N, 2) array
        Metres; NaN unknown.
    opponents : (N, Q, 2) array
        In the same frame, m; NaN for who is not there.

    Returns
    -------
    (N,) ndarray
        Metres; NaN where the place is unknown or nobody is there.

    >>> nearest_opponent_m([[0, 0]], [[[3, 4], [6, 8]]]).tolist()
    [5.0]
    """
    at, other = np.asarray(place, float), np.asarray(opponents, float)
    away = np.hypot(other[..., 0] - at[:, None, 0], other[..., 1] - at[:, None, 1])
    away = np.where(np.isfinite(away), away, np.inf)
    nearest = away.min(axis=1) if away.shape[1] else np.full(len(at), np.inf)
    return np.where(np.isfinite(nearest), nearest, np.nan)


def block_lag_m(
    block_y: ArrayLike, ball_y: ArrayLike, later_block_y: ArrayLike, later_ball_y: ArrayLike
) -> tuple[Floats, Floats]:
    """Tell how far a block has shifted with a ball that crossed the pitch, and how much it is short.

    Parameters
    ----------
    block_y, ball_y : (N,) array
        Middle of the block and the ball when it sets out, across the pitch, m.
    later_block_y, later_ball_y : (N,) array
        The same when the ball has arrived, m.

    Returns
    -------
    shift_m : (N,) ndarray
        How far the middle of the block went the way of the ball, m; negative the other way.
    lag_m : (N,) ndarray
        How much further the ball is from the middle of the block, across, than it was when it set out, m.  0 is a
        block that stands to the ball as it stood before, mirrored; negative one that had stood far off.

    Notes
    -----
    Source: common practice, no source.

    >>> shift, lag = block_lag_m([-8.0], [-25.0], [-2.0], [28.0])  # 17 m off before, 30 m after
    >>> shift.tolist(), lag.tolist()
    ([6.0], [13.0])
    """
    block, ball, later_block, later_ball = (
        np.asarray(v, float) for v in (block_y, ball_y, later_block_y, later_ball_y)
    )
    way = np.where(later_ball >= ball, 1.0, -1.0)
    return (later_block - block) * way, np.abs(later_ball - later_block) - np.abs(ball - block)


def seconds_free(
    match: Match, frame: ArrayLike, player: ArrayLike, *, tight_m: float = 2.0, longest_s: float = 8.0
) -> Floats:
    """Return how long N players who got the ball had time: until an opponent is upon them or they let it go.

    Parameters
    ----------
    match : Match
        With tracking.
    frame : (N,) array of int
        Frame in which each gets the ball; -1 unknown.
    player : (N,) array of str
        His id.
    tight_m : float, default 2
        An opponent is upon him at this distance or nearer, m.
    longest_s : float, default 8
        No longer than this is looked, s.

    Returns
    -------
    (N,) ndarray
        Seconds; NaN where the player or the frames are not in the data.  He lets it go when another has the ball
        or it is dead; a gap in the data ends the look with what was seen until then.

    Raises
    ------
    MissingDataError
        No tracking.

    Notes
    -----
    Source: common practice, no source.
    """
    tracking = match.need_tracking("The time a player has on the ball")
    held = ball_holder(match).column
    ends = {s.start: s.stop for s in tracking.segments}
    starts = np.array(sorted(ends), np.int64)
    column = {p: i for i, p in enumerate(tracking.players)}
    first, ids = np.asarray(frame, np.int64).reshape(-1), np.asarray(player, dtype=object).reshape(-1)
    result = np.full(len(first), np.nan)
    for i, (start, name) in enumerate(zip(first, ids)):
        if start < 0 or name not in column:
            continue
        own = column[name]
        segment = ends[int(starts[np.searchsorted(starts, start, side="right") - 1])]
        stop = min(segment, int(start) + int(longest_s * tracking.rate_hz) + 1)
        place = tracking.xy[start:stop, own]
        if not np.isfinite(place[0]).all():
            continue
        opponents = tracking.xy[start:stop][:, tracking.team_index != tracking.team_index[own]]
        with np.errstate(invalid="ignore"):
            tight = (np.hypot(*np.moveaxis(opponents - place[:, None], -1, 0)) <= tight_m).any(axis=1)
        # The frame in which it arrives may still be the passer's.
        has_had = np.maximum.accumulate(held[start:stop] == own)
        gone = has_had & (held[start:stop] != own) & (held[start:stop] >= 0)
        left = has_had & ~_holds_on(held[start:stop] == own)
        over = np.flatnonzero(tight | gone | left | ~tracking.alive[start:stop])
        result[i] = (over[0] if len(over) else stop - 1 - start) / tracking.rate_hz
    return result


def _holds_on(mine: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Frames up to the last one in which he has the ball: touches ahead in between are no letting go."""
    last = np.flatnonzero(mine)
    result = np.zeros(len(mine), bool)
    if len(last):
        result[: last[-1] + 1] = True
    return result
