"""What the values of a table tell a draft: the form of the clock, the unit, the origin and the direction of x."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from tactical_kit.sources.content_units import guess_ranges
from tactical_kit.sources.draft_words import PERIOD_WORDS, plain
from tactical_kit.sources.mapping import fold
from tactical_kit.sources.tables_file import Sheet

__all__ = ["ValuesLook"]


def _numbers(cells: NDArray[np.object_], decimal: str, thousands: str = "") -> NDArray[np.float64]:
    """Numbers of the cells, NaN for all else."""
    result = np.full(len(cells), np.nan)
    for i, cell in enumerate(cells):
        text = str(cell).removesuffix("%")
        if thousands:
            text = text.replace(thousands, "")
        try:
            result[i] = float(text.replace(",", ".") if decimal == "," else text)
        except ValueError:
            continue
    return result


class ValuesLook:
    """Looks at the values of recognised columns; what they do not settle becomes a doubt.

    Parameters
    ----------
    table : Sheet
        The first rows of the table.
    doubts : list of str
        Where the doubts go.
    """

    def __init__(self, table: Sheet, doubts: list[str]) -> None:
        self.table, self.doubts = table, doubts
        self.decimal = "."
        self.thousands = ""
        self.columns: dict[str, str] = {}  # field -> header
        self.pattern = ""  # of wide tracking
        self.words: dict[str, dict[str, list[str]]] = {}  # field -> meaning -> the file's words

    # -- time -----------------------------------------------------------------------------------------

    def _period_of_rows(self) -> NDArray[np.int64] | None:
        if "period" not in self.columns:
            return None
        meaning = {s: int(m) for m, spellings in PERIOD_WORDS.items() for s in spellings}
        return np.array([meaning.get(plain(str(c)), 0) for c in self.table.cells[self.columns["period"]]])

    def _clock(self, form: str) -> tuple[list[str], list[int]]:
        """Lines of [clock], and the numbers of the periods met."""
        period = self._period_of_rows()
        numbers = sorted({int(p) for p in period if p > 0}) if period is not None else []
        lines = ["[clock]"]
        if "minute" in self.columns:
            minutes = np.array([_minute(str(c)) for c in self.table.cells[self.columns["minute"]]])
            form_of = "minute and second" if "second" in self.columns else "minutes"
            lines += [f'form = "{form_of}"', self._start(minutes * 60, period)]
        elif "time" not in self.columns:
            self.doubts.append("No column of time was recognised: name it as time under the columns.")
            lines += ['form = "seconds"  # ?', 'from = "period"  # ?']
        else:
            lines += self._time_form(self.columns["time"], period, form)
        if not numbers and 'from = "match"  # ?' in lines:
            numbers = [1, 2]  # the clock runs on through both
        return [*lines, ""], numbers or [1]

    def _time_form(self, header: str, period: NDArray[np.int64] | None, form: str) -> list[str]:
        cells = self.table.cells[header]
        texts = [str(c) for c in cells if str(c)]
        if form == "events" and any(re.fullmatch(r"\d+['’′]|\d+\s*['’′]?\s*\+\s*\d+['’′]?", t) for t in texts):
            self.columns["minute"] = self.columns.pop("time")
            self.doubts.append(f"Column {header!r} holds whole minutes: times are good to the minute only.")
            return ['form = "minutes"', self._start(np.array([_minute(str(c)) for c in cells]) * 60, period)]
        if texts and sum(":" in t for t in texts) > len(texts) / 2:
            if sum(bool(re.match(r"\d{4}-\d\d-\d\d", t)) for t in texts) > len(texts) / 2:
                self.doubts.append(
                    "The clock is a timestamp: write the moment at which each period began (the first row was taken)."
                )
                return ['form = "timestamp"']
            seconds = np.array([_mmss(str(c)) for c in cells])
            return ['form = "mm:ss"', self._start(seconds, period)]
        values = _numbers(cells, self.decimal, self.thousands)
        name, unit = plain(header), header.lower()
        if name.startswith("frame"):
            rate = "rate_hz = 25  # ?"
            self.doubts.append("Time is counted in frames: 25 frames a second were taken.")
            return ['form = "frames"', 'from = "period"', rate]
        top = float(np.nanmax(values)) if np.isfinite(values).any() else 0.0
        if name.endswith("ms") or "(ms)" in unit or "[ms]" in unit or top > 20_000:
            if not (name.endswith("ms") or "ms" in unit):
                self.doubts.append(f"Column {header!r} reaches {top:g}: milliseconds were taken.")
            return ['form = "milliseconds"', self._start(values / 1000, period)]
        if top <= 130 and form == "events" and len(values) > 20 and not (name.endswith(" s") or "(s)" in unit):
            self.doubts.append(
                f"Column {header!r} reaches {top:g} only: seconds were taken; if these are minutes, name the column "
                'as minute and write form = "minutes" under [clock].'
            )
            return ['form = "seconds"  # ?', self._start(values, period)]
        return ['form = "seconds"', self._start(values, period)]

    def _start(self, seconds: NDArray[np.float64], period: NDArray[np.int64] | None) -> str:
        """The line from = ..., told from where the second half starts."""
        if period is not None and (period == 2).any():
            second = seconds[period == 2]
            first = float(np.nanmin(second)) if np.isfinite(second).any() else 0.0
            if first >= 2400:
                if (
                    first > 2760
                    and np.isfinite(seconds[period == 1]).any()
                    and float(np.nanmax(seconds[period == 1])) > 2700
                ):
                    self.doubts.append(
                        f"The second half begins at {first:g} s on the clock: 45:00 was taken for its kick-off; if the "
                        "clock runs on through the added time, write clock_start in its [[period]]."
                    )
                return 'from = "match"'
            return 'from = "period"'
        top = float(np.nanmax(seconds)) if np.isfinite(seconds).any() else 0.0
        if top > 3600:
            self.doubts.append(
                "The clock runs past an hour and no column tells the halves apart: the second was taken to begin at "
                "45:00 on it (clock_start)."
            )
            return 'from = "match"  # ?'
        self.doubts.append("Only one period was seen: whether the clock starts anew at half-time cannot be told.")
        return 'from = "period"  # ?'

    def _periods(self, numbers: list[int], clock: list[str]) -> list[str]:
        lines = []
        stamps = 'form = "timestamp"' in clock
        period = self._period_of_rows()
        for number in numbers:
            lines += ["[[period]]", f"number = {number}"]
            if stamps:
                cells = [str(c) for c in self.table.cells[self.columns["time"]]]
                own = [c for i, c in enumerate(cells) if c and (period is None or period[i] == number)]
                found = (
                    re.match(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d)?", min(own))
                    if own
                    else None
                )
                lines.append(f"start = {found[0]}  # ?" if found else "# start = 2026-05-03T15:00:00Z  # ?")
            if period is None and number == 2:
                lines.append('clock_start = "45:00"  # ?')
            lines += ['# duration = "47:30"  # ? to the last whistle; the last row if left out']
            lines += ['# home_attacks = "right"  # ? told from shots and keepers if left out', ""]
        self.doubts.append("How long each period lasted is not in the table: the last row was taken.")
        return lines

    # -- places ---------------------------------------------------------------------------------------

    def _xy(self, form: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        if form != "wide":
            if "x" not in self.columns or "y" not in self.columns:
                return np.zeros(0), np.zeros(0)
            pairs = [(self.columns["x"], self.columns["y"])]
            if "end_x" in self.columns and "end_y" in self.columns:
                pairs.append((self.columns["end_x"], self.columns["end_y"]))
        else:
            shape = re.compile(
                re.escape(self.pattern)
                .replace(r"\{axis\}", "(?P<axis>[xy])")
                .replace(r"\{shirt\}", r"\d+")
                .replace(r"\{team\}", ".+?")
                .replace(r"\{player\}", ".+?"),
                re.IGNORECASE,
            )
            found = [m for m in map(shape.fullmatch, self.table.columns) if m and m[0] not in self.columns.values()]
            xs = [m[0] for m in found if m["axis"].lower() == "x"]
            ys = [m[0] for m in found if m["axis"].lower() == "y"]
            pairs = list(zip(xs, ys))
        x = [_numbers(self.table.cells[a], self.decimal, self.thousands) for a, _ in pairs]
        y = [_numbers(self.table.cells[b], self.decimal, self.thousands) for _, b in pairs]
        return np.concatenate(x) if x else np.zeros(0), np.concatenate(y) if y else np.zeros(0)

    def _coordinates(self, form: str) -> list[str]:
        x, y = self._xy(form)
        lines = ["[coordinates]"]
        known = np.isfinite(x) & np.isfinite(y)
        if not known.any():
            self.doubts.append("No coordinates were recognised: name the columns x and y.")
            return [*lines, 'unit = "m"  # ?', ""]
        ranges = (
            f"x runs from {x[known].min():g} to {x[known].max():g}, y from {y[known].min():g} to {y[known].max():g}"
        )
        guesses = guess_ranges(x, y)
        if not guesses:
            self.doubts.append(f"No unit fits the coordinates: {ranges}. Write unit and origin.")
            return [*lines, f'unit = "m"  # ? {ranges}', 'origin = "centre"  # ?', ""]
        best = guesses[0]
        rivals = [g for g in guesses[1:] if g.fill > 0.6 * best.fill and (g.origin == best.origin)]
        unsure = bool(rivals) or best.fill < 0.5 or best.unit == "pitch units"
        if unsure:
            other = f"; {rivals[0].words} would fit, too" if rivals else ""
            self.doubts.append(f"Unit of the coordinates: {ranges}, taken for {best.words}{other}.")
        mark = "  # ?" if unsure else f"  # {ranges}"
        lines.append(f'unit = "{best.unit}"{mark}')
        if best.unit == "pitch units":
            lines += [f"length = {best.length:g}", f"width = {best.width:g}"]
        if best.origin == "centre":
            lines += ['origin = "centre"', 'y_grows = "up"  # ?']
            self.doubts.append(
                "Whether y grows to the left or to the right of a side that attacks towards +x cannot be told: "
                "left (up) was taken."
            )
        else:
            lines.append('origin = "bottom-left"  # ?')
            self.doubts.append(
                "Which corner is the origin cannot be told from the values: bottom left was taken, top left is as "
                "common."
            )
        lines.append(self._frame(form))
        return [*lines, ""]

    def _frame(self, form: str) -> str:
        """The line frame = ..., told from the places of shots where there are enough."""
        if form != "events":
            self.doubts.append(
                'Whether the sides change ends in the table is taken from its ground: frame = "home" if the '
                "home side always attacks to the right."
            )
            return 'frame = "pitch"  # ?'
        kinds = self.words.get("kind", {})
        shot = {fold(w) for m, words in kinds.items() if m.startswith("shot") for w in words} | {"shot"}
        if not {"kind", "team", "x"} <= set(self.columns):
            self.doubts.append("Whether x runs in the attacking direction of the acting side cannot be told.")
            return 'frame = "pitch"  # ?'
        x = _numbers(self.table.cells[self.columns["x"]], self.decimal, self.thousands)
        is_shot = np.array([fold(str(c)) in shot for c in self.table.cells[self.columns["kind"]]])
        team = np.array([fold(str(c)) for c in self.table.cells[self.columns["team"]]], object)
        period = self._period_of_rows()
        middle = (np.nanmax(x) + np.nanmin(x)) / 2
        votes: dict[tuple[str, int], float] = {}
        for side in sorted(set(team[is_shot].tolist())):
            for number in (1, 2):
                own = is_shot & (team == side) & np.isfinite(x)
                if period is not None:
                    own &= period == number
                if own.sum() >= 3:
                    votes[side, number] = float(np.mean(x[own] > middle))
        high = [v > 0.8 for v in votes.values()]
        sides = {s for s, _ in votes}
        if len(sides) >= 2 and len(votes) >= 3:
            if all(high):
                return 'frame = "attacking"  # the shots of both sides lie at the same end in all periods'
            steady = {s: {v > 0.8 for (t, _), v in votes.items() if t == s} for s in sides}
            clear = all(v > 0.8 or v < 0.2 for v in votes.values())
            if clear and all(len(v) == 1 for v in steady.values()) and len(votes) == 4:
                self.doubts.append(
                    "Each side shoots at one goal throughout: the sides do not change ends in the table."
                )
                return 'frame = "home"  # ?'
            if clear:
                return 'frame = "pitch"  # the shots change ends with the sides'
        self.doubts.append(
            'Too few shots tell whether x runs in the attacking direction of the acting side (frame = "attacking") '
            'or is fixed to the ground (frame = "pitch", taken).'
        )
        return 'frame = "pitch"  # ?'


def _minute(text: str) -> float:
    """The minute of "12", "12'" or "45+2", which stands for 45: the period ends with it."""
    found = re.fullmatch(r"(\d{1,3})(?:[.,]0)?\s*['’′]?(?:\s*\+\s*\d+\s*['’′]?)?", text)
    return float(found[1]) if found else float("nan")


def _mmss(text: str) -> float:
    found = re.fullmatch(r"(?:(\d{1,2}):)?(\d{1,3})(?:\+(\d+))?:(\d{1,2}(?:[.,]\d+)?)", text)
    if not found:
        return float("nan")
    return int(found[1] or 0) * 3600 + (int(found[2]) + int(found[3] or 0)) * 60 + float(found[4].replace(",", "."))
