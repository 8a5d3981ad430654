"""The shape of a block at many instants: height, width, depth, gaps between its lines, compactness, shifting."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.hull import hull_area
from tactical_kit.measures.unit_lines import BACK, FIRST, MIDFIELD, unit_lines

__all__ = ["BLOCK_COLUMNS", "block_numbers", "nearest_spread", "shift_speed"]

Floats = NDArray[np.float64]
BLOCK_COLUMNS = (
    "centre_x",
    "centre_y",
    "height_m",
    "first_line_m",
    "width_m",
    "depth_m",
    "gap_back_midfield_m",
    "gap_midfield_first_m",
    "compactness_m",
    "nearest_five_m",
    "hull_m2",
)


def block_numbers(places: ArrayLike, ball: ArrayLike, half_length_m: float, *, min_players: int = 7) -> pd.DataFrame:
    """Measure a side without the ball at N instants.

    Parameters
    ----------
    places : (N, Q, 2) array
        Its outfield players in its own attacking frame, m; NaN for who is not there.
    ball : (N, 2) array
        The ball in the same frame, m; NaN unknown.
    half_length_m : float
        Distance from the centre spot to the goal line, m.
    min_players : int, default 7
        With fewer players in the data an instant is not measured.

    Returns
    -------
    DataFrame
        `BLOCK_COLUMNS`, NaN where unknown, m: centre_x, centre_y (centroid), height_m and first_line_m (mean
        depth of the back line and of the first line, from the own goal line), width_m and depth_m (outermost
        players, deepest to foremost), gap_back_midfield_m and gap_midfield_first_m (between the mean depths of
        neighbouring lines), compactness_m (mean distance of the players to the centroid), nearest_five_m (the same of
        the five nearest the ball, to their own centroid), hull_m2 (area of the convex hull, m2).

    Notes
    -----
    Lines by `unit_lines` at each instant.  A missing player makes a block look smaller, never larger.
    Source: stretch index (mean distance to the centroid) Bourbousson et al. 2010, Clemente et al. 2017; hull as
    surface area Frencken et al. 2011, Moura et al. 2012; the five nearest the ball Forcher et al. 2023; lengths between
    outermost players common practice.
    """
    xy, near = np.asarray(places, float), np.asarray(ball, float)
    if xy.ndim != 3 or near.shape != (len(xy), 2):
        raise TacticalKitError(
            f"places of shape {xy.shape} and a ball of shape {near.shape}; expected (N, Q, 2) and (N, 2)."
        )
    there = np.isfinite(xy[:, :, 0]) & np.isfinite(xy[:, :, 1])
    count = there.sum(axis=1)
    measured = count >= min_players
    x, y = np.where(there, xy[:, :, 0], np.nan), np.where(there, xy[:, :, 1], np.nan)
    centre = _mean(np.where(there[:, :, None], xy, 0.0), there)
    lines = unit_lines(-x, min_players=min_players).x  # that function looks from the side with the ball
    back, midfield, first = (-lines[:, i] + half_length_m for i in (BACK, MIDFIELD, FIRST))
    distance = np.where(there, np.hypot(x - centre[:, :1], y - centre[:, 1:]), 0.0)
    numbers = {
        "centre_x": centre[:, 0],
        "centre_y": centre[:, 1],
        "height_m": back,
        "first_line_m": first,
        "width_m": _extent(y, there),
        "depth_m": _extent(x, there),
        "gap_back_midfield_m": midfield - back,
        "gap_midfield_first_m": first - midfield,
        "compactness_m": distance.sum(axis=1) / np.maximum(count, 1),
        "nearest_five_m": nearest_spread(xy, near),
        "hull_m2": hull_area(xy),
    }
    return pd.DataFrame({name: np.where(measured, numbers[name], np.nan) for name in BLOCK_COLUMNS})


def nearest_spread(places: ArrayLike, ball: ArrayLike, players: int = 5) -> Floats:
    """Return the mean distance of the players nearest the ball to their own centroid at N instants, m.

    NaN where the ball is unknown or fewer players are there.

    >>> nearest_spread([[[0, 0], [2, 0], [50, 0]]], [[1, 1]], players=2)
    array([1.])
    """
    xy = np.asarray(places, float)
    far = np.hypot(*np.moveaxis(xy - np.asarray(ball, float)[:, None], 2, 0))
    if xy.shape[1] < players:
        return np.full(len(xy), np.nan)
    nearest = np.argsort(far, axis=1, kind="stable")[:, :players]  # NaN last
    mine = np.take_along_axis(xy, nearest[:, :, None], axis=1)
    known = np.isfinite(np.take_along_axis(far, nearest, axis=1)).all(axis=1)
    off = mine - mine.mean(axis=1, keepdims=True)
    return np.where(known, np.hypot(off[:, :, 0], off[:, :, 1]).mean(axis=1), np.nan)


def shift_speed(time_s: ArrayLike, centre_y: ArrayLike, window_s: float = 1.0) -> Floats:
    """Return how fast the middle of a block moves across the pitch at T instants in order, m/s, never negative.

    Parameters
    ----------
    time_s, centre_y : (T,) array
        s and m, of one spell without a gap.
    window_s : float, default 1
        Difference of the places this far apart, shorter at both ends, s.  Common practice, no source.

    Returns
    -------
    (T,) ndarray
        NaN for a single instant and where the place is unknown.

    >>> shift_speed([0.0, 0.5, 1.0, 1.5], [0.0, 1.0, 2.0, 3.0]).tolist()
    [2.0, 2.0, 2.0, 2.0]
    """
    t, y = np.asarray(time_s, float), np.asarray(centre_y, float)
    before = np.searchsorted(t, t - window_s / 2 - 1e-6)
    after = np.searchsorted(t, t + window_s / 2 + 1e-6, side="right") - 1
    apart = t[after] - t[before]
    return np.where(apart > 0, np.abs(y[after] - y[before]) / np.where(apart > 0, apart, 1.0), np.nan)


def _mean(filled: Floats, there: NDArray[np.bool_]) -> Floats:
    count = there.sum(axis=1)
    return np.where(count[:, None] > 0, filled.sum(axis=1) / np.maximum(count, 1)[:, None], np.nan)


def _extent(values: Floats, there: NDArray[np.bool_]) -> Floats:
    high = np.where(there, values, -np.inf).max(axis=1, initial=-np.inf)
    low = np.where(there, values, np.inf).min(axis=1, initial=np.inf)
    return np.asarray(high - low, float)
