"""Roles of a side over time."""

import re
from itertools import permutations

import numpy as np
import pytest

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.roles import assign_roles, find_roles, relative_places

SHAPE = np.array([(-20, -24), (-22, -8), (-22, 8), (-20, 24), (-8, -22), (-10, -7), (-10, 7), (-8, 22), (4, -6), (2, 6)], float)  # fmt: skip


def wobbling(frames=40, seed=1, spread=1.0):
    """The shape with noise, moving over the pitch as a whole."""
    rng = np.random.default_rng(seed)
    drift = np.cumsum(rng.normal(size=(frames, 1, 2)), axis=0)
    return SHAPE + drift + rng.normal(scale=spread, size=(frames, 10, 2))


def test_relative_places_by_hand():
    # Centroid of (0,0) and (4,2) is (2,1); the third player is not there.
    places = [[(0, 0), (4, 2), (np.nan, np.nan)]]
    np.testing.assert_allclose(relative_places(places)[0, :2], [(-2, -1), (2, 1)])
    assert np.isnan(relative_places(places)[0, 2]).all()


def test_everybody_keeps_his_role_in_a_steady_shape():
    roles = find_roles(wobbling())
    assert (roles.role == np.arange(10)).all()
    np.testing.assert_allclose(roles.mean, relative_places(wobbling()).mean(axis=0))


def test_the_spread_of_a_role_is_the_covariance_with_the_floor():
    """Reference: numpy.cov."""
    relative = relative_places(wobbling())
    roles = find_roles(wobbling(), floor_m=0.5)
    for r in range(10):
        expected = np.cov(relative[:, r].T, bias=True) + 0.25 * np.eye(2)
        np.testing.assert_allclose(roles.cov[r], expected)


def test_two_who_swap_places_for_a_while_swap_roles_and_the_formation_stays():
    places = wobbling()
    swapped = places.copy()
    swapped[10:16, [4, 7]] = places[10:16, [7, 4]]
    roles, plain = find_roles(swapped), find_roles(places)
    assert (roles.role[10:16, 4] == 7).all() and (roles.role[10:16, 7] == 4).all()
    np.testing.assert_allclose(roles.mean, plain.mean)
    np.testing.assert_allclose(roles.cov, plain.cov)


def test_input_order_and_place_on_the_pitch_do_not_matter():
    places, order = wobbling(), np.random.default_rng(0).permutation(10)
    plain, mixed = find_roles(places), find_roles(places[:, order] + (30, -12))
    np.testing.assert_allclose(mixed.mean, plain.mean[order])
    assert (mixed.role == np.arange(10)).all()


def test_places_in_any_order_find_their_roles_from_a_start():
    """A substitute may stand in any column: the start says which role is which."""
    places, rng = wobbling(), np.random.default_rng(3)
    order = np.array([rng.permutation(10) for _ in places])
    mixed = np.take_along_axis(places, order[:, :, None], axis=1)
    roles = find_roles(mixed, start=relative_places(places).mean(axis=0))
    assert (roles.role == order).all()


def test_assignment_is_the_best_of_all_permutations():
    """Reference: every permutation of five roles, and the normal density written out."""
    rng = np.random.default_rng(5)
    mean = rng.normal(scale=4, size=(5, 2))
    root = rng.normal(size=(5, 2, 2))
    cov = root @ np.swapaxes(root, 1, 2) + np.eye(2)
    xy = rng.normal(scale=5, size=(30, 5, 2))
    role, density = assign_roles(xy, mean, cov)
    for i in range(30):
        logs = np.array(
            [
                [
                    -0.5 * (p - m) @ np.linalg.inv(c) @ (p - m) - 0.5 * np.log(np.linalg.det(c)) - np.log(2 * np.pi)
                    for m, c in zip(mean, cov)
                ]
                for p in xy[i]
            ]
        )
        best = max(sum(logs[p, r] for p, r in enumerate(way)) for way in permutations(range(5)))
        assert density[i] == pytest.approx(best)
        assert sorted(role[i]) == list(range(5))


def test_an_instant_with_a_player_missing_is_left_out():
    places = wobbling()
    holed = places.copy()
    holed[7, 2] = np.nan
    roles = find_roles(holed)
    assert (roles.role[7] == -1).all() and (np.delete(roles.role, 7, axis=0) >= 0).all()
    np.testing.assert_allclose(roles.mean, find_roles(np.delete(places, 7, axis=0)).mean)


def test_what_cannot_be_done_is_said():
    nobody = np.full((3, 4, 2), np.nan)
    with pytest.raises(
        TacticalKitError, match=r"^no instant has every player in the data, so there are no roles to find\.$"
    ):
        find_roles(nobody)
    with pytest.raises(
        TacticalKitError, match=f"^{re.escape('places have shape (3, 4); expected (instants, players, 2).')}$"
    ):
        find_roles(nobody[:, :, 0])
