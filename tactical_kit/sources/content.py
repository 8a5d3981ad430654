"""What must hold in any match, whatever file it came from; the tables one by one, and the directions of attack."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from tactical_kit.match import Period, Team, Tracking
from tactical_kit.pitch import Pitch
from tactical_kit.sources.content_events import EventsOrigin, JoinedOrigin, check_events
from tactical_kit.sources.content_tracking import check_tracking, keeper_sides
from tactical_kit.sources.problems import Problems

__all__ = ["EventsOrigin", "JoinedOrigin", "check_events", "check_match_tables", "infer_home_attacks"]


def check_match_tables(
    problems: Problems,
    *,
    periods: Sequence[Period],
    pitch: Pitch,
    home: Team,
    away: Team,
    events: pd.DataFrame | None = None,
    origin: EventsOrigin | None = None,
    tracking: Tracking | None = None,
    tracking_file: str | Path = "tracking",
    tracking_rows: ArrayLike | None = None,
    stated_directions: bool = True,
    directions: Sequence[int] | None = None,
    timed: bool = True,
) -> None:
    """Look through the tables of a match for what cannot be, and note everything met.

    Parameters
    ----------
    problems : Problems
        Where the findings go; nothing is raised here.
    periods, pitch, home, away
        The match.
    events : DataFrame, optional
        Events in the kit's columns, metres, pitch frame, in the order of the file.
    origin : EventsOrigin, optional
        Where the rows stand in the user's file.
    tracking : Tracking, optional
        Positions.
    tracking_file, tracking_rows
        File of the tracking and the row of each frame in it.
    stated_directions : bool, default True
        False if the directions of attack were told from these very data: then they are not compared.
    directions : sequence of int, optional
        Periods whose directions of attack are looked at; all by default.
    timed : bool, default True
        False if the frame rate of the tracking was found wrong before: then no speeds are taken.
    """
    origin = origin or EventsOrigin()
    if events is not None and not check_events(problems, events, origin, periods, pitch, (home, away)):
        events = None  # places in a wrong unit tell no direction
    if tracking is not None and not check_tracking(
        problems, tracking, tracking_file, tracking_rows, periods, pitch, timed=timed
    ):
        tracking = None
    periods = [p for p in periods if directions is None or p.number in directions]
    _check_directions(
        problems, events, origin, tracking, tracking_file, periods, pitch, (home, away), stated_directions
    )


# -- directions ---------------------------------------------------------------------------------------


def _event_votes(events: pd.DataFrame, team: str, period: int, pitch: Pitch) -> tuple[int, str]:
    """Direction (+1, -1, 0 unknown) in which a side attacks in a period, and the evidence in words."""
    own = events[(events["team"] == team) & (events["period"] == period)]
    shots = own[(own["kind"] == "shot") & (own["detail"] != "own-goal")]["x"].dropna().to_numpy(float)
    kicks = own[own["set_play"] == "goal-kick"]["x"].dropna().to_numpy(float)
    kicks = kicks[np.abs(kicks) > pitch.half_length - 18]
    for x, turn, words in ((shots, 1, "shots"), (kicks, -1, "goal kicks")):
        if len(x) >= 3 and np.mean(np.sign(x) == np.sign(np.median(x))) >= 0.8:
            return turn * int(np.sign(np.median(x))), f"{len(x)} {words} at x = {np.median(x):.0f} m"
    return 0, ""


def infer_home_attacks(
    events: pd.DataFrame | None, tracking: Tracking | None, period: int, pitch: Pitch, teams: tuple[Team, Team]
) -> int:
    """Tell from shots, goal kicks and keepers which way the home side attacks: +1, -1, or 0 if it cannot be told.

    Notes
    -----
    Three shots (or goal kicks) of a side with at least four in five on one half count, and so does a keeper
    whose median place lies in the outer half of one half.  Two sides that contradict one another give 0.
    Source: common practice, no source.
    """
    home, away = _signs(events, tracking, period, pitch, teams)
    if home[0] and away[0] and home[0] == away[0]:
        return 0
    return home[0] or -away[0]


def _signs(
    events: pd.DataFrame | None, tracking: Tracking | None, period: int, pitch: Pitch, teams: tuple[Team, Team]
) -> list[tuple[int, str]]:
    found = [(0, ""), (0, "")]
    if tracking is not None:
        keepers = [{p.player_id for p in t.players if p.position == "GK"} for t in teams]
        found = keeper_sides(tracking, period, pitch, keepers)
    if events is not None:
        for i, team in enumerate(teams):
            if not found[i][0]:
                found[i] = _event_votes(events, team.team_id, period, pitch)
    return found


def _check_directions(
    problems: Problems,
    events: pd.DataFrame | None,
    origin: EventsOrigin,
    tracking: Tracking | None,
    tracking_file: str | Path,
    periods: Sequence[Period],
    pitch: Pitch,
    teams: tuple[Team, Team],
    stated: bool,
) -> None:
    # Each table is judged by itself, so that the problem names the right file.
    for file, table, track in ((origin.file, events, None), (tracking_file, None, tracking)):
        if table is None and track is None:
            continue
        for period in periods:
            if period.number == 5:  # a shoot-out is taken at one goal
                continue
            (home, home_words), (away, away_words) = _signs(table, track, period.number, pitch, teams)
            if home and home == away:
                problems.add(
                    file,
                    f"both sides attacking towards {_way(home)} in period {period.number}",
                    "sides that attack opposite goals",
                    f"Home: {home_words}; away: {away_words}. If x always runs in the attacking direction of the "
                    'acting side, say so: frame = "attacking".',
                )
            elif stated and (home or -away) not in (0, period.home_attacks):
                problems.add(
                    file,
                    f"the home side attacking towards {_way(-period.home_attacks)} in period {period.number}",
                    f"{_way(period.home_attacks)}, as stated",
                    f"{'Home: ' + home_words if home else 'Away: ' + away_words}. Mend the direction of attack of this "
                    "period, or the direction of the axes.",
                )


def _way(sign: int) -> str:
    return "+x" if sign > 0 else "-x"
