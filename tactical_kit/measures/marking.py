"""Marking: who follows whom, and whether for his own sake or because both happen to be in the same zone."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linear_sum_assignment

from tactical_kit.errors import TacticalKitError

__all__ = ["assign_markers", "goal_side_places", "orientation", "pair_shares", "zone_places"]

Floats = NDArray[np.float64]


def goal_side_places(attackers: ArrayLike, goal: ArrayLike, goal_side_m: float = 2.0) -> Floats:
    """Return where a marker of each attacker would stand: a little goal-side of him.

    Parameters
    ----------
    attackers : (N, A, 2) array
        Places, m; NaN for who is not there.
    goal : (2,) array
        Middle of the goal that the markers defend, m.
    goal_side_m : float, default 2
        So far from the attacker towards that goal; no further than the goal, m.

    Returns
    -------
    (N, A, 2) ndarray

    Notes
    -----
    Source: the 2 m after an essay of R. Tavares 2020 (not peer-reviewed).

    >>> goal_side_places([[[0, 0], [-51.5, 0]]], [-52.5, 0]).tolist()
    [[[-2.0, 0.0], [-52.5, 0.0]]]
    """
    places, end = np.asarray(attackers, float), np.asarray(goal, float)
    way = end - places
    length = np.hypot(way[..., 0], way[..., 1])[..., None]
    step = np.minimum(goal_side_m, length)
    return places + np.divide(way, length, out=np.zeros_like(way), where=length > 0) * step


def assign_markers(defenders: ArrayLike, places: ArrayLike, reach_m: float = 5.0) -> NDArray[np.int64]:
    """Give each defender at most one attacker at every instant, by the least sum of distances.

    Parameters
    ----------
    defenders : (N, D, 2) array
        m; NaN for who is not there.
    places : (N, A, 2) array
        Where a marker of each attacker would stand (`goal_side_places`), m; NaN for who is not there.
    reach_m : float, default 5
        Who is further than this from the place of an attacker does not mark him, m.

    Returns
    -------
    (N, D) int64 ndarray
        Position of the attacker he marks, -1 nobody.

    Raises
    ------
    TacticalKitError
        Arrays that do not belong together, or a reach that is not above 0.

    Notes
    -----
    A distance counts at most as `reach_m`, so that men who are far from everybody pull no pair apart: two
    true pairs are never given up for the sake of a third that is out of reach anyway.
    Source: own proposal; the assignment is `scipy.optimize.linear_sum_assignment`.

    >>> assign_markers([[[0, 0], [10, 0], [30, 0]]], [[[11, 0], [1, 0]]]).tolist()
    [[1, 0, -1]]
    """
    own, to = np.asarray(defenders, float), np.asarray(places, float)
    if own.ndim != 3 or to.ndim != 3 or own.shape[::2] != (len(to), 2) or to.shape[2] != 2:
        raise TacticalKitError(f"defenders {own.shape}, places {to.shape}; expected (N, D, 2) and (N, A, 2).")
    if not reach_m > 0:
        raise TacticalKitError(f"a reach of {reach_m!r} m; expected more than 0.")
    distance = np.hypot(own[:, :, None, 0] - to[:, None, :, 0], own[:, :, None, 1] - to[:, None, :, 1])
    within = distance <= reach_m  # False for NaN
    cost = np.where(within, distance, reach_m)
    result = np.full(own.shape[:2], -1, np.int64)
    for i in np.flatnonzero(within.any(axis=(1, 2))):
        rows, columns = linear_sum_assignment(cost[i])
        kept = within[i, rows, columns]
        result[i, rows[kept]] = columns[kept]
    return result


def pair_shares(markers: ArrayLike, attackers: int) -> Floats:
    """Return the share of the instants in which each defender marks each attacker, (D, A).

    Parameters
    ----------
    markers : (N, D) array of int
        From `assign_markers`.
    attackers : int
        How many attackers there are.

    >>> pair_shares([[0, -1], [0, 1]], 2).tolist()
    [[1.0, 0.0], [0.0, 0.5]]
    """
    assigned = np.asarray(markers, np.int64)
    if not len(assigned):
        return np.zeros((assigned.shape[1], attackers))
    return np.asarray((assigned[:, :, None] == np.arange(attackers)).mean(axis=0))


def zone_places(defenders: ArrayLike, ball: ArrayLike, group: ArrayLike, spell: ArrayLike, least: int = 240) -> Floats:
    """Return where each defender would be if he kept his zone and looked at the ball alone.

    Parameters
    ----------
    defenders : (N, D, 2) array
        m, attacking frame of their side; NaN for who is not there.
    ball : (N, 2) array
        m.
    group : (N,) array
        Instants of one group (a phase of play, say) share the zones.
    spell : (N,) array
        The spell of each instant: used where a group has too few instants.
    least : int, default 240
        Instants of a group from which his zone is learnt: two minutes at 2 a second.

    Returns
    -------
    (N, D, 2) ndarray
        NaN for who is not there.

    Notes
    -----
    The zone moves with the ball: his place is fitted by least squares as a plane over the ball's x and y in
    all instants of the group.  With fewer instants his zone is a fixed place within the block: his mean offset from
    the middle of his side in the spell, carried along with that middle.
    Source: own proposal.
    """
    own, at = np.asarray(defenders, float), np.asarray(ball, float)
    groups, spells = np.asarray(group), np.asarray(spell)
    there = np.isfinite(own).all(axis=-1)
    count = there.sum(axis=1)[:, None]
    middle = np.divide(
        np.where(there[..., None], own, 0.0).sum(axis=1), count, out=np.full(at.shape, np.nan), where=count > 0
    )
    seen = np.isfinite(at).all(axis=1)
    result = np.full(own.shape, np.nan)
    for name in np.unique(groups):
        mine = groups == name
        for d in range(own.shape[1]):
            known = mine & there[:, d]
            fit = known & seen
            if fit.sum() >= least:
                ground = np.column_stack([np.ones(fit.sum()), at[fit]])
                plane = np.linalg.lstsq(ground, own[fit, d], rcond=None)[0]
                result[fit, d] = ground @ plane
            else:
                for number in np.unique(spells[known]):
                    rows = known & (spells == number)
                    result[rows, d] = middle[rows] + (own[rows, d] - middle[rows]).mean(axis=0)
    return result


def orientation(markers: ArrayLike, zonal: ArrayLike, attackers: int, fewest: float = 0.05) -> float:
    """Return how man-oriented a side defends, 0 (its zones alone give the same pairs) to 1 (always the same man).

    Parameters
    ----------
    markers : (N, D) array of int
        Who marks whom where they stand (`assign_markers`).
    zonal : (N, D) array of int
        Who would mark whom if every defender stood in his zone (`zone_places`).
    attackers : int
        How many attackers there are.
    fewest : float, default 0.05
        Where zones alone leave less than this of the time open, nothing can be told.

    Returns
    -------
    float
        (s - z) / (1 - z), not below 0.  s: share of the time in which a defender is with the man he is
        with most, over all defenders; z: share of the time in which zones alone would put him with that same
        man.  NaN without instants or defenders, and where 1 - z is less than `fewest`.

    Notes
    -----
    The difference s - z is the kit's own proposal; it is divided by what zones leave open, as Cohen's kappa divides
    by what chance leaves open, so that 1 can be reached.  Own proposal, no published index was seen.

    >>> orientation([[0, 1], [0, 1]], [[0, -1], [1, -1]], 2)
    1.0
    """
    real, zone = np.asarray(markers, np.int64), np.asarray(zonal, np.int64)
    if real.shape != zone.shape:
        raise TacticalKitError(f"markers {real.shape}, zonal {zone.shape}; expected the same shape.")
    if not real.size:
        return float("nan")
    share = pair_shares(real, attackers)
    man = share.argmax(axis=1)
    s = float(share.max(axis=1).mean()) if attackers else 0.0
    z = float(((zone == man) & (share.max(axis=1) > 0)).mean()) if attackers else 0.0
    return max(0.0, (s - z) / (1 - z)) if 1 - z >= fewest else float("nan")
