"""Open passing lanes: to which team-mates the ball can be played, and how near an opponent stands to each line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError

__all__ = ["Lanes", "lane_gaps", "passing_lanes"]


@dataclass(frozen=True, eq=False)
class Lanes:
    """The lines from the ball to each team-mate at N instants, P team-mates.

    Parameters
    ----------
    open : (N, P) bool ndarray
        The lane is open; False for the passer himself and for who is not there.
    narrowest_m : (N, P) ndarray
        Distance of the nearest opponent to the line, m; inf where no opponent counts, NaN for the passer and for
        who is not there.
    length_m : (N, P) ndarray
        From the ball to the team-mate, m; NaN as above.
    nearest : (N, P) int64 ndarray
        Which opponent stands nearest to the line, as a position along the opponents' axis; -1 none.
    """

    open: NDArray[np.bool_]
    narrowest_m: NDArray[np.float64]
    length_m: NDArray[np.float64]
    nearest: NDArray[np.int64]

    @property
    def count(self) -> NDArray[np.int64]:
        """Open lanes at each instant, (N,)."""
        return self.open.sum(axis=1)


def passing_lanes(
    ball: ArrayLike,
    mates: ArrayLike,
    opponents: ArrayLike,
    *,
    passer: ArrayLike | None = None,
    lane_m: float = 2.0,
    shortest_m: float = 0.0,
    longest_m: float = np.inf,
) -> Lanes:
    """Tell which team-mates can be found with a straight pass at N instants.

    Parameters
    ----------
    ball : (N, 2) array
        Where the pass would start, m.
    mates : (N, P, 2) array
        Team-mates in the same frame, m; NaN for who is not there.
    opponents : (N, Q, 2) array
        Opponents, m; NaN for who is not there.
    passer : (N,) array of int, optional
        Position of the man on the ball among `mates`; he is no option for himself.  -1 (or None): nobody is.
    lane_m : float, default 2
        A lane is open if no opponent is nearer to the line than this: at least so far, m.
    shortest_m, longest_m : float, default 0 and no limit
        Only a team-mate at least and at most so far from the ball is an option, m.

    Returns
    -------
    Lanes

    Raises
    ------
    TacticalKitError
        Arrays that do not belong together, or a width below 0.

    Notes
    -----
    An opponent counts who is level with the line (see `lane_gaps`); one who presses from behind the ball shuts none,
    and one who stands behind the receiver counts by his distance to the receiver.  A ball in the air is not
    thought of, nor how the players move: a defender who runs towards the line shuts more than this says.
    Source: common practice, no source.

    >>> lanes = passing_lanes([[0, 0]], [[[20, 0], [0, 20]]], [[[10, 1.5], [-1, 0]]])
    >>> lanes.open.tolist(), lanes.narrowest_m.tolist()
    ([[False, True]], [[1.5, 10.0]])
    """
    from_xy, to_xy = np.asarray(ball, float), np.asarray(mates, float)
    if lane_m < 0:
        raise TacticalKitError(f"a lane of {lane_m:g} m; expected a width of at least 0 m.")
    gaps = lane_gaps(from_xy, to_xy, opponents)
    n, p, q = gaps.shape
    length = np.hypot(to_xy[..., 0] - from_xy[:, None, 0], to_xy[..., 1] - from_xy[:, None, 1])
    if passer is not None:
        own = np.asarray(passer, np.int64)
        if own.shape != (n,):
            raise TacticalKitError(f"passer has shape {own.shape}; expected ({n},), one an instant.")
        length[own[:, None] == np.arange(p)] = np.nan
    there = np.isfinite(length)
    if q:
        narrowest, nearest = gaps.min(axis=2), gaps.argmin(axis=2)
    else:
        narrowest, nearest = np.full((n, p), np.inf), np.full((n, p), -1)
    nearest = np.where(there & np.isfinite(narrowest), nearest, -1)
    narrowest = np.where(there, narrowest, np.nan)
    with np.errstate(invalid="ignore"):
        is_open = (narrowest >= lane_m) & (length >= shortest_m) & (length <= longest_m)
    return Lanes(is_open, narrowest, length, nearest)


def lane_gaps(start: ArrayLike, end: ArrayLike, opponents: ArrayLike) -> NDArray[np.float64]:
    """Return how far each opponent stands from each straight line of pass.

    Parameters
    ----------
    start : (N, 2) array
        Where the ball is, m.
    end : (N, P, 2) array
        Where it would be played to, m.
    opponents : (N, Q, 2) array
        Opponents, m; NaN for who is not there.

    Returns
    -------
    (N, P, Q) ndarray
        Distance to the line between start and end, m: square to it for who is level with it, to its end for who
        stands beyond; inf for who stands behind the ball (an angle of 90 degrees or more between the line and the
        direction to him) and for who is not there.

    Raises
    ------
    TacticalKitError
        Arrays that do not belong together.

    Notes
    -----
    Source: geometry.

    >>> lane_gaps([[0, 0]], [[[10, 0]]], [[[5, 3], [13, 4], [-2, 0]]]).tolist()
    [[[3.0, 5.0, inf]]]
    """
    a, b, c = (np.asarray(v, float) for v in (start, end, opponents))
    n = len(a)
    if a.shape != (n, 2) or b.ndim != 3 or c.ndim != 3 or b.shape[::2] != (n, 2) or c.shape[::2] != (n, 2):
        raise TacticalKitError(
            f"start {a.shape}, end {b.shape}, opponents {c.shape}; expected (N, 2), (N, P, 2) and (N, Q, 2)."
        )
    line = b - a[:, None]
    away = c - a[:, None]
    length2 = (line**2).sum(axis=-1)[..., None]
    along = np.einsum("npk,nqk->npq", line, away)
    share = np.clip(np.divide(along, length2, out=np.zeros_like(along), where=length2 > 0), 0, 1)
    off = away[:, None] - share[..., None] * line[:, :, None]
    gap = np.hypot(off[..., 0], off[..., 1])
    return np.where((along > 0) & np.isfinite(gap), gap, np.inf)
