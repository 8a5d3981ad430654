"""The oval of pressure.  Worked values: computed from the formula as it is remembered, after Andrienko et al. 2017
(doi 10.1007/s10618-017-0513-2, parameters not verified): they fix what the kit computes, not what the paper says."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.pressure import oval_limit_m, pressure_by_each, pressure_on

GOAL = np.array([52.5, 0.0])
distances = st.floats(0.0, 12.0)
angles = st.floats(-np.pi, np.pi)
places = st.tuples(st.floats(-50, 50), st.floats(-33, 33)).map(np.array)


def at(degrees, distance, target=(0.0, 0.0), goal=GOAL):
    """A presser at an angle from the direction to the goal, left positive."""
    to_goal = np.asarray(goal) - target
    angle = np.arctan2(to_goal[1], to_goal[0]) + np.radians(degrees)
    return np.asarray(target) + distance * np.array([np.cos(angle), np.sin(angle)])


@pytest.mark.parametrize(
    ("degrees", "limit"), [(0, 9), (45, 7.051963), (90, 4.269231), (135, 3.217268), (180, 3)]
)  # fmt: skip
def test_limit_of_the_oval(degrees, limit):
    assert float(oval_limit_m(np.radians(degrees))) == pytest.approx(limit, abs=5e-7)
    assert float(oval_limit_m(-np.radians(degrees))) == pytest.approx(limit, abs=5e-7)


@pytest.mark.parametrize(
    ("degrees", "distance", "percent"),
    [
        (0, 0, 100), (0, 3, 49.18586), (0, 4.5, 29.73018), (0, 9, 0), (90, 2, 33.08840), (180, 1.5, 29.73018),
        (180, 3, 0),
    ],
)  # fmt: skip
def test_one_presser(degrees, distance, percent):
    presser = at(degrees, distance)
    assert float(pressure_on([0.0, 0.0], GOAL, [presser])) == pytest.approx(percent, abs=5e-6)


def test_several_pressers_add_up_and_may_pass_a_hundred():
    pressers = np.array([at(0, 3), at(90, 2)])
    assert float(pressure_on([0.0, 0.0], GOAL, pressers)) == pytest.approx(82.27427, abs=5e-6)
    assert float(pressure_on([0.0, 0.0], GOAL, np.repeat(pressers, 2, axis=0))) == pytest.approx(164.54854, abs=1e-5)
    assert pressure_by_each([0.0, 0.0], GOAL, pressers) == pytest.approx([49.18586, 33.08840], abs=5e-6)


def test_front_is_the_goal_that_the_target_attacks():
    """Swapping 0 and 180 degrees is the classic sign error: a presser ahead counts at 5 m, one behind does not."""
    assert float(pressure_on([10.0, 5.0], GOAL, [at(0, 5, (10.0, 5.0))])) > 20
    assert float(pressure_on([10.0, 5.0], GOAL, [at(180, 5, (10.0, 5.0))])) == 0
    assert float(pressure_on([10.0, 5.0], -GOAL, [at(180, 5, (10.0, 5.0))])) > 10  # the other goal: he is ahead


def test_who_is_not_there_puts_no_pressure():
    nobody = [np.nan, np.nan]
    assert float(pressure_on([0.0, 0.0], GOAL, [nobody, at(0, 3)])) == pytest.approx(49.18586, abs=5e-6)
    assert float(pressure_on([0.0, 0.0], GOAL, [nobody])) == 0
    assert float(pressure_on([0.0, 0.0], GOAL, np.empty((0, 2)))) == 0
    assert np.isnan(pressure_on(nobody, GOAL, [at(0, 3)]))


def test_a_target_on_the_goals_centre_has_pressure_too():
    assert float(pressure_on(GOAL, GOAL, [[49.5, 0.0]])) == pytest.approx(49.18586, abs=5e-6)


def test_whole_numbers_are_taken_as_metres():
    assert float(pressure_on([0, 0], [52.5, 0], [[3, 0]])) == pytest.approx(49.18586, abs=5e-6)


def test_many_frames_equal_a_loop():
    rng = np.random.default_rng(3)
    target = rng.uniform(-40, 40, (50, 2))
    pressers = target[:, None] + rng.normal(0, 4, (50, 7, 2))
    together = pressure_on(target, GOAL, pressers)
    one_by_one = []
    for place, opponents in zip(target, pressers, strict=True):
        total = 0.0
        for x, y in opponents:  # the formula written out once more, angle by atan2
            dx, dy = x - place[0], y - place[1]
            theta = np.arctan2(dy, dx) - np.arctan2(GOAL[1] - place[1], GOAL[0] - place[0])
            z = (1 + np.cos(theta)) / 2
            limit = 3 + 6 * (z**3 + 0.3 * z) / 1.3
            total += 100 * max(1 - np.hypot(dx, dy) / limit, 0) ** 1.75
        one_by_one.append(total)
    assert together == pytest.approx(one_by_one, abs=1e-9)
    assert pressure_on(target.astype(np.float32), GOAL, pressers.astype(np.float32)) == pytest.approx(
        one_by_one, abs=1e-2
    )


@settings(deadline=None, derandomize=True)
@given(angles, distances, distances)
def test_falls_with_distance(angle, one, other):
    near, far = sorted((one, other))
    pressure = [float(pressure_on([0.0, 0.0], GOAL, [at(np.degrees(angle), d)])) for d in (near, far)]
    assert pressure[0] >= pressure[1] - 1e-9


@settings(deadline=None, derandomize=True)
@given(distances, st.floats(0, 180), st.floats(0, 180))
def test_front_side_back(distance, one, other):
    """Nearer to the front is never less pressure: front >= side >= back."""
    ahead, behind = sorted((one, other))
    first = pressure_on([0.0, 0.0], GOAL, [at(ahead, distance)])
    second = pressure_on([0.0, 0.0], GOAL, [at(behind, distance)])
    assert first >= second - 1e-6


@settings(deadline=None, derandomize=True)
@given(places, places, angles)
def test_unchanged_by_turning_and_mirroring_everything(target, presser, turn):
    presser = target + presser / 10
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    flip = np.array([1.0, -1.0])
    plain = float(pressure_on(target, GOAL, [presser]))
    assert float(pressure_on(matrix @ target, matrix @ GOAL, [matrix @ presser])) == pytest.approx(plain, abs=1e-5)
    assert float(pressure_on(target * flip, GOAL * flip, [presser * flip])) == pytest.approx(plain, abs=1e-6)


@pytest.mark.parametrize(
    ("front", "back", "exponent"), [(3, 9, 1.75), (9, 0, 1.75), (9, -1, 1.75), (9, 3, 0)]
)  # fmt: skip
def test_no_oval(front, back, exponent):
    with pytest.raises(TacticalKitError) as caught:
        pressure_on([0.0, 0.0], GOAL, [[1.0, 0.0]], front, back, exponent)
    assert str(caught.value) == (
        f"an oval of front {front:g} m, back {back:g} m, exponent {exponent:g}; expected front >= back > 0 and "
        "exponent > 0."
    )


def test_a_circle_is_an_oval():
    assert oval_limit_m([0.0, 2.0], 5.0, 5.0).tolist() == [5.0, 5.0]
