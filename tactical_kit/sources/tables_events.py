"""Turns the rows of a mapped events table into the kit's events."""

from __future__ import annotations

from collections.abc import Callable
from collections.abc import Mapping as MappingType
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import suggest
from tactical_kit.match.events import EVENT_COLUMNS
from tactical_kit.sources.content import EventsOrigin
from tactical_kit.sources.mapping import ClockForm, Mapping, PeriodPlan, TablePlan, Words, fold
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.tables_file import Sheet
from tactical_kit.sources.tables_squad import Roster, has_columns
from tactical_kit.sources.tables_values import (
    Column,
    clock_seconds,
    numbers,
    period_of_match_clock,
    period_of_timestamps,
    to_words,
)  # fmt: skip

__all__ = ["EventRows", "filled_down", "no_events", "periods_of", "read_events"]

_PLACES = frozenset({"x", "y", "end_x", "end_y"})
_TOTALS = ("total", "totals", "sum", "grand total", "average", "mean", "count")
_WON = ("tackle", "duel", "take-on")


@dataclass(frozen=True, eq=False)
class EventRows:
    """Events of one table in the order of the file, places in metres but still in the table's own frame."""

    table: pd.DataFrame
    origin: EventsOrigin
    plan: TablePlan


def read_events(
    plan: TablePlan, sheet: Sheet, mapping: Mapping, roster: Roster, problems: Problems
) -> EventRows | None:
    """Turn one sheet into events; None if it holds nothing that can be used.

    A faulty cell is noted and counts as missing, so that the rest of the table is looked at all the same.
    """
    before = len(problems.errors)
    has_columns(sheet, [*plan.columns.values(), *plan.keep, *plan.fill_down], problems)
    if not len(sheet):
        if sheet.whole and len(problems.errors) == before:
            problems.add(sheet.path, "no event", "at least one row below the header", "Check that the export is whole.")
        return None
    usable = {n: h for n, h in plan.columns.items() if h in sheet.cells and h not in sheet.broken}
    plan = replace(plan, columns=usable, lost=plan.lost | (set(plan.columns) - set(usable)))
    if mapping.faulty("coordinates", "events.coordinates", "pitch"):
        usable = {n: h for n, h in usable.items() if n not in _PLACES}
        plan = replace(plan, columns=usable, lost=plan.lost | _PLACES)
    for header in plan.fill_down:
        if header in sheet.cells:
            sheet.cells[header][:] = filled_down(sheet.cells[header])
    words = mapping.words
    keep = _events_alone(plan, sheet, problems)
    if "kind" in plan.columns and words.skip:
        keep &= np.array([fold(str(c)) not in words.skip for c in sheet.cells[plan.columns["kind"]]], bool)
        if not keep.any():
            problems.add(
                sheet.path, "only rows of skipped kinds", "at least one event", "Mend words.skip in the mapping."
            )
    if not keep.all():
        cells = {n: c[keep] for n, c in sheet.cells.items()}
        sheet = replace(sheet, cells=cells, rows=sheet.rows[keep])
    return _Reader(plan, sheet, mapping, roster, problems).read() if len(sheet) else None


def filled_down(cells: NDArray[np.object_]) -> NDArray[np.object_]:
    """Repeat each cell in the empty ones below it, as merged cells are meant."""
    filled = np.array([str(c) != "" for c in cells], bool)
    source = np.maximum.accumulate(np.where(filled, np.arange(len(cells)), -1))
    return np.where(source >= 0, cells[np.maximum(source, 0)], "").astype(object)


def no_events(sheet: Sheet, columns: MappingType[str, str]) -> dict[int, bool]:
    """Return the places of rows that are no events, and whether they are plainly totals or notes.

    Such a row has neither time nor kind, or begins with a word for a total and has no kind.

    Parameters
    ----------
    sheet : Sheet
        The table.
    columns : mapping of str to str
        Header of each field, as "kind".
    """
    timed = [columns[n] for n in ("time", "minute", "second") if n in columns]
    if "kind" not in columns or not timed:
        return {}
    found = {}
    for i in np.flatnonzero(sheet.cells[columns["kind"]] == "").tolist():
        filled = [str(sheet.cells[h][i]) for h in sheet.columns if sheet.cells[h][i] != ""]
        total = fold(filled[0]).rstrip(":") in _TOTALS
        if total or all(sheet.cells[h][i] == "" for h in timed):
            found[i] = total or len(filled) == 1
    return found


def _events_alone(plan: TablePlan, sheet: Sheet, problems: Problems) -> NDArray[np.bool_]:
    """Tell which rows are events; totals and notes are left out with a note, other rows without event are faults."""
    keep = np.ones(len(sheet), bool)
    if plan.lost & {"time", "minute", "second"}:
        return keep
    for i, plainly in no_events(sheet, plan.columns).items():
        keep[i] = False
        first = next(str(sheet.cells[h][i]) for h in sheet.columns if sheet.cells[h][i] != "")
        problems.add(
            sheet.path,
            f"{first!r} …, a row without time and kind" if not plainly else f"{first!r}, a total or a note",
            "an event",
            "The row was left out." if plainly else "Remove the row, or fill in its time and kind.",
            int(sheet.rows[i]),
            kind="warning" if plainly else "error",
        )
    return keep


class _Reader:
    def __init__(self, plan: TablePlan, sheet: Sheet, mapping: Mapping, roster: Roster, problems: Problems) -> None:
        self.plan, self.sheet, self.mapping, self.roster, self.problems = plan, sheet, mapping, roster, problems
        self.words: Words = mapping.words
        self.out: dict[str, NDArray] = {}
        self.columns: dict[str, Column] = {}  # kept, for they know which cells were complained of
        self.extras: dict[str, NDArray[np.object_]] = {}

    def column(self, name: str) -> Column | None:
        header = self.plan.columns.get(name)
        if header is None:
            return None
        if name not in self.columns:
            self.columns[name] = Column(self.sheet.path, header, self.sheet.cells[header], self.sheet.rows)
        return self.columns[name]

    def read(self) -> EventRows:
        n, plans = len(self.sheet), {p.number: p for p in self.mapping.periods}
        self._kinds()
        for name in ("detail", "set_play", "outcome", "body_part"):
            self._fill_words(name)
        team = self._team()
        columns, clock = self._clock_columns(), self.plan.clock
        untimed = not columns or self.mapping.clock_faulty("events") or len(columns) < (
            2 if clock.form == "minute and second" else 1
        )  # fmt: skip
        bad_period = np.zeros(n, bool)
        if untimed and not columns:
            period, time_s, end_s = np.ones(n, np.int8), np.full(n, np.nan), np.full(n, np.nan)
        else:
            period, bad_period = periods_of(
                columns, self.column("period"), self.plan, plans, self.words, self.problems,
                silent=untimed or "period" in self.plan.lost,
            )  # fmt: skip
        if untimed:
            time_s, end_s = np.full(n, np.nan), np.full(n, np.nan)
        else:
            time_s = clock_seconds(
                columns, period, clock, plans, self.problems, self.plan.decimal, thousands=self.plan.thousands
            )
            end_s = self._ends(time_s, period, plans)
        if clock.form == "minutes" and not untimed:
            self._whole_minutes(columns[0], period, time_s, plans)
        for name in ("event_id", "related"):
            column = self.column(name)
            self.out[name] = column.cells if column else np.full(n, "", object)
        raw_x, raw_y = self._places()
        self._players(team)
        ids = np.array([*self.roster.ids, ""], object)
        self.out["team"] = ids[np.where(team == "home", 0, np.where(team == "away", 1, 2))]
        self.out.update(period=period, time_s=time_s, end_s=end_s, success=self._success())
        for header in self.plan.keep:
            if header in self.sheet.cells:
                name = header if header not in EVENT_COLUMNS else f"source_{header}"
                self.extras[name] = self.sheet.cells[header]
        table = pd.DataFrame({name: self.out[name] for name in EVENT_COLUMNS} | self.extras)
        table = table.astype(dict(EVENT_COLUMNS))
        names = {name: self.plan.columns[source] for name, source in _SOURCE_OF.items() if source in self.plan.columns}
        if "minute" in self.plan.columns and "time_s" not in names:
            names["time_s"] = self.plan.columns["minute"]
        bad_time = np.full(n, True) if untimed else np.logical_or.reduce([c.bad for c in columns])
        bad = {name: c.bad for name, c in self.columns.items()} | {"period": bad_period, "time_s": bad_time}
        origin = EventsOrigin(
            self.sheet.path, self.sheet.rows, names, raw_x, raw_y, bad, self.sheet.whole and not self._lost_people()
        )
        return EventRows(table, origin, self.plan)

    def _lost_people(self) -> bool:
        """Tell whether who came on and went off cannot be followed, for a reason that was given."""
        needed = {"period", "time", "minute", "second", "kind", "team", "player", "receiver"}
        return bool(self.plan.lost & needed) or bool(self.words.blind & {"kind", "team", "period"}) or self.roster.blind

    # -- words ----------------------------------------------------------------------------------------

    def _kinds(self) -> None:
        n = len(self.sheet)
        for name in ("kind", "detail", "set_play", "outcome", "body_part"):
            self.out[name] = np.full(n, self.plan.always.get(name, ""), object)
        column = self.column("kind")
        if column is None:
            return
        meanings, unknown = to_words(column, "kind", self.words, self.problems, strict=False)
        for i in np.flatnonzero((meanings == "") & ~unknown).tolist():
            column.note(self.problems, int(i), "an empty cell", "a kind of event", "Fill it in, or remove the row.")
        for meaning in set(meanings.tolist()) - {""}:
            for name, word in Words.parts(meaning).items():
                self.out[name][meanings == meaning] = word
        if unknown.any():
            self.extras["source_kind"] = column.cells

    def _fill_words(self, name: str) -> None:
        column = self.column(name)
        if column is None:
            return
        meanings, unknown = to_words(column, name, self.words, self.problems, strict=False)
        self.out[name] = np.where(meanings != "", meanings, self.out[name])
        if unknown.any():
            self.extras[f"source_{name}"] = column.cells

    def _team(self) -> NDArray[np.object_]:
        column = self.column("team")
        if column is None:
            return np.full(len(self.sheet), self.plan.always.get("team", ""), object)
        return to_words(column, "team", self.words, self.problems, strict=True)[0]

    def _success(self) -> pd.arrays.BooleanArray:
        kind, outcome = self.out["kind"], self.out["outcome"]
        word = np.full(len(kind), "", object)
        column = self.column("success")
        if column is not None:
            word, unknown = to_words(column, "success", self.words, self.problems, strict=False)
            if unknown.any():
                self.extras["source_success"] = column.cells
        value = np.zeros(len(kind), bool)
        known = np.zeros(len(kind), bool)
        for i in range(len(kind)):
            if word[i]:
                known[i], value[i] = True, word[i] == "yes"
                if outcome[i] == "":  # what the word says beyond yes and no is not invented
                    if kind[i] == "pass" and value[i]:
                        outcome[i] = "complete"
                    elif kind[i] == "shot" and value[i]:
                        outcome[i] = "goal"
                    elif kind[i] in _WON:
                        outcome[i] = "won" if value[i] else "lost"
            elif outcome[i]:
                known[i], value[i] = True, outcome[i] in ("complete", "goal", "won")
            elif kind[i] in ("interception", "recovery"):
                known[i] = value[i] = True
        return pd.arrays.BooleanArray(value, ~known)

    # -- when, where, who -----------------------------------------------------------------------------

    def _clock_columns(self) -> list[Column]:
        form = self.plan.clock.form
        names = ("minute", "second") if form == "minute and second" else ("minute",) if form == "minutes" else ("time",)
        return [c for c in map(self.column, names) if c is not None]

    def _whole_minutes(
        self, column: Column, period: NDArray[np.int8], time_s: NDArray[np.float64], plans: dict[int, PeriodPlan]
    ) -> None:
        """Say what whole minutes are good for; one counted from 1 may lie beyond the whistle."""
        self.problems.add(
            self.sheet.path,
            "a clock of whole minutes",
            "seconds",
            "Times are good to the minute only: rows of one minute keep the order of the file, and what needs seconds "
            "(phases, passes in a row, pictures of tracking) is rough.",
            column=column.name,
            kind="warning",
        )
        for number, plan in plans.items():
            if plan.duration_s is not None:
                late = (period == number) & (time_s > plan.duration_s) & (time_s < plan.duration_s + 120)
                time_s[late] = plan.duration_s
        early = (time_s < 0) & (time_s >= -60)  # minute 44 or 45 as the first of a second half
        time_s[early] = 0.0

    def _ends(
        self, time_s: NDArray[np.float64], period: NDArray[np.int8], plans: dict[int, PeriodPlan]
    ) -> NDArray[np.float64]:
        end, duration = self.column("end_time"), self.column("duration")
        if end is not None:
            clock = self.plan.clock
            if clock.form in ("minute and second", "minutes"):
                clock = ClockForm("seconds", clock.start)
            return clock_seconds(
                [end],
                period,
                clock,
                plans,
                self.problems,
                self.plan.decimal,
                needed=False,
                thousands=self.plan.thousands,
            )
        if duration is not None:
            return time_s + numbers(duration, self.problems, self.plan.decimal, thousands=self.plan.thousands)
        return np.full(len(time_s), np.nan)

    def _places(self) -> tuple[NDArray[np.float64] | None, NDArray[np.float64] | None]:
        raw: list[NDArray[np.float64] | None] = [None, None]
        for k, (x_name, y_name) in enumerate((("x", "y"), ("end_x", "end_y"))):
            x_column, y_column = self.column(x_name), self.column(y_name)
            if x_column is None or y_column is None:
                self.out[x_name] = self.out[y_name] = np.full(len(self.sheet), np.nan)
                continue
            x = numbers(x_column, self.problems, self.plan.decimal, thousands=self.plan.thousands)
            y = numbers(y_column, self.problems, self.plan.decimal, thousands=self.plan.thousands)
            if k == 0:
                raw = [x, y]
            self.out[x_name], self.out[y_name] = self.plan.coordinates.to_pitch(x, y, self.mapping.pitch)
        return raw[0], raw[1]

    def _players(self, team: NDArray[np.object_]) -> None:
        kind, outcome = self.out["kind"], self.out["outcome"]
        side = np.where(team == "home", 0, np.where(team == "away", 1, -1))
        team_column = self.column("team")
        sideless = np.zeros(len(team), bool) if team_column is None else team_column.bad
        if "team" in self.plan.lost or "team" in self.words.blind:
            sideless = side < 0
        known = set(self.roster.known())

        def fill(name: str, own_side: Callable[[int], bool]) -> None:
            column = self.column(name)
            result = np.full(len(team), "", object)
            for i in range(len(team)):
                cell = str(column.cells[i]) if column else ""
                if not cell:
                    continue
                s = int(side[i]) if side[i] >= 0 else None
                if s is not None and own_side(i):
                    found: str | None = self.roster.meet(cell, s) or None
                else:
                    found = self.roster.find(cell, None if self.roster.how != "shirts" else s)
                if found is None and column is not None and self._excused(cell, bool(sideless[i]), known):
                    column.bad[i] = True  # it follows from what was said of the team, or of the squads
                elif found is None and column is not None and name == "receiver" and not self.roster.given:
                    # Somebody who never acts: nothing tells the side, so nothing is told.
                    self.extras["source_receiver"] = column.cells
                    column.note(
                        self.problems,
                        i,
                        f"{cell!r}, whose side nothing tells",
                        "a player who acts for one side",
                        "The receiver was left empty; give [squad] to have it.",
                        "warning",
                    )
                elif found is None and column is not None:
                    column.note(
                        self.problems,
                        i,
                        repr(cell),
                        "a player of one of the squads",
                        f"Add the player to a squad, or mend the name.{suggest(cell, self.roster.known())}",
                    )
                result[i] = found or ""
            self.out[name] = result

        fill("player", lambda i: True)
        # A completed pass ends at a team-mate; who controls a lost ball may be an opponent.
        fill("receiver", lambda i: kind[i] == "substitution" or outcome[i] == "complete")

    def _excused(self, cell: str, sideless: bool, known: set[str]) -> bool:
        """Tell whether a player is not found for a reason that was given already."""
        if self.roster.blind:
            return True
        if not self.roster.given:
            team = self.columns.get("team")
            return sideless or "team" in self.words.blind or (team is not None and bool(team.bad.any()))
        return sideless and (self.roster.how == "shirts" or cell in known)


_SOURCE_OF = {
    "event_id": "event_id", "period": "period", "time_s": "time", "end_s": "end_time", "kind": "kind", "team": "team",
    "player": "player", "receiver": "receiver", "x": "x", "y": "y", "end_x": "end_x", "end_y": "end_y",
}  # fmt: skip


def periods_of(
    clock_columns: list[Column],
    column: Column | None,
    plan: TablePlan,
    plans: dict[int, PeriodPlan],
    words: Words,
    problems: Problems,
    silent: bool = False,
) -> tuple[NDArray[np.int8], NDArray[np.bool_]]:
    """Tell the period of each row: from its column, a constant, the timestamps, or a clock that runs on.

    Also returns where it cannot be told, which is noted (unless `silent`: then it was noted before).
    """
    n = len(clock_columns[0].cells)
    if column is not None:
        cells = column.cells
        if cells.dtype != object:
            cells = np.array([str(int(v)) if np.isfinite(v) and v == int(v) else str(v) for v in cells], object)
        text = Column(column.file, column.name, cells, column.rows)
        meanings, unknown = to_words(text, "period", words, problems, strict=True)
        for i in np.flatnonzero((meanings == "") & ~unknown).tolist():
            column.note(problems, int(i), "an empty cell", "the period, 1 to 5", "Fill it in.")
        period = np.array([int(m) if m else min(plans, default=1) for m in meanings], np.int8)
        return period, (meanings == "")
    sure = np.zeros(n, bool)
    if "period" in plan.always:
        return np.full(n, int(plan.always["period"]), np.int8), sure
    if silent:
        return np.full(n, min(plans, default=1), np.int8), ~sure
    if plan.clock.form == "timestamp":
        return period_of_timestamps(clock_columns[0], plans), sure
    if len(plans) == 1:
        return np.full(n, next(iter(plans)), np.int8), sure
    runs_on = (
        plan.clock.start == "match"
        and plans
        and all(p.clock_start_s is not None or number == min(plans) for number, p in plans.items())
    )
    if runs_on and plan.clock.form != "frames":
        quiet = Problems()
        seconds = clock_seconds(
            [Column(c.file, c.name, c.cells, c.rows) for c in clock_columns], np.ones(n, np.int8), plan.clock, plans,
            quiet, plan.decimal, minus_period=False, thousands=plan.thousands,
        )  # fmt: skip
        return period_of_match_clock(seconds, plans), sure
    problems.add(
        clock_columns[0].file,
        "no period",
        "the period of each row",
        'Name its column, as period = "Half"; or give every [[period]] a clock_start if the clock runs on from half to '
        "half.",
    )
    return np.ones(n, np.int8), ~sure
