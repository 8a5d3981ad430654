"""Positions of every player and the ball, as arrays, with velocities by a smoothing derivative."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.signal import savgol_filter

from tactical_kit.errors import TacticalKitError, UnknownNameError, suggest
from tactical_kit.match.runs import runs_of

__all__ = ["Tracking", "smooth_velocity"]


@dataclass(frozen=True, eq=False)
class Tracking:
    """Positions in the pitch frame at a fixed rate; T frames, P players (everybody who played).

    Parameters
    ----------
    rate_hz : float
        Frames a second.
    period : (T,) int8 ndarray
        Period of each frame.
    time_s : (T,) float64 ndarray
        Seconds from the start of its period, rising within a period.  A jump is a gap in the data.
    players : tuple of str
        The P player ids, home side first.
    team_index : (P,) int8 ndarray
        0 for the home side, 1 for the away side.
    xy : (T, P, 2) float32 ndarray
        Metres; NaN where a player is not on the pitch or not in the data.
    ball : (T, 3) float32 ndarray
        x, y and height of the ball in metres; NaN unknown.
    alive : (T,) bool ndarray
        True while the ball is in play.
    owner : (T,) int8 ndarray, optional
        Side that has the ball where the data say so: -1 nobody, 0 home, 1 away.

    Raises
    ------
    TacticalKitError
        Shapes that do not belong together, or time that does not rise; all faults in one message.
    """

    rate_hz: float
    period: NDArray[np.int8]
    time_s: NDArray[np.float64]
    players: tuple[str, ...]
    team_index: NDArray[np.int8]
    xy: NDArray[np.float32]
    ball: NDArray[np.float32]
    alive: NDArray[np.bool_]
    owner: NDArray[np.int8] | None = None

    def __post_init__(self) -> None:
        t, p = len(self.period), len(self.players)
        expected = {
            "time_s": (t,), "team_index": (p,), "xy": (t, p, 2), "ball": (t, 3), "alive": (t,),
        }  # fmt: skip
        if self.owner is not None:
            expected["owner"] = (t,)
        faults = [
            f"{name} has shape {np.shape(getattr(self, name))}, expected {shape}"
            for name, shape in expected.items()
            if np.shape(getattr(self, name)) != shape
        ]
        if not self.rate_hz > 0:
            faults.append(f"rate_hz is {self.rate_hz!r}, expected more than 0")
        if len(set(self.players)) != p:
            faults.append("a player id stands twice in players")
        if not faults and t > 1:
            later = (np.diff(self.period) > 0) | ((np.diff(self.period) == 0) & (np.diff(self.time_s) > 0))
            if not later.all():
                row = int(np.flatnonzero(~later)[0]) + 1
                faults.append(f"time does not rise at frame {row} (period {self.period[row]}, {self.time_s[row]:g} s)")
        if faults:
            raise TacticalKitError("Tracking arrays do not fit: " + "; ".join(faults) + ".")

    def __len__(self) -> int:
        return len(self.period)

    @property
    def nbytes(self) -> int:
        """Bytes held by the arrays, velocities not counted."""
        arrays = (self.period, self.time_s, self.team_index, self.xy, self.ball, self.alive, self.owner)
        return sum(a.nbytes for a in arrays if a is not None)

    @cached_property
    def segments(self) -> tuple[slice, ...]:
        """Runs of frames without a break: a new one at each period and after each gap in time."""
        if not len(self):
            return ()
        step = 1.5 / self.rate_hz
        cut = np.flatnonzero((np.diff(self.period) != 0) | (np.diff(self.time_s) > step)) + 1
        edges = [0, *cut.tolist(), len(self)]
        return tuple(slice(a, b) for a, b in itertools.pairwise(edges))

    @cached_property
    def velocity(self) -> NDArray[np.float32]:
        """Velocity of each player in the pitch frame, (T, P, 2), m/s; see `smooth_velocity`."""
        return smooth_velocity(self.xy, self.rate_hz, self.segments)

    @cached_property
    def ball_velocity(self) -> NDArray[np.float32]:
        """Velocity of the ball, (T, 3), m/s; a shorter window, as a kick changes it at once."""
        return smooth_velocity(self.ball, self.rate_hz, self.segments, window_s=0.2)

    def column(self, player: str) -> int:
        """Return the index of a player id along the P axis."""
        try:
            return self._columns[player]
        except KeyError:
            raise UnknownNameError(
                f"player {player!r} is not in the tracking.{suggest(player, self.players)}"
            ) from None

    @cached_property
    def _columns(self) -> dict[str, int]:
        return {name: i for i, name in enumerate(self.players)}

    @cached_property
    def _period_slices(self) -> dict[int, slice]:
        numbers, first = np.unique(self.period, return_index=True)
        ends = [*first[1:].tolist(), len(self)]
        return {int(n): slice(int(a), int(b)) for n, a, b in zip(numbers, first, ends)}

    def frames_of(self, period: int) -> slice:
        """Return the slice of the frames of a period; empty if there are none."""
        return self._period_slices.get(int(period), slice(0, 0))

    def between(self, period: int, start_s: float, end_s: float) -> slice:
        """Return the slice of the frames in the half-open span [start_s, end_s) of a period."""
        whole = self.frames_of(period)
        a, b = np.searchsorted(self.time_s[whole], [start_s - 1e-6, end_s - 1e-6])
        return slice(whole.start + int(a), whole.start + int(b))

    def index_at(self, period: int, time_s: float) -> int:
        """Return the index of the frame nearest to an instant; raises if it is over a second away."""
        whole = self.frames_of(period)
        times = self.time_s[whole]
        if len(times):
            after = int(np.searchsorted(times, time_s))
            near = min((i for i in (after - 1, after) if 0 <= i < len(times)), key=lambda i: abs(times[i] - time_s))
            if abs(times[near] - time_s) <= 1.0:
                return whole.start + near
        raise TacticalKitError(f"the tracking has no frame within 1 s of period {period}, {time_s:g} s.")

    def indices_at(self, period: NDArray[np.integer], time_s: NDArray[np.floating]) -> NDArray[np.int64]:
        """Return the index of the frame nearest to each instant, -1 where none is within a second."""
        result = np.full(len(period), -1, np.int64)
        for number, whole in self._period_slices.items():
            mask = np.asarray(period) == number
            times = self.time_s[whole]
            wanted = np.asarray(time_s, float)[mask]
            after = np.clip(np.searchsorted(times, wanted), 1, max(len(times) - 1, 1))
            after = np.minimum(after, len(times) - 1)
            before = np.maximum(after - 1, 0)
            near = np.where(np.abs(times[after] - wanted) < np.abs(times[before] - wanted), after, before)
            result[mask] = np.where(np.abs(times[near] - wanted) <= 1.0, near + whole.start, -1)
        return result

    def iter_periods(self) -> Iterator[tuple[int, slice]]:
        """Yield (period number, slice of its frames)."""
        yield from self._period_slices.items()


def smooth_velocity(
    positions: NDArray[np.float32],
    rate_hz: float,
    segments: tuple[slice, ...],
    window_s: float = 0.44,
    order: int = 2,
) -> NDArray[np.float32]:
    """Differentiate positions with a Savitzky-Golay filter that never looks across a gap.

    Parameters
    ----------
    positions : (T, ..., D) float32 ndarray
        Metres.  NaN are gaps.
    rate_hz : float
        Frames a second.
    segments : tuple of slice
        Runs of frames without a break.
    window_s : float, default 0.44
        Width of the window in seconds, rounded to an odd number of frames (at least order + 1): 11 at 25 Hz.
    order : int, default 2
        Order of the fitted polynomial.

    Returns
    -------
    (T, ..., D) float32 ndarray
        m/s.  Where a run is shorter than the window, plain differences; a single frame gives NaN.

    Notes
    -----
    A straight run at constant speed is returned exactly; a peak shorter than the window is lowered.
    Source: Savitzky & Golay 1964, Anal. Chem. 36(8):1627-1639, as in `scipy.signal.savgol_filter`.
    """
    frames, axes = positions.shape[0], positions.shape[-1]
    things = np.ascontiguousarray(positions).reshape(frames, int(np.prod(positions.shape[1:-1])), axes)
    result = np.full(things.shape, np.nan, np.float32)
    window = max(round(window_s * rate_hz) | 1, order + 1 | 1)
    for segment in segments:
        block = things[segment]
        known: NDArray[np.bool_] = np.asarray(np.isfinite(block).all(axis=2))
        whole = known.all(axis=0)
        if whole.any():
            result[segment, whole] = _differentiate(block[:, whole], rate_hz, window, order)
        for i in np.flatnonzero(known.any(axis=0) & ~whole):
            for a, b in runs_of(known[:, i]):
                result[segment.start + a : segment.start + b, i] = _differentiate(block[a:b, i], rate_hz, window, order)
    return result.reshape(positions.shape)


def _differentiate(block: NDArray[np.float32], rate_hz: float, window: int, order: int) -> NDArray[np.float32]:
    if len(block) < 2:
        return np.full(block.shape, np.nan, np.float32)
    if len(block) < window:
        return np.gradient(block, axis=0).astype(np.float32) * np.float32(rate_hz)
    return savgol_filter(block, window, order, deriv=1, delta=1 / rate_hz, axis=0).astype(np.float32)
