"""Reads a mapping file and notes everything in it that cannot be.

The file is TOML, written by hand or drafted by `draft_mapping`.  It names tables that lie in its own folder
or below it, and nothing else: a mapping that somebody sends you cannot make the kit read other files.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from tactical_kit.errors import TacticalKitError, suggest
from tactical_kit.match.events import KINDS
from tactical_kit.pitch import Pitch
from tactical_kit.sources.mapping import ClockForm, Coordinates, Mapping, PeriodPlan, TablePlan, Words, fold
from tactical_kit.sources.mapping_form import WORD_FIELDS, check_form, line_of
from tactical_kit.sources.problems import Problems

__all__ = ["read_mapping", "read_mapping_so_far"]

_MAX_BYTES = 1_000_000  # a mapping is a page of text; more is something else


def read_mapping(path: str | Path, problems: Problems) -> Mapping | None:
    """Read a mapping file; every fault goes to `problems`, and None comes back if there was one."""
    mapping = read_mapping_so_far(path, problems)
    return None if mapping is None or mapping.faults else mapping


def read_mapping_so_far(path: str | Path, problems: Problems) -> Mapping | None:
    """Read a mapping file without its faulty keys, so that the tables can be looked at in spite of them.

    The faults go to `problems` and stand in `faults`; None comes back only if the file cannot be read at all.
    """
    path = Path(path)
    text = _text_of(path, problems)
    if text is None:
        return None
    try:
        raw = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        place = re.search(r"\s*\(at (?:line (\d+), column \d+|end of document)\)", str(error))
        what = str(error)[: place.start()] if place else "brackets nested too deep"
        row = int(place[1]) if place and place[1] else None
        problems.add(
            path, what[:1].lower() + what[1:], "a TOML file", "Look for a missing quote, bracket or = sign.", row
        )
        return None
    sound, faults = check_form(raw, text, path, problems)
    return _Reader(path, sound, text, problems, faults).read()


def _text_of(path: Path, problems: Problems) -> str | None:
    try:
        data = path.open("rb").read(_MAX_BYTES + 1)
    except OSError as error:
        problems.add(path, _why(error), "a mapping file", "Check the path.")
        return None
    if len(data) > _MAX_BYTES:
        problems.add(path, f"more than {_MAX_BYTES:,} bytes", "a mapping of a page or two", "Check the path.")
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        problems.add(path, f"the byte 0x{data[error.start]:02x}", "text in UTF-8", "Save the mapping as UTF-8.", row)
        return None


def _why(error: OSError) -> str:
    names = {
        FileNotFoundError: "no such file",
        IsADirectoryError: "a folder",
        PermissionError: "a file that may not be read",
    }
    return names.get(type(error), error.strerror or "a file that cannot be opened")


class _Reader:
    """Turns the checked TOML into plans, noting what contradicts itself."""

    def __init__(self, path: Path, raw: dict[str, Any], text: str, problems: Problems, faults: list[str]) -> None:
        self.path, self.raw, self.text, self.problems = path, raw, text, problems
        self.faults = faults
        self.said = tuple(faults)  # by the form: what is missing there has been left out for a reason that is told
        self._noted: set[tuple[str, ...]] = set()

    def read(self) -> Mapping:
        raw = self.raw
        if "mapping" not in raw and "mapping" not in self.said:
            self._note("no key 'mapping'", "mapping = 1", "Write mapping = 1 on the first line.", "mapping")
        top = [f for f in self.said if "." not in f]  # one of them may be the missing section, misspelt
        if "events" not in raw and "tracking" not in raw and not top:
            self._note(
                "neither [[events]] nor [tracking]", "at least one table", "Name the file and its columns.", "events"
            )
        size = raw.get("pitch", {})
        pitch = Pitch()
        try:
            pitch = Pitch(float(size.get("length_m", 105.0)), float(size.get("width_m", 68.0)))
        except TacticalKitError as error:
            self._note(
                f"{size.get('length_m', 105):g} x {size.get('width_m', 68):g} m",
                "a pitch that Law 1 allows",
                str(error).split(". ")[0].removeprefix("Law 1 does not allow this pitch: ").capitalize() + ".",
                "pitch",
            )
        events = tuple(self._table(t, "events") for t in raw.get("events", []))
        tracking = self._table(raw["tracking"], "tracking") if "tracking" in raw else None
        squad = self._table(raw["squad"], "squad") if "file" in raw.get("squad", {}) else None
        for plan in events:
            self._events_table(plan)
        if tracking is not None:
            self._tracking_table(tracking)
        if squad is not None:
            self._need(squad, "squad", ("player",) if "player" in squad.columns else ("name",))
            self._need(squad, "squad", ("team",))
        self._words_once()
        periods = self._periods()
        stamped = [p for p in (*events, *([tracking] if tracking else [])) if p.clock.form == "timestamp"]
        if (stamped and not all(p.start for p in periods)) or (stamped and not periods):
            self._note(
                "timestamps, and no start of the periods",
                "the moment at which each period began",
                "Write start = 2026-05-03T15:00:00Z in each [[period]].",
                "period",
            )
        words = Words(raw.get("words", {}))
        mapping = Mapping(self.path, raw, self.text, pitch, periods, words, events, tracking, squad, tuple(self.faults))
        words.blind = {f.split(".")[1] for f in self.faults if f.startswith("words.")}
        if "words" in self.faults:
            words.blind = set(WORD_FIELDS)
        if mapping.faulty("match", "match.home", "match.away"):
            words.blind.add("team")
        return mapping

    def _note(self, met: str, expected: str, mend: str, key: str) -> None:
        if any(key == f or key.startswith(f + ".") for f in self.said):
            return  # the form has said what is wrong there
        self.faults.append(key)
        if (met, expected, mend, key) in self._noted:  # a shared [clock] or [coordinates] is read for each table
            return
        self._noted.add((met, expected, mend, key))
        self.problems.add(self.path, met, expected, mend, line_of(self.text, key), key)

    def _need(self, plan: TablePlan, section: str, names: tuple[str, ...]) -> None:
        for name in names:
            if name not in plan.columns and name not in plan.always:
                if any(f == section or f.startswith(f"{section}.columns") for f in self.said) or any(
                    f == f"{section}.always" or f == f"{section}.always.{name}" for f in self.faults
                ):
                    continue  # a key there is unknown, and may be this one, misspelt
                self._note(
                    f"no column for {name!r}",
                    f"the columns {', '.join(names)}",
                    f'Write {name} = "the header of the column" under [{section}.columns].',
                    f"{section}.columns",
                )

    def _words_once(self) -> None:
        for name, meanings in self.raw.get("words", {}).items():
            seen: dict[str, str] = {}
            for meaning, spellings in meanings.items() if isinstance(meanings, dict) else ():
                for word in spellings:
                    other = seen.setdefault(fold(word), meaning)
                    if other != meaning:
                        self._note(
                            f"{word!r} for {other!r} and for {meaning!r}",
                            "one meaning for each word",
                            "Capitals, blanks, - and _ do not tell words apart.",
                            f"words.{name}.{meaning}",
                        )

    def _events_table(self, plan: TablePlan) -> None:
        self._clock_columns(plan, "events")
        self._need(plan, "events", ("kind",))
        for x, y in (("x", "y"), ("end_x", "end_y")):
            if (x in plan.columns) != (y in plan.columns):
                self._need(plan, "events", (x, y))

    def _clock_columns(self, plan: TablePlan, section: str) -> None:
        if any(f.split(".")[-2:] == ["clock", "form"] or f in ("clock", f"{section}.clock") for f in self.said):
            return  # which columns the clock needs is not known
        if plan.clock.form == "minute and second":
            if "minute" in plan.columns and "second" not in plan.columns:
                mend = 'Write second = "the header of the column"'
                self._note(
                    "no column for 'second'", "the columns minute, second",
                    f'{mend} under [{section}.columns]; a table of whole minutes has form = "minutes" under [clock].',
                    f"{section}.columns",
                )  # fmt: skip
            else:
                self._need(plan, section, ("minute", "second"))
        elif plan.clock.form == "minutes":
            self._need(plan, section, ("minute",))
        else:
            self._need(plan, section, ("time",))

    def _tracking_table(self, plan: TablePlan) -> None:
        if plan.coordinates.frame == "attacking":
            self._note(
                "frame 'attacking' for tracking",
                "'pitch' or 'home'",
                "One frame holds both sides, so x cannot run in the direction of each.",
                "tracking.coordinates",
            )
        self._clock_columns(plan, "tracking")
        if plan.form == "long":
            self._need(plan, "tracking", ("player", "x", "y"))
        elif plan.form == "wide":
            missing = [t for t in ("{axis}",) if t not in plan.pattern]
            if missing or not ("{player}" in plan.pattern or "{shirt}" in plan.pattern):
                self._note(
                    repr(plan.pattern),
                    "a pattern with {axis} and {player}, or {team}, {shirt} and {axis}",
                    'As pattern = "{team}_{shirt}_{axis}" for columns like home_7_x.',
                    "tracking.pattern",
                )
        else:
            self._note(
                "no form", "'wide' or 'long'", "Wide: columns for each player; long: rows for each player.", "tracking"
            )

    def _table(self, raw: dict[str, Any], section: str) -> TablePlan:
        coordinates = {**self.raw.get("coordinates", {}), **raw.get("coordinates", {})}
        clock = {**self.raw.get("clock", {}), **raw.get("clock", {})}
        rate = float(raw.get("rate_hz", clock.get("rate_hz", 0.0)))
        path, there = self._inside(raw, section)
        always = {n: w for n, w in raw.get("always", {}).items() if self._always(n, w, section)}
        plan = TablePlan(
            path=path,
            lost=frozenset() if there else frozenset({"file"}),
            sheet=raw.get("sheet", ""),
            delimiter=raw.get("delimiter", ""),
            decimal=raw.get("decimal", "."),
            encoding=raw.get("encoding", ""),
            header_row=raw.get("header_row", 0),
            thousands=raw.get("thousands", ""),
            fill_down=tuple(raw.get("fill_down", ())),
            columns=raw.get("columns", {}),
            always=always,
            keep=tuple(raw.get("keep", ())),
            coordinates=self._coordinates(coordinates, section),
            clock=ClockForm(clock.get("form", "seconds"), clock.get("from", "period"), rate),
            form=raw.get("form", ""),
            pattern=raw.get("pattern", ""),
            rate_hz=rate,
        )
        if rate < 0 or (plan.clock.form == "frames" and section != "squad" and not rate > 0):
            self._note(
                f"rate_hz = {rate:g}",
                "frames a second, more than 0",
                "Write rate_hz, as rate_hz = 25.",
                f"{section}.rate_hz",
            )
        if "header_row" in raw and not 1 <= plan.header_row <= 1000:
            self._note(
                f"header_row = {plan.header_row}", "the row of the header, from 1",
                "Count the rows as the spreadsheet does.", f"{section}.header_row",
            )  # fmt: skip
        if plan.thousands and plan.thousands == plan.decimal:
            self._note(
                f"{plan.thousands!r} for decimals and for thousands", "two different marks",
                "Mend one of the two.", f"{section}.thousands",
            )  # fmt: skip
        if len(plan.delimiter) > 1:
            self._note(repr(plan.delimiter), "one character", 'As delimiter = ";".', f"{section}.delimiter")
        if plan.encoding:
            try:
                "".encode(plan.encoding)
            except LookupError:
                self._note(
                    repr(plan.encoding),
                    "the name of an encoding",
                    "Common are utf-8, utf-16 and cp1252.",
                    f"{section}.encoding",
                )
        return plan

    def _always(self, name: str, word: str, section: str) -> bool:
        """Tell whether the word that a field always has is one of the kit's, and note it if it is not."""
        known = ("1", "2", "3", "4", "5") if name == "period" else KINDS if name == "kind" else WORD_FIELDS[name]
        if word not in known:
            self._note(
                repr(word), f"one of {', '.join(known)}", "Use one of the kit's words.", f"{section}.always.{name}"
            )
        return word in known

    def _inside(self, raw: dict[str, Any], section: str) -> tuple[Path, bool]:
        """The file of a table, and whether it may and can be opened."""
        name = raw.get("file", "")
        folder = self.path.resolve().parent
        if not name:
            self._note("no file", "the name of a file", f'Write file = "..." under [{section}].', f"{section}.file")
            return folder, False
        target = folder / name
        if "\0" in name or Path(name).is_absolute() or not target.resolve().is_relative_to(folder):
            self._note(
                repr(name),
                "a file in the folder of the mapping or below it",
                "Copy the file there, or put the mapping beside it.",
                f"{section}.file",
            )
        elif not target.is_file():
            near = [p.name for p in target.parent.glob("*")] if target.parent.is_dir() else []
            self._note(
                f"{name!r}, which is not there",
                "the name of a file",
                f"Check the spelling.{suggest(name, near)}",
                f"{section}.file",
            )
        else:
            return target, True
        return target, False

    def _coordinates(self, raw: dict[str, Any], section: str) -> Coordinates:
        origin = raw.get("origin", "centre")
        key = f"{section}.coordinates" if line_of(self.text, f"{section}.coordinates") else "coordinates"
        follows_x = "left" if origin.endswith("right") else "right"
        follows_y = "down" if origin.startswith("top") else "up"
        if origin != "centre" and (
            raw.get("x_grows", follows_x) != follows_x or raw.get("y_grows", follows_y) != follows_y
        ):
            self._note(
                f"origin {origin!r} with x_grows {raw.get('x_grows', follows_x)!r}, "
                f"y_grows {raw.get('y_grows', follows_y)!r}",
                f"x_grows {follows_x!r}, y_grows {follows_y!r}: from a corner both run into the pitch",
                "Leave the two keys out, or mend the origin.",
                f"{key}.origin",
            )
        length, width = float(raw.get("length", 0.0)), float(raw.get("width", 0.0))
        if raw.get("unit") == "pitch units" and not (length > 0 and width > 0):
            self._note(
                f"length {length:g}, width {width:g}",
                "what the far ends of the pitch count, both more than 0",
                "As length = 120, width = 80.",
                f"{key}.unit",
            )
        return Coordinates(
            raw.get("unit", "m"),
            origin,
            raw.get("x_grows", follows_x),
            raw.get("y_grows", follows_y),
            raw.get("frame", "pitch"),
            length,
            width,
        )

    def _periods(self) -> tuple[PeriodPlan, ...]:
        plans: list[PeriodPlan] = []
        for raw in self.raw.get("period", []):
            number = raw.get("number")
            if number is None or number not in (1, 2, 3, 4, 5) or (plans and number <= plans[-1].number):
                self._note(
                    f"period {number}" if number is not None else "no number",
                    "periods 1 to 5, each once, in order",
                    "1 and 2 are the halves, 3 and 4 extra time, 5 the shoot-out.",
                    "period.number",
                )
                continue
            start = raw.get("start")
            attacks = {"right": 1, "left": -1, None: None}[raw.get("home_attacks")]
            duration = self._seconds(raw.get("duration"), "period.duration")
            if duration is not None and not 0 < duration < 7200:
                self._note(
                    f"{duration:g} s",
                    "a length of 0 to 120 minutes",
                    "Give seconds, or minutes:seconds.",
                    "period.duration",
                )
            plans.append(
                PeriodPlan(
                    number,
                    duration,
                    attacks,
                    start,
                    self._seconds(raw.get("clock_start"), "period.clock_start"),
                    raw.get("first_frame"),
                )
            )
        return tuple(plans)

    def _seconds(self, value: object, key: str) -> float | None:
        if value is None or isinstance(value, int | float):
            return None if value is None else float(value)
        found = re.fullmatch(r"(\d{1,3}):([0-5]\d(?:\.\d+)?)", str(value))
        if not found:
            self._note(repr(value), "seconds, or minutes:seconds as '47:30'", "Mend the value.", key)
            return None
        return int(found[1]) * 60 + float(found[2])
