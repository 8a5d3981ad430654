"""Hatching of an area as lines: a pattern of Bokeh makes a canvas for each area, which costs the browser more
than all the rest of an update."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from functools import lru_cache

__all__ = ["hatch_lines"]


def hatch_lines(xs: Sequence[float], ys: Sequence[float], gap_m: float = 2.2) -> tuple[list[float], list[float]]:
    """Return the rising diagonals (45 degrees) that hatch a polygon, parted by NaN.

    Parameters
    ----------
    xs, ys : sequence of float
        Corners of the polygon, m; it is closed by itself.
    gap_m : float, default 2.2
        Distance of two lines along the x axis, m; lines of neighbouring areas meet.

    Returns
    -------
    (list of float, list of float)
        x and y of the ends of the lines, a NaN after each pair.

    >>> hatch_lines([0, 2, 2, 0], [0, 0, 2, 2], gap_m=2)
    ([0.0, 2.0, nan], [0.0, 2.0, nan])
    """
    out_x, out_y = _lines(tuple(zip(xs, ys)), gap_m)
    return list(out_x), list(out_y)


@lru_cache(maxsize=1024)
def _lines(corners: tuple[tuple[float, float], ...], gap_m: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    out_x: list[float] = []
    out_y: list[float] = []
    offsets = [x - y for x, y in corners]
    low, high = min(offsets), max(offsets)
    for k in range(math.floor(low / gap_m) + 1, math.ceil(high / gap_m)):
        c = k * gap_m  # the line x - y = c
        cuts = []
        for (x0, y0), (x1, y1) in itertools.pairwise([*corners, corners[0]]):
            a, b = x0 - y0 - c, x1 - y1 - c
            if (a < 0) != (b < 0):  # half-open, so that a corner is cut once
                share = a / (a - b)
                cuts.append((x0 + (x1 - x0) * share, y0 + (y1 - y0) * share))
        cuts.sort()
        for (x0, y0), (x1, y1) in zip(cuts[::2], cuts[1::2]):
            out_x += [float(x0), float(x1), math.nan]
            out_y += [float(y0), float(y1), math.nan]
    return tuple(out_x), tuple(out_y)
