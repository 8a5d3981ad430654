"""A selection as text: the short text that is pasted and read back, and the words a coach would use."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, unquote

from tactical_kit.errors import TacticalKitError, check_choice, suggest
from tactical_kit.match import Match
from tactical_kit.measures.words import IN_PHASES, PHASES, SCORE_STATES

if TYPE_CHECKING:
    from tactical_kit.measures.selection import Selection

__all__ = [
    "CONDITIONS", "DEFAULT_PRESSURE_PCT", "Area", "Segment", "as_area", "as_number", "as_segment", "as_set",
    "condition_words", "read_text", "selection_words", "write_text",
]  # fmt: skip

# Field -> key of the short text, in the order in which conditions are spoken and counted.
CONDITIONS: dict[str, str] = {
    "team": "team",
    "phases": "phase",
    "segment": "time",
    "opponent_phases": "against",
    "score_states": "score",
    "zones": "zone",
    "area": "area",
    "under_pressure": "pressure",
    "players": "player",
}
DEFAULT_PRESSURE_PCT = 30.0
_WHOLE = "all"
_WITHOUT_ARTICLE = ("build-up", "progression", "final third")

Segment = tuple[tuple[int, float, float], ...]
Area = tuple[float, float, float, float]


def write_text(selection: Selection) -> str:
    """Return the short text of a selection; see `Selection.to_text`."""
    parts = [f"{CONDITIONS[name]}={_value_text(selection, name)}" for name in selection.active]
    if selection.pressure_pct != DEFAULT_PRESSURE_PCT:
        parts.append(f"threshold={_short(selection.pressure_pct)}")
    return ";".join(parts) or _WHOLE


def read_text(text: str) -> dict[str, Any]:
    """Return the fields that a short text sets; all faults are reported together.

    Raises
    ------
    TacticalKitError
        Unknown or doubled keys and values that cannot be read, each with what was expected.
    """
    values: dict[str, Any] = {}
    faults: list[str] = []
    field_of = {key: name for name, key in CONDITIONS.items()} | {"threshold": "pressure_pct"}
    stripped = text.strip()
    for part in [] if stripped in ("", _WHOLE) else stripped.split(";"):
        key, equals, raw = part.strip().partition("=")
        if not equals or key not in field_of:
            known = ", ".join(field_of)
            faults.append(f"{part.strip()!r}: expected key=value with a key of {known}.{suggest(key, field_of)}")
        elif field_of[key] in values:
            faults.append(f"{key!r} stands twice")
        else:
            try:
                values[field_of[key]] = _read_value(field_of[key], raw)
            except TacticalKitError as error:
                faults.append(f"{part.strip()!r}: {error}")
    if faults:
        raise TacticalKitError(f"selection {text!r} cannot be read: " + "; ".join(faults))
    return values


def selection_words(selection: Selection, match: Match) -> str:
    """Return the selection as a coach would say it; see `Selection.words`."""
    active = selection.active
    who = match.team(selection.team).name if selection.team is not None else "both sides"
    if selection.phases:
        who += " " + condition_words(selection, "phases", match)
    said = [condition_words(selection, name, match) for name in active if name not in ("team", "phases")]
    if not active or active == ("team",):
        said = ["the whole match"]
    return ", ".join([who, *said])


def condition_words(selection: Selection, name: str, match: Match) -> str:
    """Return one condition of a selection in words, as "against a high press"."""
    if name == "team":
        return match.team(selection.team or "").name
    if name == "segment":
        return _segment_words(selection.segment or (), match)
    if name == "phases":
        own = [p for p in selection.phases if p not in IN_PHASES]
        # A side is "in build-up" but "in a high press".
        return "in " + _any_of(selection.phases, PHASES, article=len(own) > 0)
    if name == "opponent_phases":
        return "against " + _any_of(selection.opponent_phases, PHASES, article=True)
    if name == "score_states":
        return _any_of(selection.score_states, SCORE_STATES)
    if name == "zones":
        return "from " + _any_of(selection.zones, match.pitch.named_zones().names())
    if name == "area" and selection.area:
        x0, y0, x1, y1 = selection.area
        return f"from the area x {x0:.1f} to {x1:.1f} m, y {y0:.1f} to {y1:.1f} m"
    if name == "players":
        return "through " + _any_of((match.player(p).name for p in selection.players), ())
    words = "under pressure" if selection.under_pressure else "not under pressure"
    if selection.pressure_pct != DEFAULT_PRESSURE_PCT:
        # Two thresholds give two numbers, so the words must differ, too.
        words += f" ({'at least' if selection.under_pressure else 'less than'} {selection.pressure_pct:g} %)"
    return words


def as_set(value: str | Iterable[str] | None) -> frozenset[str]:
    """Take a text, any iterable of texts or None for a set."""
    if value is None:
        return frozenset()
    return frozenset([value]) if isinstance(value, str) else frozenset(str(v) for v in value)


def as_segment(value: Any) -> Segment | None:
    """Take one span or several for a sorted tuple of (period, start_s, end_s); none at all is None."""
    spans = list(value)
    if len(spans) == 3 and not isinstance(spans[0], tuple | list):
        spans = [tuple(spans)]
    result = []
    for span in spans:
        try:
            period, start, end = span
        except (TypeError, ValueError):
            raise TacticalKitError(f"segment {span!r}; expected (period, start_s, end_s).") from None
        number = as_number(period, "period", finite=True)
        start, end = as_number(start, "start_s", finite=True), as_number(end, "end_s")
        if number not in (1, 2, 3, 4, 5):
            raise TacticalKitError(f"period {period!r} in a segment; expected 1 to 5.")
        if not start < end:
            raise TacticalKitError(f"segment from {start:g} to {end:g} s; expected the end after the start.")
        result.append((int(number), start, end))
    return tuple(sorted(set(result))) or None


def as_area(value: Any) -> Area:
    """Take two corners for a rectangle (x0, y0, x1, y1) with x0 <= x1 and y0 <= y1."""
    numbers = list(value)
    if len(numbers) != 4:
        raise TacticalKitError(f"area {value!r}; expected four numbers x0, y0, x1, y1 in metres.")
    x0, y0, x1, y1 = (as_number(v, "area", finite=True) for v in numbers)
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def as_number(value: Any, name: str, finite: bool = False) -> float:
    """Return `value` as a float, never NaN and never minus zero; infinite only if that is allowed."""
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise TacticalKitError(f"{name} is {value!r}; expected a number.") from None
    if math.isnan(number) or (finite and math.isinf(number)):
        raise TacticalKitError(f"{name} is {value!r}; expected a finite number.")
    return number + 0.0


def _value_text(selection: Selection, name: str) -> str:
    value = getattr(selection, name)
    if name == "segment":
        return "+".join(f"{p}:{_short(a)}:{_short(b)}" for p, a, b in value)
    if name == "area":
        return ":".join(_short(v) for v in value)
    if name == "under_pressure":
        return "yes" if value else "no"
    return "+".join(_escape(v) for v in ([value] if name == "team" else sorted(value)))


def _read_value(name: str, raw: str) -> Any:
    if name == "segment":
        return as_segment([part.split(":") for part in raw.split("+")])
    if name == "area":
        return as_area(raw.split(":"))
    if name == "under_pressure":
        return check_choice("pressure", raw, ("yes", "no")) == "yes"
    if name == "pressure_pct":
        return as_number(raw, "threshold", finite=True)
    if name == "team":
        return _unescape(raw)
    values = frozenset(_unescape(v) for v in raw.split("+"))
    if name == "score_states":
        for state in sorted(values):
            check_choice("score state", state, SCORE_STATES)
    return values


def _short(number: float) -> str:
    return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)


def _escape(text: str) -> str:
    # "_" stands for a space, so a real one is written out.
    return quote(text, safe=" ,", errors="surrogatepass").replace("_", "%5F").replace(" ", "_")


def _unescape(text: str) -> str:
    return unquote(text.replace("_", " "), errors="surrogatepass")


def _any_of(values: Iterable[str], order: Iterable[str], article: bool = False) -> str:
    """Join words as "a, b or c" in a known order."""
    place = {name: i for i, name in enumerate(order)}
    listed = sorted(values, key=lambda v: (place.get(v, len(place)), v))
    if article:
        listed = [v if v in _WITHOUT_ARTICLE else f"{'an' if v[:1] in 'aeiou' else 'a'} {v}" for v in listed]
    return listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} or {listed[-1]}"


def _segment_words(segment: Segment, match: Match) -> str:
    said = []
    for number, start, end in segment:
        period = match.clock[number]
        if start < period.duration_s or math.isinf(end):  # a span beyond the last whistle keeps its own end
            end = max(min(end, period.duration_s), start)
        whole = start <= 0 and end >= period.duration_s
        span = "" if whole else f" {match.clock.label(number, start)}-{match.clock.label(number, end)}"
        said.append(period.name + span)
    return " and ".join(said)
