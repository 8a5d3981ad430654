"""Distance, lines and names of formations."""

import re

import numpy as np
import pytest
from scipy.linalg import sqrtm

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.formation import (
    formation_distance,
    gaussian_distance,
    line_sizes,
    pooled_roles,
    role_names,
    shape_name,
)
from tactical_kit.measures.roles import Roles, find_roles

NOBODY = np.empty((0, 0), np.int8)


def roles_at(places, spread=1.0):
    places = np.asarray(places, float)
    return Roles(places - places.mean(axis=0), np.broadcast_to(spread * np.eye(2), (len(places), 2, 2)), NOBODY)


# (x, y) in the attacking frame, right is -y.
SHAPES = {
    "4-4-2": [(0, -18), (0, -6), (0, 6), (0, 18), (11, -18), (11, -6), (11, 6), (11, 18), (24, -5), (24, 5)],
    "4-3-3": [(0, -18), (0, -6), (0, 6), (0, 18), (12, -9), (11, 0), (12, 9), (24, -20), (25, 0), (24, 20)],
    "4-1-4-1": [(0, -18), (0, -6), (0, 6), (0, 18), (8, 0), (16, -20), (16, -7), (16, 7), (16, 20), (26, 0)],
    "4-2-3-1": [(0, -18), (0, -6), (0, 6), (0, 18), (9, -6), (9, 6), (17, -18), (19, 0), (17, 18), (28, 0)],
    "5-4-1": [(1, -24), (0, -10), (0, 0), (0, 10), (1, 24), (12, -18), (12, -6), (12, 6), (12, 18), (25, 0)],
    "3-5-2": [(0, -10), (0, 0), (0, 10), (12, -28), (11, -9), (10, 0), (11, 9), (12, 28), (24, -5), (24, 5)],
    "3-2-5": [(0, -12), (0, 0), (0, 12), (14, -6), (14, 6), (38, -30), (38, -14), (40, 0), (38, 14), (38, 30)],
    "4-4-1": [(0, -18), (0, -6), (0, 6), (0, 18), (11, -18), (11, -6), (11, 6), (11, 18), (24, 0)],
}


@pytest.mark.parametrize(
    ("m1", "s1", "m2", "s2", "squared"),
    [
        ((0, 0), [[4, 0], [0, 1]], (3, 4), [[1, 0], [0, 4]], 27.0),
        ((0, 0), [[2, 1], [1, 2]], (0, 0), [[1, 0], [0, 3]], 0.516685),
    ],
)
def test_wasserstein_worked_values(m1, s1, m2, s2, squared):
    """Dowson & Landau 1982, Givens & Shortt 1984 (formula from memory); values worked out apart."""
    found = gaussian_distance([m1], [s1], [m2], [s2])
    assert found.shape == (1, 1)
    assert found[0, 0] ** 2 == pytest.approx(squared, abs=1e-6)


def test_wasserstein_equals_the_formula_with_matrix_roots():
    """Reference: scipy.linalg.sqrtm."""
    rng = np.random.default_rng(2)
    m1, m2 = rng.normal(size=(3, 2)), rng.normal(size=(4, 2))
    s1, s2 = ([r @ r.T + 0.1 * np.eye(2) for r in rng.normal(size=(n, 2, 2))] for n in (3, 4))
    found = gaussian_distance(m1, s1, m2, s2)
    for i in range(3):
        for j in range(4):
            root = sqrtm(s2[j])
            squared = ((m1[i] - m2[j]) ** 2).sum() + np.trace(s1[i] + s2[j] - 2 * sqrtm(root @ s1[i] @ root).real)
            assert found[i, j] == pytest.approx(np.sqrt(squared))


def test_distance_by_hand():
    """Two of ten go 8 m out to either side with the same spread: root of 2 x 64 / 10 = 3.577709 m a player."""
    wide = np.array(SHAPES["4-4-2"], float)
    wide[4, 1], wide[7, 1] = -26, 26
    assert formation_distance(roles_at(SHAPES["4-4-2"]), roles_at(wide)) == pytest.approx(3.577709, abs=1e-6)


def test_players_are_matched_and_the_place_on_the_pitch_does_not_count():
    a, order = np.array(SHAPES["4-3-3"], float), np.random.default_rng(0).permutation(10)
    assert formation_distance(roles_at(a), roles_at(a[order] + (20, -5))) == pytest.approx(0.0, abs=1e-6)


def test_spread_counts():
    """Equal means, spread 1 and 4 m2: W2^2 = tr = 2 (2 - 1)^2 = 2 for each player."""
    a = SHAPES["4-3-3"]
    assert formation_distance(roles_at(a, 1.0), roles_at(a, 4.0)) == pytest.approx(np.sqrt(2))


def test_another_number_of_players_has_no_distance():
    assert np.isnan(formation_distance(roles_at(SHAPES["4-4-2"]), roles_at(SHAPES["4-4-1"])))


def test_pooled_is_what_all_instants_together_give():
    """Reference: `find_roles` over both spells; the floor of 1 m once."""
    rng = np.random.default_rng(4)
    base = np.array(SHAPES["4-4-2"], float)
    a, b = (base + rng.normal(size=(n, 10, 2)) for n in (30, 50))
    b[:, [8, 9]] = b[:, [9, 8]]
    pooled = pooled_roles(find_roles(a), find_roles(b), 30, 50)
    whole = find_roles(np.concatenate([a, b[:, [0, 1, 2, 3, 4, 5, 6, 7, 9, 8]]]))
    np.testing.assert_allclose(pooled.mean, whole.mean)
    np.testing.assert_allclose(pooled.cov, whole.cov)


# -- lines ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SHAPES)
def test_lines_of_drawn_shapes(name):
    """Common practice, no source: what a coach calls these drawings."""
    places = np.array(SHAPES[name], float)
    order = np.random.default_rng(1).permutation(len(places))
    assert shape_name(line_sizes(places[None, order])[0]) == name
    assert shape_name(line_sizes((places + np.array([-30, 4]))[None])[0]) == name


def test_all_at_once_is_one_by_one():
    everybody = [np.vstack([s, np.full((10 - len(s), 2), np.nan)]) for s in map(np.array, SHAPES.values())]
    assert [shape_name(s) for s in line_sizes(everybody)] == list(SHAPES)


def test_lines_equal_the_best_of_all_ways_to_cut():
    """Reference: plain loops over every way to cut the order by depth into three or four."""
    rng = np.random.default_rng(9)
    for x in rng.uniform(0, 30, size=(25, 10)):
        deep, best = np.sort(x), (np.inf, ())
        for cuts in [(a, b) for a in range(2, 10) for b in range(a + 1, 10)] + [
            (a, b, c) for a in range(2, 10) for b in range(a + 1, 10) for c in range(b + 1, 10)
        ]:
            lines = np.split(deep, cuts)
            cost = sum(((line - line.mean()) ** 2).sum() for line in lines) + len(lines) * 18.0
            best = min(best, (cost, tuple(len(line) for line in lines)))
        places = np.column_stack([x, np.zeros(10)])  # nobody is wide, so no line bows
        assert line_sizes(places[None])[0] == best[1]


@pytest.mark.parametrize(("gap", "name"), [(6.01, "4-3-2-1"), (5.99, "4-3-3")])
def test_two_single_players_at_the_gap_stand_in_two_lines(gap, name):
    """A pair 6 m apart in depth: 0.5 x 6^2 = 18, the price of a line."""
    places = np.array(
        [(0, -18), (0, -6), (0, 6), (0, 18), (12, -9), (12, 0), (12, 9), (25, 0), (25, 0), (25, 0)], float
    )
    places[7:, 0] = 25, 25, 25 + gap * np.sqrt(3) / 2  # one against two: d^2 x 2 / 3 = 18 for d = 6 x 3^.5 / 2
    assert shape_name(line_sizes(places[None])[0]) == name


@pytest.mark.parametrize(("bow", "name"), [(6.0, "4-4-2"), (6.01, "4-2-2-2")])
def test_wide_midfielders_at_most_the_bow_ahead_belong_to_the_line(bow, name):
    places = np.array(SHAPES["4-4-2"], float)
    places[[4, 7], 0] = 11 + bow
    places[[8, 9], 0] = 32
    assert shape_name(line_sizes(places[None])[0]) == name


def test_a_pair_inside_is_a_line_of_its_own():
    """Two pivots at 6 m behind two number tens, 5 m on in depth: they belong to the line 5 m further out, not short."""
    places = np.array(SHAPES["4-4-2"], float)
    places[[8, 9], 0] = 28
    for width, name in ((10.99, "4-2-2-2"), (11.0, "4-4-2")):
        places[[4, 7]] = (16, -width), (16, width)
        assert shape_name(line_sizes(places[None])[0]) == name


def test_too_few_players_have_no_lines():
    assert line_sizes([SHAPES["4-4-2"][:3]]) == [()] and shape_name(()) == ""
    assert line_sizes([[(0, -5), (0, 5), (10, 0), (20, 0)]]) == [(2, 1, 1)]


def test_places_of_another_shape_are_refused():
    said = re.escape("places have shape (2, 10); expected (formations, players, 2).")
    with pytest.raises(TacticalKitError, match=f"^{said}$"):
        line_sizes(np.zeros((2, 10)))


# -- names ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shape", "names"),
    [
        ("4-4-2", "RB RCB LCB LB RM RCM LCM LM RST LST"),
        ("4-3-3", "RB RCB LCB LB RCM CM LCM RW ST LW"),
        ("4-1-4-1", "RB RCB LCB LB DM RM RCM LCM LM ST"),
        ("4-2-3-1", "RB RCB LCB LB RDM LDM RW AM LW ST"),
        ("5-4-1", "RWB RCB CB LCB LWB RM RCM LCM LM ST"),
        ("3-5-2", "RCB CB LCB RM RCM CM LCM LM RST LST"),
    ],
)
def test_role_names(shape, names):
    """Common practice, no source."""
    sizes = tuple(int(s) for s in shape.split("-"))
    assert role_names(SHAPES[shape], sizes) == names.split()


@pytest.mark.parametrize(
    ("pair", "names"),
    [
        ((-9, 9), ("RAM", "LAM")),
        ((0.5, 8), ("RAM", "LAM")),  # both a little to the left: still one on either side
        ((8, 26), ("LAM", "LM")),  # both on the left: no right one among them
        ((5.01, 10), ("LAM", "LM")),
        ((5.0, 10.01), ("AM", "LAM")),  # at most 5 m off the inner one is the central one
        ((5.0, 10.0), ("RAM", "LAM")),  # but only if the other is more than 10 m off
        ((-26, -8), ("RM", "RAM")),
        ((-15, -3), ("RAM", "AM")),
    ],
)
def test_a_pair_on_one_side_has_no_man_of_the_other(pair, names):
    """A 3-2-2-3; the others stand so that the middle of the side stays at 0.  Common practice, no source."""
    rest = -sum(pair) / 3
    places = [(0, rest - 20), (0, rest), (0, rest + 20), (10, -8), (10, 8), (20, pair[0]), (20, pair[1])]
    places += [(30, -25), (30, 0), (30, 25)]
    got = role_names(places, (3, 2, 2, 3))
    assert tuple(got[5:7]) == names
    assert got[:5] == ["RCB", "CB", "LCB", "RDM", "LDM"] and got[7:] == ["RW", "ST", "LW"]


def test_every_name_stands_once_where_a_pair_stands_on_one_side():
    """3-4-2-1: the wide man of the line behind is LM already, so the pair keeps its names."""
    places = [(0, -26), (0, -10), (0, 2), (10, -30), (10, -13), (10, -3), (10, 28), (20, 11), (20, 27), (30, 14)]
    assert sum(y for _, y in places) == 0
    assert role_names(places, (3, 4, 2, 1))[3:9] == ["RM", "RDM", "LDM", "LM", "RAM", "LAM"]


def test_a_line_of_six_is_numbered_and_every_name_stands_once():
    places = [(0, -5), (0, 5), *((20, y) for y in (-25, -15, -5, 5, 15, 25)), (40, -4), (40, 4)]
    names = role_names(places, (2, 6, 2))
    assert names == ["RCB", "LCB", "M1", "M2", "M3", "M4", "M5", "M6", "RST", "LST"]


def test_lines_that_do_not_count_up_are_refused():
    with pytest.raises(TacticalKitError, match=r"^lines of 4-4-2 for 9 places\.$"):
        role_names(SHAPES["4-4-1"], (4, 4, 2))
