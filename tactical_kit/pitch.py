"""The field of play in metres: Law 1 geometry, thirds, corridors, zone grids and the attacking frame.

The origin is the centre spot, x runs along the touchline, y across the pitch.  In the *attacking frame*
of a side that side plays towards +x, and its left is +y.

Source of the markings: IFAB Laws of the Game, Law 1.  Thirds and corridors: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError, check_choice

__all__ = ["CORRIDORS", "THIRDS", "Pitch", "ZoneGrid", "to_attacking"]

# Law 1, metres.
GOAL_WIDTH = 7.32
GOAL_HEIGHT = 2.44
GOAL_AREA_DEPTH = 5.5
PENALTY_AREA_DEPTH = 16.5
PENALTY_MARK = 11.0
CIRCLE_RADIUS = 9.15
CORNER_RADIUS = 1.0
GOAL_AREA_WIDTH = GOAL_WIDTH + 2 * GOAL_AREA_DEPTH  # 18.32
PENALTY_AREA_WIDTH = GOAL_WIDTH + 2 * PENALTY_AREA_DEPTH  # 40.32

THIRDS = ("own third", "middle third", "final third")
CORRIDORS = ("right wing", "right half-space", "centre", "left half-space", "left wing")


@dataclass(frozen=True)
class Pitch:
    """A field of play that Law 1 allows.

    Parameters
    ----------
    length_m : float, default 105
        Touchline, 90-120 m.
    width_m : float, default 68
        Goal line, 45-90 m and shorter than the touchline.
    international : bool, default False
        Ask for the narrower limits of international matches: 100-110 x 64-75 m.

    Raises
    ------
    TacticalKitError
        A size outside Law 1; every fault is in the one message.

    Notes
    -----
    The lines belong to the areas they bound, so `in_penalty_area` and the zones include their borders.

    Source: IFAB Laws of the Game, Law 1.

    >>> pitch = Pitch()
    >>> pitch.penalty_area_x, round(pitch.penalty_area_y, 2)
    (36.0, 20.16)
    """

    length_m: float = 105.0
    width_m: float = 68.0
    international: bool = False

    def __post_init__(self) -> None:
        low_l, high_l, low_w, high_w = (100, 110, 64, 75) if self.international else (90, 120, 45, 90)
        faults = []
        if not low_l <= self.length_m <= high_l:
            faults.append(f"length {self.length_m:g} m, expected {low_l}-{high_l} m")
        if not low_w <= self.width_m <= high_w:
            faults.append(f"width {self.width_m:g} m, expected {low_w}-{high_w} m")
        if not self.length_m > self.width_m:
            faults.append(f"length {self.length_m:g} m, expected more than the width {self.width_m:g} m")
        if faults:
            raise TacticalKitError(
                "Law 1 does not allow this pitch: " + "; ".join(faults) + ". Sizes are in metres: 1 yd = 0.9144 m."
            )

    @property
    def half_length(self) -> float:
        """Distance from the centre spot to a goal line, m."""
        return self.length_m / 2

    @property
    def half_width(self) -> float:
        """Distance from the centre spot to a touchline, m."""
        return self.width_m / 2

    @property
    def penalty_area_x(self) -> float:
        """x of the front line of the attacked penalty area, m."""
        return self.half_length - PENALTY_AREA_DEPTH

    @property
    def penalty_area_y(self) -> float:
        """Half the width of the penalty area, m."""
        return PENALTY_AREA_WIDTH / 2

    @property
    def goal_area_x(self) -> float:
        """x of the front line of the attacked goal area, m."""
        return self.half_length - GOAL_AREA_DEPTH

    @property
    def penalty_mark_x(self) -> float:
        """x of the attacked penalty mark, m."""
        return self.half_length - PENALTY_MARK

    @property
    def goal(self) -> tuple[float, float]:
        """Centre of the attacked goal, m."""
        return (self.half_length, 0.0)

    @cached_property
    def third_edges(self) -> NDArray[np.float64]:
        """x of the four limits of the thirds, shape (4,), m."""
        return np.linspace(-self.half_length, self.half_length, 4)

    @cached_property
    def corridor_edges(self) -> NDArray[np.float64]:
        """y of the six limits of the five corridors, right to left, shape (6,), m.

        The limits follow the markings: edge of the goal area (centre), edge of the penalty area
        (half-spaces), touchline (wings).  Common practice, no source.
        """
        inner, outer = GOAL_AREA_WIDTH / 2, PENALTY_AREA_WIDTH / 2
        return np.array([-self.half_width, -outer, -inner, inner, outer, self.half_width])

    def contains(self, x: ArrayLike, y: ArrayLike, margin_m: float = 0.0) -> NDArray[np.bool_]:
        """Tell which points lie on the pitch, lines included; NaN is outside."""
        x, y = np.asarray(x, float), np.asarray(y, float)
        return (np.abs(x) <= self.half_length + margin_m) & (np.abs(y) <= self.half_width + margin_m)

    def onto(
        self, x: ArrayLike, y: ArrayLike, margin_m: float = 3.0
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the points with those up to `margin_m` beyond a line moved onto it; others and NaN as they are.

        A throw-in is taken on the touchline or behind it, and a ball in play can lie partly over the line: both belong
        to the zone at the border.  The default is as far as the checks of the input let an event lie outside, m.
        Common practice, no source.

        >>> [float(v) for v in Pitch().onto(-12.0, 34.3)]
        [-12.0, 34.0]
        """
        x, y = np.asarray(x, float), np.asarray(y, float)
        near = self.contains(x, y, margin_m)
        return (
            np.where(near, np.clip(x, -self.half_length, self.half_length), x),
            np.where(near, np.clip(y, -self.half_width, self.half_width), y),
        )

    def in_penalty_area(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.bool_]:
        """Tell which points of the attacking frame lie in the attacked penalty area, lines included."""
        x, y = np.asarray(x, float), np.asarray(y, float)
        return (x >= self.penalty_area_x) & (x <= self.half_length) & (np.abs(y) <= self.penalty_area_y)

    def third_of(self, x: ArrayLike) -> NDArray[np.int8]:
        """Return 0, 1, 2 for own, middle and final third of the attacking frame; -1 off the pitch or NaN.

        A point on a limit belongs to the third further up the pitch.
        """
        return _bin(np.asarray(x, float), self.third_edges).astype(np.int8)

    def corridor_of(self, y: ArrayLike) -> NDArray[np.int8]:
        """Return 0..4, right wing to left wing of the attacking frame; -1 off the pitch or NaN."""
        return _bin(np.asarray(y, float), self.corridor_edges).astype(np.int8)

    def goal_angle(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        """Return the angle in radians under which the attacked goal is seen from each point.

        Source: geometry, atan2(w dx, dx^2 + dy^2 - (w/2)^2) with the goal's width w.
        """
        dx = self.half_length - np.asarray(x, float)
        dy = np.asarray(y, float)
        return np.arctan2(GOAL_WIDTH * dx, dx**2 + dy**2 - (GOAL_WIDTH / 2) ** 2)

    def grid(self, columns: int = 6, rows: int = 3) -> ZoneGrid:
        """Return a grid of equal zones: `columns` along the pitch, `rows` across."""
        if columns < 1 or rows < 1:
            raise TacticalKitError(f"A grid of {columns} x {rows} zones; expected at least 1 x 1.")
        return ZoneGrid(
            tuple(np.linspace(-self.half_length, self.half_length, columns + 1)),
            tuple(np.linspace(-self.half_width, self.half_width, rows + 1)),
        )

    def named_zones(self) -> ZoneGrid:
        """Return the fifteen zones that coaches name: three thirds by five corridors."""
        return ZoneGrid(tuple(self.third_edges), tuple(self.corridor_edges), THIRDS, CORRIDORS)

    def zone_of(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.signedinteger]:
        """Return the index of the named zone (third by corridor) of each point, -1 outside."""
        return self.named_zones().zone_of(x, y)


@dataclass(frozen=True)
class ZoneGrid:
    """Rectangular zones that tile the pitch, indexed column by column from the own goal line.

    Parameters
    ----------
    x_edges, y_edges : tuple of float
        Rising limits in metres in the attacking frame; n + 1 limits give n columns (or rows).
    x_names, y_names : tuple of str, optional
        Names of columns and rows; numbers where none are given.

    >>> grid = Pitch().named_zones()
    >>> grid.name(int(grid.zone_of(30.0, 12.0)))
    'final third, left half-space'
    """

    x_edges: tuple[float, ...]
    y_edges: tuple[float, ...]
    x_names: tuple[str, ...] = ()
    y_names: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for axis, edges, names in (("x", self.x_edges, self.x_names), ("y", self.y_edges, self.y_names)):
            if len(edges) < 2 or not np.all(np.diff(edges) > 0):
                raise TacticalKitError(f"{axis} limits {edges}; expected at least two, rising.")
            if names and len(names) != len(edges) - 1:
                raise TacticalKitError(f"{len(names)} {axis} names for {len(edges) - 1} zones.")

    @property
    def shape(self) -> tuple[int, int]:
        """Number of columns (along the pitch) and rows (across)."""
        return len(self.x_edges) - 1, len(self.y_edges) - 1

    def __len__(self) -> int:
        columns, rows = self.shape
        return columns * rows

    def zone_of(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.signedinteger]:
        """Return the zone index of each point, -1 outside or NaN; borders belong to the higher zone.

        The last limit belongs to the last zone, so every point of the pitch is in exactly one zone.
        """
        column = _bin(np.asarray(x, float), np.asarray(self.x_edges))
        row = _bin(np.asarray(y, float), np.asarray(self.y_edges))
        zone = np.where((column < 0) | (row < 0), -1, column * self.shape[1] + row)
        return zone.astype(np.int16 if len(self) <= np.iinfo(np.int16).max else np.int32)

    def bounds(self, zone: int) -> tuple[float, float, float, float]:
        """Return (x0, y0, x1, y1) of a zone in metres."""
        column, row = divmod(self._checked(zone), self.shape[1])
        return self.x_edges[column], self.y_edges[row], self.x_edges[column + 1], self.y_edges[row + 1]

    def centre(self, zone: int) -> tuple[float, float]:
        """Return the middle of a zone in metres."""
        x0, y0, x1, y1 = self.bounds(zone)
        return (x0 + x1) / 2, (y0 + y1) / 2

    def name(self, zone: int) -> str:
        """Return the name of a zone, as "final third, centre" or "column 2, row 1"."""
        column, row = divmod(self._checked(zone), self.shape[1])
        x_name = self.x_names[column] if self.x_names else f"column {column + 1}"
        y_name = self.y_names[row] if self.y_names else f"row {row + 1}"
        return f"{x_name}, {y_name}"

    def names(self) -> list[str]:
        """Return the names of all zones in the order of their index."""
        return [self.name(i) for i in range(len(self))]

    def index_of(self, name: str) -> int:
        """Return the index of a named zone; unknown names raise with the near spelling."""
        return self.names().index(check_choice("zone", name, self.names()))

    def _checked(self, zone: int) -> int:
        if not 0 <= zone < len(self):
            raise TacticalKitError(f"zone {zone}; expected 0 to {len(self) - 1}.")
        return int(zone)


def to_attacking(x: ArrayLike, y: ArrayLike, sign: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Turn points by 180 degrees where `sign` is -1, so that the side in question attacks towards +x.

    A rotation, never a mirror: left stays left.  Applied twice it gives the points back.

    >>> [float(v) for v in to_attacking(10.0, 5.0, -1)]
    [-10.0, -5.0]
    """
    sign = np.asarray(sign)
    return np.asarray(x, float) * sign, np.asarray(y, float) * sign


def _bin(values: NDArray[np.float64], edges: Sequence[float] | NDArray[np.float64]) -> NDArray[np.int64]:
    """Index of the half-open bin [edge i, edge i+1) of each value, the last bin closed; -1 outside or NaN."""
    index = np.searchsorted(edges, values, side="right") - 1
    index = np.where(values == edges[-1], len(edges) - 2, index)
    inside = (values >= edges[0]) & (values <= edges[-1])  # False for NaN
    return np.where(inside, index, -1)
