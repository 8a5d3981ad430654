"""Marking: the assignment against brute force, the index on hand-made spells (the kit's own proposal)."""

from itertools import permutations

import numpy as np
import pytest

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.marking import (
    assign_markers,
    goal_side_places,
    orientation,
    pair_shares,
    zone_places,
)

GOAL = (-52.5, 0.0)


def test_the_marking_place_is_two_metres_goal_side():
    """From (-22.5, 40) to the goal: 30 and -40, a 3-4-5 triangle; two metres are (-1.2, -1.6)."""
    np.testing.assert_allclose(goal_side_places([[[-22.5, 40]]], GOAL), [[[-23.7, 38.4]]])
    assert goal_side_places([[GOAL]], GOAL).tolist() == [[list(GOAL)]]  # on the goal: no further
    assert np.isnan(goal_side_places([[[np.nan, 0]]], GOAL)).any()


def cheapest(distance, reach):
    """Brute force: the least sum of distances, each counted at most as the reach."""
    capped = np.minimum(distance, reach)
    d, a = capped.shape
    if d <= a:
        return min(sum(capped[i, p[i]] for i in range(d)) for p in permutations(range(a), d))
    return min(sum(capped[p[j], j] for j in range(a)) for p in permutations(range(d), a))


@pytest.mark.parametrize(("defenders", "attackers"), [(5, 5), (6, 4), (3, 6), (1, 1)])
def test_the_assignment_costs_what_brute_force_finds(defenders, attackers):
    rng = np.random.default_rng(defenders * 10 + attackers)
    own, places = rng.uniform(0, 12, (25, defenders, 2)), rng.uniform(0, 12, (25, attackers, 2))
    markers = assign_markers(own, places, reach_m=5.0)
    distance = np.hypot(*np.moveaxis(own[:, :, None] - places[:, None], -1, 0))
    for i in range(25):
        pairs = [(d, a) for d, a in enumerate(markers[i]) if a >= 0]
        assert len({a for _, a in pairs}) == len(pairs)
        cost = sum(distance[i, d, a] for d, a in pairs) + 5.0 * (min(defenders, attackers) - len(pairs))
        np.testing.assert_allclose(cost, cheapest(distance[i], 5.0))


def test_who_is_out_of_reach_marks_nobody():
    assert assign_markers([[[0, 0], [20, 0]]], [[[5, 0], [20, 5.01]]]).tolist() == [[0, -1]]  # 5 m in, 5.01 m out
    assert assign_markers([[[np.nan, 0], [20, 0]]], [[[5, 0], [np.nan, np.nan]]]).tolist() == [[-1, -1]]


def test_a_far_man_does_not_pull_near_pairs_apart():
    """Defenders at 0, 4, 40; places at 4, 8, 100: without a cap on distance the sums of both ways are equal."""
    markers = assign_markers([[[0, 0], [4, 0], [40, 0]]], [[[4.1, 0], [0.1, 0], [100, 0]]])
    assert markers.tolist() == [[1, 0, -1]]


def test_the_order_of_the_players_does_not_matter():
    rng = np.random.default_rng(3)
    own, places = rng.uniform(0, 12, (30, 6, 2)), rng.uniform(0, 12, (30, 6, 2))
    a, b = rng.permutation(6), rng.permutation(6)
    straight = assign_markers(own, places)
    mixed = assign_markers(own[:, a], places[:, b])
    named = np.where(mixed >= 0, b[np.maximum(mixed, 0)], -1)
    np.testing.assert_array_equal(named, straight[:, a])


def crossing(follow):
    """Two attackers change places, (20, -10) and (20, 10), in 9 instants; the defenders follow or hold."""
    y = np.linspace(-10, 10, 9)
    attackers = np.stack([np.stack([np.full(9, 20.0), y], -1), np.stack([np.full(9, 20.0), -y], -1)], axis=1)
    if follow:
        return attackers, attackers - [2.0, 0.0]
    return attackers, np.tile([[18.0, -10.0], [18.0, 10.0]], (9, 1, 1))


def spell_of(follow):
    attackers, defenders = crossing(follow)
    markers = assign_markers(defenders, goal_side_places(attackers, GOAL), reach_m=5.0)
    ball, one = np.zeros((9, 2)), np.zeros(9, int)
    zones = zone_places(defenders, ball, one, one)
    return markers, assign_markers(zones, goal_side_places(attackers, GOAL), reach_m=5.0)


def test_who_follows_across_has_one_man_and_an_orientation_of_one():
    """Fixed offsets give the same pairs, raw share 1.  At the crossing both have one place: either may be
    given; zones would have both in the middle, within 5 m of the attackers in the five middle instants of nine."""
    markers, zonal = spell_of(follow=True)
    steady = [i for i in range(9) if i != 4]
    assert (markers[steady] == [0, 1]).all()
    share = pair_shares(markers, 2)
    assert (share.max(axis=1) >= 8 / 9 - 1e-12).all() and (share.argmax(axis=1) == [0, 1]).all()
    z = np.mean([(zonal[:, d] == d).mean() for d in (0, 1)])
    s = share.max(axis=1).mean()
    assert z <= 5 / 9 + 1e-12
    assert orientation(markers, zonal, 2) == pytest.approx((s - z) / (1 - z))
    assert orientation(markers, zonal, 2) >= (8 / 9 - 5 / 9) / (4 / 9) - 1e-12


def test_who_holds_his_zone_changes_his_man_and_scores_nothing():
    """Attackers cross, defenders hold: the pairs swap at the crossing, as zones alone would have it."""
    markers, zonal = spell_of(follow=False)
    np.testing.assert_array_equal(markers, zonal)
    # 5 m of reach: y = -10, -7.5 and -5.0 (5.02 m with the goal-side place a little inside) ...
    assert markers[:2].tolist() == [[0, 1], [0, 1]] and markers[-2:].tolist() == [[1, 0], [1, 0]]
    assert orientation(markers, zonal, 2) == 0.0


def test_the_index_by_hand():
    """Two defenders, four instants: with the same man in 4 and 3 of 4, s = 7/8; zones alone 2 and 1 of 4, z = 3/8."""
    real = [[0, 1], [0, 1], [0, 1], [0, -1]]
    zone = [[0, 0], [0, 1], [1, -1], [-1, 0]]
    assert orientation(real, zone, 2) == pytest.approx((7 / 8 - 3 / 8) / (5 / 8))


def test_where_zones_leave_nothing_open_nothing_can_be_told():
    assert np.isnan(orientation([[0]] * 4, [[0]] * 4, 1))
    assert np.isnan(orientation(np.empty((0, 2), int), np.empty((0, 2), int), 2))
    nobody = [[-1, -1]] * 3
    assert orientation(nobody, nobody, 2) == 0.0  # nobody is with anybody: not man-oriented at all


def test_zones_follow_the_ball_by_least_squares():
    """A place that is a plane over the ball is met exactly; as numpy's lstsq on each player says for any other."""
    rng = np.random.default_rng(9)
    ball = rng.uniform(-30, 30, (60, 2))
    exact = np.stack([5 + 0.4 * ball[:, 0], -3 + 0.3 * ball[:, 1]], axis=-1)[:, None]
    loose = exact + rng.normal(0, 2, exact.shape)
    both = np.concatenate([exact, loose], axis=1)
    got = zone_places(both, ball, np.zeros(60), np.zeros(60), least=60)
    np.testing.assert_allclose(got[:, 0], exact[:, 0], atol=1e-9)
    ground = np.column_stack([np.ones(60), ball])
    np.testing.assert_allclose(got[:, 1], ground @ np.linalg.pinv(ground) @ loose[:, 0], atol=1e-9)


def test_too_few_instants_give_a_place_within_the_block():
    """The middle of the two goes from (0, 0) to (10, 0); offsets +-5 across, one of them 1 m out of line."""
    own = np.array([[[0, -5], [0, 5]], [[11, -5], [9, 5]]], float)
    got = zone_places(own, np.zeros((2, 2)), ["mid-block"] * 2, [0, 0], least=3)
    np.testing.assert_allclose(got, [[[0.5, -5], [-0.5, 5]], [[10.5, -5], [9.5, 5]]])


def test_a_player_who_is_not_there_has_no_zone():
    own = np.array([[[0, -5], [np.nan, np.nan]], [[4, -5], [4, 5]]])
    got = zone_places(own, np.zeros((2, 2)), [0, 0], [0, 0])
    assert np.isnan(got[0, 1]).all() and np.isfinite(got[1]).all() and np.isfinite(got[0, 0]).all()


def test_faults_are_named():
    with pytest.raises(
        TacticalKitError, match=r"^defenders \(1, 2\), places \(1, 1, 2\); expected \(N, D, 2\) and \(N, A, 2\)\.$"
    ):
        assign_markers([[0, 0]], [[[0, 0]]])
    with pytest.raises(TacticalKitError, match=r"^a reach of 0 m; expected more than 0\.$"):
        assign_markers([[[0, 0]]], [[[0, 0]]], reach_m=0)
    with pytest.raises(TacticalKitError, match=r"^markers \(1, 2\), zonal \(1, 1\); expected the same shape\.$"):
        orientation([[0, 1]], [[0]], 2)
