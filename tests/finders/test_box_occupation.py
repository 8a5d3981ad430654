"""Box occupation, by drawn sequences; numbers from hand geometry.  Zones: common practice, no source."""

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_box_occupation

PLACEMENTS = [
    {},
    {"turned": True},
    {"swapped": True},
    {"turned": True, "swapped": True},
    {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0},
    {"after_s": 20.0},
]


def four_on_three(drawing, **more):
    """a9 at (45, -28) crosses at 1.0; a10 has it at (47, 7), 2.0.  In the box: a11 (46, -6) near post, a8 (47, 0) in
    front, a10 far post, and a7, who is at (30, 0) when it is struck and at (40, 0) when it arrives.  a6 (30, 5) waits at
    the edge.  Against them b2 (46, -5), b3 (47, 1), b4 (40, 3), and the keeper."""
    drawn = drawing(6.0).stands(a9=(45, -28), a11=(46, -6), a8=(47, 0), a10=(47, 7), a6=(30, 5))
    drawn.at(0, a7=(30, 0)).at(1, a7=(30, 0)).at(2, a7=(40, 0))
    drawn.stands(b2=(46, -5), b3=(47, 1), b4=(40, 3), b5=(34, 10))
    drawn.hold("a9", 0, 1).play("a9", "a10", 1, 2, **({"detail": "cross"} | more))
    return drawn.carry("a10", 2, 6)


CORNER, THROW = {"set_play": "corner"}, {"set_play": "throw-in"}


def only(moments):
    assert len(moments) == 1, moments.table
    return moments.table.iloc[0]


def assert_four_on_three(row):
    assert (row.team, row.passer, row.target, row.side, row.delivery) == ("a", "a9", "a10", "right", "cross")
    assert (row.n_for, row.n_against, row.surplus, row.n_for_struck, row.n_against_struck) == (4, 3, 1, 3, 3)
    assert (row.near_post, row.in_front, row.far_post, row.cut_back_zone, row.edge) == (1, 1, 1, 1, 1)
    against = (row.near_post_against, row.in_front_against, row.far_post_against, row.cut_back_zone_against)
    assert against == (1, 1, 0, 1)
    # To the middle of the goal at (52.5, 0): a8 5.5 m, a10 8.9, a11 8.8, a7 12.5.
    assert row.late_arrivals == 1 and row.players == ("a9", "a8", "a11", "a10", "a7")
    # By tracking alone the ball has left him when it is 3 m away.
    np.testing.assert_allclose([row.x, row.y], [45, -28], atol=3.0 if row.estimated else 1e-4)
    assert row.flight_s == pytest.approx(1.0, abs=0.09) and row.end_zone == "far post"


@pytest.mark.parametrize("where", PLACEMENTS)
def test_four_against_three(drawing, where):
    row = only(find_box_occupation(four_on_three(drawing).match(**where)))
    shift = where.get("after_s", 0.0)
    assert (row.start_s, row.outcome, row.set_play) == (1 + shift, "won", "") and not row.estimated
    assert row.end_s == pytest.approx(2.6 + shift)
    assert_four_on_three(row)


def cut_back(drawing):
    """a9 at the line, (51, 12), back to a7 at (40, 2): the cut-back zone; near post is on the left now."""
    drawn = drawing(6.0).stands(a9=(51, 12), a7=(40, 2), a11=(47, 5), b2=(47, 4), b3=(46, -2), b1=(51, 0))
    drawn.hold("a9", 0, 1).play("a9", "a7", 1, 1.8, detail="cut-back")
    return drawn.event("shot", "a7", 2.0, end_s=2.5, outcome="goal", success=True).hold("a7", 1.8, 2).ball(2.5, 52.5, 1)


@pytest.mark.parametrize("where", PLACEMENTS[:4])
def test_a_cut_back_that_ends_in_a_goal(drawing, where):
    row = only(find_box_occupation(cut_back(drawing).match(**where)))
    assert (row.delivery, row.side, row.outcome, row.end_zone) == ("cut-back", "left", "goal", "cut-back zone")
    assert (row.n_for, row.n_for_struck, row.near_post, row.cut_back_zone) == (
        2,
        2,
        1,
        1,
    )  # the passer is in the box and left out
    assert (row.n_against, row.near_post_against, row.in_front_against) == (2, 1, 1)  # the keeper too


@pytest.mark.parametrize(("shot_s", "outcome"), [(1.0, "shot"), (0.99, "won")])
def test_a_shot_comes_of_it_if_it_comes_soon(drawing, shot_s, outcome):
    """The ball is there at 2.0, the shot at 3.0."""
    drawn = four_on_three(drawing).event("shot", "a10", 3.0, outcome="off-target", success=False)
    assert only(find_box_occupation(drawn.match(), shot_s=shot_s)).outcome == outcome


@pytest.mark.parametrize(
    ("pass_outcome", "events", "outcome"),
    [
        ("intercepted", [], "lost"),
        ("intercepted", [("claim", "b1", 2.0, {})], "keeper"),
        ("out", [], "out"),
        ("offside", [], "offside"),
        ("blocked", [], "lost"),
        ("intercepted", [("shot", "b3", 2.0, {"detail": "own-goal"})], "goal"),
        ("intercepted", [("clearance", "b3", 2.0, {}), ("recovery", "a6", 3.0, {})], "kept"),
        ("intercepted", [("clearance", "b3", 2.0, {}), ("recovery", "a6", 5.1, {})], "lost"),  # too late
        ("intercepted", [("clearance", "b3", 2.0, {}), ("recovery", "b6", 2.5, {}), ("carry", "a6", 3.0, {})], "lost"),
        ("blocked", [("block", "b3", 2.0, {}), ("out", "b3", 3.0, {}), ("pass", "a9", 5.5, CORNER)], "corner"),
        ("blocked", [("block", "b3", 2.0, {}), ("out", "b3", 5.1, {}), ("pass", "a9", 5.5, CORNER)], "lost"),
        ("intercepted", [("touch", "b3", 2.0, {}), ("out", "a9", 3.0, {}), ("pass", "b2", 5.5, THROW)], "lost"),
    ],
)
def test_how_it_ended(drawing, pass_outcome, events, outcome):
    drawn = four_on_three(drawing)
    drawn.rows = [drawn.rows[0] | {"success": False, "outcome": pass_outcome, "receiver": ""}]
    for kind, player, at, more in events:
        drawn.event(kind, player, at, **more)
    assert only(find_box_occupation(drawn.match())).outcome == outcome


@pytest.mark.parametrize(("y", "n"), [(20.1, 4), (20.2, 3)])
def test_on_the_line_of_the_box(drawing, y, n):
    """The box ends at 20.16 m; a11 stands just inside or just outside."""
    drawn = four_on_three(drawing).stands(a11=(46, -y))
    drawn.keys["a11"] = [(0.0, 46.0, -y)]
    assert only(find_box_occupation(drawn.match())).n_for == n


@pytest.mark.parametrize(("x", "edge"), [(28.0, 1), (27.9, 0)])
def test_the_edge_of_the_box(drawing, x, edge):
    drawn = four_on_three(drawing)
    drawn.keys["a6"] = [(0.0, x, 5.0)]
    assert only(find_box_occupation(drawn.match())).edge == edge


def test_the_passer_does_not_wait_at_the_edge(drawing):
    """A cross from (30, -18), in front of the box: a6 alone waits there."""
    drawn = four_on_three(drawing)
    drawn.keys["a9"] = [(0.0, 30.0, -18.0)]
    assert only(find_box_occupation(drawn.match())).edge == 1


@pytest.mark.parametrize(("late_s", "late"), [(0.0, 1), (0.4, 1), (0.48, 2)])
def test_who_comes_late(drawing, late_s, late):
    """a6 runs from (30, 5) at 1.0 at 4 m/s: he crosses the line of the box, x = 36, half a frame before 2.5... at 2.46."""
    drawn = four_on_three(drawing)
    drawn.keys["a6"] = [(0.0, 30.0, 5.0), (1.0, 30.0, 5.0), (2.46, 36.0, 5.0), (4.0, 42.0, 5.0)]
    row = only(find_box_occupation(drawn.match(), late_s=late_s))
    assert (row.late_arrivals, row.n_for) == (late, 4)


def test_other_passes_are_no_deliveries(drawing):
    assert len(find_box_occupation(four_on_three(drawing, detail="long").match())) == 1  # told by its way, see below
    named = four_on_three(drawing, detail="long")
    named.play("a10", "a8", 4, 5, detail="cross")
    assert [p for p in find_box_occupation(named.match())["passer"]] == ["a10"]
    square = drawing(6.0).stands(a6=(30, 5), a8=(47, 0)).hold("a6", 0, 1).play("a6", "a8", 1, 2).carry("a8", 2, 6)
    assert len(find_box_occupation(square.match())) == 0


def test_corners_only_if_asked_for(drawing):
    match = four_on_three(drawing, set_play="corner").match()
    assert len(find_box_occupation(match)) == 0
    assert only(find_box_occupation(match, set_plays=True)).set_play == "corner"


@pytest.mark.parametrize("where", PLACEMENTS)
def test_from_tracking_alone(drawing, where):
    row = only(find_box_occupation(four_on_three(drawing).match(events=False, **where)))
    assert_four_on_three(row)
    assert row.estimated and row.outcome == "won"


def test_tracking_alone_near_misses(drawing):
    """Not wide of the box (20.16 m), not in the attacking third (17.5 m), not into the box (36 m)."""
    for passer, target in (((40, -19.5), (47, 7)), ((14, -28), (47, 7)), ((45, -28), (35.5, 7))):
        drawn = four_on_three(drawing)
        drawn.keys["a9"], drawn.keys["a10"] = [(0.0, *passer)], [(0.0, *target)]
        assert len(find_box_occupation(drawn.match(events=False))) == 0


def stills(match, *times):
    return match.with_data(tracking=None, stills=tuple(match.snapshot(1, t) for t in times))


def test_events_and_two_stills(drawing):
    """A still at the strike and one on arrival tell as much as the tracking."""
    row = only(find_box_occupation(stills(four_on_three(drawing).match(), 1.0, 2.0)))
    assert_four_on_three(row)


def test_events_and_one_still(drawing):
    """One still is both instants, so nobody can be said to have come in between."""
    row = only(find_box_occupation(stills(four_on_three(drawing).match(), 1.9)))
    assert (row.n_for, row.n_for_struck) == (4, 4) and np.isnan(row.late_arrivals)


def test_no_still_near(drawing):
    row = only(find_box_occupation(stills(four_on_three(drawing).match(), 5.0)))
    assert np.isnan([row.n_for, row.n_against, row.near_post, row.surplus, row.n_for_struck, row.late_arrivals]).all()
    assert (row.outcome, row.players) == ("won", ("a9",))


def test_several_and_none(drawing):
    found = find_box_occupation(four_on_three(drawing).match(repeats=3, after_s=4.0)).table
    np.testing.assert_allclose(found["start_s"], [5.0, 15.0, 25.0])
    assert (found["n_for"] == 4).all()
    none = find_box_occupation(drawing(5.0).carry("a6", 0, 5).match())
    assert len(none) == 0 and none.table.dtypes.to_dict() == found.dtypes.to_dict()


def test_at_the_very_end_of_the_period(drawing):
    """The period ends with the arrival: the moment does not reach beyond it."""
    drawn = four_on_three(drawing)
    drawn.seconds, drawn.rows = 2.04, drawn.rows[:1]
    row = only(find_box_occupation(drawn.match()))
    assert row.end_s == pytest.approx(2.04) and row.n_for == 4


def test_frames_and_players_missing(drawing):
    row = only(find_box_occupation(four_on_three(drawing).gap(1.2, 1.8).match()))
    assert (row.n_for, row.late_arrivals) == (4, 1)
    row = only(find_box_occupation(four_on_three(drawing).hide("a8").match()))
    assert (row.n_for, row.in_front) == (3, 0)
    row = only(find_box_occupation(four_on_three(drawing).hide("a7", 0, 1.5).match()))
    assert (row.n_for, row.late_arrivals) == (4, 0)  # nobody saw where he came from
    row = only(find_box_occupation(four_on_three(drawing).gap(0.5, 6.0).match()))
    assert np.isnan(row.late_arrivals) or row.n_for_struck == 3


def test_refusals(drawing):
    match = four_on_three(drawing).match()
    with pytest.raises(
        MissingDataError,
        match=r"^Finder 'box occupation' needs tracking or stills; this match has events\.( These finders .*)?$",
    ):
        find(match.with_data(tracking=None), "box occupation")
    only_stills = stills(match, 1.0, 2.0).with_data(events=None)
    with pytest.raises(
        MissingDataError,
        match=r"^Finder 'box occupation' needs events or tracking; this match has stills\.( These finders .*)?$",
    ):
        find(only_stills, "box occupation")


def test_the_zones_add_up(demo):
    found = find(demo, "box occupation", set_plays=True).table
    zones = found[["near_post", "in_front", "far_post", "cut_back_zone"]]
    np.testing.assert_array_equal(zones.sum(axis=1), found["n_for"])
    against = found[[f"{c}_against" for c in zones]]
    np.testing.assert_array_equal(against.sum(axis=1), found["n_against"])
    assert found["n_for"].between(0, 10).all() and len(found) > 20


@pytest.mark.parametrize(("kicked_at", "found"), [(0.4, 0), (1.6, 1)])
def test_tracking_alone_a_corner_is_no_cut_back(drawing, kicked_at, found):
    """From the corner flag into the box, as soon as the ball is in play; later it is a pass of the game."""
    drawn = drawing(8.0).stands(a9=(52, -33.5), a10=(47, 7)).at(kicked_at, a10=(47, 7))
    drawn.hold("a9", 0, kicked_at).play("a9", "a10", kicked_at, kicked_at + 1.4).hold("a10", kicked_at + 1.4, 8)
    match = drawn.match(events=False)
    assert len(find_box_occupation(match)) == found
    row = only(find_box_occupation(match, set_plays=True))
    assert row.set_play == ("" if found else "corner")


def test_events_alone_are_refused_in_words(drawing):
    """Asked directly as well as by name."""
    with pytest.raises(
        MissingDataError,
        match=r"^Who is in the box needs tracking; this match has events. Stills beside the events would do, too.$",
    ):
        find_box_occupation(four_on_three(drawing).match(tracking=False))


def test_without_a_place_there_is_no_side_and_no_near_post(drawing):
    """Events without places and a ball that is not in the data: the players are counted, the posts are not told."""
    match = four_on_three(drawing).match()
    match.tracking.ball[:] = np.nan
    places = {c: np.nan for c in ("x", "y", "end_x", "end_y")}
    row = only(find_box_occupation(match.with_data(events=match.events.assign(**places))))
    assert (row.n_for, row.n_against, row.in_front, row.cut_back_zone) == (4, 3, 1, 1)
    assert row.side == "" and row.end_zone == ""
    assert np.isnan([row.near_post, row.far_post, row.near_post_against, row.far_post_against]).all()
