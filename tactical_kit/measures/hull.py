"""The area that players span."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

__all__ = ["hull_area"]


def hull_area(places: ArrayLike) -> NDArray[np.float64]:
    """Return the area of the convex hull of Q players at each of N instants, m2.

    Parameters
    ----------
    places : (N, Q, 2) array
        m; a NaN is nobody.

    Returns
    -------
    (N,) float ndarray
        0 for players on one line; NaN with fewer than three.

    Notes
    -----
    Source: the surface area of Frencken et al. 2011; the hull is shapely's.

    >>> hull_area([[[0, 0], [4, 0], [4, 3], [0, 3], [1, 1]]]).tolist()
    [12.0]
    """
    xy = np.asarray(places, float)
    there = np.isfinite(xy).all(axis=2)
    enough = there.sum(axis=1) >= 3
    area = np.full(len(xy), np.nan)
    if enough.any():
        kept = there & enough[:, None]
        row = np.cumsum(enough) - 1  # the number of each instant among those that have a hull
        instant = np.nonzero(kept)[0]
        area[enough] = shapely.area(shapely.convex_hull(shapely.multipoints(xy[kept], indices=row[instant])))
    return area
