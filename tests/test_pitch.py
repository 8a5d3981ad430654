"""The field of play against Law 1 and against shapely."""

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union

from tactical_kit.errors import TacticalKitError, UnknownNameError
from tactical_kit.pitch import CIRCLE_RADIUS, CORRIDORS, THIRDS, Pitch, ZoneGrid, to_attacking

legal = st.tuples(st.floats(90, 120), st.floats(45, 90)).filter(lambda s: s[0] > s[1])


def test_law_1_areas_of_the_common_size():
    # IFAB Laws of the Game, Law 1 (16.5 m and 5.5 m from the posts, goal 7.32 m, mark at 11 m, circle 9.15 m).
    pitch = Pitch()
    assert pitch.penalty_area_x == 36.0
    assert pitch.penalty_area_y == pytest.approx(20.16)
    assert pitch.goal_area_x == 47.0
    assert pitch.penalty_mark_x == 41.5
    assert pitch.goal == (52.5, 0.0)
    area = box(pitch.penalty_area_x, -pitch.penalty_area_y, pitch.half_length, pitch.penalty_area_y)
    assert area.area == pytest.approx(665.28)
    assert math.pi * CIRCLE_RADIUS**2 == pytest.approx(263.022, abs=5e-4)
    assert math.sqrt(CIRCLE_RADIUS**2 - 5.5**2) == pytest.approx(7.31249, abs=5e-6)


@pytest.mark.parametrize("dx, dy, degrees", [(11, 0, 36.8074), (16.5, 0, 25.0135), (11, 10, 21.1989), (20, 5, 19.5795)])
def test_opening_angle_of_the_goal(dx, dy, degrees):
    # Plane geometry with the goal of Law 1; the values were worked out apart from the kit.
    pitch = Pitch()
    assert math.degrees(pitch.goal_angle(pitch.half_length - dx, dy)) == pytest.approx(degrees, abs=5e-5)
    # The same angle between the lines to the two posts.
    posts = [math.atan2(p - dy, dx) for p in (-3.66, 3.66)]
    assert float(pitch.goal_angle(pitch.half_length - dx, dy)) == pytest.approx(posts[1] - posts[0])


def test_sizes_that_law_1_allows_and_refuses():
    # Law 1: 90-120 x 45-90 m, touchline longer than goal line; international 100-110 x 64-75 m.
    Pitch(100, 64, international=True)
    Pitch(99, 64)
    with pytest.raises(
        TacticalKitError,
        match=re.escape(
            "Law 1 does not allow this pitch: length 99 m, expected 100-110 m. Sizes are in metres: 1 yd = 0.9144 m."
        ),
    ):
        Pitch(99, 64, international=True)
    with pytest.raises(TacticalKitError, match="length 90 m, expected more than the width 90 m"):
        Pitch(90, 90)
    with pytest.raises(TacticalKitError, match=r"length 89\.9 m, expected 90-120 m"):
        Pitch(89.9, 60)
    with pytest.raises(TacticalKitError, match="length 10 m, expected 90-120 m; width 200 m, expected 45-90 m; length"):
        Pitch(10, 200)
    with pytest.raises(TacticalKitError, match="length nan m"):
        Pitch(float("nan"), 68)


@given(legal)
def test_named_zones_tile_every_legal_pitch(size):
    pitch = Pitch(*size)
    grid = pitch.named_zones()
    rectangles = [box(*grid.bounds(i)) for i in range(len(grid))]
    # shapely: the areas sum to the pitch, and no two overlap.
    assert sum(r.area for r in rectangles) == pytest.approx(pitch.length_m * pitch.width_m)
    assert unary_union(rectangles).area == pytest.approx(pitch.length_m * pitch.width_m)
    assert len(set(grid.names())) == 15


@given(st.floats(-60, 60), st.floats(-40, 40))
def test_every_point_of_the_pitch_is_in_one_zone_and_shapely_agrees(x, y):
    pitch = Pitch()
    grid = pitch.named_zones()
    zone = int(grid.zone_of(x, y))
    on_pitch = abs(x) <= 52.5 and abs(y) <= 34
    assert (zone >= 0) == on_pitch == bool(pitch.contains(x, y))
    if on_pitch:
        assert box(*grid.bounds(zone)).covers(Point(x, y))


def test_corridors_follow_the_markings():
    # Common practice, no source: limits at the edges of goal area and penalty area; 13.84, 11, 18.32, 11, 13.84 m.
    pitch = Pitch()
    assert np.diff(pitch.corridor_edges) == pytest.approx([13.84, 11.0, 18.32, 11.0, 13.84])
    assert [CORRIDORS[i] for i in pitch.corridor_of([-34, -15, 0, 15, 34])] == list(CORRIDORS)
    assert [THIRDS[i] for i in pitch.third_of([-52.5, -17.5, 17.5, 52.5])] == [
        "own third", "middle third", "final third", "final third",
    ]  # fmt: skip
    assert pitch.corridor_of([np.nan, 34.01]).tolist() == [-1, -1]


def test_a_narrow_legal_pitch_keeps_five_corridors():
    pitch = Pitch(90, 45)
    assert len(pitch.corridor_edges) == 6 and (np.diff(pitch.corridor_edges) > 0).all()


def test_eighteen_zones_and_zone_fourteen():
    # Reilly & Williams (New Scientist, 6 Feb 1999) for zone 14; numbering from the own goal line from memory.
    grid = Pitch().grid(6, 3)
    assert len(grid) == 18
    x0, y0, x1, y1 = grid.bounds(13)
    assert (x0, x1) == pytest.approx((17.5, 35.0)) and (y0, y1) == pytest.approx((-34 / 3, 34 / 3))
    assert grid.centre(13) == pytest.approx((26.25, 0.0))


def test_zone_borders_belong_to_the_higher_zone_and_the_last_to_the_last():
    grid = ZoneGrid((0.0, 10.0, 20.0), (0.0, 5.0))
    assert grid.zone_of([0, 9.999, 10, 20, 20.001], [0, 5, 2, 5, 2]).tolist() == [0, 0, 1, 1, -1]


def test_unknown_zone_suggests_the_near_spelling():
    with pytest.raises(UnknownNameError) as error:
        Pitch().named_zones().index_of("final third, center")
    assert str(error.value).endswith("Did you mean 'final third, centre'?")
    with pytest.raises(TacticalKitError, match=r"^zone 15; expected 0 to 14\.$"):
        Pitch().named_zones().name(15)


def test_grid_refuses_nonsense():
    with pytest.raises(TacticalKitError, match=r"^A grid of 0 x 3 zones; expected at least 1 x 1\.$"):
        Pitch().grid(0, 3)
    with pytest.raises(TacticalKitError, match=r"^x limits \(1\.0, 0\.0\); expected at least two, rising\.$"):
        ZoneGrid((1.0, 0.0), (0.0, 1.0))
    with pytest.raises(TacticalKitError, match=r"^1 x names for 2 zones\.$"):
        ZoneGrid((0.0, 1.0, 2.0), (0.0, 1.0), ("a",))


@given(st.floats(-50, 50), st.floats(-30, 30))
def test_attacking_frame_is_a_rotation(x, y):
    turned = to_attacking(x, y, -1)
    again = to_attacking(*turned, -1)
    assert (float(again[0]), float(again[1])) == (x, y)
    # A rotation keeps the sense of a triangle, a mirror would not (signed area by the cross product).
    triangle = np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])
    tx, ty = to_attacking(triangle[:, 0], triangle[:, 1], -1)
    assert Polygon(list(zip(tx, ty))).exterior.is_ccw == Polygon(triangle).exterior.is_ccw


def test_penalty_area_includes_its_lines():
    pitch = Pitch()
    assert pitch.in_penalty_area([36, 35.99, 52.5, 40], [20.16, 0, -20.16, 20.17]).tolist() == [
        True,
        False,
        True,
        False,
    ]


@pytest.mark.parametrize(("columns", "rows"), [(127, 1), (128, 1), (200, 3), (1, 200), (300, 200)])
def test_fine_grids_count_all_their_zones(columns, rows):
    """The last zone of a grid is the one at the far corner, however many there are (computed)."""
    grid = Pitch().grid(columns, rows)
    last = grid.centre(len(grid) - 1)
    assert int(grid.zone_of(*last)) == len(grid) - 1
    assert int(grid.zone_of(52.5, 34.0)) == len(grid) - 1


def test_points_a_little_beyond_a_line_are_moved_onto_it():
    """Common practice, no source: a thrower stands on the line or behind it."""
    x, y = Pitch().onto([0, 0, 52.6, -55.5, -55.6, np.nan, 10], [34.0000000008, -37.1, 0, 36, 0, 0, 5])
    np.testing.assert_array_equal(x, [0, 0, 52.5, -52.5, -55.6, np.nan, 10])
    np.testing.assert_array_equal(y, [34, -37.1, 0, 34, 0, 0, 5])
