"""The keys of a mapping file, declared once, and the check of a mapping against them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any

from tactical_kit.errors import suggest
from tactical_kit.match.events import (
    BODY_PARTS,
    CARD_DETAILS,
    EVENT_COLUMNS,
    KINDS,
    PASS_DETAILS,
    PASS_OUTCOMES,
    SET_PLAYS,
    SHOT_DETAILS,
    SHOT_OUTCOMES,
)  # fmt: skip
from tactical_kit.sources.problems import Problems

__all__ = [
    "CLOCK_FORMS", "DETAILS", "EVENT_FIELDS", "FORM", "FRAMES", "ORIGINS", "OUTCOMES", "SQUAD_FIELDS",
    "TRACKING_FIELDS", "UNITS", "WORD_FIELDS", "check_form", "line_of",
]  # fmt: skip

UNITS = ("m", "cm", "yd", "%", "0-1", "pitch units")
ORIGINS = ("centre", "bottom-left", "top-left", "bottom-right", "top-right")
FRAMES = ("pitch", "attacking", "home")
CLOCK_FORMS = ("seconds", "milliseconds", "mm:ss", "minute and second", "minutes", "timestamp", "frames")
DETAILS = tuple(dict.fromkeys((*PASS_DETAILS, *SHOT_DETAILS, *CARD_DETAILS)))
OUTCOMES = (*PASS_OUTCOMES, *(o for o in SHOT_OUTCOMES if o not in PASS_OUTCOMES), "won", "lost")

# What a column of an events table may hold.
EVENT_FIELDS = (
    "event_id", "period", "time", "minute", "second", "end_time", "duration", "kind", "detail", "set_play", "team",
    "player", "receiver", "success", "outcome", "x", "y", "end_x", "end_y", "body_part", "related",
)  # fmt: skip
# What a column of a tracking table may hold; player, team, x, y and z only in the long form.
TRACKING_FIELDS = (
    "period", "time", "minute", "second", "player", "team", "x", "y", "z", "ball_x", "ball_y", "ball_z", "alive",
    "owner",
)  # fmt: skip
SQUAD_FIELDS = ("player", "name", "team", "shirt", "position", "starter")

# Field -> the kit's words that the file's words are turned into.
WORD_FIELDS: dict[str, tuple[str, ...]] = {
    "team": ("home", "away"),
    "kind": KINDS,
    "detail": DETAILS,
    "set_play": SET_PLAYS,
    "outcome": OUTCOMES,
    "body_part": BODY_PARTS,
    "success": ("yes", "no"),
    "alive": ("yes", "no"),
    "starter": ("yes", "no"),
    "period": ("1", "2", "3", "4", "5"),
}

TEXTS = "a list of texts"
CLOCK_TIME = "seconds, or minutes:seconds as '47:30'"
TABLES = "tables"
_COORDINATES = {
    "unit": UNITS, "origin": ORIGINS, "x_grows": ("right", "left"), "y_grows": ("up", "down"), "frame": FRAMES,
    "length": float, "width": float,
}  # fmt: skip
_CLOCK = {"form": CLOCK_FORMS, "from": ("period", "match"), "rate_hz": float}
_FILE = {
    "file": str, "sheet": str, "header_row": int, "delimiter": str, "decimal": (".", ","),
    "thousands": (",", ".", " "), "encoding": str,
}  # fmt: skip
_TEAM = {"id": str, "name": str, "short": str}
_PLAYER = {"id": str, "name": str, "shirt": int, "position": str, "starter": bool}
_WORDS = {
    **{name: {word: TEXTS for word in words} for name, words in WORD_FIELDS.items() if name != "kind"},
    "kind": TEXTS,  # its keys are a kind with further words, checked apart
    "skip": TEXTS,
    "ball": TEXTS,
}

FORM: dict[str, object] = {
    "mapping": int,
    "match": {"id": str, "label": str, "day": date, "invented": bool, "home": _TEAM, "away": _TEAM},
    "pitch": {"length_m": float, "width_m": float},
    "period": [
        {
            "number": int, "duration": CLOCK_TIME, "home_attacks": ("right", "left"), "start": datetime,
            "clock_start": CLOCK_TIME, "first_frame": int,
        }
    ],
    "coordinates": _COORDINATES,
    "clock": _CLOCK,
    "squad": {
        **_FILE, "columns": {name: str for name in SQUAD_FIELDS}, "home": [_PLAYER], "away": [_PLAYER],
        "players_are": ("ids", "names", "shirts"),
    },
    "words": _WORDS,
    "events": [
        {
            **_FILE, "columns": {name: str for name in EVENT_FIELDS},
            "always": {name: str for name in ("kind", "detail", "set_play", "team", "outcome", "period", "body_part")},
            "keep": TEXTS, "fill_down": TEXTS, "coordinates": _COORDINATES, "clock": _CLOCK,
        }
    ],
    "tracking": {
        **_FILE, "form": ("wide", "long"), "rate_hz": float, "pattern": str,
        "columns": {name: str for name in TRACKING_FIELDS}, "coordinates": _COORDINATES, "clock": _CLOCK,
    },
}  # fmt: skip

assert not set(EVENT_FIELDS) - {*EVENT_COLUMNS, "time", "minute", "second", "end_time", "duration"}


def line_of(text: str, path: str) -> int | None:
    """Return the line of a TOML text where a key stands, as "events.columns.x"; None if it cannot be told.

    >>> line_of('a = 1\\n[b]\\nc = 2', 'b.c')
    3
    """
    *heads, key = path.split(".")
    section = ""
    for number, line in enumerate(text.splitlines(), 1):
        head = re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]\]?", line)
        if head:
            section = head[1].replace('"', "")
            if section == path:
                return number
        elif re.match(rf"""\s*["']?{re.escape(key)}["']?\s*=""", line) and section == ".".join(heads):
            return number
    return None


def check_form(
    raw: Mapping[str, object], text: str, file: Path, problems: Problems
) -> tuple[dict[str, Any], list[str]]:
    """Note every key of a mapping that is unknown or holds the wrong type of value.

    Returns
    -------
    dict, list of str
        The mapping without those keys, and the keys, as "events.columns.tiem".
    """
    faults: list[str] = []
    sound = _check_table(raw, FORM, "", text, file, problems, faults)
    version = raw.get("mapping")
    if isinstance(version, int) and version != 1:
        problems.add(file, f"version {version}", "version 1", "Write mapping = 1.", line_of(text, "mapping"), "mapping")
        faults.append("mapping")
    return sound, faults


def _check_table(
    given: Mapping[str, object], form: Mapping[str, object], path: str, text: str, file: Path, problems: Problems,
    faults: list[str],
) -> dict[str, Any]:  # fmt: skip
    sound: dict[str, Any] = {}
    for key, value in given.items():
        here = f"{path}.{key}" if path else key
        row = line_of(text, here)
        before = len(problems)
        if path == "words" and key == "kind":
            _check_kinds(value, here, text, file, problems)
            if len(problems) > before:
                faults.append(here)
            elif isinstance(value, dict):
                sound[key] = value
            continue
        if key not in form:
            where = f"[{path}]" if path else "a mapping"
            problems.add(
                file,
                f"the key {key!r}",
                f"a key of {where}",
                f"Known are {', '.join(form)}.{suggest(key, form)}",
                row,
                here,
            )
            faults.append(here)
            continue
        wanted = form[key]
        if isinstance(wanted, dict):
            if here in ("match.home", "match.away") and isinstance(value, str):
                sound[key] = value  # the name alone is enough
            elif isinstance(value, dict):
                sound[key] = _check_table(value, wanted, here, text, file, problems, faults)
            else:
                faults.append(here)
                problems.add(file, repr(value), "a table of keys", f"Write [{here}].", row, here)
        elif isinstance(wanted, list):
            if isinstance(value, list) and all(isinstance(v, dict) for v in value):
                sound[key] = [_check_table(one, wanted[0], here, text, file, problems, faults) for one in value]
            elif isinstance(value, dict) and "." not in here:
                faults.append(here)
                problems.add(file, f"[{here}]", "a list of tables", f"Write [[{here}]].", row, here)
            else:
                faults.append(here)
                problems.add(file, repr(value), "a list of tables", f"Write [[{here}]].", row, here)
        else:
            expected = _misfit(value, wanted)
            if expected:
                near = suggest(str(value), wanted) if isinstance(wanted, tuple) else ""
                problems.add(file, _shown(value), expected, f"Mend the value.{near}", row, here)
                faults.append(here)
            else:
                sound[key] = value
    return sound


def _shown(value: object) -> str:
    """A value as TOML writes it."""
    return str(value).lower() if isinstance(value, bool) else repr(value) if isinstance(value, str) else str(value)


def _misfit(value: object, wanted: object) -> str:
    """Say what was expected, or return an empty text if the value fits."""
    if isinstance(wanted, tuple):
        return "" if value in wanted else "one of " + ", ".join(repr(w) for w in wanted)
    if wanted == TEXTS:
        fits = isinstance(value, list) and all(isinstance(v, str) for v in value)
        return "" if fits else 'a list of texts, as ["Home", "H"]'
    if wanted == CLOCK_TIME:
        fits = isinstance(value, str) or (isinstance(value, int | float) and not isinstance(value, bool))
        return "" if fits else CLOCK_TIME
    if wanted is float:
        return "" if isinstance(value, int | float) and not isinstance(value, bool) else "a number"
    if wanted is int:
        return "" if isinstance(value, int) and not isinstance(value, bool) else "a whole number"
    names = {
        str: "a text in quotes",
        bool: "true or false",
        date: "a day as 2026-05-03",
        datetime: "a moment as 2026-05-03T15:00:00Z",
    }
    fits = type(value) is wanted if wanted is date else isinstance(value, wanted)  # type: ignore[arg-type]
    return "" if fits else names[wanted]  # type: ignore[index]


def _check_kinds(value: object, here: str, text: str, file: Path, problems: Problems) -> None:
    """The keys under [words.kind]: a kind, then any of the kit's further words, as "pass, cross"."""
    if not isinstance(value, dict):
        problems.add(file, repr(value), "a table of keys", f"Write [{here}].", line_of(text, here), here)
        return
    further = (*DETAILS, *SET_PLAYS, *OUTCOMES, *BODY_PARTS)
    for key, words in value.items():
        kind, *rest = (part.strip() for part in key.split(","))
        row = line_of(text, f"{here}.{key}")
        if kind not in KINDS:
            problems.add(
                file,
                f"the key {key!r}",
                "a kind of event the kit knows",
                f"Known are {', '.join(KINDS)}.{suggest(kind, KINDS)}",
                row,
                here,
            )
        for word in rest:
            if word not in further:
                problems.add(
                    file,
                    f"{word!r} in the key {key!r}",
                    "a detail, set play, outcome or body part the kit knows",
                    f"Known are {', '.join(dict.fromkeys(further))}.{suggest(word, further)}",
                    row,
                    here,
                )
        if _misfit(words, TEXTS):
            problems.add(
                file, repr(words), 'a list of texts, as ["Home", "H"]', "Mend the value.", row, f"{here}.{key}"
            )
