"""Build-ups, by drawn sequences.  Side b stands in a 4-4-2: first line x = -11, midfield line x = 3 (14 m apart), so
builders stand at most at -11 + 0.33 * 14 = -6.38.  Side a: four at the back, a6 at (-20, 0), a7, a8 at (-6, +-10).
Routes are common practice, no source; numbers worked out by hand."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, find_build_ups
from tactical_kit.finders.build_ups import route_of
from tactical_kit.measures.holder import ball_holder
from tactical_kit.measures.passes import pass_table


def short(drawing):
    """a1 to a3 to a4 to a6 to a7 at (-6, -10), who carries to (4, -10): out of the build-up."""
    drawn = drawing(14.0).at(0, a7=(-6, -10)).at(10, a7=(-6, -10)).at(12, a7=(6, -10))
    drawn.event("pass", "a1", 0.0, end_s=1.5, receiver="a3", success=True, outcome="complete", to="a3",
                set_play="goal-kick")  # fmt: skip
    drawn.ball_keys += [(0.0, "a1", 0.0), (1.5, "a3", 0.0)]
    drawn.hold("a3", 1.5, 3).play("a3", "a4", 3, 4).hold("a4", 4, 6).play("a4", "a6", 6, 7).hold("a6", 7, 9)
    return drawn.play("a6", "a7", 9, 10).carry("a7", 10, 12).hold("a7", 12, 14)


def only(moments):
    assert len(moments) == 1, moments.table
    return moments.table.iloc[0]


PLACEMENTS = [
    {}, {"turned": True}, {"swapped": True}, {"turned": True, "swapped": True}, {"after_s": 30.0, "then_s": 20.0},
    {"then_s": 20.0}, {"after_s": 20.0},
]  # fmt: skip


@pytest.mark.parametrize("where", PLACEMENTS)
def test_five_against_two(drawing, where):
    row = only(find_build_ups(short(drawing).match(**where)))
    assert row.start_s == pytest.approx(where.get("after_s", 0.0), abs=0.05) and row.team == "a"
    assert (row.n_for, row.n_against, row.spare) == (5, 2, 3)
    assert row.players[:2] in (("a3", "a4"), ("a4", "a3")) and set(row.players) == {"a2", "a3", "a4", "a5", "a6"}
    assert set(row.pressers) == {"b10", "b11"}
    assert (row.route, row.outcome, row.began) == ("short", "progressed", "goal-kick")
    assert (row.passes, row.keeper_played, row.reached_zone, row.shot) == (4, True, "middle third", False)
    # a6 (-20, 0) to a7 (-6, -10) beats the first line at -11; the carry begins in the next phase.
    assert row.lines_beaten == 1
    np.testing.assert_allclose([row.x, row.y], [-48, 0], atol=1e-4)


def test_three_against_three(drawing):
    """Two centre-backs and a pivot, the rest high; a winger of side b up with the two forwards."""
    drawn = short(drawing).stands(a2=(0, -28), a5=(0, 28), a8=(8, 12), b9=(-11, 20))
    row = only(find_build_ups(drawn.match()))
    assert (row.n_for, row.n_against, row.spare) == (3, 3, 0)
    assert row.players[2] == "a6" and set(row.pressers) == {"b9", "b10", "b11"}


def test_lost_in_the_build_up(drawing):
    drawn = drawing(9.0).stands(b10=(-30, 0), b11=(-26, -12)).hold("a1", 0, 1).play("a1", "a3", 0, 1.5)
    drawn.rows[0]["set_play"] = "goal-kick"
    drawn.hold("a3", 1.5, 4).play("a3", "b10", 4, 5, complete=False).hold("b10", 5, 9)
    drawn.event("interception", "b10", 5, success=True).event("pass", "b10", 8.5, end_s=9, success=True, receiver="b11")
    row = find_build_ups(drawn.match()).where(team="a").table.iloc[0]
    assert (row.outcome, row.reached_zone, row.passes, row.lines_beaten) == ("lost", "own third", 2, 0)


def long_ball(drawing, then):
    """a3 strikes it 42 m to a11 at (10, 0), who heads it on to nobody, or has it under control, or lays it off."""
    drawn = drawing(12.0).at(0, a11=(10, 0)).hold("a1", 0, 1).play("a1", "a3", 1, 2).hold("a3", 2, 4)
    drawn.play("a3", "a11", 4, 6.5)
    if then == "headed on":
        drawn.event("duel", "a11", 6.5, success=True, outcome="won", body_part="head").hold("a11", 6.5, 6.8)
        drawn.at(6.5, b4=(19, 7)).at(9.0, b4=(26, 0)).ball(7.6, 26, 0).ball(9.0, 26, 0).hold("b4", 9.0, 12)
        return drawn.event("recovery", "b4", 9.0, success=True)
    if then == "kept":
        return drawn.hold("a11", 6.5, 12)
    return drawn.hold("a11", 6.5, 6.8).play("a11", "a8", 6.8, 8).hold("a8", 8, 12)


@pytest.mark.parametrize("events", [True, False])
@pytest.mark.parametrize(
    ("then", "outcome"), [("headed on", "lost"), ("kept", "progressed"), ("laid off", "progressed")]
)
def test_a_long_ball_got_out_if_the_side_does_something_with_it(drawing, then, outcome, events):
    row = find_build_ups(long_ball(drawing, then).match(events=events)).where(team="a").table.iloc[0]
    assert (row.route, row.outcome) == ("long", outcome)


# -- routes, from rows of passes (x, y, end_x, end_y) --------------------------------------------------
@pytest.mark.parametrize(
    ("ways", "route"),
    [
        ([], "short"),
        ([(-32, -9, -20, 0), (-20, 0, -6, -10)], "short"),
        ([(-32, -9, -32, 9), (-32, 9, 5, 20)], "long"),  # 38.6 m, 37 m forward
        ([(0, 0, 30, 0)], "long"),  # at least 30 m
        ([(0, 0, 29.9, 0)], "short"),
        ([(0, 0, 15, 14.9), (0, 0, 25.1, 16.5)], "long"),  # 30.04 m
        ([(0, -20, 14.9, -46.5)], "short"),  # 30.4 m but gains less than 15, and goes 26.5 across
        ([(-32, -9, 5, 20), (5, 20, 0, 15)], "short"),  # the long ball was not the last; two passes
        ([(-20, -15, -20, 15)], "direct switch"),  # at least 30 m across
        ([(-20, -15, -20, 14.9)], "short"),
        ([(-30, -20, 0, 15)], "direct switch"),  # 46 m, more across than forward
        ([(-20, -20, -30, -8), (-30, -8, -30, 0), (-30, 0, -20, 5)], "circulated"),  # 25 m of the width
        ([(-20, -20, -30, -8), (-30, -8, -30, 0), (-30, 0, -20, 4.9)], "short"),
        ([(-20, -20, -30, -8), (-30, -8, -30, 8)], "short"),  # two passes are no circulation
    ],
)
def test_routes(ways, route):
    assert route_of(ways) == route


# -- near misses --------------------------------------------------------------------------------------
def test_at_least_so_long(drawing):
    match = short(drawing).match()
    row = only(find_build_ups(match))
    length = row.end_s - row.start_s
    assert 9.0 < length < 12.5  # a7 gets the ball at 10 s and is 39 m from the own goal line (x = -13.5) at once
    assert len(find_build_ups(match, least_s=length)) == 1
    assert len(find_build_ups(match, least_s=length + 0.01)) == 0


def test_possession_further_up_is_no_build_up(drawing):
    drawn = drawing(8.0).hold("a7", 0, 2).play("a7", "a8", 2, 3).hold("a8", 3, 5).play("a8", "a7", 5, 6)
    assert len(find_build_ups(drawn.hold("a7", 6, 8).match())) == 0


def test_a_dead_ball_is_no_build_up(drawing):
    assert len(find_build_ups(short(drawing).dead_ball(0, 14).match())) == 0


def test_a_ball_that_only_rolls_is_no_build_up(drawing, monkeypatch):
    """The same spell, but nobody of the side is on the ball; somebody of the other side near it does not count."""
    match = short(drawing).match()
    away = match.tracking.players.index("b10")
    nobody = replace(ball_holder(match), column=np.full(len(match.tracking), -1, np.int16))
    for column in (-1, away):
        held = replace(nobody, column=np.full(len(match.tracking), column, np.int16))
        monkeypatch.setattr("tactical_kit.finders.build_ups.ball_holder", lambda match, held=held: held)
        assert len(find_build_ups(short(drawing).match())) == 0
    once = nobody.column.copy()
    once[5] = match.tracking.players.index("a3")
    monkeypatch.setattr("tactical_kit.finders.build_ups.ball_holder", lambda match: replace(nobody, column=once))
    assert len(find_build_ups(short(drawing).match())) == 1


def test_one_man_higher_is_one_builder_fewer(drawing):
    for x, number in ((-6.5, 5), (-6.3, 4)):
        assert only(find_build_ups(short(drawing).stands(a2=(x, -26)).match())).n_for == number


# -- several, gaps, missing players, other data -------------------------------------------------------
@pytest.mark.parametrize("after_s", [0.0, 5.0])
def test_several_in_a_row(drawing, after_s):
    found = find_build_ups(short(drawing).match(repeats=3, after_s=after_s))
    np.testing.assert_allclose(found["start_s"], [after_s + i * (14 + after_s) for i in range(3)], atol=2.0)
    assert found["route"].tolist() == ["short"] * 3 and found["n_against"].tolist() == [2] * 3


def test_none(drawing):
    drawn = drawing(8.0).hold("a7", 0, 2).play("a7", "a8", 2, 3).hold("a8", 3, 8)
    found, full = find_build_ups(drawn.match()), find_build_ups(short(drawing).match())
    assert len(found) == 0 and found.table.dtypes.to_dict() == full.table.dtypes.to_dict()


def test_frames_missing(drawing):
    found = find_build_ups(short(drawing).gap(4.5, 5.5).match())
    assert len(found) in (1, 2) and (found["n_for"] == 5).all()


def test_players_missing(drawing):
    row = only(find_build_ups(short(drawing).hide("a6").match()))
    assert (row.n_for, row.n_against) == (4, 2)
    few = short(drawing)
    for shirt in (2, 3, 4, 5):
        few.hide(f"b{shirt}")
    row = only(find_build_ups(few.match()))
    assert np.isnan(row.n_for) and np.isnan(row.spare) and row.players == () and row.route == "short"
    assert np.isnan(row.lines_beaten)  # six opponents make no lines: unknown, not none


def test_a_man_seen_for_less_than_half_of_it_is_not_counted(drawing):
    assert only(find_build_ups(short(drawing).hide("a6", 0, 4).match())).n_for == 5
    assert only(find_build_ups(short(drawing).hide("a6", 0, 6).match())).n_for == 4


def test_the_possession_counts_to_its_end_however_long_it_lasts(drawing):
    """a7 keeps the ball for a minute, then finds a11 in the penalty area at (40, 0), 72 s after the build-up began."""
    drawn = short(drawing).at(0, a11=(40, 0))
    drawn.seconds = 80.0
    row = only(find_build_ups(drawn.hold("a7", 14, 70).play("a7", "a11", 70, 72).hold("a11", 72, 80).match()))
    assert (row.end_s, row.outcome, row.reached_zone) == (10.0, "progressed", "penalty area")


def test_a_ball_that_is_nowhere_in_the_data_reached_no_zone_one_knows_of(drawing):
    match = short(drawing).match()
    nowhere = replace(match.tracking, ball=np.full_like(match.tracking.ball, np.nan))
    row = only(find_build_ups(replace(match, tracking=nowhere)))
    assert (row.reached_zone, row.n_for) == ("", 5) and np.isnan(row.x)


def test_events_alone(drawing):
    row = find_build_ups(short(drawing).match(tracking=False)).table.iloc[0]
    assert np.isnan(row.n_for) and np.isnan(row.lines_beaten) and row.pressers == () and row.estimated
    assert row.route == "short" and row.players[:3] == ("a1", "a3", "a4") and row.keeper_played


def test_tracking_alone(drawing):
    row = only(find_build_ups(short(drawing).match(events=False)))
    assert (row.n_for, row.n_against, row.estimated) == (5, 2, True) and row["shot"] is pd.NA


def test_neither(drawing):
    match = short(drawing).match(tracking=False, events=False)
    with pytest.raises(
        MissingDataError, match=r"^Finder 'build-up' needs events or tracking; this match has nothing yet\.$"
    ):
        find(match, "build-up")


def test_every_parameter_is_kept(drawing):
    match = short(drawing).match()
    assert dict(find_build_ups(match).params) == {
        "least_s": 1.0, "share": 0.33, "long_m": 30.0, "long_gain_m": 15.0, "switch_m": 30.0, "circulated_m": 25.0,
        "circulated_passes": 3,
    }  # fmt: skip
    assert len(pass_table(match)) == 4
