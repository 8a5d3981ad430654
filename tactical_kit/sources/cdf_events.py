"""Reading events.jsonl of the Common Data Format into rows with the kit's words."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path
from typing import Any

from tactical_kit.sources import cdf_words as words
from tactical_kit.sources.cdf_frames import unsafe
from tactical_kit.sources.fields import Fields
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.text import read_jsonl_guarded

__all__ = ["read_event_rows"]

_TRIED = ("pass", "shot", "take-on", "tackle", "duel", "interception", "recovery")
_FAR = 1e6


def read_event_rows(
    path: Path, problems: Problems, match_ids: dict[str, str], lost: list[int] | None = None
) -> list[dict[str, Any]]:
    """Return the events of the file, one dict a row, with UTC times; `match_ids["events"]` is set.

    A referee event that only repeats a player's event is left out, as is what the kit has no word for (noted
    with its count).  The lines that could not be read, which is noted, are added to `lost`.
    """
    rows: list[dict[str, Any]] = []
    unknown: Counter[str] = Counter()
    whistles: list[tuple[str, dict[str, Any]]] = []
    seen: dict[str, int] = {}
    for number, value in read_jsonl_guarded(path, problems):
        top = Fields(value, path, problems, row=number)
        match_id = top.object("match").text("id")
        if match_id is not None and match_ids.setdefault("events", match_id) != match_id:
            top.note(
                "match.id",
                repr(match_id),
                f"the match {match_ids['events']!r} of the first event",
                "One file holds one match.",
            )
        before = len(problems.errors)
        row = _row(top, unknown)
        if row is None:
            if lost is not None and len(problems.errors) > before:
                lost.append(number)
            continue
        row["file_row"] = number
        event_id = row["event_id"]
        if event_id and event_id in seen:
            top.note(
                "event.id",
                f"{event_id!r}, which row {seen[event_id]} has, too",
                "an id of its own",
                "Remove the copied row.",
            )
            row["bad"] |= {"event_id"}
        seen.setdefault(event_id, number)
        if event_id.endswith(words.WHISTLE):
            whistles.append((event_id.removesuffix(words.WHISTLE), row))
        rows.append(row)
    repeated = {id(row) for base, row in whistles if base in seen}
    for what, count in unknown.items():
        problems.add(
            path, f"{count} x {what}", "an event that the kit has a word for", "They were left out.", kind="warning"
        )
    return [row for row in rows if id(row) not in repeated]


def _row(top: Fields, unknown: Counter[str]) -> dict[str, Any] | None:
    event = top.object("event")
    if not event.fits:
        return None
    period, when = event.choice("period", tuple(words.PERIOD_FROM)), event.moment("time")
    type_, sub_type = event.text("type"), event.text("sub_type", "")
    outcome_type, good = event.text("outcome_type", ""), event.flag("is_successful", None)
    keys = {"x": "x", "y": "y", "x_end": "end_x", "y_end": "end_y"}
    x, y, end_x, end_y = (event.number(k, math.nan, -_FAR, _FAR) for k in keys)
    bad = {n for (k, n), v in zip(keys.items(), (x, y, end_x, end_y)) if math.isnan(v) and k in event}
    body = event.text("body_part", "")
    related = event.texts("related_event_ids", required=False)
    row: dict[str, Any] = {
        "event_id": unsafe(event.text("id", "")),
        "period": words.PERIOD_FROM.get(period, 0),
        "utc": when,
        "team": unsafe(event.text("team_id", "")),
        "player": event.text("player_id", ""),
        "receiver": event.text("receiver_id", ""),
        "receiver_team": unsafe(event.text("receiver_team_id", "")),
        "received": event.moment("receiver_time", None),
        "frame_id_end": top.object("tracking", required=False).whole("frame_id_end", None, -(2**62), 2**62),
        "body_part": words.BODY_FROM.get(body, ""),
        "bad": bad,  # the cells that were complained of
        "related": next((unsafe(r) for r in related if not r.endswith(words.WHISTLE)), ""),
    }
    if period is None or when is None or type_ is None:
        return None
    kind = words.kind_of(type_, sub_type or None, outcome_type)
    if kind is None:
        unknown[f"{type_} / {sub_type or outcome_type}"] += 1
        return None
    detail, set_play = "", words.SET_PLAY_FROM.get(sub_type, "")
    if kind == "pass":
        detail = words.DETAIL_FROM.get(sub_type, "")
    elif kind == "shot":
        detail = "own-goal" if outcome_type == "own_goal" else "header" if sub_type == "header" else ""
    elif kind == "card":
        detail = words.CARD_FROM.get(outcome_type, words.CARD_FROM.get(sub_type, ""))
    if kind in ("pass", "shot") and (x, y) == (end_x, end_y):
        end_x = end_y = math.nan  # the writer's sign for "no end"
    if type_ == "referee" and x == 0 and y == 0:
        x = y = math.nan  # the writer's sign for "no place"
    success, outcome = _success(kind, outcome_type, good)
    return {
        **row,
        "kind": kind,
        "detail": detail,
        "set_play": set_play if kind in ("pass", "shot") else "",
        "success": success,
        "outcome": outcome,
        "x": x,
        "y": y,
        "end_x": end_x,
        "end_y": end_y,
    }


def _success(kind: str, outcome_type: str, good: bool | None) -> tuple[bool | None, str]:
    """Success and outcome in the kit's words."""
    outcome = words.OUTCOME_FROM.get((kind, outcome_type), "")
    if kind not in _TRIED:
        usual = kind != "touch"
        return (None if good is None or good == usual else good), ""
    if outcome_type == "unknown":
        return None, ""
    if kind == "pass" and not outcome and good:
        outcome = "complete"
    elif kind == "shot" and not outcome and good and outcome_type != "own_goal":
        outcome = "goal"
    elif kind in ("take-on", "tackle", "duel") and not outcome and good is not None:
        outcome = "won" if good else "lost"
    return good, outcome
