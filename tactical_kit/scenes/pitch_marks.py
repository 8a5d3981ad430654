"""The markings of any legal pitch as lines in metres: the one place where a pitch is drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tactical_kit.pitch import (
    CIRCLE_RADIUS,
    CORNER_RADIUS,
    GOAL_AREA_WIDTH,
    GOAL_WIDTH,
    Pitch,
)

__all__ = ["GOAL_DEPTH", "MARGIN", "Marking", "pitch_bounds", "pitch_marks"]

GOAL_DEPTH = 2.0  # of the drawn net, m; Law 1 does not set it
MARGIN = 3.0  # free strip around the field, m


@dataclass(frozen=True, eq=False)
class Marking:
    """One marking: its name, its points (N, 2) in metres, and whether it is a spot or a line.

    Names end in "left" (towards -x) or "right" (towards +x) where there are two.
    """

    name: str
    points: NDArray[np.float64]
    spot: bool = False


def pitch_bounds(pitch: Pitch) -> tuple[float, float, float, float]:
    """Return (x0, y0, x1, y1) of what a surface shows: the field and a strip around it, m."""
    x, y = pitch.half_length + MARGIN, pitch.half_width + MARGIN
    return -x, -y, x, y


@lru_cache(maxsize=16)
def pitch_marks(pitch: Pitch) -> tuple[Marking, ...]:
    """Return the markings of Law 1, arcs as fine polylines.

    Parameters
    ----------
    pitch : Pitch
        Any legal size.

    Returns
    -------
    tuple of Marking
        Boundary, halfway line, centre circle and spot; for each end penalty area, goal area, penalty mark,
        penalty arc, goal; four corner arcs.  Areas share their fourth side with the goal line.

    Notes
    -----
    The penalty arc is the part of the circle of 9.15 m about the mark outside the area: it ends on the
    area's front line at y = +-sqrt(9.15^2 - 5.5^2) = +-7.31249 m.

    Source: IFAB Laws of the Game, Law 1.  The depth of the drawn goal is free.
    """
    length, width = pitch.half_length, pitch.half_width
    box = [(-length, -width), (length, -width), (length, width), (-length, width), (-length, -width)]
    marks = [
        Marking("boundary", np.array(box)),
        Marking("halfway line", np.array([(0, -width), (0, width)], float)),
        Marking("centre circle", _arc(0, 0, CIRCLE_RADIUS, 0, 2 * np.pi, 97)),
        Marking("centre spot", np.zeros((1, 2)), spot=True),
    ]
    half_angle = np.arccos((pitch.penalty_mark_x - pitch.penalty_area_x) / CIRCLE_RADIUS)
    right = [
        Marking("penalty area", _area(length, pitch.penalty_area_x, pitch.penalty_area_y)),
        Marking("goal area", _area(length, pitch.goal_area_x, GOAL_AREA_WIDTH / 2)),
        Marking("goal", _area(length, length + GOAL_DEPTH, GOAL_WIDTH / 2)),
        Marking("penalty mark", np.array([(pitch.penalty_mark_x, 0.0)]), spot=True),
        Marking(
            "penalty arc",
            _arc(pitch.penalty_mark_x, 0, CIRCLE_RADIUS, np.pi - half_angle, np.pi + half_angle, 33),
        ),
        Marking("upper corner arc", _arc(length, width, CORNER_RADIUS, np.pi, 1.5 * np.pi, 13)),
        Marking("lower corner arc", _arc(length, -width, CORNER_RADIUS, 0.5 * np.pi, np.pi, 13)),
    ]
    for mark in right:
        marks.append(Marking(f"{mark.name} right", mark.points, mark.spot))
        marks.append(Marking(f"{mark.name} left", mark.points * (-1, 1), mark.spot))
    for mark in marks:
        mark.points.setflags(write=False)  # shared by every surface
    return tuple(marks)


def _area(goal_line: float, front: float, half: float) -> NDArray[np.float64]:
    return np.array([(goal_line, -half), (front, -half), (front, half), (goal_line, half)])


def _arc(x: float, y: float, radius: float, start: float, end: float, points: int) -> NDArray[np.float64]:
    angle = np.linspace(start, end, points)
    return np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])
