"""The roles of a side over a spell of time: who fills which place, instant by instant."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linear_sum_assignment

from tactical_kit.errors import TacticalKitError

__all__ = ["Roles", "assign_roles", "find_roles", "relative_places"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Roles:
    """R roles of a side as densities of the place relative to the middle of the side.

    Parameters
    ----------
    mean : (R, 2) ndarray
        Mean place of each role relative to the centroid of the players, m.
    cov : (R, 2, 2) ndarray
        Spread of the places about it, m2.
    role : (N, R) int8 ndarray
        Role of each player at each of N instants, every role once; -1 throughout an instant in which a player
        is not in the data.
    """

    mean: Floats
    cov: Floats
    role: NDArray[np.int8]

    def __len__(self) -> int:
        return len(self.mean)


def relative_places(places: ArrayLike) -> Floats:
    """Return places (N, R, 2) relative to the centroid of the players at each instant, NaN left out, m."""
    xy = np.asarray(places, float)
    there = np.isfinite(xy).all(axis=2, keepdims=True)
    count = np.maximum(there.sum(axis=1, keepdims=True), 1)
    return np.asarray(xy - np.where(there, xy, 0.0).sum(axis=1, keepdims=True) / count)


def find_roles(places: ArrayLike, start: ArrayLike | None = None, *, rounds: int = 8, floor_m: float = 1.0) -> Roles:
    """Find the roles of R players over N instants: densities of relative place, each role filled once an instant.

    Parameters
    ----------
    places : (N, R, 2) array
        Outfield players in the attacking frame of their side, m.  An instant with a NaN is left out.
    start : (R, 2) array, optional
        Relative places to begin from; by default the mean place of each player (column).
    rounds : int, default 8
        Rounds at most; it ends earlier when nobody changes his role any more.
    floor_m : float, default 1
        Added to the spread of each role in both directions, so that a role that stands still keeps a density, m.

    Returns
    -------
    Roles

    Raises
    ------
    TacticalKitError
        No instant with every player, or places of another shape.

    Notes
    -----
    Two players who swap places for a while swap roles, and the formation stays as it was.  It is a local optimum:
    begun from the means, as in the source.
    Source: Bialkowski et al. 2014, ICDM workshops: densities of relative position, distinct per instant, partition
    of least entropy; assignment by the Hungarian method on -log density and the start from means from memory.

    >>> square = np.array([[[0, 0], [10, 0], [0, 10], [10, 10]]] * 3, float)
    >>> square[2, [0, 1]] = square[2, [1, 0]]  # two swap places once
    >>> roles = find_roles(square)
    >>> roles.role.tolist()
    [[0, 1, 2, 3], [0, 1, 2, 3], [1, 0, 2, 3]]
    """
    xy = np.asarray(places, float)
    if xy.ndim != 3 or xy.shape[2:] != (2,):
        raise TacticalKitError(f"places have shape {xy.shape}; expected (instants, players, 2).")
    whole = np.isfinite(xy).all(axis=(1, 2))
    if not whole.any():
        raise TacticalKitError("no instant has every player in the data, so there are no roles to find.")
    relative = relative_places(xy[whole])
    n, r = relative.shape[:2]
    mean = relative.mean(axis=0) if start is None else np.asarray(start, float)
    cov = np.broadcast_to(np.eye(2), (r, 2, 2))
    role = np.full((n, r), -1, np.int8)
    for _ in range(rounds):
        before, role = role, assign_roles(relative, mean, cov)[0]
        if (before == role).all():
            break
        mean, cov = _densities(relative, role, floor_m)
    every = np.full((len(xy), r), -1, np.int8)
    every[whole] = role
    return Roles(mean, cov, every)


def assign_roles(relative: ArrayLike, mean: Floats, cov: Floats) -> tuple[NDArray[np.int8], Floats]:
    """Give each player a role of his own at each instant, so that the places are as likely as they can be.

    Parameters
    ----------
    relative : (N, R, 2) array
        Places relative to the centroid, m; no NaN.
    mean, cov : (R, 2) and (R, 2, 2) ndarray
        The roles.

    Returns
    -------
    role : (N, R) int8 ndarray
    log_density : (N,) ndarray
        Of the whole side at each instant.
    """
    xy = np.asarray(relative, float)
    det = cov[:, 0, 0] * cov[:, 1, 1] - cov[:, 0, 1] ** 2
    dx = xy[:, :, None, 0] - mean[None, None, :, 0]
    dy = xy[:, :, None, 1] - mean[None, None, :, 1]
    cost = (cov[:, 1, 1] * dx**2 - 2 * cov[:, 0, 1] * dx * dy + cov[:, 0, 0] * dy**2) / (2 * det)
    cost += 0.5 * np.log(det) + np.log(2 * np.pi)
    role = cost.argmin(axis=2)
    # Where the likeliest roles of all players differ, they are the answer; only the other instants need solving.
    ordered = np.sort(role, axis=1)
    for i in np.flatnonzero((ordered[:, 1:] == ordered[:, :-1]).any(axis=1)):
        role[i] = linear_sum_assignment(cost[i])[1]
    density = -np.take_along_axis(cost, role[:, :, None], axis=2)[:, :, 0].sum(axis=1)
    return role.astype(np.int8), density


def _densities(relative: Floats, role: NDArray[np.int8], floor_m: float) -> tuple[Floats, Floats]:
    """Mean and spread of the places in each role."""
    in_role = np.take_along_axis(relative, np.argsort(role, axis=1)[:, :, None], axis=1)
    mean = in_role.mean(axis=0)
    off = in_role - mean
    cov = np.einsum("nri,nrj->rij", off, off) / len(relative) + floor_m**2 * np.eye(2)
    return mean, cov
