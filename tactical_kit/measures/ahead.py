"""Numbers ahead of the ball, both ways: how many attack, how many stand between the ball and their goal."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Ahead", "gain_at", "numbers_ahead", "seconds_to_gain"]

Floats = NDArray[np.float64]
_ROUNDING_M = 1e-5  # places are kept in single precision: a hundredth of a millimetre is no threshold


class Ahead(NamedTuple):
    """Counts at N instants, each (N,) float; NaN unknown.

    Parameters
    ----------
    attack : (N,) ndarray
        Own players level with the ball or ahead of it: the three of a 3 v 2.
    defend : (N,) ndarray
        Opponents goal-side of the ball: the two of a 3 v 2.
    behind : (N,) ndarray
        Own players behind the ball.
    caught : (N,) ndarray
        Opponents who are not goal-side of the ball.
    """

    attack: Floats
    defend: Floats
    behind: Floats
    caught: Floats


def numbers_ahead(own_x: ArrayLike, other_x: ArrayLike, ball_x: ArrayLike, *, level_m: float = 2.0) -> Ahead:
    """Count who is ahead of the ball: own players to play to, and opponents left between the ball and their goal.

    Parameters
    ----------
    own_x, other_x : (N, P) and (N, Q) array
        Outfield players along the pitch in the attacking frame of the own side, m; NaN for who is not there.
    ball_x : (N,) array
        The ball, m.
    level_m : float, default 2
        An own player at most this far behind the ball counts as level with it, so that the man on the ball is
        among those who attack, m.

    Returns
    -------
    Ahead
        attack, defend, behind, caught, each (N,) float; NaN where the ball, or a whole side, is unknown.

    Notes
    -----
    An opponent exactly level with the ball is not goal-side of it.
    Source: common practice, no source.

    >>> counts = numbers_ahead([[0, 10, 20, -15]], [[5, 12, -3, -9]], [0.5])
    >>> [float(n[0]) for n in counts]
    [3.0, 2.0, 1.0, 2.0]
    """
    own, other = np.asarray(own_x, float), np.asarray(other_x, float)
    ball = np.asarray(ball_x, float)[:, None]
    there, theirs = np.isfinite(own), np.isfinite(other)
    up = there & (own >= ball - level_m - _ROUNDING_M)
    goal_side = theirs & (other > ball)
    unknown = ~np.isfinite(ball[:, 0]) | ~there.any(axis=1) | ~theirs.any(axis=1)
    counts = (up, goal_side, there & ~up, theirs & ~goal_side)
    return Ahead(*(np.where(unknown, np.nan, c.sum(axis=1).astype(float)) for c in counts))


def gain_at(time_s: ArrayLike, x: ArrayLike, start_s: float, at_s: float) -> float:
    """Return how far the ball has come up the pitch between two instants, m; NaN if either is not in the data.

    Parameters
    ----------
    time_s, x : (T,) array
        Instants in order, s, and the ball in the attacking frame of its side, m; an unknown x is passed over.
    start_s, at_s : float
        The last known place at or before each instant counts, but one of more than a second earlier does not, s.

    >>> gain_at([0.0, 1.0, 2.0], [-10.0, -4.0, 2.0], 0.0, 2.4)
    12.0
    """
    return _last_x(time_s, x, at_s) - _last_x(time_s, x, start_s)


def seconds_to_gain(time_s: ArrayLike, x: ArrayLike, start_s: float, gain_m: float, end_s: float) -> float:
    """Return after how many seconds the ball was first at least `gain_m` further up than at `start_s`, s.

    Parameters
    ----------
    time_s, x : (T,) array
        As in `gain_at`.
    start_s, end_s : float
        Looked for in [start_s, end_s), s.
    gain_m : float
        Metres gained, at least.

    Returns
    -------
    float
        NaN if it never was.
    """
    times, places = np.asarray(time_s, float), np.asarray(x, float)
    first, last = np.searchsorted(times, [start_s - 1e-6, end_s - 1e-6])
    with np.errstate(invalid="ignore"):
        up = np.flatnonzero(places[first:last] >= _last_x(times, places, start_s) + gain_m - _ROUNDING_M)
    return float(times[first + up[0]] - start_s) if len(up) else np.nan


def _last_x(time_s: ArrayLike, x: ArrayLike, at_s: float) -> float:
    times, places = np.asarray(time_s, float), np.asarray(x, float)
    first, last = np.searchsorted(times, [at_s - 1.0 - 1e-6, at_s + 1e-6])
    known = np.flatnonzero(np.isfinite(places[first:last]))
    return float(places[first + known[-1]]) if len(known) else np.nan
