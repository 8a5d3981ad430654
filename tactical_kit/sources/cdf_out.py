"""A match on its way into the Common Data Format: times, frame of reference, ids and notes settled once."""

from __future__ import annotations

import re
from collections import Counter
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import INVENTED_LABEL, Match, Player
from tactical_kit.sources.problems import Problems

__all__ = ["CDF_VERSION", "EPOCH", "REFEREE", "UNKNOWN", "X_MAX", "Y_MAX", "Outgoing", "safe", "turned", "utc_text"]

CDF_VERSION = "0.3.2"
EPOCH = date(2000, 1, 1)  # stands for an unknown day
REFEREE = "referee"
UNKNOWN = "unknown"
X_MAX, Y_MAX = 65.0, 42.5  # the validator's limits
_KICK_OFF = time(15, 0)
_BREAK_S = {2: 900.0, 3: 300.0, 4: 60.0, 5: 300.0}  # before the period, where its start is not known
_PLAIN = re.compile(r"[a-zA-Z][a-zA-Z0-9_]*")
_SNAKE = re.compile(r"[a-z][a-z0-9_]*")


def utc_text(moment: datetime) -> str:
    """Return an RFC 3339 text in UTC, with only the decimals it needs.

    >>> utc_text(datetime(2026, 3, 1, 14, 0, 0, 40_000, tzinfo=UTC))
    '2026-03-01T14:00:00.040Z'
    """
    text = moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S")
    micro = moment.microsecond
    if not micro:
        return text + "Z"
    return f"{text}.{micro // 1000:03d}Z" if micro % 1000 == 0 else f"{text}.{micro:06d}Z"


class Outgoing:
    """One match on its way out: times, frame of reference and ids settled once."""

    def __init__(self, match: Match, notes: Problems) -> None:
        self.match, self.notes = match, notes
        self.counts: Counter[tuple[str, str, str]] = Counter()
        self.starts = self._starts()
        self.sign = {p.number: p.home_attacks for p in match.periods}
        self.side_of = {p.player_id: t.team_id for t in match.teams for p in t.players}
        self.last = match.periods[-1].number

    # -- time -----------------------------------------------------------------------------------------

    def _starts(self) -> dict[int, datetime]:
        periods = self.match.periods
        known = [i for i, p in enumerate(periods) if p.start_utc is not None]
        starts: list[datetime | None] = [_as_utc(p.start_utc) for p in periods]
        if not known:
            day = self.match.day or EPOCH
            kick_off = starts[0] = datetime.combine(day, _KICK_OFF, UTC)
            met = f"no time of kick-off{'' if self.match.day else ' and no day'}"
            self.notes.add(
                "meta.json",
                met,
                "times in UTC",
                f"{utc_text(kick_off)} was written as the kick-off, with breaks of the usual length.",
                kind="warning",
            )
            known = [0]
        for i in range(known[0] - 1, -1, -1):
            later = starts[i + 1]
            assert later is not None
            starts[i] = later - timedelta(seconds=periods[i].duration_s + _BREAK_S[periods[i + 1].number])
        for i in range(known[0] + 1, len(periods)):
            before = starts[i - 1]
            assert before is not None
            end = before + timedelta(seconds=periods[i - 1].duration_s)
            start = starts[i] or end + timedelta(seconds=_BREAK_S[periods[i].number])
            if start < end:
                raise TacticalKitError(
                    f"the {periods[i].name} starts at {utc_text(start)}, before the {periods[i - 1].name} ends at "
                    f"{utc_text(end)}. Correct start_utc or duration_s of the periods."
                )
            starts[i] = start
        return {p.number: s for p, s in zip(periods, starts) if s is not None}

    def at(self, period: int, time_s: float) -> str:
        """UTC text of a moment of a period."""
        return utc_text(self.starts[period] + timedelta(microseconds=round(time_s * 1e6)))

    def source(self) -> dict[str, str]:
        """Where the data come from, in the standard's words."""
        label = self.match.label or UNKNOWN
        if self.match.invented and INVENTED_LABEL not in label:
            label = f"{label} ({INVENTED_LABEL})"
        return {"version": UNKNOWN, "name": label}

    def player(self, player: Player) -> dict[str, Any]:
        """What meta.json and match.json both say of a player."""
        first, _, last = player.name.partition(" ")
        return {
            "id": player.player_id,
            "team_id": safe(player.team_id),
            "jersey_number": 0 if player.shirt is None else int(player.shirt),
            "is_starter": bool(player.starter),
            "first_name": first if last else "",
            "last_name": last or first,
        }

    def report(self) -> None:
        """Note what was left out and what was changed, with counts."""
        for (what, expected, done), count in self.counts.items():
            self.notes.add("CDF", f"{count} x {what}", expected, done, kind="warning")

    def count(self, what: str, expected: str, done: str = "It was left out.", times: int = 1) -> None:
        """Count one thing that the standard cannot hold; `done` says what became of it."""
        self.counts[what, expected, done] += times


def _as_utc(moment: datetime | None) -> datetime | None:
    if moment is None:
        return None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def turned(value: float, sign: int) -> float:
    """Turn a coordinate into the standard's frame of reference, without a negative nought."""
    return float(value) * sign + 0.0


def safe(identifier: str) -> str:
    """Return an id as it can stand anywhere: the validator wants plain words in lower case.

    "T1" becomes "id:T1" (the colon tells it apart from a word); the reader takes the "id:" off again.
    """
    plain = _PLAIN.fullmatch(identifier) is not None and _SNAKE.fullmatch(identifier) is None
    return f"id:{identifier}" if plain or identifier.startswith("id:") else identifier
