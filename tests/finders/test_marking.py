"""Marking, by drawn sequences.  Side a has the ball, side b defends a goal at (52.5, 0); places are side a's frame.

The place of a marker is 2 m from his man towards that goal.  As drawn by default nobody of b is within 5 m of such a place:
the nearest is b3 at (19, -7), 7 m from the place of a11 at (18, 0).  So every pair here is one that a test has drawn.
What is called marking is the kit's own proposal; numbers worked out by hand."""

import numpy as np
import pytest
from drawing import A_STANDS

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_marking

PLACEMENTS = [
    {},
    {"turned": True},
    {"swapped": True},
    {"turned": True, "swapped": True},
    {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0},
    {"after_s": 20.0},
]


def goal_side(x, y, by=2.0):
    way = np.array([52.5 - x, -y])
    return tuple(np.array([x, y]) + by * way / np.hypot(*way))


def held(drawing, seconds=8.0, by="a4"):
    return drawing(seconds).hold(by, 0, seconds)


def of_b(match, **thresholds):
    found = find_marking(match, **thresholds)
    assert set(found["team"]) <= {"b"}
    return found.table


def only(table):
    assert len(table) == 1, table
    return table.iloc[0]


@pytest.mark.parametrize("where", PLACEMENTS)
def test_two_who_stand_with_their_men(drawing, where):
    """b11 with a4, who has the ball at (-32, 9), b6 with a7 at (-6, -10): 8 s, two pairs of ten all the time."""
    drawn = held(drawing).stands(b11=goal_side(-32, 9), b6=goal_side(-6, -10))
    row = only(of_b(drawn.match(**where)))
    shift = where.get("after_s", 0.0)
    assert (row.start_s, row.end_s, row.seconds) == (shift, 8 + shift, 8)
    assert row.pairs == ("b6:a7", "b11:a4") and row.players == ("b6", "b11")
    assert row.steadiness == 1.0 and row.marker_m < 1e-3
    # Nobody moves: zones alone put the same two with the same men.
    assert row.orientation == pytest.approx(0.0, abs=1e-9)
    # Eight are free; a6 at (-20, 0), 15 m from the ball, is the nearest of them (a3: 18 m).
    assert row.free == 8
    away = {f"a{n}": np.hypot(x + 32, y - 9) for n, (x, y) in enumerate(A_STANDS, 1) if n not in (1, 4, 7)}
    assert row.spare_man == min(away, key=away.get) == "a6"
    assert row.cover_man == "b3"  # at (19, -7), as deep as b4: the first of the two


def crossing(drawing, follow):
    """Five pairs of a change places across 20 m, 1.0 to 8.8 s; b follows goal-side, or stays where it began."""
    drawn = held(drawing, 10.0, by="a3")
    lanes = [(-26, ("a2", "a5"), ("b2", "b5")), (-14, ("a6", "a8"), ("b6", "b8")), (-2, ("a7", "a9"), ("b7", "b9"))]
    lanes += [(10, ("a10", "a11"), ("b10", "b11"))]
    for x, men, markers in lanes:
        for man, marker, y in zip(men, markers, (-10, 10)):
            drawn.at(0, **{man: (x, y)}).at(1.0, **{man: (x, y)}).at(8.8, **{man: (x, -y)})
            drawn.at(0, **{marker: goal_side(x, y)})
            if follow:
                for t in np.arange(1.0, 8.81, 0.1):
                    drawn.at(t, **{marker: goal_side(x, y - 2 * y * (t - 1.0) / 7.8)})
    return drawn.stands(a3=(-40, -20), a4=(-40, 20), b3=(30, -7), b4=(30, 7))


def test_men_who_follow_across(drawing):
    """Eight of ten defenders are with one man all the time: s = 0.8.  The two of each pair have one mean place, in the
    middle, from which they reach somebody only while both are within 5 m of it: z is at most 0.8 times that share."""
    row = only(of_b(crossing(drawing, True).match()))
    pairs = {"b2:a2", "b5:a5", "b6:a6", "b8:a8", "b7:a7", "b9:a9", "b10:a10", "b11:a11"}
    assert set(row.pairs) == pairs and row.steadiness == 1.0
    t = np.arange(20) / 2
    y = np.interp(t, [1.0, 8.8], [-10, 10])
    most = 0.8 * (np.abs(y) <= 5.2).mean()
    assert row.orientation >= (0.8 - most) / (1 - most) > 0.6
    assert (row.free, row.cover_man) == (2, "b3")


def test_zones_that_are_held(drawing):
    """Nobody of b moves: each has one man before the crossing and another after it; as zones alone would have it."""
    row = only(of_b(crossing(drawing, False).match()))
    assert row.orientation == pytest.approx(0.0, abs=1e-9)
    assert row.pairs == () and np.isnan(row.steadiness)  # 30 % of the time with either of two men


@pytest.mark.parametrize(("away", "pairs"), [(5.0, ("b6:a7",)), (5.02, ())])
def test_within_five_metres_of_the_place(drawing, away, pairs):
    x, y = goal_side(-6, -10)
    drawn = held(drawing).stands(b6=(x, y - away + 1e-3))
    assert only(of_b(drawn.match())).pairs == pairs


@pytest.mark.parametrize(("until", "pairs"), [(3.9, ("b6:a7",)), (3.4, ())])
def test_a_pair_holds_for_half_of_the_spell(drawing, until, pairs):
    """Sixteen instants, 0.0 to 7.5 s: b6 stays until 3.9 s, eight of them, or until 3.4 s, seven; then he is gone."""
    x, y = goal_side(-6, -10)
    drawn = held(drawing).at(0, b6=(x, y)).at(until, b6=(x, y)).at(until + 0.04, b6=(30, -30))
    row = only(of_b(drawn.match()))
    assert row.pairs == pairs
    assert row.steadiness == 0.5 if pairs else np.isnan(row.steadiness)
    assert np.isnan(row.marker_m) == (not pairs)


@pytest.mark.parametrize(("seconds", "spells"), [(3.92, 0), (4.0, 1), (10.0, 1), (10.04, 2), (20.0, 2), (24.0, 3)])
def test_long_spells_are_told_in_parts(drawing, seconds, spells):
    table = of_b(held(drawing, seconds).match())
    assert len(table) == spells
    if spells:
        np.testing.assert_allclose(table["seconds"], seconds / spells)
        assert table["end_s"].iloc[-1] == pytest.approx(seconds)
        np.testing.assert_allclose(table["start_s"].iloc[1:], table["end_s"].iloc[:-1])


def test_other_phases_only_if_asked_for(drawing):
    phase = only(of_b(held(drawing).match())).phase
    assert phase in ("high press", "mid-block", "low block")
    assert len(of_b(held(drawing).match(), phases=tuple({"high press", "mid-block", "low block"} - {phase}))) == 0


def test_several_in_a_row(drawing):
    drawn = held(drawing).stands(b6=goal_side(-6, -10))
    table = of_b(drawn.match(repeats=3, after_s=15.0))
    assert table["start_s"].tolist() == [15.0, 38.0, 61.0]
    assert table["pairs"].tolist() == [("b6:a7",)] * 3


@pytest.mark.parametrize("hidden", ["b6", "a7"])
def test_a_player_who_is_not_seen(drawing, hidden):
    drawn = held(drawing).stands(b6=goal_side(-6, -10)).hide(hidden)
    assert only(of_b(drawn.match())).pairs == ()


def test_a_marker_who_is_not_seen_for_a_while(drawing):
    """Gone for the last 2 s: with his man in 12 of 16 instants."""
    drawn = held(drawing).stands(b6=goal_side(-6, -10)).hide("b6", 6.0, 8.0)
    row = only(of_b(drawn.match()))
    assert (row.pairs, row.steadiness) == (("b6:a7",), 0.75)


def test_missing_frames(drawing):
    """A gap of three seconds parts the phase: what is left on either side is told, or is too short."""
    drawn = held(drawing, 14.0).stands(b6=goal_side(-6, -10)).gap(6.0, 12.0)
    table = of_b(drawn.match())
    assert table["pairs"].tolist() == [("b6:a7",)] and table["end_s"].iloc[0] <= 6.1


def test_without_events(drawing):
    drawn = held(drawing).stands(b6=goal_side(-6, -10))
    assert only(of_b(drawn.match(events=False))).pairs == ("b6:a7",)


def test_zones_are_learnt_from_the_match_where_it_is_long_enough(drawing):
    """240 s in 24 spells; a7 stands at y = -10 in every other one, at y = 10 in the rest, b6 always with him, and the ball
    stays where it is: b6's zone is in the middle, 10 m from either place (z = 0), and he alone of ten is with a man
    (s = 0.1).  Within one spell nobody moves: from the spell alone nothing could be told."""
    drawn = held(drawing, 240.0)
    for n in range(24):
        y = 10 if n % 2 else -10
        drawn.at(10 * n, a7=(-6, y), b6=goal_side(-6, y)).at(10 * n + 9.96, a7=(-6, y), b6=goal_side(-6, y))
    table = of_b(drawn.match())
    assert len(table) == 24 and set(table["pairs"]) == {("b6:a7",)}
    np.testing.assert_allclose(table["orientation"], 0.1)
    np.testing.assert_allclose(of_b(drawn.match(), zone_s=241.0)["orientation"], 0.0, atol=1e-9)


def test_none_has_the_same_columns(drawing):
    none = find_marking(held(drawing, 2.0).match())
    some = find_marking(held(drawing).match())
    assert len(none) == 0 and none.table.dtypes.to_dict() == some.table.dtypes.to_dict()


def test_refused_without_tracking(drawing):
    events_only = held(drawing).match(tracking=False)
    with pytest.raises(MissingDataError, match=r"^Marking needs tracking; this match has events\.$"):
        find_marking(events_only)
    with pytest.raises(MissingDataError, match=r"^Finder 'marking' needs tracking; this match has events\."):
        find(events_only, "marking")


@pytest.mark.parametrize("seed", [1100, 1101])
def test_a_side_that_is_told_to_mark_man_for_man_scores_higher(simulated, seed):
    """Source: the script of a simulated match, which says which of the two sides presses man for man."""
    made = simulated(seed)
    told = made.truth.marking
    side = told.loc[told["why"] == "press", "team"].unique().tolist()
    assert len(side) == 1
    table = find_marking(made.match).table
    mean = table[table["phase"] == "high press"].groupby("team")["orientation"].mean()
    assert mean.idxmax() == side[0] and mean.max() > 1.1 * mean.min()
