"""Who is where in the penalty area when the ball comes in from the side."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.pitch import GOAL_WIDTH, Pitch

__all__ = ["BOX_ZONES", "box_zone", "delivery_kind", "zone_counts"]

BOX_ZONES = ("near post", "in front of goal", "far post", "cut-back zone")


def box_zone(x: ArrayLike, y: ArrayLike, from_y: ArrayLike, pitch: Pitch) -> NDArray[np.int8]:
    """Return the zone of the attacked penalty area that each point lies in, position in `BOX_ZONES`, -1 outside.

    Parameters
    ----------
    x, y : array
        Points in the attacking frame, m; NaN is outside.
    from_y : array
        y of the ball when it is played in, broadcast against `x`: it says which post is the near one, m.
    pitch : Pitch
        The field of play.

    Returns
    -------
    int8 ndarray
        Up to the depth of the penalty mark, the strip between the posts is in front of goal, the rest of the penalty
        area on the ball's side the near post and on the other side the far post; behind the mark, to the line of the
        penalty area, is the cut-back zone.  A ball from the very middle has its near post on the left.

    Notes
    -----
    The four zones tile the penalty area, lines included.  Source: common practice, no source.

    >>> box_zone([47, 48, 48, 38, 30], [5, 0, -6, 3, 0], 25.0, Pitch()).tolist()
    [0, 1, 2, 3, -1]
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    side = np.where(np.asarray(from_y, float) < 0, -1.0, 1.0)
    inside = pitch.in_penalty_area(x, y)
    across = y * side
    zone = np.where(across > GOAL_WIDTH / 2, 0, np.where(across < -GOAL_WIDTH / 2, 2, 1))
    zone = np.where(x < pitch.penalty_mark_x, 3, zone)
    return np.where(inside, zone, -1).astype(np.int8)


def zone_counts(zone: ArrayLike) -> NDArray[np.float64]:
    """Count the players in each zone at each instant: (N, P) zones give (N, 4).

    >>> zone_counts([[0, 3, 3, -1]]).tolist()
    [[1.0, 0.0, 0.0, 2.0]]
    """
    zones = np.asarray(zone)
    return np.stack([(zones == k).sum(axis=-1) for k in range(len(BOX_ZONES))], axis=-1).astype(float)


def delivery_kind(
    x: ArrayLike,
    y: ArrayLike,
    end_x: ArrayLike,
    end_y: ArrayLike,
    pitch: Pitch,
    *,
    cut_back_m: float = 16.5,
    back_m: float = 2.0,
) -> NDArray[np.object_]:
    """Tell crosses and cut-backs by where a ball comes from and where it goes, for data that do not name them.

    Parameters
    ----------
    x, y, end_x, end_y : (N,) array
        Where the ball is played and where it arrives, attacking frame, m.
    pitch : Pitch
        The field of play.
    cut_back_m : float, default 16.5
        A cut-back is played at most this far from the goal line, from beside the goal area, m,
    back_m : float, default 2
        and goes back from it by at least this much, m.

    Returns
    -------
    (N,) object ndarray of str
        "cut-back", "cross" (from the attacking third, wide of the penalty area, into it) or "".

    Notes
    -----
    Source: common practice, no source.
    """
    x, y, end_x, end_y = (np.asarray(v, float) for v in (x, y, end_x, end_y))
    arrives = pitch.in_penalty_area(end_x, end_y)
    wide = (x >= pitch.third_edges[-2]) & (np.abs(y) >= pitch.penalty_area_y)
    beside = (x >= pitch.half_length - cut_back_m) & (np.abs(y) >= pitch.corridor_edges[3])
    inwards = np.abs(end_y) < np.abs(y)
    back = arrives & beside & inwards & (end_x <= x - back_m)
    result = np.full(x.shape, "", dtype=object)
    result[arrives & wide & inwards] = "cross"
    result[back] = "cut-back"
    return result
