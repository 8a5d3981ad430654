"""Number against number: who builds in the first lines against how many press, and who is near a place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.unit_lines import FIRST, MIDFIELD, unit_lines

__all__ = ["FirstLines", "first_line_numbers", "players_near"]


@dataclass(frozen=True, eq=False)
class FirstLines:
    """Who builds and who presses in N spells.

    Parameters
    ----------
    builders : (N, P) bool ndarray
        Own outfield players who build in the first lines.
    pressers : (N, Q) bool ndarray
        Opponents in their first line.
    n_for, n_against : (N,) float64 ndarray
        Their numbers; NaN where either side has too few players in the data.
    """

    builders: NDArray[np.bool_]
    pressers: NDArray[np.bool_]
    n_for: NDArray[np.float64]
    n_against: NDArray[np.float64]


def first_line_numbers(
    own_x: ArrayLike, other_x: ArrayLike, *, share: float = 0.33, min_players: int = 7
) -> FirstLines:
    """Count the builders against the pressers: 4 v 2, 3 v 2.

    Parameters
    ----------
    own_x : (N, P) array
        Outfield players of the side that builds, in its attacking frame, m; NaN for who is not there.  Means over a
        spell say more than one instant.
    other_x : (N, Q) array
        Outfield opponents in the same frame.
    share : float, default 0.33
        A builder stands at most this share of the way from the opponents' first line to their midfield line:
        0 counts those level with or short of the first line only, 1 everybody in front of the midfield line.
    min_players : int, default 7
        With fewer players of either side in the data nothing is counted.

    Returns
    -------
    FirstLines

    Notes
    -----
    Pressers are the first of the opponents' three unit lines (`unit_lines`): two in a 4-4-2, three in a 4-3-3 with
    high wingers.  Builders are counted by depth alone, over the whole width: a full-back who stays low counts, one
    who goes high does not; the keeper does not.
    Source: common practice, no source.

    >>> four_four_two = [[-11, -11, 3, 3, 3, 3, 18, 18, 18, 18]]
    >>> own = [[-22, -22, -8, -8, 2, 2, 10, 12, 14, 16]]  # two centre-backs and two pivots
    >>> lines = first_line_numbers(own, four_four_two)
    >>> lines.n_for[0], lines.n_against[0]
    (np.float64(4.0), np.float64(2.0))
    """
    own, other = np.asarray(own_x, float), np.asarray(other_x, float)
    if own.ndim != 2 or other.ndim != 2 or len(own) != len(other):
        raise TacticalKitError(
            f"own players of shape {own.shape} and opponents of shape {other.shape}; expected one row a spell in both."
        )
    lines = unit_lines(other, min_players=min_players)
    first, midfield = lines.x[:, FIRST], lines.x[:, MIDFIELD]
    reach = first + share * (midfield - first)
    builders = own <= reach[:, None]  # False for NaN
    pressers = lines.line == FIRST
    known = np.isfinite(reach) & (np.isfinite(own).sum(axis=1) >= min_players)
    return FirstLines(
        builders & known[:, None],
        pressers & known[:, None],
        np.where(known, builders.sum(axis=1), np.nan),
        np.where(known, pressers.sum(axis=1), np.nan),
    )


def players_near(places: ArrayLike, spot: ArrayLike, radius_m: float) -> NDArray[np.bool_]:
    """Tell which players stand at most `radius_m` from a spot at N instants.

    Parameters
    ----------
    places : (N, P, 2) array
        Players, m; NaN for who is not there (he is not near).
    spot : (N, 2) array
        Spots, m.
    radius_m : float
        Metres.

    Returns
    -------
    (N, P) bool ndarray

    >>> players_near([[[0, 0], [3, 4], [6, 8]]], [[0, 0]], 5.0).tolist()
    [[True, True, False]]
    """
    away = np.asarray(places, float) - np.asarray(spot, float)[:, None, :]
    return np.asarray(np.hypot(away[..., 0], away[..., 1]) <= radius_m)
