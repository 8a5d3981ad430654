"""A mask over frames turned into runs; the one place where this is done."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["runs_of"]


def runs_of(
    mask: NDArray[np.bool_], segments: tuple[slice, ...] | None = None, min_frames: int = 1
) -> NDArray[np.int64]:
    """Return the runs of True in a mask as half-open index pairs.

    Parameters
    ----------
    mask : (T,) bool ndarray
        One value a frame.
    segments : tuple of slice, optional
        Stretches without a break (`Tracking.segments`); a run never crosses from one to the next.
    min_frames : int, default 1
        Shortest run kept: at least this many frames.

    Returns
    -------
    (R, 2) int64 ndarray
        First index and one past the last index of each run.

    >>> runs_of(np.array([True, True, False, True])).tolist()
    [[0, 2], [3, 4]]
    >>> runs_of(np.ones(4, bool), (slice(0, 3), slice(3, 4)), min_frames=2).tolist()
    [[0, 3]]
    """
    mask = np.asarray(mask, bool)
    starts = np.zeros(len(mask) + 1, bool)
    for segment in segments or (slice(0, len(mask)),):
        starts[segment.start] = True
    starts[len(mask)] = True
    before = np.concatenate(([False], mask))
    after = np.concatenate((mask, [False]))
    begin = np.flatnonzero(after & (~before | starts))
    end = np.flatnonzero(before & (~after | starts))
    runs = np.column_stack([begin, end]).astype(np.int64)
    return runs[(runs[:, 1] - runs[:, 0]) >= min_frames]
