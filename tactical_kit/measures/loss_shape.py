"""How a side stands and reacts when it loses the ball: who is near, who hunts."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["approach_ms", "hunting", "near_count", "nearest_approach_ms"]

Floats = NDArray[np.float64]
_ROUNDING_M = 1e-5  # places are kept in single precision: a hundredth of a millimetre is no threshold
_NEAR_BALL_M = 0.5  # nearer than this a direction to the ball means nothing


def near_count(places: ArrayLike, ball: ArrayLike, within_m: float = 10.0) -> Floats:
    """Count the players at most `within_m` from the ball at each instant.

    Parameters
    ----------
    places : (N, P, 2) array
        Players, m; NaN for who is not there.
    ball : (N, 2) array
        The ball, m.
    within_m : float, default 10
        At most this far, m.

    Returns
    -------
    (N,) float ndarray
        NaN where the ball or all players are unknown.

    >>> near_count([[[0, 0], [6, 8], [6, 8.1]]], [[0, 0]]).tolist()
    [2.0]
    """
    away = _distance(places, ball)
    with np.errstate(invalid="ignore"):
        count = (away <= within_m + _ROUNDING_M).sum(axis=1).astype(float)
    count[~np.isfinite(away).any(axis=1)] = np.nan
    return count


def approach_ms(places: ArrayLike, velocity: ArrayLike, ball: ArrayLike, own_way: bool = False) -> Floats:
    """Return how fast each player runs towards the place where the ball is, m/s; running away is negative.

    Parameters
    ----------
    places, velocity : (N, P, 2) array
        Players, m and m/s; NaN for who is not there.
    ball : (N, 2) array
        The ball, m.
    own_way : bool, default False
        Less what the whole side moves that way: running back past the ball with all the others is not running at
        the ball.

    Returns
    -------
    (N, P) float ndarray
        NaN where a place or a velocity is unknown.

    >>> approach_ms([[[10, 0], [0, 10]]], [[[-3, 0], [4, 0]]], [[0, 0]]).tolist()
    [[3.0, 0.0]]
    """
    moving = np.asarray(velocity, float)
    way = np.asarray(ball, float)[:, None] - np.asarray(places, float)
    away = np.maximum(np.hypot(way[..., 0], way[..., 1]), _NEAR_BALL_M)
    if own_way:
        known = np.isfinite(moving)
        moving = moving - np.where(known, moving, 0).sum(axis=1, keepdims=True) / np.maximum(
            known.sum(axis=1, keepdims=True), 1
        )
    return np.asarray((way * moving).sum(axis=-1) / away)


def hunting(
    places: ArrayLike,
    velocity: ArrayLike,
    ball: ArrayLike,
    *,
    hunt_m: float = 15.0,
    hunt_speed_ms: float = 2.0,
    hunt_own_ms: float = 1.0,
    hunt_tight_m: float = 2.5,
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Tell who hunts the ball at each instant.

    Parameters
    ----------
    places, velocity : (N, P, 2) array
        Outfield players of one side, m and m/s; NaN for who is not there.
    ball : (N, 2) array
        The ball, m.
    hunt_m, hunt_speed_ms : float, default 15 and 2
        A hunter is at most this far from the ball and runs at it with at least this speed, m and m/s,
    hunt_own_ms : float, default 1
        by at least this much faster than his side as a whole moves that way, m/s.
    hunt_tight_m : float, default 2.5
        Who is at most this near the ball hunts it anyway, m.

    Returns
    -------
    (N, P) bool ndarray, (N, P) bool ndarray
        Who runs at the ball; who hunts it, running or by being tight on it.

    Notes
    -----
    Source: common practice, no source.
    """
    away = _distance(places, ball)
    with np.errstate(invalid="ignore"):
        runs = (away <= hunt_m + _ROUNDING_M) & (approach_ms(places, velocity, ball) >= hunt_speed_ms - 1e-9)
        runs &= approach_ms(places, velocity, ball, own_way=True) >= hunt_own_ms - 1e-9
        return runs, runs | (away <= hunt_tight_m + _ROUNDING_M)


def nearest_approach_ms(places: ArrayLike, velocity: ArrayLike, ball: ArrayLike, players: int = 3) -> Floats:
    """Return how fast the players nearest to the ball run at it on average, m/s.

    Parameters
    ----------
    places, velocity, ball
        As in `approach_ms`.
    players : int, default 3
        So many of the nearest.

    Returns
    -------
    (N,) float ndarray
        NaN where fewer are known.
    """
    away, speed = _distance(places, ball), approach_ms(places, velocity, ball)
    away[~np.isfinite(speed)] = np.inf
    if away.shape[1] < players:
        return np.full(len(away), np.nan)
    nearest = np.argsort(away, axis=1, kind="stable")[:, :players]
    result = np.take_along_axis(speed, nearest, axis=1).mean(axis=1)
    result[~np.isfinite(np.take_along_axis(away, nearest, axis=1)).all(axis=1)] = np.nan
    return np.asarray(result)


def _distance(places: ArrayLike, ball: ArrayLike) -> Floats:
    way = np.asarray(places, float) - np.asarray(ball, float)[:, None]
    return np.asarray(np.hypot(way[..., 0], way[..., 1]))
