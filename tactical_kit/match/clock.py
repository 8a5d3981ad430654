"""Periods and the match clock: seconds from the start of a period to "45+2:13" and back."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError

__all__ = ["PERIOD_NAMES", "Clock", "Period"]

PERIOD_NAMES = {
    1: "first half",
    2: "second half",
    3: "first half of extra time",
    4: "second half of extra time",
    5: "shoot-out",
}
# Minute on the clock when a period starts, and the minutes it lasts without added time (Law 7).
_START_MIN = {1: 0, 2: 45, 3: 90, 4: 105, 5: 120}
_LENGTH_MIN = {1: 45, 2: 45, 3: 15, 4: 15, 5: 0}


@dataclass(frozen=True)
class Period:
    """One period of a match.

    Parameters
    ----------
    number : int
        1, 2 the halves; 3, 4 the halves of extra time; 5 the shoot-out.
    duration_s : float
        From its first to its last whistle, added time included, s.
    home_attacks : int
        +1 if the home side attacks towards +x in the pitch frame, -1 towards -x.
    start_utc : datetime, optional
        When it kicked off.
    """

    number: int
    duration_s: float
    home_attacks: int
    start_utc: datetime | None = None

    def __post_init__(self) -> None:
        if self.number not in PERIOD_NAMES:
            raise TacticalKitError(f"period {self.number!r}; expected 1 to 5.")
        if not (np.isfinite(self.duration_s) and self.duration_s > 0):
            raise TacticalKitError(f"period {self.number} lasts {self.duration_s!r} s; expected more than 0.")
        if self.home_attacks not in (1, -1):
            raise TacticalKitError(f"home_attacks is {self.home_attacks!r} in period {self.number}; expected +1 or -1.")

    @property
    def name(self) -> str:
        """The trade's name of the period, as "first half"."""
        return PERIOD_NAMES[self.number]


class Clock:
    """Turns (period, seconds) into the clock a viewer sees and into one continuous time line.

    The *time line* lays the periods end to end in seconds of play, without the breaks: it is the axis of
    every chart over the whole match.

    >>> clock = Clock([Period(1, 45 * 60 + 150, 1), Period(2, 48 * 60, -1)])
    >>> clock.label(1, 63), clock.label(1, 45 * 60 + 73), clock.label(2, 18 * 60 + 12)
    ('01:03', '45+1:13', '63:12')
    >>> clock.parse("63:12")
    (2, 1092.0)
    """

    def __init__(self, periods: list[Period] | tuple[Period, ...]) -> None:
        self.periods = tuple(periods)
        numbers = [p.number for p in self.periods]
        if not numbers or numbers != sorted(set(numbers)):
            raise TacticalKitError(f"periods {numbers}; expected at least one, each once, in order.")
        ends = np.cumsum([p.duration_s for p in self.periods])
        self._offset = {p.number: float(e - p.duration_s) for p, e in zip(self.periods, ends)}
        self.total_s = float(ends[-1])

    def __getitem__(self, number: int) -> Period:
        for period in self.periods:
            if period.number == number:
                return period
        played = ", ".join(str(p.number) for p in self.periods)
        raise TacticalKitError(f"period {number} was not played; this match has {played}.")

    def label(self, period: int, time_s: float) -> str:
        """Return the displayed clock: "63:12", in added time "45+2:13", in a shoot-out "shoot-out 2:13"."""
        seconds = int(np.floor(time_s + 1e-9))
        start, length = _START_MIN[int(period)], _LENGTH_MIN[int(period)]
        minute, second = divmod(seconds, 60)
        if period == 5:
            return f"{PERIOD_NAMES[5]} {minute}:{second:02d}"
        if minute >= length:
            return f"{start + length}+{minute - length}:{second:02d}"
        return f"{start + minute:02d}:{second:02d}"

    def minute(self, period: int, time_s: float) -> str:
        """Return the minute as it is spoken: the first minute is "1", in added time "45+2"."""
        if period == 5:
            return PERIOD_NAMES[5]
        start, length = _START_MIN[int(period)], _LENGTH_MIN[int(period)]
        minute = int(time_s // 60) + 1
        return f"{start + length}+{minute - length}" if minute > length else str(start + minute)

    def parse(self, text: str) -> tuple[int, float]:
        """Return (period, seconds) of a displayed clock such as "63:12", "45+2:13" or "90+1:05.4".

        "47:00" is the second half; the added time of the first is written "45+2:00".
        """
        found = re.fullmatch(r"\s*(shoot-out +)?(\d{1,3})(?:\+(\d{1,2}))?:([0-5]\d(?:\.\d+)?)\s*", text)
        if not found:
            raise TacticalKitError(f"clock {text!r}; expected minutes:seconds as '63:12', or '45+2:13' in added time.")
        minute, added, second = int(found[2]), found[3], float(found[4])
        if found[1] and added is None and self.periods[-1].number == 5:
            return 5, minute * 60 + second
        for period in reversed([] if found[1] else [p for p in self.periods if p.number != 5]):
            start, length = _START_MIN[period.number], _LENGTH_MIN[period.number]
            if added is not None and minute == start + length:
                return period.number, (length + int(added)) * 60 + second
            if added is None and minute >= start:
                time_s = (minute - start) * 60 + second
                # "92:00" is read as added time where no later period took it up, but only while it was played.
                if minute < start + length or time_s <= self[period.number].duration_s:
                    return period.number, time_s
                break
        played = ", ".join(PERIOD_NAMES[p.number] for p in self.periods)
        raise TacticalKitError(f"clock {text!r} falls in no period of this match ({played}).")

    def timeline(self, period: ArrayLike, time_s: ArrayLike) -> NDArray[np.float64]:
        """Return seconds of play since the first kick-off, breaks left out; vectorised."""
        period = np.asarray(period)
        offset = np.full(period.shape, np.nan)
        for number, start in self._offset.items():
            offset[period == number] = start
        return offset + np.asarray(time_s, float)

    def from_timeline(self, seconds: ArrayLike) -> tuple[NDArray[np.int8], NDArray[np.float64]]:
        """Return (period, time_s) of seconds on the time line, clipped to the match; vectorised."""
        seconds = np.clip(np.asarray(seconds, float), 0, self.total_s)
        starts = np.array([self._offset[p.number] for p in self.periods])
        index = np.clip(np.searchsorted(starts, seconds, side="right") - 1, 0, len(starts) - 1)
        numbers = np.array([p.number for p in self.periods], np.int8)
        return numbers[index], np.asarray(seconds - starts[index], float)
