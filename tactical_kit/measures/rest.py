"""The rest defence at many instants: who stays well behind the ball in attack, and whom they have to watch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["RestDefence", "rest_defence"]

Floats = NDArray[np.float64]
_ROUNDING_M = 1e-5  # places are kept in single precision: a hundredth of a millimetre is no threshold


@dataclass(frozen=True, eq=False)
class RestDefence:
    """Rest defence of the side with the ball at N instants; lengths in m, NaN where unknown.

    Parameters
    ----------
    stays : (N, P) bool ndarray
        Own outfield players who stay behind.
    left_up : (N, Q) bool ndarray
        Opponents' outfield players who are as far behind the ball: the outlets of a counter-attack.
    n_for, n_against : (N,) ndarray
        Their numbers.
    x : (N,) ndarray
        Mean place of those who stay, along the pitch in the attacking frame.
    width_m : (N,) ndarray
        From the leftmost to the rightmost of them; NaN with fewer than two.
    spacing_m : (N,) ndarray
        Mean distance of each of them to the nearest of the others; NaN with fewer than two.
    cover_m : (N,) ndarray
        Mean distance of each opponent left up to the nearest of them; NaN where nobody is left up or nobody stays.
    """

    stays: NDArray[np.bool_]
    left_up: NDArray[np.bool_]
    n_for: Floats
    n_against: Floats
    x: Floats
    width_m: Floats
    spacing_m: Floats
    cover_m: Floats


def rest_defence(
    own: ArrayLike, other: ArrayLike, ball_x: ArrayLike, highest_x: float, *, behind_m: float = 10.0
) -> RestDefence:
    """Measure the rest defence of the side with the ball.

    Parameters
    ----------
    own, other : (N, P, 2) and (N, Q, 2) array
        Outfield players of the side with the ball and of its opponents, in the attacking frame of the side with the
        ball, m; NaN for who is not there.
    ball_x : (N,) array
        The ball along the pitch, m.
    highest_x : float
        Nobody further up than this belongs to it, however near the goal line the ball is, m.
    behind_m : float, default 10
        Who is at least this far behind the ball belongs to the rest defence, or, of the opponents, is left up
        for a counter-attack, m.

    Returns
    -------
    RestDefence

    Notes
    -----
    The same strip is counted for both sides, so that numbers compare.
    Source: the idea (placing of the deepest players in possession against a counter-attack, superiority,
    spacing) after Forcher L. et al. 2023, J. Sports Sci. Med. 22:707-725; parameters not verified.

    >>> found = rest_defence([[[0, -8], [0, 8], [25, 0]]], [[[2, 5], [30, 0]]], [30.0], 22.5)
    >>> float(found.n_for[0]), float(found.n_against[0]), float(found.spacing_m[0])
    (2.0, 1.0, 16.0)
    """
    own, other = np.asarray(own, float), np.asarray(other, float)
    line = np.minimum(np.asarray(ball_x, float) - behind_m, highest_x)[:, None] + _ROUNDING_M
    with np.errstate(invalid="ignore"):
        stays, left_up = own[..., 0] <= line, other[..., 0] <= line
    unknown = ~np.isfinite(line[:, 0]) | ~np.isfinite(own[..., 0]).any(axis=1)
    n_for, n_against = (np.where(unknown, np.nan, m.sum(axis=1).astype(float)) for m in (stays, left_up))
    n_against[~np.isfinite(other[..., 0]).any(axis=1)] = np.nan
    here = np.where(stays[..., None], own, np.nan)
    there = np.where(left_up[..., None], other, np.nan)
    y = here[..., 1]
    several = n_for >= 2
    width = np.where(stays, y, -np.inf).max(axis=1) - np.where(stays, y, np.inf).min(axis=1)
    return RestDefence(
        stays=stays,
        left_up=left_up,
        n_for=n_for,
        n_against=n_against,
        x=_mean(here[..., 0]),
        width_m=np.where(several, width, np.nan),
        spacing_m=_mean(_nearest(here, here, same=True)),
        cover_m=_mean(_nearest(there, here)),
    )


def _nearest(of: Floats, to: Floats, same: bool = False) -> Floats:
    """Distance of each of some players to the nearest of others, (N, P); NaN where there is none."""
    away = np.hypot(*(of[:, :, None, i] - to[:, None, :, i] for i in (0, 1)))
    if same:
        away[:, np.arange(of.shape[1]), np.arange(of.shape[1])] = np.nan
    least = np.where(np.isfinite(away), away, np.inf).min(axis=2, initial=np.inf)
    return np.where(np.isfinite(least), least, np.nan)


def _mean(values: Floats) -> Floats:
    known = np.isfinite(values)
    number = known.sum(axis=1)
    return np.where(number > 0, np.where(known, values, 0).sum(axis=1) / np.maximum(number, 1), np.nan)
