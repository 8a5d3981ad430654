"""Zones of the penalty area and kinds of delivery by hand geometry; Law 1 metres, zones common practice, no source."""

import numpy as np
import pytest
from shapely.geometry import Point, box

from tactical_kit.measures.box import BOX_ZONES, box_zone, delivery_kind, zone_counts
from tactical_kit.pitch import Pitch

PITCH = Pitch()


@pytest.mark.parametrize(
    ("x", "y", "zone"),
    [
        (47.0, 5.0, "near post"), (47.0, 3.67, "near post"), (47.0, 3.66, "in front of goal"),
        (47.0, -3.66, "in front of goal"), (47.0, -3.67, "far post"), (41.5, 5.0, "near post"),
        (41.49, 5.0, "cut-back zone"), (36.0, 20.16, "cut-back zone"), (52.5, 20.16, "near post"),
    ],
)  # fmt: skip
def test_zones_of_a_ball_from_the_left_and_from_the_right(x, y, zone):
    assert BOX_ZONES[box_zone(x, y, 25.0, PITCH)] == zone
    assert BOX_ZONES[box_zone(x, -y, -25.0, PITCH)] == zone  # turned over: the same zone


@pytest.mark.parametrize(("x", "y"), [(35.99, 0.0), (45.0, 20.17), (52.51, 0.0), (np.nan, 0.0)])
def test_outside(x, y):
    assert box_zone(x, y, 25.0, PITCH) == -1


def test_the_zones_tile_the_box():
    """Shapely: each point of the box lies in one of four rectangles whose areas add up to 665.28 m2 (Law 1: 16.5 x 40.32 m)."""
    parts = [box(41.5, 3.66, 52.5, 20.16), box(41.5, -3.66, 52.5, 3.66), box(41.5, -20.16, 52.5, -3.66)]
    parts.append(box(36.0, -20.16, 41.5, 20.16))
    assert sum(p.area for p in parts) == pytest.approx(665.28)
    rng = np.random.default_rng(2)
    x, y = rng.uniform(36, 52.5, 500), rng.uniform(-20.16, 20.16, 500)
    for a, b, k in zip(x, y, box_zone(x, y, 25.0, PITCH)):
        assert parts[k].covers(Point(a, b))


def test_counts():
    assert zone_counts([[0, 3, 3, -1], [1, 1, 2, 0]]).tolist() == [[1, 0, 0, 2], [1, 2, 1, 0]]


@pytest.mark.parametrize(
    ("way", "kind"),
    [
        ((40, 28, 46, 2), "cross"),
        ((40, -28, 46, -2), "cross"),
        ((50, 15, 41, 2), "cut-back"),
        ((50, 25, 41, 2), "cut-back"),
        ((17.5, 20.16, 46, 2), "cross"),  # on the edges
        ((17.4, 25, 46, 2), ""),  # not in the attacking third
        ((40, 20.1, 46, 2), ""),  # not wide of the box
        ((40, 28, 35.9, 2), ""),  # does not come into the box
        ((50, 15, 48.1, 2), ""),  # back by 1.9 m, from inside the box
        ((50, 15, 48.0, 2), "cut-back"),
        ((50, 9.1, 41, 2), ""),  # from in front of goal
        ((40, 2, 46, 2), ""),
        ((50, 15, 46, 19), ""),  # outwards
    ],
)
def test_kinds(way, kind):
    assert delivery_kind(*([v] for v in way), PITCH)[0] == kind
