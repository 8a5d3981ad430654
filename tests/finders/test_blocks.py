"""Blocks: one row a spell, and the numbers over time."""

import re

import numpy as np
import pytest

import tactical_kit as tk
from tactical_kit.errors import MissingDataError, UnknownNameError
from tactical_kit.finders.blocks import BLOCK_PHASES, block_series, find_blocks
from tactical_kit.match import Snapshot
from tactical_kit.moments import CORE_COLUMNS
from tactical_kit.phases import find_phases

# Side b of a drawing defends towards +x; its goal line is at x = 52.5.  Standing: back line 18, 19, 19, 18 (mean 18.5,
# 34.0 m from goal), midfield at 3 (49.5 m), first line at -11 (63.5 m); width 40 m, depth 19 + 11 = 30 m.
STANDING = {
    "height_m": 34.0,
    "first_line_m": 63.5,
    "width_m": 40.0,
    "depth_m": 30.0,
    "gap_back_midfield_m": 15.5,
    "gap_midfield_first_m": 14.0,
    "shift_ms": 0.0,
    "top_shift_ms": 0.0,
}


def passing_about(drawing, seconds):
    d = drawing(seconds)
    for t in np.arange(0.0, seconds, 4.0):
        d.hold("a3", t, t + 1).play("a3", "a4", t + 1, t + 2).hold("a4", t + 2, t + 3).play("a4", "a3", t + 3, t + 4)
    return d


def everybody(drawing, shift=(0.0, 0.0)):
    stands = {f"b{n}": place for n, place in enumerate(drawing(1.0).b_stands, 1) if n > 1}
    return {p: (x + shift[0], y + shift[1]) for p, (x, y) in stands.items()}


def of_b(match, **thresholds):
    return find_blocks(match, **thresholds).where(team="b").table


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("turned", [False, True])
def test_a_standing_block(drawing, turned, swapped):
    found = of_b(passing_about(drawing, 20).match(turned=turned, swapped=swapped))
    assert len(found) == 1
    row = found.iloc[0]
    assert (row["phase"], row["shape"], row["start_s"], row["end_s"]) == ("mid-block", "4-4-2", 0.0, 20.0)
    for name, value in STANDING.items():
        assert row[name] == pytest.approx(value, abs=1e-4), name
    # (2 x -18 + 2 x -19 + 4 x -3 + 2 x 11) / 10 in the frame of side b.
    assert (row["x"], row["y"]) == pytest.approx((-6.4, 0.0), abs=1e-4)
    assert set(row["players"][:4]) == {"b2", "b3", "b4", "b5"} and set(row["players"][-2:]) == {"b10", "b11"}
    places = np.array(list(everybody(drawing).values()), float)
    assert row["compactness_m"] == pytest.approx(np.hypot(*(places - places.mean(axis=0)).T).mean(), abs=1e-4)


@pytest.mark.parametrize(
    ("shift", "phase", "height"),
    [((0, 0), "mid-block", 34.0), ((14, 0), "low block", 20.0), ((-14, 0), "high press", 48.0)],
)
def test_blocks_of_three_heights(drawing, shift, phase, height):
    """The whole side 14 m further back or up; which block that is the phases say."""
    d = passing_about(drawing, 20).stands(**everybody(drawing, shift))
    if phase == "low block":
        d.stands(a3=(0, -9), a4=(0, 9), a2=(5, -26), a5=(5, 26))
    found = of_b(d.match())
    assert found["phase"].tolist() == [phase]
    assert found["height_m"].tolist() == pytest.approx([height], abs=1e-4)
    assert found["depth_m"].tolist() == pytest.approx([30.0], abs=1e-4)


def test_shifting(drawing):
    """10 m to one side in five seconds, then still: 2 m/s at the top, 1 m/s over ten seconds."""
    d = passing_about(drawing, 12)
    for player, (x, y) in everybody(drawing).items():
        d.at(2.0, **{player: (x, y)}).at(7.0, **{player: (x, y + 10)})
    row = of_b(d.match()).iloc[0]
    assert row["top_shift_ms"] == pytest.approx(2.0, abs=0.01)
    assert row["shift_ms"] == pytest.approx(10 / 12, abs=0.02)
    assert row["width_m"] == pytest.approx(40.0, abs=1e-4)


def test_no_block_while_running_back_or_at_a_set_play(demo):
    """Rows are spells of the three block phases as `find_phases` has them, at least a second long, and all of them."""
    phases = find_phases(demo).table
    spells = phases[phases["phase"].isin(BLOCK_PHASES) & (phases["end_s"] - phases["start_s"] >= 1.4)]
    found = find_blocks(demo).table
    assert set(found["phase"]) == set(BLOCK_PHASES)
    near = found.merge(spells[["period", "team", "phase", "start_s", "end_s"]], on=["period", "team", "phase"])
    same = near[(near["start_s_x"] - near["start_s_y"]).abs() <= 0.2]
    assert len(same) == len(spells)
    assert ((same["end_s_x"] - same["end_s_y"]).abs() <= 0.4).all()


@pytest.mark.parametrize(("least_s", "rows"), [(20.0, 1), (20.1, 0)])
def test_at_least_so_long(drawing, least_s, rows):
    assert len(of_b(passing_about(drawing, 20).match(), least_s=least_s)) == rows


@pytest.mark.parametrize(("hidden", "rows"), [(3, 1), (4, 0)])
def test_at_least_seven_players(drawing, hidden, rows):
    d = passing_about(drawing, 20)
    for n in range(2, 2 + hidden):
        d.hide(f"b{n}")
    assert len(of_b(d.match())) == rows


def test_a_side_that_steps_out_too_little_data_and_no_ball(drawing):
    """No block of the side that has the ball; none while the ball is dead."""
    match = passing_about(drawing, 20).dead_ball(0.0, 20.0).match()
    assert len(find_blocks(match)) == 0
    assert len(find_blocks(passing_about(drawing, 20).match()).where(team="a")) == 0
    none, some = find_blocks(match).table, find_blocks(passing_about(drawing, 20).match()).table
    assert none.dtypes.to_dict() == some.dtypes.to_dict()


@pytest.mark.parametrize("more", [{}, {"after_s": 9.0, "then_s": 7.0}, {"repeats": 2}, {"after_s": 9.0, "repeats": 3}])
def test_at_the_start_in_the_middle_at_the_end_and_several_times(drawing, more):
    found = of_b(passing_about(drawing, 20).match(**more))
    lead, repeats = more.get("after_s", 0.0), more.get("repeats", 1)
    starts = [lead + i * (20 + lead) for i in range(repeats)] if lead else [0.0]
    lasts = 20.0 if lead else 20.0 * repeats
    assert found["start_s"].tolist() == starts
    assert found["end_s"].tolist() == pytest.approx([s + lasts for s in starts])
    assert found["height_m"].tolist() == pytest.approx([34.0] * len(starts), abs=1e-4)


def test_a_gap_parts_the_spell_and_a_player_who_comes_has_no_shape(drawing):
    found = of_b(passing_about(drawing, 40).gap(16.0, 24.0).match())
    assert found["start_s"].tolist() == pytest.approx([0.0, 24.0], abs=0.2)
    assert found["end_s"].tolist() == pytest.approx([16.0, 40.0], abs=0.2)
    late = of_b(passing_about(drawing, 20).hide("b11", 0.0, 10.0).match()).iloc[0]
    assert late["stood"] == "" and len(late["players"]) == 10
    assert late["first_line_m"] == pytest.approx(63.5, abs=1e-4)


def test_series_holds_the_numbers_of_every_instant(drawing):
    match = passing_about(drawing, 20).match()
    series = block_series(match, "away")
    assert len(series) == 100 and series["phase"].unique().tolist() == ["mid-block"]
    assert np.allclose(np.diff(series["time_s"]), 0.2)
    for name in ("height_m", "width_m", "hull_m2", "shift_ms"):
        assert series[name].notna().all(), name
    assert len(block_series(match, "home")) == 0
    said = "team 'nobody' does not play in this match; expected 'Side A' or 'Side B' (ids 'a', 'b')."
    with pytest.raises(UnknownNameError, match=f"^{re.escape(said)}$"):
        block_series(match, "nobody")


def test_rows_are_the_means_of_the_series(demo):
    """Reference: plain pandas."""
    team = demo.home.team_id
    series = block_series(demo, team)
    found = find_blocks(demo).where(team=team)
    means = series.groupby("start_s")[["height_m", "hull_m2", "nearest_five_m", "shift_ms"]]
    for row in list(found)[:20]:
        mine = series[(series["period"] == row["period"]) & (series["start_s"] == row["start_s"])]
        for name in ("height_m", "hull_m2", "nearest_five_m", "shift_ms"):
            assert row[name] == pytest.approx(mine[name].mean(), rel=1e-9), name
    assert means.ngroups >= len(found) // 2


def test_blocks_of_the_match_are_as_long_as_blocks_are(demo):
    """Deepest to foremost out of possession: mean 26 m, World Cup 2018 (FIFA report, second hand).

    FIFA's definition is not known in full, so two metres either way are allowed for.
    """
    series = tk.block_series(demo, "home")
    settled = series[series["phase"].isin(["mid-block", "low block"])]
    assert 24 <= settled["depth_m"].mean() <= 28


# -- stills, refusals -----------------------------------------------------------------------------------------


def still_of(match, time_s, ball=None):
    s = match.snapshot(1, time_s)
    return Snapshot(
        1, time_s, s.players, s.team_index, s.xy, np.zeros_like(s.xy), s.ball if ball is None else ball,
        np.zeros(3), s.attack_signs, s.pitch, "still",
    )  # fmt: skip


@pytest.mark.parametrize(("off_m", "rows"), [(3.0, 1), (3.01, 0)])
def test_a_still_is_a_block_of_the_side_without_the_ball(drawing, off_m, rows):
    """The ball at most 3 m from the nearest player, a3 at (-32, -9)."""
    match = passing_about(drawing, 8).match()
    ball = np.array([-32.0 - off_m, -9.0, 0.0])
    alone = match.with_data(tracking=None, events=None, stills=(still_of(match, 0.0, ball),))
    found = find_blocks(alone).table
    assert found["team"].tolist() == ["b"] * rows
    assert len(find_blocks(alone, near_m=off_m)) == 1
    if rows:
        row = found.iloc[0]
        assert row["phase"] == "" and row["shape"] == row["stood"] == "4-4-2" and np.isnan(row["shift_ms"])
        for name in ("height_m", "width_m", "depth_m", "gap_back_midfield_m"):
            assert row[name] == pytest.approx(STANDING[name], abs=1e-4), name


def test_events_alone_are_refused(drawing):
    with pytest.raises(
        MissingDataError, match=r"^A block needs tracking; this match has events\. Stills show one, too\.$"
    ):
        find_blocks(passing_about(drawing, 8).match(tracking=False))


def stepping_out(drawing, seconds=40.0):
    """A 4-4-2 for forty seconds, parted by a gap of two; in the last eight the full-back b5 is out at (-4, 20)."""
    d = passing_about(drawing, seconds).at(31.5, b5=(18, 20)).at(31.9, b5=(-4, 20)).gap(30.0, 32.0)
    return of_b(d.match())


def test_a_man_who_steps_out_for_a_short_spell_changes_how_they_stood_and_not_their_shape(drawing):
    found = stepping_out(drawing)
    assert found["start_s"].tolist() == pytest.approx([0.0, 32.0], abs=0.2)
    assert found["shape"].tolist() == ["4-4-2", "4-4-2"]
    assert found["stood"].tolist() == ["4-4-2", "3-4-1-2"]


def test_the_shape_is_that_of_the_line_ups(demo):
    """Reference: the rows of the shapes, asked one by one."""
    shapes = tk.find_shapes(demo).table
    for row in find_blocks(demo):
        middle = (row["start_s"] + row["end_s"]) / 2
        said = shapes[
            (shapes["period"] == row["period"]) & (shapes["team"] == row["team"])
            & (shapes["phase"] == row["phase"]) & (shapes["start_s"] <= middle) & (shapes["end_s"] > middle)
        ]  # fmt: skip
        assert row["shape"] == ("" if said.empty else said["shape"].item())


def test_a_block_of_which_the_shapes_say_nothing_has_none(drawing):
    """Nineteen seconds are too few for a line-up; they show how the block stood all the same."""
    row = of_b(passing_about(drawing, 19).match()).iloc[0]
    assert (row["shape"], row["stood"]) == ("", "4-4-2")


def test_columns(demo):
    own = [c for c in find_blocks(demo).table if c not in CORE_COLUMNS]
    assert own == [
        "phase", "height_m", "first_line_m", "width_m", "depth_m", "gap_back_midfield_m", "gap_midfield_first_m",
        "compactness_m", "nearest_five_m", "hull_m2", "shift_ms", "top_shift_ms", "shape", "stood",
    ]  # fmt: skip
