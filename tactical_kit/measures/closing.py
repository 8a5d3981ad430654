"""Closing down: how fast players run at a place, and the spells in which several do."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.match.runs import runs_of

__all__ = ["best_mean", "bridged", "distance_to", "fastest_there", "set_off_at", "side_velocity", "speed_towards"]


def speed_towards(place: ArrayLike, velocity: ArrayLike, target: ArrayLike) -> NDArray[np.float64]:
    """Return how fast each player runs at a target, m/s; below 0 where he runs away from it.

    Parameters
    ----------
    place, velocity : (N, P, 2) array
        Players, m and m/s; NaN for who is not there.
    target : (N, 2) array
        What they run at, one place an instant, m.

    Returns
    -------
    (N, P) ndarray
        The part of his own velocity that points at the target: what the target does meanwhile does not count, so a
        player who stands still while the ball comes to him does not close it down.  NaN where anything is unknown
        and where he stands on the target.

    Raises
    ------
    TacticalKitError
        Arrays that do not belong together.

    Notes
    -----
    Source: geometry.

    >>> speed_towards([[[0, 0], [0, 0]]], [[[3, 4], [0, -2]]], [[10, 0]]).tolist()
    [[3.0, 0.0]]
    """
    away, distance = _away(place, target)
    v = np.asarray(velocity, float)
    if v.shape != away.shape:
        raise TacticalKitError(f"velocity has shape {v.shape}; expected {away.shape}, as the places.")
    along = (v * away).sum(axis=-1)
    return np.divide(along, distance, out=np.full(distance.shape, np.nan), where=distance > 0)


def distance_to(place: ArrayLike, target: ArrayLike) -> NDArray[np.float64]:
    """Return how far each player is from the target of his instant, (N, P), m; NaN for who is not there.

    >>> distance_to([[[0, 0], [10, 4]]], [[10, 0]]).tolist()
    [[10.0, 4.0]]
    """
    return _away(place, target)[1]


def _away(place: ArrayLike, target: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    p, t = np.asarray(place, float), np.asarray(target, float)
    if p.ndim != 3 or p.shape[2] != 2 or t.shape != (len(p), 2):
        raise TacticalKitError(f"places {p.shape}, target {t.shape}; expected (N, P, 2) and (N, 2).")
    away = t[:, None] - p
    return away, np.hypot(away[..., 0], away[..., 1])


def bridged(spells: ArrayLike, same: ArrayLike, longest_pause: int) -> NDArray[np.int64]:
    """Join spells that a short pause parts.

    Parameters
    ----------
    spells : (R, 2) array of int
        First and one past the last index of each, in order.
    same : (T,) array of int
        A number for each index; only spells of the same number are joined (a possession, say).
    longest_pause : int
        At most so many indices lie between two spells that are joined.

    Returns
    -------
    (S, 2) int64 ndarray

    >>> bridged([[0, 3], [5, 7], [9, 10]], [0] * 8 + [1] * 4, 2).tolist()
    [[0, 7], [9, 10]]
    """
    runs, number = np.asarray(spells, np.int64).reshape(-1, 2), np.asarray(same)
    if not len(runs):
        return runs
    apart = (runs[1:, 0] - runs[:-1, 1] > longest_pause) | (number[runs[1:, 0]] != number[runs[:-1, 1] - 1])
    first = np.concatenate([[True], apart])
    last = np.concatenate([apart, [True]])
    return np.column_stack([runs[first, 0], runs[last, 1]])


def best_mean(values: ArrayLike, length: int) -> NDArray[np.float64]:
    """Return the highest mean of so many values in a row: how fast a player was over his best second.

    Parameters
    ----------
    values : (N, ...) array
        One row an instant; NaN where nothing is known or the instant does not count.
    length : int
        Instants that are averaged; no window with a NaN counts.

    Returns
    -------
    (...) float64 ndarray
        Where no window is complete, the mean of what there is; NaN where there is nothing.

    >>> best_mean([[1.0, 4.0], [3.0, np.nan], [5.0, 2.0]], 2).tolist()
    [4.0, 3.0]
    """
    table = np.asarray(values, float)
    known = np.isfinite(table)
    zero = np.zeros((1, *table.shape[1:]))
    total = np.concatenate([zero, np.cumsum(np.where(known, table, 0.0), axis=0)])
    count = np.concatenate([zero, np.cumsum(known, axis=0)])
    some = np.divide(total[-1], count[-1], out=np.full(table.shape[1:], np.nan), where=count[-1] > 0)
    if len(table) < length:
        return np.asarray(some)
    whole = count[length:] - count[:-length] == length
    mean = np.where(whole, (total[length:] - total[:-length]) / length, -np.inf).max(axis=0)
    return np.asarray(np.where(whole.any(axis=0), mean, some))


def fastest_there(nearest_m: ArrayLike, closing_ms: ArrayLike, engage_m: float) -> NDArray[np.int64]:
    """Return who presses: the fastest of those who came near; if nobody did, the one who came nearest.

    Parameters
    ----------
    nearest_m : (N, P) array
        How near to the ball each player came, m; inf for who is not there.
    closing_ms : (N, P) array
        How fast he ran at it, m/s; NaN if he did not.
    engage_m : float
        Near is at most so far, m.

    Returns
    -------
    (N,) int64 ndarray
        Position of the player; the first of several who are alike.

    >>> fastest_there([[2.0, 1.0, 9.0], [8.0, 7.0, 9.0]], [[5.0, 3.0, 7.0], [5.0, 3.0, 7.0]], 3.0).tolist()
    [0, 1]
    """
    near, speed = np.asarray(nearest_m, float), np.asarray(closing_ms, float)
    runner = np.where((near <= engage_m) & np.isfinite(speed), speed, -np.inf)
    return np.where(np.isfinite(runner).any(axis=1), runner.argmax(axis=1), near.argmin(axis=1)).astype(np.int64)


def set_off_at(speed_ms: ArrayLike, running: ArrayLike, length: int, longest_pause: int = 0) -> int:
    """Return when a player set off on the run in which he was fastest.

    Parameters
    ----------
    speed_ms : (N,) array
        How fast he ran at the target at N instants in a row, m/s; NaN where it does not count.
    running : (N,) array of bool
        Instants in which he ran at it at all.
    length : int
        He is fastest where the mean of so many instants in a row is highest (the first of several alike; none with a
        NaN counts).
    longest_pause : int, default 0
        At most so many instants in which he did not run do not break a run.

    Returns
    -------
    int
        First instant of that run; where he did not run at his fastest, of his first run, or 0 without any.

    >>> set_off_at([4, 0, 0, 3, 4, 6, 6, 0], [True, False, False, True, True, True, True, False], 2)
    3
    """
    speed, mask = np.nan_to_num(np.asarray(speed_ms, float), nan=-np.inf), np.asarray(running, bool)
    width = max(1, min(length, len(speed)))
    fastest = int(np.lib.stride_tricks.sliding_window_view(speed, width).mean(axis=1).argmax())
    runs = bridged(runs_of(mask), np.zeros(len(mask), int), longest_pause)
    if not len(runs):
        return 0
    his = np.flatnonzero((runs[:, 0] < fastest + width) & (runs[:, 1] > fastest))
    return int(runs[his[0] if len(his) else 0, 0])


def side_velocity(velocity: ArrayLike) -> NDArray[np.float64]:
    """Return how a side moves as a whole: the mean velocity of its players, (N, 1, 2), m/s; NaN without any.

    A player who runs at the ball no faster than his whole side moves that way shifts with it; he does not jump.

    >>> side_velocity([[[2, 0], [4, 2], [np.nan, np.nan]]]).tolist()
    [[[3.0, 1.0]]]
    """
    v = np.asarray(velocity, float)
    known = np.isfinite(v).all(axis=-1, keepdims=True)
    count = known.sum(axis=1, keepdims=True)
    total = np.where(known, v, 0.0).sum(axis=1, keepdims=True)
    return np.divide(total, count, out=np.full(total.shape, np.nan), where=count > 0)
