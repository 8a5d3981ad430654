"""Checks of the content that all sources share, on their edges.  Thresholds: common practice, no source."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tactical_kit.match import Period, Player, Team, Tracking, events_table
from tactical_kit.pitch import Pitch
from tactical_kit.sources.content import EventsOrigin, JoinedOrigin, check_match_tables, infer_home_attacks
from tactical_kit.sources.content_units import guess_ranges, suspected
from tactical_kit.sources.problems import Problems

PERIODS = (Period(1, 2700.0, 1), Period(2, 2700.0, -1))


def side(letter: str, players: int = 13) -> Team:
    squad = tuple(
        Player(f"{letter}{i}", f"{letter} {i}", letter, i, "GK" if i == 1 else "", i <= 11)
        for i in range(1, players + 1)
    )
    return Team(letter, f"Team {letter}", players=squad)


HOME, AWAY = side("H"), side("A")


def lines(events: pd.DataFrame | None = None, tracking: Tracking | None = None, **more: object) -> list[str]:
    problems = Problems()
    check_match_tables(
        problems, periods=PERIODS, pitch=Pitch(), home=HOME, away=AWAY, events=events, tracking=tracking, **more
    )  # type: ignore[arg-type]
    return problems.lines()


def event(**cells: object) -> dict[str, object]:
    return {"period": 1, "time_s": 10.0, "kind": "pass", "team": "H", "player": "H2", "x": 0.0, "y": 0.0} | cells


def unsorted(*rows: dict[str, object]) -> pd.DataFrame:
    """Events in the order given, as a reader hands them over."""
    parts = [events_table([row]) for row in rows]
    return pd.concat(parts, ignore_index=True).assign(event_id=[f"e{i}" for i in range(len(rows))])


# -- events -----------------------------------------------------------------------------------------------


def test_nothing_is_said_of_sound_events() -> None:
    assert lines(unsorted(event(), event(time_s=11.0), event(period=2, time_s=0.0, team="A", player="A3"))) == []


@pytest.mark.parametrize(
    ("x", "y", "fine"),
    [(55.5, 0, True), (55.51, 0, False), (0, 37, True), (0, -37.01, False), (-55.5, 37, True)],
)
def test_three_metres_off_the_pitch_are_allowed_and_no_more(x: float, y: float, fine: bool) -> None:
    got = lines(unsorted(event(x=x, y=y)))
    assert (
        got == []
        if fine
        else got
        == [
            f"events, row 1, column 'x': met ({x:.1f}, {y:.1f}) m from the centre spot; expected a place within 3 m of the "
            "pitch of 105 x 68 m. Check unit, origin and pitch size."
        ]
    )


@pytest.mark.parametrize(("time_s", "fine"), [(2701.0, True), (2701.01, False)])
def test_one_second_past_the_last_whistle_is_allowed(time_s: float, fine: bool) -> None:
    assert (lines(unsorted(event(time_s=time_s))) == []) is fine


@pytest.mark.parametrize(("back", "kind"), [(1.0, ""), (1.01, "warning"), (300.0, "warning"), (300.01, "error")])
def test_time_that_runs_backwards(back: float, kind: str) -> None:
    problems = Problems()
    events = unsorted(event(time_s=1000.0), event(time_s=1000.0 - back))
    check_match_tables(problems, periods=PERIODS, pitch=Pitch(), home=HOME, away=AWAY, events=events)
    assert [p.kind for p in problems] == ([kind] if kind else [])


def test_the_first_half_running_on_is_no_step_back_of_the_second() -> None:
    assert lines(unsorted(event(time_s=2600.0), event(period=2, time_s=1.0))) == []


def test_an_end_at_the_start_is_allowed_and_one_before_it_is_not() -> None:
    assert lines(unsorted(event(end_s=10.0))) == []
    assert lines(unsorted(event(end_s=9.9))) == [
        "events, row 1, column 'end_s': met an end at 9.9 s, a start at 10 s; expected an end that is not before the start. "
        "Check both times, or leave the end empty."
    ]


def test_a_slip_or_two_among_a_hundred_places_is_a_note() -> None:
    rows = [event(time_s=float(i), x=float(i % 50), y=float(i % 30)) for i in range(120)]
    rows[7]["x"] = 57.0
    assert lines(events_table(rows)) == [
        "warning: events, row 8, column 'x': met (57.0, 7.0) m from the centre spot; expected a place within 3 m of the "
        "pitch of 105 x 68 m. Check unit, origin and pitch size."
    ]


def test_eleven_starters_are_allowed_and_a_substitution_keeps_eleven() -> None:
    sub = event(kind="substitution", player="H2", receiver="H12", time_s=100.0)
    assert lines(unsorted(event(), sub, event(player="H12", time_s=200.0))) == []
    assert lines(unsorted(event(), sub, event(player="H2", time_s=200.0))) == [
        "warning: events, row 3, column 'player': met 'H2', who has left the pitch; expected a player who is on the pitch. "
        "Check the player, and the substitution before."
    ]


def test_after_a_red_card_nobody_may_be_brought_on_for_the_dismissed() -> None:
    red = event(kind="card", detail="red", player="H2", time_s=50.0)
    sub = event(kind="substitution", player="H2", receiver="H12", time_s=100.0)
    assert lines(unsorted(red, sub)) == [
        "events, row 2, column 'player': met 'H2' going off; expected a player who is on the pitch. The player going off "
        "stands in the player column, the one coming on as receiver."
    ]


def test_everything_wrong_is_reported_together() -> None:
    bad = event(time_s=-1.0, end_s=-2.0, team="X", player="nobody", x=np.inf, y=np.nan, kind="passs")
    assert lines(unsorted(bad, bad)) and len(lines(unsorted(bad))) == 7


def test_a_problem_names_the_users_own_row_and_column() -> None:
    origin = EventsOrigin("log.csv", [17], {"time_s": "Clock"})
    assert lines(unsorted(event(time_s=-1.0)), origin=origin) == [
        "log.csv, row 17, column 'Clock': met -1 s; expected 0 or more seconds from the start of the period. Check where "
        "the clock starts."
    ]


def test_tables_laid_one_below_the_other_keep_their_files_and_rows() -> None:
    origin = JoinedOrigin([(1, EventsOrigin("a.csv", [2])), (1, EventsOrigin("b.csv", [2], {"time_s": "t"}))])
    # The second table starts anew: that is no step back of the first.
    assert lines(unsorted(event(time_s=2000.0), event(time_s=-5.0)), origin=origin) == [
        "b.csv, row 2, column 't': met -5 s; expected 0 or more seconds from the start of the period. Check where the clock "
        "starts."
    ]


# -- directions -------------------------------------------------------------------------------------------


def shots(team: str, period: int, xs: list[float]) -> list[dict[str, object]]:
    return [
        event(kind="shot", team=team, player=f"{team}2", period=period, time_s=float(i), x=x) for i, x in enumerate(xs)
    ]


@pytest.mark.parametrize(
    ("home", "away", "sign"),
    [
        ([40, 41, 42], [], 1),  # three of three
        ([40, 41], [], 0),  # too few
        ([40, 41, 42, 43, -40], [], 1),  # four in five
        ([40, 41, 42, -40], [], 0),  # three in four
        ([], [40, 41, 42], -1),
        ([40, 41, 42], [40, 41, 42], 0),  # they contradict one another
        ([-40, -41, -42], [40, 41, 42], -1),
    ],
)  # fmt: skip
def test_the_direction_is_told_from_shots(home: list[float], away: list[float], sign: int) -> None:
    rows = [*shots("H", 1, home), *shots("A", 1, away)] or [event()]
    assert infer_home_attacks(events_table(rows), None, 1, Pitch(), (HOME, AWAY)) == sign


def test_goal_kicks_tell_the_direction_where_shots_do_not() -> None:
    rows = [event(set_play="goal-kick", x=-47.0, time_s=float(i)) for i in range(3)]
    assert infer_home_attacks(events_table(rows), None, 1, Pitch(), (HOME, AWAY)) == 1


# -- tracking ---------------------------------------------------------------------------------------------


def tracking(frames: int = 50, rate: float = 25.0, per_side: int = 11, home_keeper: float = -45.0) -> Tracking:
    players = tuple(f"{t}{i}" for t in "HA" for i in range(1, per_side + 1))
    xy = np.zeros((frames, len(players), 2), np.float32)
    for p, name in enumerate(players):
        turn = 1 if name[0] == "H" else -1
        number = int(name[1:])
        xy[:, p, 0] = turn * (home_keeper if number == 1 else -25 + 2 * number)
        xy[:, p, 1] = 3 * number - 20
    return Tracking(
        rate,
        np.ones(frames, np.int8),
        np.arange(frames) / rate,
        players,
        np.array([0 if p[0] == "H" else 1 for p in players], np.int8),
        xy,
        np.zeros((frames, 3), np.float32),
        np.ones(frames, bool),
    )


def test_nothing_is_said_of_sound_tracking() -> None:
    assert lines(tracking=tracking()) == []


def test_eleven_a_side_are_allowed_and_twelve_are_not() -> None:
    assert lines(tracking=tracking(per_side=11)) == []
    assert lines(tracking=tracking(per_side=12), tracking_rows=np.arange(2, 52)) == [
        "tracking, row 2: met 12 players of the home side at once (and in 49 more frames); expected at most 11. Leave the "
        "cells of players who are not on the pitch empty.",
        "tracking, row 2: met 12 players of the away side at once (and in 49 more frames); expected at most 11. Leave the "
        "cells of players who are not on the pitch empty.",
    ]
    twelve = tracking(per_side=12)
    twelve.xy[:25, 1] = np.nan  # a substitution: never more than eleven at once
    twelve.xy[25:, 2] = np.nan
    twelve.xy[:, 13] = np.nan
    assert [line for line in lines(tracking=twelve) if "at once" in line] == []


@pytest.mark.parametrize(("speed", "fine"), [(11.9, True), (12.1, False)])
def test_twelve_metres_a_second_over_a_second_are_a_note(speed: float, fine: bool) -> None:
    t = tracking(frames=60)
    t.xy[:, 4, 0] = -20 + speed * np.arange(60) / 25
    got = lines(tracking=t)
    assert (got == []) is fine
    if not fine:
        assert got == [
            "warning: tracking, row 1: met 'H5' at 12 m/s, in 1.4 s in all; expected at most 12 m/s over one second. Two "
            "players may have been taken for one another, or the unit or the frame rate is wrong."
        ]


def test_a_gap_in_the_data_is_no_speed() -> None:
    t = tracking(frames=60)
    moved = t.time_s + np.where(np.arange(60) >= 30, 20.0, 0.0)
    t.xy[30:, 4, 0] += 30
    gap = Tracking(t.rate_hz, t.period, moved, t.players, t.team_index, t.xy, t.ball, t.alive)
    assert lines(tracking=gap) == []


def test_keepers_tell_ends_that_are_stated_the_wrong_way_round() -> None:
    assert lines(tracking=tracking(home_keeper=45.0)) == [
        "tracking: met the home side attacking towards -x in period 1; expected +x, as stated. Home: keeper at x = 45 m. "
        "Mend the direction of attack of this period, or the direction of the axes."
    ]
    assert lines(tracking=tracking(home_keeper=45.0), stated_directions=False) == []


def test_keepers_at_one_end_are_an_error() -> None:
    t = tracking()
    t.xy[:, 11, 0] = -44
    assert lines(tracking=t) == [
        "tracking: met both sides attacking towards +x in period 1; expected sides that attack opposite goals. Home: keeper "
        "at x = -45 m; away: keeper at x = -44 m. If x always runs in the attacking direction of the acting side, say so: "
        'frame = "attacking".'
    ]


def test_no_frame_and_no_event_are_refused() -> None:
    t = tracking()
    none = Tracking(25.0, t.period[:0], t.time_s[:0], t.players, t.team_index, t.xy[:0], t.ball[:0], t.alive[:0])
    assert lines(unsorted(event()).iloc[:0], none) == [
        "events: met no event; expected at least one row below the header. Check that the export is whole.",
        "tracking: met 0 frames; expected at least one frame. Check that the export is whole.",
    ]


# -- units ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        ((0, 100), (0, 100), "per cent of the pitch from a corner (0 to 100, 0 to 100)"),
        ((0, 1), (0, 1), "shares 0-1 from a corner (0 to 1, 0 to 1)"),
        ((0, 105), (0, 68), "metres from a corner (0 to 105, 0 to 68)"),
        ((-52.5, 52.5), (-34, 34), "metres from the centre (-52.5 to 52.5, -34 to 34)"),
        ((0, 120), (0, 80), "pitch units from a corner (0 to 120, 0 to 80)"),
        ((0, 114.8), (0, 74.4), "yards from a corner (0 to 114.8, 0 to 74.4)"),
        ((-5250, 5250), (-3400, 3400), "centimetres from the centre (-5250 to 5250, -3400 to 3400)"),
        ((-0.5, 0.5), (-0.5, 0.5), "shares 0-1 from the centre (-0.5 to 0.5, -0.5 to 0.5)"),
    ],
)
def test_a_unit_is_told_from_the_range(x: tuple[float, float], y: tuple[float, float], words: str) -> None:
    assert guess_ranges(x, y)[0].words == words


def test_a_range_that_nothing_fits_gives_no_guess() -> None:
    assert guess_ranges([0, 1e6], [0, 1]) == []
    assert guess_ranges([], []) == [] and guess_ranges([np.nan], [1.0]) == []
    assert suspected([0, 1e6], [0, 1]) == ""
