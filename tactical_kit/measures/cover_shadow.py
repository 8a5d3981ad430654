"""Cover shadow: the lanes that a player who runs at the ball shuts behind him."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.lanes import lane_gaps

__all__ = ["in_cover_shadow", "longest_in_shadow"]


def in_cover_shadow(
    ball: ArrayLike, mates: ArrayLike, presser: ArrayLike, *, shadow_m: float = 2.0, longest_m: float = 35.0
) -> NDArray[np.bool_]:
    """Tell which team-mates of the man on the ball stand in the cover shadow of one presser.

    Parameters
    ----------
    ball : (N, 2) array
        Where the ball is, m.
    mates : (N, P, 2) array
        Team-mates of the man on the ball, m; NaN for who is not there and for himself.
    presser : (N, 2) array
        Who runs at the ball, m.
    shadow_m : float, default 2
        The presser shuts a lane that passes him at less than this, m: the width at which `passing_lanes` calls a
        lane shut.
    longest_m : float, default 35
        A team-mate further from the ball than this is not thought of, m.

    Returns
    -------
    (N, P) bool ndarray
        False for who is not there and where ball or presser are unknown.

    Raises
    ------
    TacticalKitError
        Arrays that do not belong together, or a width below 0.

    Notes
    -----
    The presser must be nearer to the ball than the team-mate: who marks from behind casts no shadow on him.  A
    chip over the presser is not thought of.  Source: common practice, no source; geometry.

    >>> in_cover_shadow([[0, 0]], [[[20, 0], [0, 20], [4, 0]]], [[5, 0]]).tolist()
    [[True, False, False]]
    """
    if shadow_m < 0:
        raise TacticalKitError(f"a cover shadow of {shadow_m:g} m; expected at least 0 m.")
    from_xy, to_xy, by = (np.asarray(v, float) for v in (ball, mates, presser))
    gap = lane_gaps(from_xy, to_xy, by[:, None])[..., 0]
    length = np.hypot(*np.moveaxis(to_xy - from_xy[:, None], -1, 0))
    near = np.hypot(*np.moveaxis(by - from_xy, -1, 0))[:, None]
    with np.errstate(invalid="ignore"):
        return np.asarray((gap < shadow_m) & (near < length) & (length <= longest_m))


def longest_in_shadow(shadow: ArrayLike, least_share: float = 0.5) -> int:
    """Return who is in the shadow for the longest time, if for long enough.

    Parameters
    ----------
    shadow : (N, P) array of bool
        From `in_cover_shadow`, N instants of one press.
    least_share : float, default 0.5
        He is in it at least this share of the instants.

    Returns
    -------
    int
        Position among the team-mates, the first of several with as many instants; -1 nobody.

    >>> longest_in_shadow([[True, False], [True, True]]), longest_in_shadow([[False, True], [False, False]], 0.6)
    (0, -1)
    """
    table = np.asarray(shadow, bool)
    if not table.size:
        return -1
    share = table.mean(axis=0)
    best = int(share.argmax())
    return best if share[best] > 0 and share[best] >= least_share - 1e-9 else -1
