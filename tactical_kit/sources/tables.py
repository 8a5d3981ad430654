"""Reads a match from anybody's tables through a mapping file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match, Period, Team, Tracking, events_table
from tactical_kit.sources.content import EventsOrigin, JoinedOrigin, check_match_tables, infer_home_attacks
from tactical_kit.sources.mapping import Mapping, day_of
from tactical_kit.sources.mapping_read import read_mapping_so_far
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.tables_events import EventRows, read_events
from tactical_kit.sources.tables_file import open_sheet
from tactical_kit.sources.tables_squad import Roster, read_roster
from tactical_kit.sources.tables_tracking import TrackingRows, check_tracking_header, read_tracking

__all__ = ["read_table_match", "read_table_match_into"]

_OPENING = ("file", "sheet", "header_row", "delimiter", "decimal", "thousands", "encoding", "fill_down")
_LONGEST_S = 36_000.0  # stands for a length that is not known
Progress = Callable[[str, float], None]


def read_table_match(mapping_path: str | Path, progress: Progress | None = None) -> Match:
    """Read a match from CSV, Excel or Parquet tables as a mapping file describes them.

    Parameters
    ----------
    mapping_path : str or Path
        The mapping, a TOML file beside the tables; `draft_mapping` drafts one.
    progress : callable, optional
        Called with a text and the share done (0-1) before each step.

    Returns
    -------
    Match
        Metres, pitch frame, seconds from the start of each period.  Extra columns that the mapping keeps,
        and words that it does not know ("source_kind" and the like), stand at the end of the events.

    Raises
    ------
    InputError
        Something is wrong; every problem of the mapping and of the tables is listed, nothing is loaded.
    """
    problems = Problems()
    match = read_table_match_into(mapping_path, problems, progress)
    problems.raise_if_any()
    assert match is not None
    return match


def read_table_match_into(
    mapping_path: str | Path, problems: Problems, progress: Progress | None = None
) -> Match | None:
    """Read as `read_table_match` does, with errors and warnings going to `problems`; None if there was an error."""
    say = progress or (lambda text, share: None)
    before = len(problems.errors)
    mapping = read_mapping_so_far(mapping_path, problems)
    if mapping is None:
        return None
    roster = read_roster(mapping, problems)
    rows: list[EventRows] = []
    whole = True  # False if a table is missing for a reason that was given
    unreadable = mapping.faulty(*(f"events.{key}" for key in _OPENING)) or "events" in mapping.faults
    for plan in mapping.events:
        part = None
        if "file" not in plan.lost and not unreadable:
            say(f"reading {plan.path.name}", 0.0)
            sheet = open_sheet(
                plan.path, problems, plan.sheet, plan.delimiter, plan.encoding, header_row=plan.header_row
            )
            part = None if sheet is None else read_events(plan, sheet, mapping, roster, problems)
        if part is not None:
            rows.append(part)
        else:
            whole = False
    tracked = None
    if mapping.tracking is not None and "file" not in mapping.tracking.lost:
        say(f"reading {mapping.tracking.path.name}", 0.1)
        if mapping.clock_faulty("tracking") or mapping.faulty(
            "tracking", "coordinates", "pitch", "squad", "match", "words"
        ):
            if not mapping.faulty(*(f"tracking.{key}" for key in _OPENING)):
                check_tracking_header(mapping.tracking, problems)
        else:
            tracked = read_tracking(mapping.tracking, mapping, roster, problems, say)
    if not rows and tracked is None:
        return None
    say("putting the match together", 0.7)
    events = pd.concat([r.table for r in rows], ignore_index=True) if rows else None
    if events is not None:
        events = _filled(events)
    origin = JoinedOrigin([(len(r.table), r.origin) for r in rows]) if len(rows) > 1 else EventsOrigin()
    if len(rows) == 1:
        origin = rows[0].origin
    origin.whole &= whole
    known = None if events is None else events[[not origin.told(i, "period") for i in range(len(events))]]
    started = _starters(roster, known, tracked, mapping, problems, before)
    teams = roster.teams(started)
    periods, stated, unsure = _periods(mapping, known, rows, tracked, teams, problems, before)
    if events is not None:
        _turn_events(events, rows, periods, teams, problems, origin)
    tracking = None if tracked is None else _turn_tracking(tracked, periods)
    say("checking", 0.8)
    check_match_tables(
        problems,
        periods=periods,
        pitch=mapping.pitch,
        home=teams[0],
        away=teams[1],
        events=events,
        origin=origin,
        tracking=tracking,
        tracking_file=tracked.plan.path if tracked else "tracking",
        tracking_rows=tracked.rows if tracked else None,
        stated_directions=stated,
        directions=() if mapping.faulty("words.team", "words.kind") or "words" in mapping.faults
        else tuple(p.number for p in periods if p.number not in unsure),
        timed=tracked is None or tracked.timed,
    )  # fmt: skip
    if len(problems.errors) > before:
        return None
    say("done", 1.0)
    return _match(mapping, teams, periods, events, tracking, problems)


def _filled(events: pd.DataFrame) -> pd.DataFrame:
    # Tables joined one below the other may differ in their extra columns.
    for name in events.columns:
        if name.startswith("source_") or events[name].dtype == object:
            events[name] = events[name].fillna("").astype("str")
    return events


def _match(
    mapping: Mapping,
    teams: tuple[Team, Team],
    periods: tuple[Period, ...],
    events: pd.DataFrame | None,
    tracking: Tracking | None,
    problems: Problems,
) -> Match | None:
    given: dict[str, Any] = dict(mapping.raw.get("match", {}))
    try:
        return Match(
            given.get("id", mapping.path.stem),
            teams[0],
            teams[1],
            periods,
            mapping.pitch,
            None if events is None else events_table(events),
            tracking,
            day=day_of(mapping.raw),
            label=given.get("label", ""),
            invented=given.get("invented", False),
        )
    except TacticalKitError as error:  # what the checks above do not look for
        problems.add(mapping.path, str(error), "tables that fit together", "Mend the tables or the mapping.")
        return None


def _starters(
    roster: Roster,
    events: pd.DataFrame | None,
    tracked: TrackingRows | None,
    mapping: Mapping,
    problems: Problems,
    before: int,
) -> set[str] | None:
    """Who started, told from the data: seen in the first frame, else acting and never brought on before."""
    if not roster.starters_unknown:
        return None
    if tracked is not None:
        tracking = tracked.tracking
        there = np.isfinite(tracking.xy[0, :, 0])
        started = {p for p, t in zip(tracking.players, there) if t}
        how = "in the first frame of the tracking"
    else:
        assert events is not None
        ordered = events.sort_values(["period", "time_s"], kind="stable")
        came = set(ordered.loc[ordered["kind"] == "substitution", "receiver"])
        acting = [p for p in dict.fromkeys(ordered["player"]) if p and p not in came]
        side = {e.player_id: s for s, squad in enumerate(roster.squads) for e in squad}
        started = set()
        for number in (0, 1):
            own = [p for p in acting if side.get(p) == number]
            if len(own) > 11 and len(problems.errors) == before:  # else a change may be among the faulty rows
                problems.add(
                    mapping.path,
                    f"{len(own)} players of {roster.names[number]} never brought on",
                    "at most 11 starters",
                    "The first 11 to act count as starters; give the squads in the mapping to mend it.",
                    kind="warning",
                )
            started.update(own[:11])
        how = "among those who act without having been brought on"
    if roster.on_both:
        problems.add(
            mapping.path,
            f"{', '.join(map(repr, roster.on_both[:5]))} on both sides",
            "players of one side",
            'They were taken for two players each; write players_are = "shirts" under [squad] if these are shirt '
            "numbers.",
            kind="warning",
        )
    if not roster.given and len(problems.errors) == before:  # nothing is told from faulty data
        met = " and ".join(f"{len(s)} players of {n}" for s, n in zip(roster.squads, roster.names))
        problems.add(
            mapping.path,
            "no squads",
            "the squads",
            f"Told from the data: {met}. Starters are those {how}; give [squad] with names and positions to mend it.",
            kind="warning",
        )
    return started


def _periods(
    mapping: Mapping,
    events: pd.DataFrame | None,
    rows: list[EventRows],
    tracked: TrackingRows | None,
    teams: tuple[Team, Team],
    problems: Problems,
    before: int,
) -> tuple[tuple[Period, ...], bool, set[int]]:
    """Put the periods together; also tell whether all directions of attack were stated, and which are not known.

    What is missing is noted, and something is put in its place, so that the rest can be looked at.
    """
    faulty = mapping.clock_faulty("events") or mapping.faulty("period.duration")
    undirected = mapping.faulty("period.home_attacks")
    unsure: set[int] = set()
    plans = {p.number: p for p in mapping.periods}
    met: set[int] = set() if events is None else {int(p) for p in events["period"].unique()}
    tracking = tracked.tracking if tracked else None
    if tracking is not None:
        met |= {int(p) for p in np.unique(tracking.period)}
    if faulty:
        unsure = set(plans) | met
    elif plans and met - set(plans):
        unsure = met - set(plans)
        missing = ", ".join(str(n) for n in sorted(met - set(plans)))
        problems.add(
            mapping.path,
            f"rows of period {missing}",
            "a [[period]] for each period, or none at all",
            f"Add [[period]] with number = {sorted(met - set(plans))[0]}.",
            mapping.line_of("period"),
            "period",
        )
    quiet = len(problems.errors) > before  # what is told from faulty data is not worth a note
    if not plans and not faulty and not quiet:
        played = ", ".join(map(str, sorted(met)))
        problems.add(
            mapping.path, "no [[period]]", "the periods with their lengths",
            f"Met in the data: {played}. Each lasts to the last row of its own in the data; give [[period]] to mend "
            "it.",
            kind="warning",
        )  # fmt: skip
    stated = True
    found: list[Period] = []
    alternate = 1
    for number in sorted(set(plans) | met):
        plan = plans.get(number)
        duration = plan.duration_s if plan else None
        if faulty:
            duration = _LONGEST_S
        if duration is None:
            duration = _last(events, tracking, number)
        attacks = plan.home_attacks if plan else None
        if attacks is None and (number in unsure or undirected):
            unsure.add(number)
            stated = False
            attacks = alternate
        elif attacks is None:
            stated = False
            attacks = _direction(events, rows, tracked, number, mapping, teams, alternate, problems, quiet)
        if not duration > 0 and number not in unsure:
            problems.add(
                mapping.path,
                f"no length of period {number}",
                "its length",
                "Write duration in its [[period]].",
                mapping.line_of("period"),
                "period",
            )
        if not attacks:  # which was noted
            unsure.add(number)
            attacks = alternate
        if not duration > 0:
            duration = _LONGEST_S
        found.append(Period(number, duration, attacks, plan.start if plan else None))
        alternate = -attacks
    return tuple(found), stated, unsure


def _last(events: pd.DataFrame | None, tracking: Tracking | None, number: int) -> float:
    last = 0.0
    if events is not None:
        own = events.loc[events["period"] == number, ["time_s", "end_s"]].to_numpy(float)
        if np.isfinite(own).any():
            last = float(np.nanmax(own))
    if tracking is not None:
        frames = tracking.frames_of(number)
        if frames.stop > frames.start:
            last = max(last, float(tracking.time_s[frames.stop - 1]) + 1 / tracking.rate_hz)
    return last


def _direction(
    events: pd.DataFrame | None,
    rows: list[EventRows],
    tracked: TrackingRows | None,
    number: int,
    mapping: Mapping,
    teams: tuple[Team, Team],
    alternate: int,
    problems: Problems,
    quiet: bool,
) -> int:
    """Tell which way the home side attacks where the mapping is silent; 0, with an error noted, if nothing tells."""
    tracking = tracked.tracking if tracked and tracked.plan.coordinates.frame == "pitch" else None
    fixed = events if rows and all(r.plan.coordinates.frame == "pitch" for r in rows) else None
    if tracking is None and fixed is None:
        return alternate  # the file knows no ends of the ground: any choice gives the same analysis
    if tracking is None and fixed is not None and not fixed[["x", "end_x"]].notna().any(axis=None):
        return alternate  # no place is known at all
    if number == 5:  # both sides shoot at one goal
        return alternate
    sign = infer_home_attacks(fixed, tracking, number, mapping.pitch, teams)
    if sign and quiet:
        return sign
    if sign:
        problems.add(
            mapping.path,
            f"no home_attacks in period {number}",
            "the direction in which the home side attacks",
            f"Shots and keepers say {'right' if sign > 0 else 'left'}; write it in the [[period]] if that is right.",
            kind="warning",
        )
        return sign
    problems.add(
        mapping.path,
        f"no home_attacks in period {number}",
        "the direction in which the home side attacks",
        'Shots and keepers do not tell it. Write home_attacks = "right" or "left" in its [[period]], or '
        'frame = "attacking" if x always runs in the '
        "direction of the acting side.",
        mapping.line_of("period"),
        "period",
    )
    return 0


def _turn_events(
    events: pd.DataFrame,
    rows: list[EventRows],
    periods: tuple[Period, ...],
    teams: tuple[Team, Team],
    problems: Problems,
    origin: EventsOrigin,
) -> None:
    """Turn events that are given in a side's own frame into the pitch frame, in place."""
    frame = np.concatenate([np.full(len(r.table), r.plan.coordinates.frame, object) for r in rows])
    home = np.zeros(len(events))
    for p in periods:
        home[events["period"] == p.number] = p.home_attacks
    side = np.where(events["team"] == teams[1].team_id, -1.0, 1.0)
    sign = np.where(frame == "attacking", home * side, np.where(frame == "home", home, 1.0))
    sign[sign == 0] = 1.0
    homeless = (frame == "attacking") & (events["team"] == "").to_numpy(bool) & events["x"].notna().to_numpy(bool)
    told = np.array([origin.told(i, "team", "period") for i in range(len(events))], bool)
    sign[homeless] = np.where(told[homeless], sign[homeless], np.nan)  # the place itself may be wrong, too
    homeless &= ~told
    if homeless.any():
        sign[homeless] = np.nan  # without a side there is no attacking direction: nothing is guessed
        problems.add(
            rows[0].plan.path,
            f"rows with a place and no team: {int(homeless.sum())}",
            'a team where frame = "attacking"',
            "The places were left empty.",
            kind="warning",
        )
    for name in ("x", "y", "end_x", "end_y"):
        events[name] = events[name].to_numpy(float) * sign + 0.0


def _turn_tracking(tracked: TrackingRows, periods: tuple[Period, ...]) -> Tracking:
    tracking = tracked.tracking
    if tracked.plan.coordinates.frame == "home":
        xy, ball = tracking.xy, tracking.ball
        for p in periods:
            if p.home_attacks < 0:
                frames = tracking.frames_of(p.number)
                xy[frames] *= -1
                ball[frames, :2] *= -1
        return replace(tracking, xy=xy, ball=ball)
    return tracking
