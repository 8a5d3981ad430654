"""What a mapping file says: how the words, units and clock of somebody's tables become the kit's own."""

from __future__ import annotations

import re
from collections.abc import Mapping as MappingType
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.match.events import BODY_PARTS, SET_PLAYS
from tactical_kit.pitch import Pitch
from tactical_kit.sources.content_units import YARD_M
from tactical_kit.sources.mapping_form import DETAILS, OUTCOMES, WORD_FIELDS, line_of

__all__ = ["ClockForm", "Coordinates", "Mapping", "PeriodPlan", "TablePlan", "Words", "day_of", "fold"]


@dataclass(frozen=True)
class Coordinates:
    """How a table gives places.

    Parameters
    ----------
    unit : str, default "m"
        "m", "cm", "yd", "%", "0-1" or "pitch units" (then `length` and `width` say what the ends count).
    origin : str, default "centre"
        Where 0, 0 lies, seen with x to the right: "centre", "bottom-left", "top-left", "bottom-right", "top-right".
    x_grows : "right" or "left"
        Direction of rising x; follows from a corner origin.
    y_grows : "up" or "down"
        Direction of rising y; follows from a corner origin, "up" with a centre origin.
    frame : str, default "pitch"
        "pitch": fixed to the ground, sides change ends; "attacking": x runs in the attacking direction of the
        acting side; "home": the home side attacks to the right throughout.
    length, width : float, default 0
        Full length and width of the field in "pitch units".

    >>> Coordinates("%", "top-left").to_pitch([100.0], [0.0], Pitch())
    (array([52.5]), array([34.]))
    """

    unit: str = "m"
    origin: str = "centre"
    x_grows: str = "right"
    y_grows: str = "up"
    frame: str = "pitch"
    length: float = 0.0
    width: float = 0.0

    def to_pitch(self, x: ArrayLike, y: ArrayLike, pitch: Pitch) -> tuple[NDArray[np.floating], NDArray[np.floating]]:
        """Turn the file's x and y into metres from the centre spot; the side's frame is left as it is."""
        xs, ys = np.asarray(x), np.asarray(y)
        scale_x, scale_y = self.scale(pitch)
        xs = xs * (scale_x if self.x_grows == "right" else -scale_x)
        ys = ys * (scale_y if self.y_grows == "up" else -scale_y)
        if self.origin != "centre":
            xs = xs + (-pitch.half_length if self.origin.endswith("left") else pitch.half_length)
            ys = ys + (-pitch.half_width if self.origin.startswith("bottom") else pitch.half_width)
        return xs, ys

    def scale(self, pitch: Pitch) -> tuple[float, float]:
        """Metres of one unit along and across the pitch."""
        if self.unit in ("%", "0-1"):
            full = 100.0 if self.unit == "%" else 1.0
            return pitch.length_m / full, pitch.width_m / full
        if self.unit == "pitch units":
            return pitch.length_m / self.length, pitch.width_m / self.width
        each = {"m": 1.0, "cm": 0.01, "yd": YARD_M}[self.unit]
        return each, each


@dataclass(frozen=True)
class ClockForm:
    """How a table gives time.

    Parameters
    ----------
    form : str, default "seconds"
        "seconds", "milliseconds", "mm:ss", "minute and second", "minutes" (whole ones, good to the minute only),
        "timestamp" (ISO) or "frames".
    start : str, default "period"
        "period": counted from the start of the period; "match": from the first kick-off.
    rate_hz : float, default 0
        Frames a second, for "frames".
    """

    form: str = "seconds"
    start: str = "period"
    rate_hz: float = 0.0


@dataclass(frozen=True)
class PeriodPlan:
    """What the mapping says of a period; None where it says nothing."""

    number: int
    duration_s: float | None = None
    home_attacks: int | None = None
    start: datetime | None = None
    clock_start_s: float | None = None
    first_frame: int | None = None


@dataclass(frozen=True)
class TablePlan:
    """One table: its file, how to open it, which column holds what.

    `header_row` is the row of the header as the user's program counts it, 0 for the first row with content;
    `lost` holds the fields that were given but cannot be used, as has been said already.
    """

    path: Path
    sheet: str = ""
    header_row: int = 0
    delimiter: str = ""
    decimal: str = "."
    thousands: str = ""
    fill_down: tuple[str, ...] = ()
    lost: frozenset[str] = frozenset()
    encoding: str = ""
    columns: MappingType[str, str] = field(default_factory=dict)
    always: MappingType[str, str] = field(default_factory=dict)
    keep: tuple[str, ...] = ()
    coordinates: Coordinates = Coordinates()
    clock: ClockForm = ClockForm()
    form: str = ""
    pattern: str = ""
    rate_hz: float = 0.0


def fold(word: str) -> str:
    """Bring a word to the form in which words are compared: case, blanks, - and _ do not count.

    >>> fold(" Free_Kick ") == fold("free-kick")
    True
    """
    return re.sub(r"[\s_\-]+", " ", word).strip().casefold()


class Words:
    """The file's words and what they mean; the kit's own words always mean themselves."""

    def __init__(self, given: MappingType[str, Any]) -> None:
        self._known: dict[str, dict[str, str]] = {}
        for name, words in WORD_FIELDS.items():
            table = {fold(w): w for w in words}
            if name in ("success", "alive", "starter"):
                table.update({"true": "yes", "1": "yes", "false": "no", "0": "no", "1.0": "yes", "0.0": "no"})
            if name == "period":
                table.update({f"{w}.0": w for w in words})
            for meaning, spellings in given.get(name, {}).items():
                table.update({fold(s): meaning for s in spellings})
            self._known[name] = table
        self.skip = {fold(s) for s in given.get("skip", [])}
        self.ball = {fold(s) for s in given.get("ball", ["ball"])}
        self.blind: set[str] = set()  # fields whose words in the mapping are faulty: unknown ones are not reported

    def look_up(self, name: str, word: str) -> str | None:
        """Return the kit's word for a word of the file, None if it is not known."""
        return self._known[name].get(fold(word))

    def known(self, name: str) -> list[str]:
        """List the words of a field that are understood."""
        return list(self._known[name])

    @staticmethod
    def parts(meaning: str) -> dict[str, str]:
        """Split "pass, cross" into the fields it fills.

        >>> Words.parts("pass, corner, complete")
        {'kind': 'pass', 'set_play': 'corner', 'outcome': 'complete'}
        """
        kind, *rest = (part.strip() for part in meaning.split(","))
        parts = {"kind": kind}
        for word in rest:
            # "header" is a detail, "blocked" an outcome; no word belongs to two fields.
            for name, words in (
                ("detail", DETAILS), ("set_play", SET_PLAYS), ("outcome", OUTCOMES), ("body_part", BODY_PARTS),
            ):  # fmt: skip
                if word in words:
                    parts[name] = word
        return parts


@dataclass(frozen=True)
class Mapping:
    """A mapping file that was read; `faults` are the keys that were found wrong and left out."""

    path: Path
    raw: MappingType[str, Any]
    text: str
    pitch: Pitch
    periods: tuple[PeriodPlan, ...]
    words: Words
    events: tuple[TablePlan, ...]
    tracking: TablePlan | None
    squad: TablePlan | None
    faults: tuple[str, ...] = ()

    def faulty(self, *sections: str) -> bool:
        """Tell whether something was wrong in one of these sections of the mapping."""
        return any(f == s or f.startswith(s + ".") for f in self.faults for s in sections)

    def clock_faulty(self, section: str) -> bool:
        """Tell whether the times of a section's table cannot be told; lengths and directions are another matter."""
        periods = [f for f in self.faults if f.split(".")[0] == "period"]
        return self.faulty("clock", f"{section}.clock", f"{section}.rate_hz") or bool(
            set(periods) - {"period.home_attacks", "period.duration"}
        )

    def line_of(self, key: str) -> int | None:
        """Line of the mapping file where a key stands."""
        return line_of(self.text, key)


def day_of(raw: MappingType[str, Any]) -> date | None:
    """The day of the match, if the mapping gives it."""
    day = raw.get("match", {}).get("day")
    return day if isinstance(day, date) else None
