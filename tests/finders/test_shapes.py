"""Shapes per phase and spell of time, on drawn sequences and on the demonstration match."""

import dataclasses

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders.shapes import SHAPED_PHASES, find_shapes
from tactical_kit.measures.formation import line_sizes, shape_name
from tactical_kit.moments import CORE_COLUMNS

# Side b defends towards +x of the drawing: its back line at x 18-19, its midfield at 3, its first line at -11.
FOUR_FOUR_TWO = "b5:RB b4:RCB b3:LCB b2:LB b9:RM b7:RCM b6:LCM b8:LM b11:RST b10:LST"
# The same side in a 4-1-4-1: b6 behind the line, b11 in it.
TO_4141 = {"b6": (11, 0), "b11": (3, 6), "b10": (-11, 0)}


def passing_about(drawing, seconds, **places):
    """Side a passes between its centre-backs: its build-up, and a mid-block of side b."""
    d = drawing(seconds)
    for t in np.arange(0.0, seconds, 4.0):
        d.hold("a3", t, t + 1).play("a3", "a4", t + 1, t + 2).hold("a4", t + 2, t + 3).play("a4", "a3", t + 3, t + 4)
    return d.stands(**places)


def moving(d, at_s, start, **places):
    """From one instant on these players stand elsewhere."""
    for player, place in places.items():
        d.at(at_s - 0.04, **{player: start[player]}).at(at_s, **{player: place})
    return d


def block_of(match, **thresholds):
    return find_shapes(match, **thresholds).where(team="b", phase="mid-block").table


def b_stands(drawing):
    return {f"b{n}": place for n, place in enumerate(drawing(1.0).b_stands, 1)}


# -- the shape ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("turned", [False, True])
def test_shape_and_roles_of_both_sides(drawing, turned, swapped):
    found = find_shapes(passing_about(drawing, 60).match(turned=turned, swapped=swapped)).table.set_index("team")
    block, build = found.loc["b"], found.loc["a"]
    assert (block["side"], block["phase"], block["shape"]) == ("out", "mid-block", "4-4-2")
    assert block["roles"] == ("b1:GK", *FOUR_FOUR_TWO.split())
    assert block["players"] == tuple(r.split(":")[0] for r in block["roles"])
    # Full-backs (-22) and pivot (-20) are level: 2-3-2-3.
    assert (build["side"], build["phase"], build["shape"]) == ("in", "build-up", "2-3-2-3")
    assert (build["start_s"], build["end_s"], build["seconds"]) == (0.0, 60.0, 60.0)
    # Side b seen in its own frame: (2 x -18 + 2 x -19 + 4 x -3 + 2 x 11) / 10 = -6.4.
    assert block["x"] == pytest.approx(-6.4, abs=1e-4) and block["y"] == pytest.approx(0, abs=1e-4)
    assert np.isnan(block["distance_m"]) and not block["changed"] and block["outfield"] == 10


@pytest.mark.parametrize(
    ("places", "shape"),
    [
        (TO_4141, "4-1-4-1"),
        ({"b8": (18.5, 0), "b2": (17, -28), "b5": (17, 28), "b11": (3, 20), "b10": (-11, 0)}, "5-4-1"),
        ({"b8": (-9, -22), "b9": (-9, 22), "b10": (-11, 0), "b11": (2, 0)}, "4-3-3"),
    ],
)
def test_other_blocks(drawing, places, shape):
    """Common practice, no source: what a coach calls them."""
    assert block_of(passing_about(drawing, 60, **places).match())["shape"].tolist() == [shape]


def test_two_who_swap_for_a_while_change_nothing(drawing):
    start = b_stands(drawing)
    d = passing_about(drawing, 120)
    for player, other in (("b8", "b9"), ("b9", "b8")):
        d.at(39.96, **{player: start[player]}).at(40, **{player: start[other]})
        d.at(59.96, **{player: start[other]}).at(60, **{player: start[player]})
    found = block_of(d.match())
    assert found["shape"].tolist() == ["4-4-2"] and found["roles"].iloc[0][1:] == tuple(FOUR_FOUR_TWO.split())


@pytest.mark.parametrize(("least_s", "rows"), [(60.0, 1), (60.1, 0)])
def test_at_least_so_many_seconds(drawing, least_s, rows):
    assert len(block_of(passing_about(drawing, 60).match(), least_s=least_s)) == rows


def test_nothing_found_has_the_same_columns(drawing):
    match = passing_about(drawing, 60).match()
    none, some = find_shapes(match, least_s=999.0).table, find_shapes(match).table
    assert len(none) == 0 and none.dtypes.to_dict() == some.dtypes.to_dict()


# -- changes ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("turned", [False, True])
def test_a_change_is_found_to_the_spell_of_the_phase(drawing, turned):
    """One passage of 10 s after the other with the ball dead between; the third of four on in another shape."""
    start = b_stands(drawing)
    d = passing_about(drawing, 400)
    for t in np.arange(10.0, 400.0, 20.0):
        d.dead_ball(t, t + 10)
    moving(d, 210.0, start, **TO_4141)
    found = block_of(d.match(turned=turned))
    assert found["shape"].tolist() == ["4-4-2", "4-1-4-1"]
    assert found["changed"].tolist() == [False, True]
    assert found["start_s"].tolist() == pytest.approx([0.0, 220.0], abs=0.5)
    assert found["end_s"].tolist() == pytest.approx([210.0, 390.0], abs=0.5)
    assert found["seconds"].tolist() == pytest.approx([110.0, 90.0], abs=1.0)


def test_a_change_below_the_share_is_none_and_on_it_is_one(drawing):
    """Two wide midfielders 8 m further out from the second half of the time on.

    By hand: distance root(2 x 64 / 10) = 3.5777 m; mean distance to the middle before and after from the places.
    """
    start = b_stands(drawing)
    wide = start | {"b8": (3, -28), "b9": (3, 28)}
    d = passing_about(drawing, 400)
    for t in np.arange(10.0, 400.0, 20.0):
        d.dead_ball(t, t + 10)
    moving(d, 195.0, start, b8=wide["b8"], b9=wide["b9"])  # after 100 s in the phase: two observations of 50 s

    def stretch(stands):
        xy = np.array([stands[f"b{n}"] for n in range(2, 12)], float)
        return np.hypot(*(xy - xy.mean(axis=0)).T).mean()

    share = np.sqrt(12.8) / ((stretch(start) + stretch(wide)) / 2)
    assert 0.2 < share < 0.25  # under the default
    match = d.match()
    assert len(block_of(match)) == 1
    assert len(block_of(match, window_s=50.0, change_share=share * 1.001)) == 1
    on = block_of(match, window_s=50.0, change_share=share * 0.999)
    assert on["changed"].tolist() == [False, True] and on["shape"].tolist() == ["4-4-2", "4-4-2"]
    assert on["distance_m"].iloc[1] == pytest.approx(np.sqrt(12.8), abs=1e-3)


def test_a_phase_that_kept_its_shape_goes_on(drawing):
    """Side a does not change while side b does: one spell of its build-up."""
    d = moving(passing_about(drawing, 400), 200.0, b_stands(drawing), **TO_4141)
    assert find_shapes(d.match()).where(team="a")["shape"].tolist() == ["2-3-2-3"]


def test_a_shape_of_a_moment_is_no_change(drawing):
    """Ten seconds in another shape within four minutes."""
    start = b_stands(drawing)
    d = passing_about(drawing, 240)
    for player, place in TO_4141.items():
        d.at(119.96, **{player: start[player]}).at(120, **{player: place})
        d.at(130.0, **{player: place}).at(130.04, **{player: start[player]})
    assert block_of(d.match())["shape"].tolist() == ["4-4-2"]


# -- fewer players, gaps ------------------------------------------------------------------------------------


def test_a_sending_off_ends_the_spell(drawing):
    d = passing_about(drawing, 240).event("card", "b11", 120.0, detail="red").hide("b11", 120.0)
    found = block_of(d.match())
    assert found["shape"].tolist() == ["4-4-2", "4-4-1"] and found["outfield"].tolist() == [10, 9]
    assert found["changed"].tolist() == [False, True] and found["distance_m"].isna().all()
    assert found["went_off"].tolist() == [(), ("b11",)] and found["came_on"].tolist() == [(), ()]
    assert found["end_s"].iloc[0] == pytest.approx(120, abs=2) and found["start_s"].iloc[1] == pytest.approx(120, abs=2)


def test_a_player_who_is_not_in_the_data_is_no_sending_off(drawing):
    found = block_of(passing_about(drawing, 240).hide("b11", 120.0).match())
    assert found["outfield"].tolist() == [10] and found["end_s"].iloc[0] == pytest.approx(120, abs=2)
    assert found["seconds"].iloc[0] == pytest.approx(120, abs=2)


@pytest.mark.parametrize(("sent_off", "rows"), [(3, 1), (4, 0)])
def test_at_least_seven_outfield_players(drawing, sent_off, rows):
    d = passing_about(drawing, 60)
    for n in range(12 - sent_off, 12):
        d.event("card", f"b{n}", 0.0, detail="red").hide(f"b{n}")
    assert block_of(d.match())["outfield"].tolist() == [7] * rows


def test_a_tracking_that_lacks_players_throughout_gives_no_shape(drawing):
    """Ten on the pitch by the squads, eight in the data: nothing is said of lines."""
    match = passing_about(drawing, 60).match()
    t, kept = match.tracking, [i for i in range(22) if match.tracking.players[i] not in ("b6", "b7")]
    lacking = dataclasses.replace(
        t, players=tuple(t.players[i] for i in kept), team_index=t.team_index[kept], xy=t.xy[:, kept]
    )
    found = find_shapes(match.with_data(tracking=lacking))
    assert set(found["team"]) == {"a"}


@pytest.mark.parametrize(
    "more", [{}, {"after_s": 30.0, "then_s": 30.0}, {"repeats": 2}, {"after_s": 20.0, "repeats": 3}]
)
def test_at_the_start_in_the_middle_at_the_end_and_several_times(drawing, more):
    found = block_of(passing_about(drawing, 60).match(**more))
    repeats, lead = more.get("repeats", 1), more.get("after_s", 0.0)
    assert found["shape"].tolist() == ["4-4-2"]
    assert found["start_s"].tolist() == [lead]
    assert found["end_s"].tolist() == pytest.approx([(lead + 60) * repeats])
    assert found["seconds"].tolist() == pytest.approx([60.0 * repeats], abs=0.5)


def test_missing_frames_are_no_time(drawing):
    found = block_of(passing_about(drawing, 120).gap(40.0, 60.0).match())
    assert found["shape"].tolist() == ["4-4-2"] and found["seconds"].iloc[0] == pytest.approx(100, abs=4)


def test_tracking_alone_is_enough(drawing):
    d = passing_about(drawing, 60)
    told = find_shapes(d.match()).table
    bare = find_shapes(d.match(events=False)).table
    assert bare["shape"].tolist() == told["shape"].tolist() and bare["roles"].tolist() == told["roles"].tolist()


def test_events_alone_are_refused(drawing):
    with pytest.raises(MissingDataError, match=r"^The shape of a side needs tracking; this match has events\.$"):
        find_shapes(passing_about(drawing, 8).match(tracking=False))


# -- the demonstration match ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def shapes(demo):
    return find_shapes(demo)


def test_rows_of_one_side_and_phase_do_not_overlap_and_roles_are_whole(shapes, demo):
    for _, rows in shapes.table.groupby(["team", "side", "phase", "period"]):
        assert (rows["start_s"].to_numpy()[1:] >= rows["end_s"].to_numpy()[:-1] - 1e-6).all()
    for row in shapes:
        assert row["phase"] in SHAPED_PHASES[row["side"]]
        assert sum(int(n) for n in row["shape"].split("-")) == row["outfield"] == 10
        assert row["seconds"] <= row["end_s"] - row["start_s"] + 2.0
        players = [r.split(":")[0] for r in row["roles"]]
        assert len(set(players)) == len(players) and tuple(players) == row["players"]
    own = [c for c in shapes.table if c not in CORE_COLUMNS]
    assert own[:7] == ["side", "phase", "shape", "roles", "changed", "distance_m", "seconds"]


def test_substitutes_of_the_match_come_on(shapes, demo):
    """Whoever came on by the events is named as new in the first row of each phase that began after that."""
    subs = demo.events[demo.events["kind"] == "substitution"]
    for team in demo.teams:
        on = set(subs.loc[subs["team"] == team.team_id, "receiver"])
        named = {p for came in shapes.where(team=team.team_id)["came_on"] for p in came}
        assert named <= on and named
        gone = {p for off in shapes.where(team=team.team_id)["went_off"] for p in off}
        assert gone <= set(subs.loc[subs["team"] == team.team_id, "player"])


def test_the_shape_is_that_of_the_mean_places(shapes, demo):
    """Reference: mean places of who stood in each role by plain loops, for a spell without a substitution."""
    row = next(r for r in shapes if r["phase"] == "mid-block" and len(r["roles"]) == 11 and r["seconds"] > 60)
    from tactical_kit.phases import find_phases

    spans = find_phases(demo).table
    spans = spans[(spans["team"] == row["team"]) & (spans["phase"] == "mid-block") & (spans["period"] == row["period"])]
    spans = spans[(spans["start_s"] >= row["start_s"] - 0.3) & (spans["end_s"] <= row["end_s"] + 0.3)]
    tracking, sign = demo.tracking, demo.attack_sign(row["team"], row["period"])
    columns = [tracking.column(p) for p in row["players"][1:]]
    places = []
    for span in spans.itertuples():
        for frame in range(*tracking.between(row["period"], span.start_s, span.end_s).indices(len(tracking)))[::25]:
            xy = tracking.xy[frame, columns] * sign
            places.append(xy - xy.mean(axis=0))
    assert shape_name(line_sizes(np.mean(places, axis=0)[None])[0]) == row["shape"]
