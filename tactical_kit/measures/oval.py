"""Pressure on the player on the ball: how near the opponents are, and from which side.

A presser counts inside an oval around the player: long towards the goal he attacks, short behind him.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError

__all__ = ["oval_limit_m", "pressure_by_each", "pressure_on"]

FRONT_M = 9.0
BACK_M = 3.0
EXPONENT = 1.75


def oval_limit_m(theta: ArrayLike, front_m: float = FRONT_M, back_m: float = BACK_M) -> NDArray[np.float64]:
    """Return how far out a presser still counts, seen from the player on the ball.

    L = back + (front - back) (z^3 + 0.3 z) / 1.3 with z = (1 + cos theta) / 2.

    Parameters
    ----------
    theta : array_like
        Angle at the player between the goal he attacks and the presser, radians: 0 is a presser right in
        his way, pi one right behind him.
    front_m, back_m : float, default 9 and 3
        Limit in front and behind, m.

    Returns
    -------
    float64 ndarray, shape of `theta`
        Limit of the oval, m.

    Notes
    -----
    Source: after Andrienko, Andrienko, Budziak, Dykes, Fuchs, von Landesberger, Weber 2017, Data Min.
    Knowl. Disc. 31(6):1793-1839, doi 10.1007/s10618-017-0513-2; parameters not verified.

    >>> oval_limit_m([0.0, np.pi / 2, np.pi]).round(3).tolist()
    [9.0, 4.269, 3.0]
    """
    return np.asarray(_limit_from_cosine(np.cos(np.asarray(theta, float)), front_m, back_m))


def pressure_by_each(
    target_xy: ArrayLike,
    threat_xy: ArrayLike,
    pressers_xy: ArrayLike,
    front_m: float = FRONT_M,
    back_m: float = BACK_M,
    exponent: float = EXPONENT,
) -> NDArray[np.floating]:
    """Return the pressure that each opponent puts on the player on the ball.

    One presser at distance d: 100 (1 - d / L)^exponent per cent inside the oval, 0 on its limit and outside.

    Parameters
    ----------
    target_xy : (..., 2) array_like
        The player on the ball, m.
    threat_xy : (..., 2) array_like
        The goal he attacks, m, in the same frame; broadcast against `target_xy`.
    pressers_xy : (..., N, 2) array_like
        Opponents, m; NaN for one who is not there.
    front_m, back_m : float, default 9 and 3
        Limits of the oval, m; see `oval_limit_m`.
    exponent : float, default 1.75
        How fast pressure falls with distance.

    Returns
    -------
    (..., N) float ndarray
        Per cent, 0-100; 0 for a presser who is not there, NaN where the target has no place.

    Raises
    ------
    TacticalKitError
        Limits that make no oval: back or exponent not above 0, or front shorter than back.

    Notes
    -----
    A player who stands on the very centre of the goal has no direction to it; all sides count as front.
    Source: after Andrienko et al. 2017 (see `oval_limit_m`), parameters not verified.
    """
    if not (0 < back_m <= front_m and exponent > 0):
        raise TacticalKitError(
            f"an oval of front {front_m:g} m, back {back_m:g} m, exponent {exponent:g}; expected front >= back > 0 "
            "and exponent > 0."
        )
    target = np.asarray(target_xy)
    pressers = np.asarray(pressers_xy)
    if not np.issubdtype(target.dtype, np.floating):
        target = target.astype(float)
    to_goal = np.asarray(threat_xy, target.dtype) - target
    away = pressers - target[..., None, :]
    distance = np.hypot(away[..., 0], away[..., 1])
    reach = np.hypot(to_goal[..., 0], to_goal[..., 1])[..., None]
    dot = away[..., 0] * to_goal[..., None, 0] + away[..., 1] * to_goal[..., None, 1]
    product = distance * reach
    cosine = np.divide(dot, product, out=np.ones_like(product), where=product > 0)
    limit = _limit_from_cosine(np.clip(cosine, -1, 1), front_m, back_m)
    nearness = np.clip(1 - distance / limit, 0, None)
    each = 100 * np.nan_to_num(nearness) ** exponent
    each[~np.isfinite(target).all(axis=-1)] = np.nan
    return np.asarray(each)


def pressure_on(
    target_xy: ArrayLike,
    threat_xy: ArrayLike,
    pressers_xy: ArrayLike,
    front_m: float = FRONT_M,
    back_m: float = BACK_M,
    exponent: float = EXPONENT,
) -> NDArray[np.floating]:
    """Return the pressure on the player on the ball: the plain sum over all opponents.

    Parameters and errors as in `pressure_by_each`.

    Returns
    -------
    (...) float ndarray
        Per cent; the sum of several pressers may pass 100.

    Notes
    -----
    Source: after Andrienko et al. 2017 (see `oval_limit_m`), parameters not verified.

    >>> float(pressure_on([0, 0], [52.5, 0], [[3, 0], [0, 2]]).round(3))  # one in front, one beside
    82.274
    """
    return np.asarray(pressure_by_each(target_xy, threat_xy, pressers_xy, front_m, back_m, exponent).sum(axis=-1))


def _limit_from_cosine(cosine: NDArray[np.floating], front_m: float, back_m: float) -> NDArray[np.floating]:
    z = (1 + cosine) / 2
    return back_m + (front_m - back_m) * (z * z * z + 0.3 * z) / 1.3
