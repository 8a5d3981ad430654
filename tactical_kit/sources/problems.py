"""Everything that is wrong with an input, reported together and in the reader's words."""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tactical_kit.errors import TacticalKitError

__all__ = ["InputError", "Problem", "Problems"]

_SHOWN_VALUE = 60  # characters of a met value that are shown


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong: where, what was met, what was expected, how to mend it.

    `row` counts as the user's program shows it (the first line of a text file is 1); None if it does not apply.
    `kind` is "error" (nothing is loaded) or "warning" (loaded, but look at it).
    """

    file: str
    met: str
    expected: str
    mend: str
    row: int | None = None
    column: str = ""
    kind: str = "error"

    def __str__(self) -> str:
        place = self.file
        if self.row is not None:
            place += f", row {self.row}"
        if self.column:
            place += f", column {self.column!r}"
        met = self.met if len(self.met) <= _SHOWN_VALUE else self.met[: _SHOWN_VALUE - 1] + "…"
        met = "".join(c if c.isprintable() else "�" for c in met)
        return f"{place}: met {met}; expected {self.expected}. {self.mend}"


class Problems:
    """A collector: a reader adds every problem it meets and raises once at the end.

    The same problem in many rows is kept `limit` times and then only counted, so that a file with a million
    bad rows gives a report that can be read.
    """

    def __init__(self, limit: int = 5) -> None:
        self.limit = limit
        self._kept: list[Problem] = []
        self._counts: dict[tuple[str, str, str, str], int] = {}

    def add(
        self,
        file: str | Path,
        met: object,
        expected: str,
        mend: str,
        row: int | None = None,
        column: str = "",
        kind: str = "error",
    ) -> None:
        """Note one problem."""
        key = (str(file), column, expected, kind)
        self._counts[key] = self._counts.get(key, 0) + 1
        if self._counts[key] <= self.limit:
            name = Path(file).name if isinstance(file, Path) else file
            self._kept.append(Problem(name, str(met), expected, mend, row, column, kind))

    def drop(self, file: Path, met: str) -> int:
        """Forget the problems of a file where this was met; return how many there were."""
        gone = [p for p in self._kept if p.file == file.name and p.met == met]
        self._kept = [p for p in self._kept if p not in gone]
        for p in gone:
            self._counts.pop((str(file), p.column, p.expected, p.kind), None)
        return len(gone)

    def __iter__(self) -> Iterator[Problem]:
        return iter(self._kept)

    def __len__(self) -> int:
        return sum(self._counts.values())

    @property
    def errors(self) -> list[Problem]:
        """The problems that keep the input from being loaded."""
        return [p for p in self._kept if p.kind == "error"]

    @property
    def warnings(self) -> list[Problem]:
        """The problems that do not."""
        return [p for p in self._kept if p.kind == "warning"]

    def lines(self) -> list[str]:
        """Return the report, a line a problem, with the number of further rows that have the same one."""
        lines = [("warning: " if p.kind == "warning" else "") + str(p) for p in self._kept]
        for (file, column, expected, _), count in self._counts.items():
            if count > self.limit:
                where = f", column {column!r}" if column else ""
                lines.append(f"{Path(file).name}{where}: {count - self.limit} more of the same (expected {expected}).")
        return lines

    def warn(self) -> None:
        """Tell the warnings as one Python warning, at the line of the user's own code that asked for the file."""
        if not self.warnings:
            return
        level, frame = 2, sys._getframe(1)
        while frame.f_back is not None and frame.f_globals.get("__name__", "").startswith("tactical_kit."):
            frame, level = frame.f_back, level + 1
        lines = [line.removeprefix("warning: ") for line in self.lines()]
        warnings.warn("\n".join(lines), stacklevel=level)

    def raise_if_any(self) -> None:
        """Raise `InputError` with the whole report if there is an error among the problems."""
        if self.errors:
            raise InputError(self)


class InputError(TacticalKitError):
    """An input that was not loaded; `problems` holds every reason, the message lists them."""

    def __init__(self, problems: Problems) -> None:
        self.problems = problems
        count = sum(n for key, n in problems._counts.items() if key[3] == "error")
        head = "1 problem" if count == 1 else f"{count} problems"
        super().__init__("\n".join([f"{head}; nothing was loaded.", *problems.lines()]))
