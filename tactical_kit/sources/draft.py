"""Drafts a mapping from a table's header and rows, and says in words what it is unsure of.

Every guess that the values do not settle is a doubt: a line of the report, and "# ?" in the draft.
"""

from __future__ import annotations

import difflib
import json
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np

from tactical_kit.sources.draft_values import ValuesLook
from tactical_kit.sources.draft_words import (
    EVENT_HEADERS,
    KIND_WORDS,
    OUTCOME_WORDS,
    PERIOD_WORDS,
    TRACKING_HEADERS,
    TWO_MEANINGS,
    YES_NO,
    plain,
)  # fmt: skip
from tactical_kit.sources.mapping import Words, fold
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.tables_events import filled_down, no_events
from tactical_kit.sources.tables_file import Sheet, delimiter_of, open_sheet

__all__ = ["Draft", "draft_mapping"]

_LOOK = 5000  # rows looked at


class Draft(NamedTuple):
    """A drafted mapping: its TOML text, and what it is unsure of, a sentence each."""

    text: str
    doubts: list[str]


def draft_mapping(file: str | Path, sheet: str = "") -> Draft:
    """Draft a mapping for a table from its header and its first rows.

    Parameters
    ----------
    file : str or Path
        CSV, Excel or Parquet: events, or tracking in the wide or long form.
    sheet : str
        Sheet of an Excel file; the first one if empty.

    Returns
    -------
    Draft
        `text`, a TOML mapping to be saved beside the table, and `doubts`, a list of sentences.  Columns and
        words that it does not recognise are named in the doubts and left alone.

    Raises
    ------
    InputError
        The table itself cannot be read.
    """
    path = Path(file)
    problems = Problems()
    doubts: list[str] = []
    encoding = ""
    table = open_sheet(path, problems, sheet, max_rows=_LOOK, header_row=None)
    if table is None and any("0x" in p.met for p in problems.errors):
        second = Problems()
        table = open_sheet(path, second, sheet, encoding="cp1252", max_rows=_LOOK, header_row=None)
        if table is not None:
            encoding, problems = "cp1252", second
            doubts.append("The file is not UTF-8; cp1252 (Western European) was taken: check names with accents.")
    problems.raise_if_any()
    assert table is not None
    return _Drafter(path, table, sheet, encoding, doubts).draft()


def _quote(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


class _Drafter(ValuesLook):
    def __init__(self, path: Path, table: Sheet, sheet: str, encoding: str, doubts: list[str]) -> None:
        super().__init__(table, doubts)
        self.path, self.sheet, self.encoding = path, sheet, encoding
        if table.title:
            self.doubts.append(f"The header was taken to be row {table.header_row}: {table.title!r} stands above it.")
        self.decimal = self._decimal()
        self.fill_down: list[str] = []
        self.word_notes: list[str] = []
        self.notes: dict[str, str] = {}  # field -> comment behind its column

    def draft(self) -> Draft:
        form = self._form()
        self._find_columns(EVENT_HEADERS if form == "events" else TRACKING_HEADERS)
        self._repeat_merged()
        if form == "events":
            self._leave_totals()
        if form == "events" and "kind" not in self.columns:
            self.doubts.append(
                "No column says what kind of event each row is: name it under [events.columns], or write "
                'kind = "pass" under [events.always] if all rows are of one kind.'
            )
        self._find_words(form)
        lines = [
            f"# A draft of how to read {self.path.name}. Look at each line with a question mark,",
            "# mend it or leave it, then run: tactical-kit check <this file>",
            "mapping = 1",
            "",
            "[match]",
            f"id = {_quote(self.path.stem)}",
            *self._teams(),
            "",
            "[pitch]  # ? metres, from touchline to touchline and goal line to goal line",
            "length_m = 105",
            "width_m = 68",
            "",
        ]
        self.doubts.append("The size of the pitch is not in the table; 105 x 68 m was taken.")
        clock, numbers = self._clock(form)
        lines += self._periods(numbers, clock)
        lines += self._coordinates(form)
        lines += clock
        lines += ["# [squad]: names and positions of the players; without it they are told from the table"]
        players = self._distinct("player")
        if form != "wide" and players and all(re.fullmatch(r"\d{1,2}", p) or plain(p) == "ball" for p in players):
            lines += ["[squad]", 'players_are = "shirts"  # ?']
            self.doubts.append("The players were taken to be named by their shirt numbers.")
        lines.append("")
        lines += self._word_lines()
        lines += self._table_lines(form)
        return Draft("\n".join(lines) + "\n", self.doubts)

    # -- the shape of the table -----------------------------------------------------------------------

    def _decimal(self) -> str:
        cells = [str(c) for column in self.table.cells.values() for c in column[:200]]
        for decimal, mark in ((".", ","), (",", "."), (".", " "), (",", " ")):
            if self._parted(cells, decimal, mark):
                self.thousands = mark
                name = {",": "commas", ".": "points", " ": "blanks"}[mark]
                self.doubts.append(f"Numbers were taken to have {name} between the thousands.")
                return decimal
        commas = sum(bool(re.fullmatch(r"-?\d+,\d+", c)) for c in cells)
        points = sum(bool(re.fullmatch(r"-?\d+\.\d+", c)) for c in cells)
        if commas and points:
            self.doubts.append(
                f"Both decimal commas ({commas} cells) and points ({points} cells) occur; mend the table first."
            )
        return "," if commas > points else "."

    @staticmethod
    def _parted(cells: list[str], decimal: str, mark: str) -> bool:
        """Tell whether numbers have a mark between the thousands, and nothing in them says otherwise."""
        m, d = re.escape(mark), re.escape(decimal)
        parted = [c for c in cells if re.fullmatch(rf"-?\d{{1,3}}({m}\d{{3}})+({d}\d+)?", c)]
        marked = [c for c in cells if re.fullmatch(rf"-?\d+({m}\d+)+({d}\d+)?", c)]
        fractions = any(re.fullmatch(rf"-?\d+({m}\d{{3}})*{d}\d+", c) for c in cells)
        # "1,234" alone may be a decimal comma: only a decimal point somewhere, or two marks, settle it.
        sure = fractions or mark == " " or any(c.count(mark) > 1 for c in parted)
        return bool(parted) and len(marked) == len(parted) and sure

    def _repeat_merged(self) -> None:
        """Repeat the words of merged cells, of which only the first is filled."""
        for name in ("team", "period", "player"):
            header = self.columns.get(name)
            if header is None:
                continue
            cells = self.table.cells[header]
            filled = np.array([str(c) != "" for c in cells], bool)
            if len(cells) >= 4 and filled.any() and filled[0] and filled.mean() < 0.5:
                self.table.cells[header] = filled_down(cells)
                self.fill_down.append(header)
                self.doubts.append(
                    f"Column {header!r} is empty in {int((~filled).sum())} of {len(cells)} rows: merged cells were "
                    "supposed, which hold for the rows below (fill_down)."
                )

    def _leave_totals(self) -> None:
        """Leave out rows without time and kind: totals, and notes below the table."""
        found = no_events(self.table, self.columns)
        if not found or len(found) == len(self.table):
            return
        keep = np.ones(len(self.table), bool)
        keep[list(found)] = False
        rows = ", ".join(map(str, self.table.rows[~keep][:5]))
        what = "Totals or notes, left out" if all(found.values()) else "Without time and kind, so no events"
        self.doubts.append(f"{what}: row {rows}.")
        cells = {name: column[keep] for name, column in self.table.cells.items()}
        self.table = replace(self.table, cells=cells, rows=self.table.rows[keep])

    def _form(self) -> str:
        headers = [plain(h) for h in self.table.columns]
        if self._wide_pattern():
            return "wide"
        has_kind = any(h in EVENT_HEADERS["kind"] for h in headers)
        has_player = any(h in TRACKING_HEADERS["player"] for h in headers)
        time = next((c for c in self.table.columns if plain(c) in EVENT_HEADERS["time"]), None)
        if not has_kind and has_player and time is not None and len(self.table) > 4:
            cells = self.table.cells[time]
            if len(set(cells.tolist())) <= len(cells) / 3:
                return "long"
        return "events"

    def _wide_pattern(self) -> str:
        """Find the name pattern that covers the coordinate columns of players; "" if there is none."""
        headers = [h for h in self.table.columns if "ball" not in h.lower()]
        sep = r"[ _\-.]*"
        who = rf"(?P<team>[A-Za-z]+?)(?P<a>{sep}(?:player|shirt|no|p)?{sep})(?P<shirt>\d+)"
        forms = [
            rf"{who}(?P<b>{sep}(?:pos|position)?{sep})(?P<axis>[xyXY])",
            rf"(?P<axis>[xyXY])(?P<b>[ _\-.]+){who}",
            r"(?P<player>.+?)(?P<b>[ _\-.]+)(?P<axis>[xyXY])",
        ]
        axis = [h for h in headers if re.search(r"(^|[\W_\d])[xy]($|[\W_])", h, re.IGNORECASE)]
        for k, form in enumerate(forms):
            found = [m for m in (re.fullmatch(form, h, re.IGNORECASE) for h in headers) if m]
            names = {m.groupdict().get("player") or (m["team"], m["shirt"]) for m in found}
            if len(found) >= 8 and len(names) >= 4 and len(found) >= 0.8 * len(axis):
                (a, b), _ = Counter((m.groupdict().get("a") or "", m["b"]) for m in found).most_common(1)[0]
                return (
                    f"{{team}}{a}{{shirt}}{b}{{axis}}",
                    f"{{axis}}{b}{{team}}{a}{{shirt}}",
                    f"{{player}}{b}{{axis}}",
                )[k]
        return ""

    def _find_columns(self, headers: dict[str, tuple[str, ...]]) -> None:
        self.pattern = self._wide_pattern() if "kind" not in headers else ""
        free = {plain(h): h for h in reversed(self.table.columns)}
        if "minute" in headers and any(n in headers["minute"] for n in free):
            order = ["minute", "second", *(n for n in headers if n not in ("minute", "second"))]
        else:
            order = [n for n in headers if n not in ("minute", "second")]
        for name in order:
            for spelling in headers[name]:
                if spelling in free:
                    self.columns[name] = free.pop(spelling)
                    break
        if "minute" in self.columns and "second" not in self.columns and "time" in self.columns:
            free[plain(self.columns["minute"])] = self.columns.pop("minute")
        for name in order:  # a slip of the keyboard, asked about
            if name in self.columns or (name == "time" and "minute" in self.columns):
                continue
            long = [s for s in headers[name] if len(s) > 3]
            for header in list(free):
                near = difflib.get_close_matches(header, long, n=1, cutoff=0.84) if len(header) > 3 else []
                if near:
                    self.columns[name] = free.pop(header)
                    self.notes[name] = "  # ?"
                    self.doubts.append(
                        f"Column {self.columns[name]!r} was taken for {name}: the spelling is only near."
                    )
                    break
        if self.pattern:
            shape = re.compile(
                re.sub(r"\\\{(team|player|axis)\\\}", ".+?", re.escape(self.pattern)).replace(r"\{shirt\}", r"\d+"),
                re.IGNORECASE,
            )
            free = {n: h for n, h in free.items() if not shape.fullmatch(h)}
        for name in ("minute", "second"):
            if name in self.columns and "minute" in self.columns and "second" not in self.columns:
                self.doubts.append(
                    "There is a column of minutes and none of seconds: times are good to the minute only; if there is "
                    'one, name it under [events.columns] and write form = "minute and second".'
                )
                break
        if free:
            shown = ", ".join(repr(h) for h in sorted(free.values(), key=self.table.columns.index)[:12])
            self.doubts.append(f"Not used, as the header does not tell what they hold: {shown}.")

    # -- words ----------------------------------------------------------------------------------------

    def _distinct(self, name: str) -> list[str]:
        """The words of a column, the most frequent first."""
        if name not in self.columns:
            return []
        counts = Counter(str(c) for c in self.table.cells[self.columns[name]] if str(c))
        return sorted(counts, key=lambda w: (-counts[w], w))

    def _find_words(self, form: str) -> None:
        known = Words({})
        if form == "events":
            self._settle("kind", KIND_WORDS, known)
            outcome = self._distinct("outcome")
            yes_no = {w for words in YES_NO.values() for w in words}
            if (
                outcome
                and "success" not in self.columns
                and sum(plain(w) in yes_no for w in outcome) > len(outcome) / 2
            ):
                self.columns["success"] = self.columns.pop("outcome")
            self._settle("outcome", OUTCOME_WORDS, known)
            self._settle("success", YES_NO, known)
            for name in ("detail", "set_play", "body_part"):
                self._settle(name, {}, known)
        else:
            self._settle("alive", YES_NO, known)
        self._settle("period", PERIOD_WORDS, known)

    def _settle(self, name: str, meanings: dict[str, tuple[str, ...]], known: Words) -> None:
        spelled = {s: m for m, spellings in meanings.items() for s in spellings}
        unknown = []
        for word in self._distinct(name):
            if known.look_up(name, word) is not None:
                continue
            meaning = spelled.get(plain(word))
            if meaning is not None:
                self.words.setdefault(name, {}).setdefault(meaning, []).append(word)
            else:
                unknown.append(word)
        for word in unknown[:40]:
            two = TWO_MEANINGS.get(plain(word), "") if name == "kind" else ""
            self.word_notes.append(f"# ? {name}: {_comment(word)}" + (f" ({two})" if two else ""))
            if two:
                self.doubts.append(f"{word!r} among the kinds may mean {two}: add it under [words.kind].")
        plainly = [w for w in unknown if not (name == "kind" and plain(w) in TWO_MEANINGS)]
        if plainly:
            shown = ", ".join(repr(w) for w in plainly[:10]) + (
                f" and {len(plainly) - 10} more" if len(plainly) > 10 else ""
            )
            self.doubts.append(f"Words for {name} that were not recognised: {shown}; add them under [words.{name}].")

    def _teams(self) -> list[str]:
        names = self._distinct("team")
        spelled: dict[str, str] = {}
        for name in names:  # capitals and blanks do not tell words apart
            spelled.setdefault(fold(name), name)
        names = list(spelled.values())
        if self.pattern and "{team}" in self.pattern:
            shape = re.compile(
                re.escape(self.pattern)
                .replace(r"\{team\}", "(?P<team>[A-Za-z]+?)")
                .replace(r"\{shirt\}", r"\d+")
                .replace(r"\{axis\}", "[xy]"),
                re.IGNORECASE,
            )
            found = [m["team"] for m in map(shape.fullmatch, self.table.columns) if m]
            names = list(dict.fromkeys(found))
        names = [n for n in names if plain(n) != "ball"]
        home = [n for n in names if plain(n) in ("home", "h", "home team", "hosts")]
        away = [n for n in names if plain(n) in ("away", "a", "away team", "visitors", "guests")]
        if home and away:
            self.words["team"] = {"home": home, "away": away}
            return ['home = "Home"', 'away = "Away"']
        if len(names) == 2:
            first, second = sorted(names)
            self.doubts.append(f"Which side is at home is not in the table: {first!r} was taken for the home side.")
            return [f"home = {_quote(first)}  # ?", f"away = {_quote(second)}  # ?"]
        if names:
            shown = ", ".join(repr(n) for n in names[:6])
            self.doubts.append(
                f"{len(names)} words for teams, two expected: {shown}; sort them out under [words.team]."
            )
        else:
            self.doubts.append("No column names the team; add it, or both sides cannot be told apart.")
        return ['home = "Home"  # ?', 'away = "Away"  # ?']

    def _word_lines(self) -> list[str]:
        lines = []
        for name, meanings in self.words.items():
            if any(meanings.values()):
                lines.append(f"[words.{name}]")
                for meaning, spellings in meanings.items():
                    key = meaning if re.fullmatch(r"[\w-]+", meaning) else _quote(meaning)
                    lines.append(f"{key} = [{', '.join(_quote(s) for s in spellings)}]")
                lines.append("")
        return [*lines, *self.word_notes, *([""] if self.word_notes else [])]

    # -- the table ------------------------------------------------------------------------------------

    def _table_lines(self, form: str) -> list[str]:
        head = "events" if form == "events" else "tracking"
        lines = ["[[events]]" if head == "events" else "[tracking]", f"file = {_quote(self.path.name)}"]
        suffix = self.path.suffix.lower()
        if suffix in (".xlsx", ".xlsm"):
            if self.sheet:
                lines.append(f"sheet = {_quote(self.sheet)}")
        elif suffix != ".parquet":
            lines.append(f"delimiter = {_quote(self._delimiter())}")
            if self.encoding:
                lines.append(f"encoding = {_quote(self.encoding)}  # ?")
        if self.table.title:
            lines.append(f"header_row = {self.table.header_row}  # ?")
        if self.thousands:
            lines.append(f"thousands = {_quote(self.thousands)}  # ?")
        if self.fill_down:
            lines.append(f"fill_down = [{', '.join(map(_quote, self.fill_down))}]  # ?")
        if self.decimal == ",":
            lines.append('decimal = ","')
        if head == "tracking":
            lines.append(f'form = "{form}"')
            if form == "wide":
                lines.append(f"pattern = {_quote(self.pattern)}")
        lines.append(f"[{head}.columns]")
        for name, header in self.columns.items():
            lines.append(f"{name} = {_quote(header)}{self.notes.get(name, '')}")
        return lines

    def _delimiter(self) -> str:
        with self.path.open("rb") as file:
            head = file.read(65536)
        encoding = self.encoding or ("utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
        return delimiter_of(head.decode(encoding, "ignore"))


def _comment(text: str) -> str:
    """A word made safe for a comment: one line, no control character."""
    return "".join(c if c.isprintable() else " " for c in text)[:80]
