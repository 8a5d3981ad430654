"""The spells of one phase of a side, as runs of the index's frames without a gap."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tactical_kit.measures.index import MatchIndex

__all__ = ["PhaseRuns", "phase_runs"]


@dataclass(frozen=True, eq=False)
class PhaseRuns:
    """Runs of one side: frames of the same phase (or of none) one after the other.

    Parameters
    ----------
    run : (F,) int64 ndarray
        Number of the run of each frame of the index.
    first, length : (R,) int64 ndarray
        First frame of each run and how many it has.
    start_s, end_s : (R,) float64 ndarray
        Half-open span in seconds of its period, to the frame of the index and inside the period.
    """

    run: NDArray[np.int64]
    first: NDArray[np.int64]
    length: NDArray[np.int64]
    start_s: NDArray[np.float64]
    end_s: NDArray[np.float64]


def phase_runs(index: MatchIndex, side: int) -> PhaseRuns:
    """Number the runs of frames of one phase of a side (0 home, 1 away) without a gap or a break of play."""
    frames = index.frames
    code = frames.phase[:, side]
    new = np.ones(len(frames), bool)
    new[1:] = (code[1:] != code[:-1]) | (np.diff(frames.timeline_s) > 1.5 * frames.frame_s)
    new[1:] |= np.diff(frames.period) != 0
    first = np.flatnonzero(new)
    length = np.diff(np.append(first, len(frames)))
    closes = np.array([index.match.clock[int(p)].duration_s for p in frames.period[first]], float)
    end_s = np.minimum(frames.time_s[first + length - 1] + frames.frame_s, closes)
    return PhaseRuns(np.cumsum(new) - 1, first, length, frames.time_s[first], end_s)
