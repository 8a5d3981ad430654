"""Taking typed values out of parsed JSON, noting every one that is missing or of the wrong kind."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from tactical_kit.errors import suggest
from tactical_kit.sources.problems import Problems

__all__ = ["Fields", "parse_utc"]

_MEND = "Correct the value in the file."


class Fields:
    """One JSON object of a file, with the place where it stands.

    Every method returns a value of the asked type, or the default (None unless given) after noting the
    problem; so a reader goes on and finds the other faults.  A missing key without a default is a problem;
    null counts as missing.
    """

    def __init__(self, value: Any, file: Path, problems: Problems, place: str = "", row: int | None = None) -> None:
        self.file, self.problems, self.place, self.row = file, problems, place, row
        self.fits = isinstance(value, dict)
        self.value: dict[str, Any] = value if self.fits else {}
        if not self.fits:
            self._add(place, value, "an object {...}")

    def __contains__(self, key: str) -> bool:
        return self.value.get(key) is not None

    def note(self, key: str, met: object, expected: str, mend: str = _MEND, kind: str = "error") -> None:
        """Note a problem with the value of a key."""
        self.problems.add(self.file, met, expected, mend, self.row, self._path(key), kind)

    def text(self, key: str, default: Any = ..., longest: int = 1000) -> Any:
        """Return a text."""
        value = self._take(key, default, "a text")
        if isinstance(value, str) and len(value) <= longest:
            return value
        return self._wrong(key, value, default, f"a text of at most {longest} characters")

    def number(self, key: str, default: Any = ..., low: float = -math.inf, high: float = math.inf) -> Any:
        """Return a finite number within [low, high]."""
        value = self._take(key, default, "a number")
        if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
            return float(value)
        span = "" if math.isinf(low) and math.isinf(high) else f" from {low:g} to {high:g}"
        return self._wrong(key, value, default, f"a number{span}")

    def whole(self, key: str, default: Any = ..., low: int = -(2**31), high: int = 2**31) -> Any:
        """Return a whole number within [low, high]."""
        value = self._take(key, default, "a whole number")
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        return self._wrong(key, value, default, f"a whole number from {low} to {high}")

    def flag(self, key: str, default: Any = ...) -> Any:
        """Return true or false."""
        value = self._take(key, default, "true or false")
        return value if isinstance(value, bool) else self._wrong(key, value, default, "true or false")

    def choice(self, key: str, known: tuple[str, ...], default: Any = ...) -> Any:
        """Return one of a list of words."""
        value = self._take(key, default, f"one of {', '.join(known)}")
        if isinstance(value, str) and value in known:
            return value
        near = suggest(value, known) if isinstance(value, str) else ""
        return self._wrong(key, value, default, f"one of {', '.join(known)}", _MEND + near)

    def moment(self, key: str, default: Any = ...) -> Any:
        """Return a point in time in UTC, a `datetime`."""
        value = self._take(key, default, "a time such as 2026-03-01T14:00:00Z")
        found = parse_utc(value) if isinstance(value, str) else None
        return found or self._wrong(key, value, default, "a time such as 2026-03-01T14:00:00Z")

    def day(self, key: str, default: Any = ...) -> Any:
        """Return a `date`."""
        value = self._take(key, default, "a date such as 2026-03-01")
        try:
            return date.fromisoformat(value)
        except (TypeError, ValueError):
            return self._wrong(key, value, default, "a date such as 2026-03-01")

    def object(self, key: str, required: bool = True) -> Fields:
        """Return the object under a key; an empty one (`fits` False) if it is missing."""
        value = self.value.get(key)
        if value is None:
            if required and self.fits:
                self._add(self._path(key), "nothing", "an object {...}")
            made = Fields({}, self.file, self.problems, self._path(key), self.row)
            made.fits = False
            return made
        return Fields(value, self.file, self.problems, self._path(key), self.row)

    def objects(self, key: str, required: bool = True, most: int = 1000) -> Iterator[Fields]:
        """Yield the objects of a list."""
        for i, value in enumerate(self._list(key, required, most)):
            yield Fields(value, self.file, self.problems, f"{self._path(key)}[{i}]", self.row)

    def texts(self, key: str, required: bool = True, most: int = 1000) -> list[str]:
        """Return a list of texts."""
        values = self._list(key, required, most)
        for i, value in enumerate(values):
            if not isinstance(value, str):
                self._add(f"{self._path(key)}[{i}]", value, "a text")
        return [v for v in values if isinstance(v, str)]

    # ---------------------------------------------------------------------------------------------------

    def _path(self, key: str) -> str:
        return f"{self.place}.{key}" if self.place and key else self.place or key

    def _list(self, key: str, required: bool, most: int) -> list[Any]:
        value = self.value.get(key)
        if value is None:
            if required and self.fits:
                self._add(self._path(key), "nothing", "a list [...]")
            return []
        if not isinstance(value, list) or len(value) > most:
            met = f"{len(value)} entries" if isinstance(value, list) else value
            self._add(self._path(key), met, f"a list of at most {most} entries")
            return []
        return value

    def _take(self, key: str, default: Any, expected: str) -> Any:
        value = self.value.get(key)
        if value is None:
            if default is ... and self.fits:
                self._add(self._path(key), "nothing", expected)
            return _MISSING
        return value

    def _wrong(self, key: str, value: Any, default: Any, expected: str, mend: str = _MEND) -> Any:
        if value is not _MISSING:
            self._add(self._path(key), value, expected, mend)
        return None if default is ... else default

    def _add(self, place: str, met: Any, expected: str, mend: str = _MEND) -> None:
        if isinstance(met, dict | list):
            met = "an object" if isinstance(met, dict) else "a list"
        elif met != "nothing":
            met = repr(met)
        self.problems.add(self.file, met, expected, mend, self.row, place)


_MISSING = object()


def parse_utc(text: str) -> datetime | None:
    """Return the UTC `datetime` of an RFC 3339 text; one without an offset is taken as UTC; None if it is none.

    >>> parse_utc("2026-03-01T15:00:00+01:00")
    datetime.datetime(2026, 3, 1, 14, 0, tzinfo=datetime.timezone.utc)
    """
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    if found.tzinfo is None:
        return found.replace(tzinfo=UTC)
    try:
        return found.astimezone(UTC)
    except (OverflowError, ValueError):
        return None
