"""The drawn markings against Law 1, figures as in the Laws of the Game (IFAB), and against shapely."""

import numpy as np
import pytest
from shapely import LineString, Point, Polygon

from tactical_kit.pitch import Pitch
from tactical_kit.scenes.pitch_marks import GOAL_DEPTH, MARGIN, pitch_bounds, pitch_marks

SIZES = [(105, 68), (90, 45), (120, 90), (100, 64), (90.0, 89.9)]
ENDS = ("left", "right")


def marking(name, size=(105, 68)):
    return next(m for m in pitch_marks(Pitch(*size)) if m.name == name).points


def test_every_marking_is_there_once():
    names = [m.name for m in pitch_marks(Pitch())]
    twofold = (
        "penalty area",
        "goal area",
        "goal",
        "penalty mark",
        "penalty arc",
        "upper corner arc",
        "lower corner arc",
    )
    expected = {
        "boundary",
        "halfway line",
        "centre circle",
        "centre spot",
        *(f"{n} {e}" for n in twofold for e in ENDS),
    }
    assert len(names) == len(set(names)) and set(names) == expected


@pytest.mark.parametrize("size", SIZES)
def test_areas_in_square_metres(size):
    # Law 1: 16.5 m and 5.5 m from each post of a 7.32 m goal: 40.32 x 16.5 = 665.28, 18.32 x 5.5 = 100.76.
    assert Polygon(marking("boundary", size)).area == pytest.approx(size[0] * size[1])
    for end in ENDS:
        assert Polygon(marking(f"penalty area {end}", size)).area == pytest.approx(665.28)
        assert Polygon(marking(f"goal area {end}", size)).area == pytest.approx(100.76)
        assert Polygon(marking(f"goal {end}", size)).area == pytest.approx(7.32 * GOAL_DEPTH)
    # pi 9.15^2 = 263.022; 96 chords lose less than 0.1 %.
    assert Polygon(marking("centre circle", size)).area == pytest.approx(263.022, rel=1e-3)


@pytest.mark.parametrize("size", SIZES)
def test_centre_circle_and_spots(size):
    circle = marking("centre circle", size)
    assert np.hypot(*circle.T) == pytest.approx(9.15)
    assert marking("centre spot", size).tolist() == [[0, 0]]
    assert marking("penalty mark right", size).tolist() == [[size[0] / 2 - 11, 0]]
    assert marking("penalty mark left", size).tolist() == [[11 - size[0] / 2, 0]]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("end", ENDS)
def test_penalty_arc_meets_the_area(size, end):
    arc = marking(f"penalty arc {end}", size)
    sign = 1 if end == "right" else -1
    front = sign * (size[0] / 2 - 16.5)
    # sqrt(9.15^2 - 5.5^2) = 7.31249 (worked out from Law 1)
    assert np.abs(arc[[0, -1], 1]) == pytest.approx([7.31249, 7.31249], abs=1e-5)
    assert arc[[0, -1], 0] == pytest.approx([front, front])
    mark = Point(sign * (size[0] / 2 - 11), 0)
    assert all(mark.distance(Point(p)) == pytest.approx(9.15) for p in arc)
    # All of it outside the area, and as long as 2 x 53.0518 degrees of the circle: 16.9445 m.
    assert ((front - arc[:, 0]) * sign >= -1e-9).all()
    assert LineString(arc).length == pytest.approx(16.9445, rel=1e-3)


def test_the_d_of_the_penalty_arc():
    # Area between arc and area line, 37.3023 m2 (worked out from Law 1).
    assert Polygon(marking("penalty arc right")).area == pytest.approx(37.3023, rel=5e-3)


@pytest.mark.parametrize("size", SIZES)
def test_corner_arcs_lie_inside_the_field(size):
    field = Polygon(marking("boundary", size)).buffer(1e-9)
    for end in ENDS:
        for half, sign in (("upper", 1), ("lower", -1)):
            arc = marking(f"{half} corner arc {end}", size)
            corner = Point((1 if end == "right" else -1) * size[0] / 2, sign * size[1] / 2)
            assert all(corner.distance(Point(p)) == pytest.approx(1.0) for p in arc)
            assert field.covers(LineString(arc))
            assert LineString(arc).length == pytest.approx(np.pi / 2, rel=1e-2)


@pytest.mark.parametrize("size", SIZES)
def test_halves_are_turned_copies(size):
    for m in pitch_marks(Pitch(*size)):
        if m.name.endswith("right"):
            twin = marking(m.name.replace("right", "left"), size)
            assert twin[:, 0].tolist() == (-m.points[:, 0]).tolist()


def test_bounds_leave_room_for_the_goals():
    x0, y0, x1, y1 = pitch_bounds(Pitch(120, 90))
    assert (x0, y0, x1, y1) == (-60 - MARGIN, -45 - MARGIN, 60 + MARGIN, 45 + MARGIN)
    assert MARGIN > GOAL_DEPTH


def test_shared_points_cannot_be_changed():
    with pytest.raises(ValueError, match=r"^assignment destination is read-only$"):
        marking("boundary")[0, 0] = 1.0
