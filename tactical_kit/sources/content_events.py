"""What must hold in any events table: ids, words, times, places, names, line-ups."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import suggest
from tactical_kit.match import KINDS, Period, Team
from tactical_kit.pitch import Pitch
from tactical_kit.sources.content_units import suspected
from tactical_kit.sources.problems import Problems

__all__ = ["EventsOrigin", "JoinedOrigin", "check_events"]

_FAR = 1e6  # metres or seconds beyond which a number is a slip of the keyboard


class EventsOrigin:
    """Where the rows of an events table stand in the user's file, so that a problem can name the place.

    Parameters
    ----------
    file : str or Path
        The file that is named in problems.
    rows : array of int, optional
        Row of each event as the user's program counts it; 1, 2, 3... if not given.
    columns : mapping, optional
        The file's name of each of the kit's columns, where it differs.
    raw_x, raw_y : array, optional
        Coordinates as they stand in the file: the suspected unit is told from them.
    bad : mapping of str to (N,) bool array, optional
        By the kit's column, the cells that were complained of already: nothing more is said of them.
    whole : bool, default True
        False if rows are missing that were complained of already: then nobody is followed on and off the pitch.
    """

    def __init__(
        self,
        file: str | Path = "events",
        rows: ArrayLike | None = None,
        columns: Mapping[str, str] | None = None,
        raw_x: ArrayLike | None = None,
        raw_y: ArrayLike | None = None,
        bad: Mapping[str, NDArray[np.bool_]] | None = None,
        whole: bool = True,
    ) -> None:
        self.file = file
        self.rows = None if rows is None else np.asarray(rows)
        self.columns = dict(columns or {})
        self.bad = bad or {}
        self.whole = whole
        self.raw = None if raw_x is None or raw_y is None else (np.asarray(raw_x, float), np.asarray(raw_y, float))

    def row(self, i: int) -> int:
        """Row of the i-th event in the user's file."""
        return int(i) + 1 if self.rows is None else int(self.rows[i])

    def column(self, name: str, i: int = 0) -> str:
        """The file's name of one of the kit's columns."""
        return self.columns.get(name, name)

    def at(self, i: int) -> str | Path:
        """The file of the i-th event."""
        return self.file

    def told(self, i: int, *names: str) -> bool:
        """Tell whether one of these cells of the i-th event was complained of already."""
        return any(name in self.bad and bool(self.bad[name][i]) for name in names)


class JoinedOrigin(EventsOrigin):
    """Where the rows stand if several files were laid one below the other."""

    def __init__(self, parts: Sequence[tuple[int, EventsOrigin]]) -> None:
        super().__init__(parts[0][1].file, whole=all(origin.whole for _, origin in parts))
        self._part = [origin for n, origin in parts for _ in range(n)]
        self._start = [i for n, _ in parts for i in range(n)]

    def row(self, i: int) -> int:
        """Row of the i-th event in its own file."""
        return self._part[i].row(self._start[i])

    def column(self, name: str, i: int = 0) -> str:
        """The name that the file of the i-th event gives one of the kit's columns."""
        return self._part[i].column(name)

    def at(self, i: int) -> str | Path:
        """The file of the i-th event."""
        return self._part[i].file

    def told(self, i: int, *names: str) -> bool:
        """Tell whether one of these cells of the i-th event was complained of already."""
        return self._part[i].told(self._start[i], *names)


def check_events(
    problems: Problems,
    events: pd.DataFrame,
    origin: EventsOrigin,
    periods: Sequence[Period],
    pitch: Pitch,
    teams: tuple[Team, Team],
) -> bool:
    """Check an events table: empty, ids, kinds, times, places, names, line-ups; tell whether the places are sound."""
    if not len(events):
        problems.add(origin.file, "no event", "at least one row below the header", "Check that the export is whole.")
        return False
    _check_ids(problems, events, origin)
    _check_times(problems, events, origin, periods)
    sound = _check_places(problems, events, origin, pitch)
    _check_names(problems, events, origin, teams)
    if origin.whole:
        _check_line_ups(problems, events, origin, teams)
    return sound


# -- ids and words ------------------------------------------------------------------------------------


def _check_ids(problems: Problems, events: pd.DataFrame, origin: EventsOrigin) -> None:
    ids = events["event_id"].to_numpy(dtype=object)
    first: dict[str, int] = {}
    for i, name in enumerate(ids):
        if name == "" or origin.told(i, "event_id"):
            continue
        if name in first:
            problems.add(
                origin.at(i),
                f"{name!r}, which row {origin.row(first[name])} has, too",
                "an id of its own for each event",
                "Remove the copied row, or leave the ids out: the kit numbers the events itself.",
                origin.row(i),
                origin.column("event_id", i),
            )
        first.setdefault(name, i)
    for i in np.flatnonzero(~events["kind"].isin([*KINDS, ""]).to_numpy(bool)).tolist():
        if origin.told(i, "kind"):
            continue
        word = str(events["kind"].iloc[i])
        problems.add(
            origin.at(i),
            repr(word),
            "a kind of event the kit knows",
            f"Known are {', '.join(KINDS)}.{suggest(word, KINDS)}",
            origin.row(i),
            origin.column("kind", i),
        )


# -- times --------------------------------------------------------------------------------------------


def _check_times(problems: Problems, events: pd.DataFrame, origin: EventsOrigin, periods: Sequence[Period]) -> None:
    lasts = {p.number: p.duration_s for p in periods}
    period = events["period"].to_numpy()
    time_s, end_s = events["time_s"].to_numpy(float), events["end_s"].to_numpy(float)
    latest: dict[tuple[object, int, object], float] = {}
    # A table may list one side below the other: then the clock starts anew with the second.
    team = events["team"].to_numpy(dtype=object)
    apart = int((team[1:] != team[:-1]).sum()) == 1
    for i in range(len(events)):
        number, now, clock = int(period[i]), time_s[i], origin.column("time_s", i)
        if origin.told(i, "period", "time_s"):
            continue
        if number not in lasts:
            problems.add(
                origin.at(i),
                f"period {number}",
                f"a period that was played ({', '.join(map(str, lasts))})",
                "1 and 2 are the halves, 3 and 4 extra time, 5 the shoot-out.",
                origin.row(i),
                origin.column("period", i),
            )
            continue
        if not np.isfinite(now):
            met = "no time" if np.isnan(now) else f"{now:g}"
            problems.add(
                origin.at(i), met, "a time in every row", "Fill it in, or remove the row.", origin.row(i), clock
            )
            continue
        if now < 0:
            problems.add(
                origin.at(i),
                f"{now:g} s",
                "0 or more seconds from the start of the period",
                "Check where the clock starts.",
                origin.row(i),
                clock,
            )
        elif now > lasts[number] + 1.0:
            problems.add(
                origin.at(i),
                f"{now:g} s in period {number}",
                f"at most its length of {lasts[number]:g} s",
                "Mend the length of the period, or say that the clock counts from the start of the match.",
                origin.row(i),
                clock,
            )
        wrong = now < 0 or now > lasts[number] + 1.0
        key = (origin.at(i), number, team[i] if apart else "")
        back = 0.0 if wrong else latest.get(key, now) - now
        if back > 300:
            problems.add(
                origin.at(i),
                f"{now:g} s after {latest[key]:g} s",
                "time that does not run backwards within a period",
                "The clock starts anew: check that the period column tells the periods apart.",
                origin.row(i),
                clock,
            )
        elif back > 1.0:
            problems.add(
                origin.at(i),
                f"{now:g} s after {latest[key]:g} s",
                "rows in the order of time",
                "The rows were sorted by time; check the clock of this row.",
                origin.row(i),
                clock,
                kind="warning",
            )
        if not wrong:
            latest[key] = now  # not the latest of all: one slip is one line
        if end_s[i] < now - 1e-6:
            problems.add(
                origin.at(i),
                f"an end at {end_s[i]:g} s, a start at {now:g} s",
                "an end that is not before the start",
                "Check both times, or leave the end empty.",
                origin.row(i),
                origin.column("end_s", i),
            )


# -- places -------------------------------------------------------------------------------------------


def _check_places(
    problems: Problems, events: pd.DataFrame, origin: EventsOrigin, pitch: Pitch, margin_m: float = 3.0
) -> bool:
    sound = True  # but for single cells
    for x_name, y_name in (("x", "y"), ("end_x", "end_y")):
        x, y = events[x_name].to_numpy(float), events[y_name].to_numpy(float)
        for i in np.flatnonzero(np.isinf(x) | np.isinf(y) | (np.abs(x) > _FAR) | (np.abs(y) > _FAR)).tolist():
            name = x_name if not abs(x[i]) <= _FAR else y_name
            problems.add(
                origin.at(i),
                f"{events[name].iloc[i]:g}",
                "a place on the pitch",
                "Leave the cell empty if the place is not known.",
                origin.row(i),
                origin.column(name, i),
            )
        for i in np.flatnonzero(np.isnan(x) != np.isnan(y)).tolist():
            if origin.told(i, x_name, y_name):
                continue
            there, empty = (y_name, x_name) if np.isnan(x[i]) else (x_name, y_name)
            problems.add(
                origin.at(i),
                f"{origin.column(there, i)} without {origin.column(empty, i)}",
                "both coordinates or neither",
                "Fill in the other one, or empty both.",
                origin.row(i),
                origin.column(empty, i),
            )
        known = np.isfinite(x) & np.isfinite(y) & (np.abs(x) <= _FAR) & (np.abs(y) <= _FAR)
        outside = known & ~pitch.contains(x, y, margin_m)
        if not known.any():
            continue
        # A slip or two among many is a note, and says nothing of the unit.
        few = outside.sum() <= max(2, 0.005 * known.sum()) and known.sum() >= 100
        hint = suspected(*_raw(origin, x, y), pitch) if x_name == "x" and not few else ""
        mend = f"{hint}: check unit, origin and pitch size." if hint else "Check unit, origin and pitch size."
        field = f"within {margin_m:g} m of the pitch of {pitch.length_m:g} x {pitch.width_m:g} m"
        if outside.sum() > 5 and outside.sum() > 0.1 * known.sum():  # a wrong unit: one line, not thousands
            i = int(np.flatnonzero(outside)[0])
            problems.add(
                origin.at(i),
                f"{outside.sum()} of {known.sum()} places outside, as ({x[i]:.1f}, {y[i]:.1f}) m",
                f"places {field}, metres from the centre spot",
                mend,
                origin.row(i),
                origin.column(x_name, i),
            )
            sound = False
            continue
        for i in np.flatnonzero(outside).tolist():
            far = max(abs(x[i]) - pitch.half_length, abs(y[i]) - pitch.half_width)
            problems.add(
                origin.at(i),
                f"({x[i]:.1f}, {y[i]:.1f}) m from the centre spot",
                f"a place {field}",
                mend,
                origin.row(i),
                origin.column(x_name, i),
                kind="warning" if few and far < 20 else "error",
            )
        if x_name == "x" and known.sum() >= 20 and not outside.any():
            span_x, span_y = float(np.ptp(x[known])), float(np.ptp(y[known]))
            if span_x < pitch.length_m / 20 and span_y < pitch.width_m / 20:
                problems.add(
                    origin.file,
                    f"{known.sum()} places within {span_x:.2f} x {span_y:.2f} m",
                    "places all over the pitch",
                    mend,
                    column=origin.column(x_name),
                )
                sound = False
    return sound


def _raw(origin: EventsOrigin, x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[ArrayLike, ArrayLike]:
    return origin.raw if origin.raw is not None else (x, y)


# -- who ----------------------------------------------------------------------------------------------


def _check_names(problems: Problems, events: pd.DataFrame, origin: EventsOrigin, teams: tuple[Team, Team]) -> None:
    side = {p.player_id: t.team_id for t in teams for p in t.players}
    names = [p.name for t in teams for p in t.players]
    team_ids = [t.team_id for t in teams]
    team_col = events["team"].to_numpy(dtype=object)
    for i, team in enumerate(team_col):
        if team not in (*team_ids, "") and not origin.told(i, "team"):
            problems.add(
                origin.at(i),
                repr(team),
                f"one of the teams {team_ids[0]!r}, {team_ids[1]!r}",
                f"Mend the team.{suggest(team, team_ids)}",
                origin.row(i),
                origin.column("team", i),
            )
    for column in ("player", "receiver"):
        for i, player in enumerate(events[column].to_numpy(dtype=object)):
            if player == "" or origin.told(i, column):
                continue
            if player not in side:
                problems.add(
                    origin.at(i),
                    repr(player),
                    "a player of one of the squads",
                    f"Add the player to a squad, or mend the name.{suggest(player, [*side, *names])}",
                    origin.row(i),
                    origin.column(column, i),
                )
            elif column == "player" and team_col[i] in team_ids and side[player] != team_col[i]:
                problems.add(
                    origin.at(i),
                    f"{player!r} of {side[player]!r} in an event of {team_col[i]!r}",
                    "a player of the acting side",
                    "Check the team of this row.",
                    origin.row(i),
                    origin.column(column, i),
                    kind="warning",
                )


def _check_line_ups(problems: Problems, events: pd.DataFrame, origin: EventsOrigin, teams: tuple[Team, Team]) -> None:
    """Follow who is on the pitch through the substitutions and cards."""
    on: dict[str, set[str]] = {t.team_id: {p.player_id for p in t.players if p.starter} for t in teams}
    for team in teams:
        if len(on[team.team_id]) > 11:
            problems.add(
                f"squad of {team.name}",
                f"{len(on[team.team_id])} starters",
                "at most 11",
                "Mark the substitutes as such (starter = false).",
            )
            return
    side = {p.player_id: t.team_id for t in teams for p in t.players}
    gone: set[str] = set()
    doubtful: set[str] = set()  # sides of whose changes one could not be read
    # Arrays, not rows of a DataFrame: a whole match has thousands of events.
    order = np.lexsort((np.arange(len(events)), events["time_s"].to_numpy(float), events["period"].to_numpy()))
    kinds, details, players, receivers = (
        events[name].to_numpy(dtype=object) for name in ("kind", "detail", "player", "receiver")
    )
    for i in order.tolist():
        kind, player, receiver = kinds[i], str(players[i]), str(receivers[i])
        if origin.told(i, "kind") or (
            (kind == "substitution" or (kind == "card" and details[i] in ("red", "second-yellow")))
            and origin.told(i, "period", "time_s", "team", "player", "receiver")
        ):
            doubtful.update(on)
        if side.get(player, side.get(receiver)) in doubtful:
            continue
        if kind == "substitution":
            if player in side and player not in on[side[player]]:
                problems.add(
                    origin.at(i),
                    f"{player!r} going off",
                    "a player who is on the pitch",
                    "The player going off stands in the player column, the one coming on as receiver.",
                    origin.row(i),
                    origin.column("player", i),
                )
            if receiver in side and receiver in on[side[receiver]]:
                problems.add(
                    origin.at(i),
                    f"{receiver!r} coming on",
                    "a player who is not yet on the pitch",
                    "The player going off stands in the player column, the one coming on as receiver.",
                    origin.row(i),
                    origin.column("receiver", i),
                )
            if player in side:
                on[side[player]].discard(player)
                gone.add(player)
            if receiver in side:
                on[side[receiver]].add(receiver)
                gone.discard(receiver)
                if len(on[side[receiver]]) > 11:
                    problems.add(
                        origin.at(i),
                        f"{len(on[side[receiver]])} players of {side[receiver]!r}",
                        "at most 11 on the pitch at once",
                        "Check who goes off here.",
                        origin.row(i),
                        origin.column("receiver", i),
                    )
        elif player in gone and kind != "card":
            problems.add(
                origin.at(i),
                f"{player!r}, who has left the pitch",
                "a player who is on the pitch",
                "Check the player, and the substitution before.",
                origin.row(i),
                origin.column("player", i),
                kind="warning",
            )
        if kind == "card" and details[i] in ("red", "second-yellow") and player in side:
            on[side[player]].discard(player)
            gone.add(player)
