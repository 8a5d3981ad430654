"""Turns cells into numbers, seconds, words and players, noting each cell that does not fit."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tactical_kit.errors import suggest
from tactical_kit.sources.mapping import ClockForm, PeriodPlan, Words, fold
from tactical_kit.sources.problems import Problems

__all__ = ["CLOCK_START_S", "Column", "clock_seconds", "numbers", "period_of_match_clock", "to_words"]

MISSING = frozenset({"", "nan", "na", "n/a", "null", "none", "#n/a"})
HUGE = 1e9
# Second of the match clock at which a period starts (Law 7): the second half at 45:00, whatever was added.
CLOCK_START_S = {1: 0.0, 2: 2700.0, 3: 5400.0, 4: 6300.0, 5: 7200.0}

_MM_SS = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):(\d{1,2}(?:[.,]\d+)?)")
_ADDED_MINUTE = re.compile(r"(\d{1,3})\s*['’′]?\s*\+\s*(\d{1,2})['’′]?")
_ADDED = re.compile(r"(\d{1,3})\+(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)")


class Column:
    """A column of cells that knows where it stands in the user's file, and which cells were complained of.

    `bad` is True where an error was noted: such a cell counts as missing, and nothing more is said of it.
    """

    def __init__(self, file: Path, name: str, cells: NDArray[Any], rows: NDArray[np.int64]) -> None:
        self.file, self.name, self.cells, self.rows = file, name, cells, rows
        self.bad = np.zeros(len(cells), bool)

    def note(self, problems: Problems, i: int, met: str, expected: str, mend: str, kind: str = "error") -> None:
        """Note a problem of the i-th cell."""
        problems.add(self.file, met, expected, mend, int(self.rows[i]), self.name, kind)
        if kind == "error":
            self.bad[i] = True


def numbers(
    column: Column, problems: Problems, decimal: str = ".", needed: bool = False, thousands: str = ""
) -> NDArray[np.float64]:
    """Turn cells into numbers; an empty cell is NaN, and so is a fault, which an empty cell is where it is needed.

    Infinity, numbers beyond a thousand million and anything that is no number are faults.
    """
    cells = column.cells
    if cells.dtype != object:
        values = cells.astype(np.float64)  # a copy: faults become NaN
        for i in np.flatnonzero(np.isinf(values) | (np.abs(values) > HUGE)).tolist():
            column.note(problems, i, f"{values[i]:g}", "a number of sensible size", "Mend the cell, or leave it empty.")
            values[i] = np.nan
        if needed:
            for i in np.flatnonzero(np.isnan(values) & ~column.bad).tolist():
                column.note(problems, i, "an empty cell", "a number", "Fill it in, or remove the row.")
        return values
    result = np.full(len(cells), np.nan)
    for i, cell in enumerate(cells):
        text = str(cell)
        if text.casefold() in MISSING:
            if needed:
                met = "an empty cell" if not text else repr(text)
                column.note(problems, i, met, "a number", "Fill it in, or remove the row.")
            continue
        value = _number(text, decimal, thousands)
        if value is None:
            other = _number(text, "," if decimal == "." else ".")
            mark = "" if thousands else _thousands_of(text, decimal)
            mend = "Mend the cell, or leave it empty."
            if _MM_SS.fullmatch(text):
                mend = (
                    'If the whole column holds minutes:seconds, write form = "mm:ss" under [clock]; two forms in one '
                    "column cannot be read."
                )
            elif mark and (other is None or decimal == "."):
                mend = f'If {_MARKS[mark]} part the thousands, write thousands = "{mark}" in the mapping'
                mend += '; if it is a decimal comma, decimal = ",".' if other is not None else "."
            elif other is not None:
                swapped = "," if decimal == "." else "."
                form = "commas" if swapped == "," else "points"
                mend = f'If the file has decimal {form}, write decimal = "{swapped}" in the mapping.'
            column.note(problems, i, repr(text), "a number", mend)
        elif not abs(value) <= HUGE:
            column.note(problems, i, repr(text), "a number of sensible size", "Mend the cell, or leave it empty.")
        else:
            result[i] = value
    return result


_MARKS = {",": "commas", ".": "points", " ": "blanks"}


def _thousands_of(text: str, decimal: str) -> str:
    """Return the mark that seems to part the thousands of a cell that is no number; "" if none does."""
    for mark in _MARKS:
        if mark != decimal and _number(text, decimal, mark) is not None:
            return mark
    return ""


def _number(text: str, decimal: str, thousands: str = "") -> float | None:
    if "_" in text:  # Python would read 1_000
        return None
    if thousands:
        text = text.replace("\xa0", " ").replace("\u202f", " ")
        if re.fullmatch(rf"[-+]?\d{{1,3}}(?:{re.escape(thousands)}\d{{3}})+(?:{re.escape(decimal)}\d+)?%?", text):
            text = text.replace(thousands, "")
    if decimal == ",":
        if "." in text:
            return None
        text = text.replace(",", ".")
    try:
        return float(text.removesuffix("%"))
    except ValueError:
        return None


def clock_seconds(
    columns: Sequence[Column],
    period: NDArray[np.int8],
    clock: ClockForm,
    plans: dict[int, PeriodPlan],
    problems: Problems,
    decimal: str = ".",
    needed: bool = True,
    minus_period: bool = True,
    thousands: str = "",
) -> NDArray[np.float64]:
    """Turn cells of a clock into seconds from the start of each row's period.

    Parameters
    ----------
    columns : one Column, or two for minutes and seconds
        The cells.
    period : (N,) int8 ndarray
        Period of each row.
    clock : ClockForm
        The form.
    plans : dict of int to PeriodPlan
        Starts of the periods by number.
    minus_period : bool, default True
        False to leave the seconds on the file's clock.
    """
    first = columns[0]
    if clock.form == "timestamp":
        return _timestamps(first, period, plans, problems, needed)
    if clock.form == "mm:ss":
        values, on_period = _minutes_seconds(first, problems, needed, minus_period)
    elif clock.form == "minutes":
        values, on_period = _minutes(first, problems, decimal, needed, minus_period)
    elif clock.form == "minute and second":
        minute, on_period = _minutes(first, problems, decimal, needed, minus_period)
        second = numbers(columns[1], problems, decimal, needed)
        for i in np.flatnonzero((second < 0) | (second >= 60)).tolist():
            columns[1].note(
                problems, i, f"{second[i]:g}", "0 to 59.999 seconds", "Check which column holds the seconds."
            )
        second[columns[1].bad] = np.nan
        values = minute + second
    else:
        values = numbers(first, problems, decimal, needed, thousands)
        if clock.form == "milliseconds":
            values = values / 1000
        on_period = np.zeros(len(values), bool)
    if clock.form == "frames":
        return _frames(values, period, clock, plans)
    if clock.start == "match" and minus_period:
        for number in np.unique(period):
            plan = plans.get(int(number))
            start = CLOCK_START_S.get(int(number), 0.0)
            if plan is not None and plan.clock_start_s is not None:
                start = plan.clock_start_s
            mask = (period == number) & ~on_period
            values[mask] -= start
    return values


def _frames(
    values: NDArray[np.float64], period: NDArray[np.int8], clock: ClockForm, plans: dict[int, PeriodPlan]
) -> NDArray[np.float64]:
    result = np.full(len(values), np.nan)
    for number in np.unique(period):
        mask = period == number
        plan = plans.get(int(number))
        start = 0.0
        if plan is not None and plan.first_frame is not None:
            start = float(plan.first_frame)
        elif clock.start == "match" and mask.any():
            start = float(np.nanmin(values[mask])) if np.isfinite(values[mask]).any() else 0.0
        result[mask] = (values[mask] - start) / clock.rate_hz
    return result


def _minutes(
    column: Column, problems: Problems, decimal: str, needed: bool, minus_period: bool
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Seconds of the minutes "12", "12'" or "45+2"; the mask tells where added time gave the period's own clock."""
    if column.cells.dtype != object:
        return numbers(column, problems, decimal, needed) * 60, np.zeros(len(column.cells), bool)
    extra = [_ADDED_MINUTE.fullmatch(str(cell)) for cell in column.cells]
    plain = np.array(["0" if e else str(c).rstrip("'’′") for e, c in zip(extra, column.cells)], object)
    bare = Column(column.file, column.name, plain, column.rows)
    values = numbers(bare, problems, decimal, needed) * 60
    column.bad |= bare.bad
    added = np.zeros(len(values), bool)
    for i, found in enumerate(extra):
        if found:
            values[i], added[i] = _added(int(found[1]), int(found[2]), minus_period)
    return values, added


def _added(minute: int, extra: int, minus_period: bool) -> tuple[float, bool]:
    """Seconds at the start of a minute of added time, and whether they count from the start of the period.

    "45+2" is 47:00 of the first half: on the match clock it counts from the half's own start.
    """
    if not minus_period:  # asked which period it is: the one that ends at that minute
        return minute * 60 - 0.001, True
    base = {45: 0.0, 90: CLOCK_START_S[2], 105: CLOCK_START_S[3], 120: CLOCK_START_S[4]}.get(minute)
    return (minute + extra) * 60 - (base or 0.0), base is not None


def _minutes_seconds(
    column: Column, problems: Problems, needed: bool, minus_period: bool
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Seconds of "12:34.5", "1:02:03" or "45+2:13"; the mask tells where added time gave the period's own clock."""
    values = np.full(len(column.cells), np.nan)
    added = np.zeros(len(values), bool)
    for i, cell in enumerate(column.cells):
        text = str(cell)
        if text.casefold() in MISSING:
            if needed:
                column.note(problems, i, "an empty cell", "minutes:seconds", "Fill it in, or remove the row.")
            continue
        extra = _ADDED.fullmatch(text)
        found = _MM_SS.fullmatch(text)
        if extra:
            second = extra[3]
            values[i], added[i] = _added(int(extra[1]), int(extra[2]), minus_period)
            if minus_period:
                values[i] += float(second.replace(",", "."))
        elif found:
            hour, minute, second = int(found[1] or 0), int(found[2]), found[3]
            values[i] = hour * 3600 + minute * 60 + float(second.replace(",", "."))
            if hour >= 3:
                column.note(
                    problems,
                    i,
                    repr(text),
                    "minutes:seconds",
                    "A spreadsheet has turned minutes:seconds into a time of day: format the column as text.",
                )
        else:
            mend = "Mend the cell."
            if _number(text, ".") is not None:
                mend = (
                    'If the whole column counts seconds, write form = "seconds" under [clock]; two forms in one column '
                    "cannot be read."
                )
            column.note(problems, i, repr(text), "minutes:seconds", mend)
            continue
        if float(second.replace(",", ".")) >= 60:
            column.note(problems, i, repr(text), "0 to 59 seconds after the colon", "Mend the cell.")
    values[column.bad] = np.nan
    return values, added


def _timestamps(
    column: Column, period: NDArray[np.int8], plans: dict[int, PeriodPlan], problems: Problems, needed: bool
) -> NDArray[np.float64]:
    values = np.full(len(column.cells), np.nan)
    starts = {n: p.start for n, p in plans.items() if p.start is not None}
    for i, cell in enumerate(column.cells):
        text = str(cell)
        if text.casefold() in MISSING:
            if needed:
                column.note(problems, i, "an empty cell", "a timestamp", "Fill it in, or remove the row.")
            continue
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            column.note(problems, i, repr(text), "a timestamp as 2026-05-03T15:00:00Z", "Mend the cell.")
            continue
        start = starts.get(int(period[i]))
        if start is None:
            column.bad[i] = True  # noted as an unknown period by the caller
            continue
        if (moment.tzinfo is None) != (start.tzinfo is None):
            which = "without" if moment.tzinfo is None else "with"
            column.note(
                problems,
                i,
                f"{text!r}, {which} a time zone",
                f"a timestamp {'with' if which == 'without' else 'without'} one, as the start of the period has it",
                "Write the start of each period in the mapping in the same form.",
            )
            continue
        values[i] = (moment - start).total_seconds()
    return values


def period_of_timestamps(column: Column, plans: dict[int, PeriodPlan]) -> NDArray[np.int8]:
    """Tell the period of each timestamp from the starts of the periods; 1 for one before them all."""
    result = np.ones(len(column.cells), np.int8)
    starts = [(n, p.start) for n, p in sorted(plans.items()) if p.start is not None]
    for i, cell in enumerate(column.cells):
        try:
            moment = datetime.fromisoformat(str(cell))
        except ValueError:
            continue
        for number, start in starts:
            if (moment.tzinfo is None) == (start.tzinfo is None) and moment >= start:
                result[i] = number
    return result


def period_of_match_clock(seconds: NDArray[np.float64], plans: dict[int, PeriodPlan]) -> NDArray[np.int8]:
    """Tell the period from a continuous match clock: the last of the planned periods that has begun."""
    result = np.full(len(seconds), min(plans, default=1), np.int8)
    for number, plan in sorted(plans.items()):
        start = CLOCK_START_S[number] if plan.clock_start_s is None else plan.clock_start_s
        result[seconds >= start] = number
    return result


def to_words(
    column: Column, name: str, words: Words, problems: Problems, strict: bool
) -> tuple[NDArray[np.object_], NDArray[np.bool_]]:
    """Turn the file's words into the kit's; "" where a word is unknown, which is noted once a word with its count.

    Parameters
    ----------
    strict : bool
        True: an unknown word is an error in its row.  False: a warning, and the caller keeps the word.

    Returns
    -------
    (N,) object ndarray, (N,) bool ndarray
        The kit's words, and where the file's word is unknown.
    """
    result = np.full(len(column.cells), "", object)
    unknown = np.zeros(len(result), bool)
    blind = name in words.blind
    first: dict[str, int] = {}
    counts: Counter[str] = Counter()
    for i, cell in enumerate(column.cells):
        text = str(cell)
        if text.casefold() in MISSING:
            continue
        meaning = words.look_up(name, text)
        if meaning is not None:
            result[i] = meaning
            continue
        unknown[i] = True
        counts[text] += 1
        first.setdefault(text, i)
    if strict:
        column.bad |= unknown
    known = words.known(name)
    for text, count in counts.items() if not blind else ():
        i = first[text]
        times = f", in {count} rows" if count > 1 else ""
        near = suggest(fold(text), known)
        if strict:
            mend = f"Add the word under [words.{name}].{near}"
            if name == "period":
                mend = (
                    "1 and 2 are the halves, 3 and 4 extra time, 5 the shoot-out; other words go under [words.period]."
                )
        else:
            mend = (
                f"The row was kept with the word in the column 'source_{name}'; to have it counted, add it under "
                f"[words.{name}].{near}"
            )
        column.note(
            problems,
            i,
            f"{text!r}{times}",
            f"a word for {name} that the mapping knows",
            mend,
            "error" if strict else "warning",
        )
    return result, unknown
