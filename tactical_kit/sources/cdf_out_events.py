"""events.jsonl of the Common Data Format, made from a match."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from tactical_kit.sources import cdf_words as words
from tactical_kit.sources.cdf_out import REFEREE, UNKNOWN, X_MAX, Y_MAX, Outgoing, safe, turned

__all__ = ["event_lines"]


def event_lines(out: Outgoing) -> Iterator[dict[str, Any]]:
    """Yield the objects of events.jsonl."""
    events, tracking = out.match.events, out.match.tracking
    assert events is not None
    frame = end_frame = np.full(len(events), -1, np.int64)
    if tracking is not None and len(tracking):
        frame = tracking.indices_at(events["period"].to_numpy(), events["time_s"].to_numpy(float))
        ends = events["end_s"].to_numpy(float)
        known = np.isfinite(ends)
        end_frame = frame.copy()
        end_frame[:] = -1
        end_frame[known] = tracking.indices_at(events["period"].to_numpy()[known], ends[known])
    for i, row in enumerate(events.itertuples(index=False)):
        yield from _event(out, row, int(frame[i]), int(end_frame[i]))


def _event(out: Outgoing, row: Any, frame: int, end_frame: int) -> Iterator[dict[str, Any]]:
    kind = row.kind
    if kind not in words.KIND_TO and kind not in words.REFEREE_KINDS:
        out.count(f"event of the kind {kind!r}", "a kind that the standard has a word for")
        return
    place = _place(out, row, frame, kind)
    decision = kind in ("foul", "offside", "out")
    by_player = kind in words.KIND_TO and row.player != "" and (row.team or out.side_of.get(row.player, "")) != ""
    if kind in words.KIND_TO and not by_player and not decision:
        out.count(f"{kind} without player or team", "both, which the standard demands")
        return
    if place is None and not by_player:
        place = (0.0, 0.0)  # a number is demanded; the centre spot stands for "no place" in referee events
    if place is None:
        out.count(f"{kind} without a place", "a place, which the standard demands")
        return
    related = [safe(row.related)] if row.related else []
    if by_player:
        whistle = safe(row.event_id) + words.WHISTLE
        yield _record(out, row, frame, end_frame, place, related + ([whistle] if decision else []), True)
        if decision:
            yield _whistle(out, row, frame, place, whistle)
    else:
        yield _record(out, row, frame, end_frame, place, related, False)


def _record(
    out: Outgoing, row: Any, frame: int, end_frame: int, place: tuple[float, float], related: list[str], by_player: bool
) -> dict[str, Any]:
    kind = row.kind
    type_, sub_type, outcome, success = _words(out, row)
    ball_action = kind in ("pass", "shot")
    end = (row.end_x, row.end_y)
    x_end = y_end = None
    if np.isfinite(end).all():
        sign = out.sign[row.period]
        x_end, y_end = turned(end[0], sign), turned(end[1], sign)
    elif ball_action:
        x_end, y_end = place
        out.count("pass or shot without an end", "an end, which the standard demands", "Its start was written.")
    body = words.BODY_TO.get(row.body_part)
    if body is None and ball_action:
        body = "body"
    received = by_player and row.receiver != ""
    event: dict[str, Any] = {
        "id": safe(row.event_id),
        "time": out.at(row.period, row.time_s),
        "period": words.PERIOD_TO[row.period],
        "type": type_ if by_player else "referee",
        "sub_type": sub_type,
        "is_successful": success,
        "outcome_type": outcome,
    }
    if by_player:
        event["player_id"] = row.player
        event["team_id"] = safe(row.team or out.side_of[row.player])
    else:
        event["official_id"] = REFEREE
    receiver_team = out.side_of.get(row.receiver)
    event |= {
        "receiver_id": row.receiver if received else None,
        "receiver_time": out.at(row.period, row.end_s) if received and np.isfinite(row.end_s) else None,
        "receiver_team_id": safe(receiver_team) if received and receiver_team else None,
        "x": place[0],
        "y": place[1],
        "x_end": x_end,
        "y_end": y_end,
        "body_part": body,
        "related_event_ids": related or None,
    }
    return _line(out, event, frame, end_frame)


def _whistle(out: Outgoing, row: Any, frame: int, place: tuple[float, float], event_id: str) -> dict[str, Any]:
    word = words.KIND_TO[row.kind][1]
    event = {
        "id": event_id,
        "time": out.at(row.period, row.time_s),
        "period": words.PERIOD_TO[row.period],
        "type": "referee",
        "sub_type": word,
        "is_successful": True,
        "outcome_type": word,
        "official_id": REFEREE,
        "receiver_id": None,
        "receiver_time": None,
        "receiver_team_id": None,
        "x": place[0],
        "y": place[1],
        "x_end": None,
        "y_end": None,
        "body_part": None,
        "related_event_ids": [safe(row.event_id)],
    }
    return _line(out, event, frame, -1)


def _line(out: Outgoing, event: dict[str, Any], frame: int, end_frame: int) -> dict[str, Any]:
    line = {"match": {"id": out.match.match_id}, "meta": {"is_synced": frame >= 0}, "event": event}
    if frame >= 0:
        line["tracking"] = {"frame_id": frame} | ({"frame_id_end": end_frame} if end_frame >= 0 else {})
    return line


def _words(out: Outgoing, row: Any) -> tuple[str, str | None, str, bool]:
    kind = row.kind
    success = None if row.success is None or row.success is pd.NA else bool(row.success)
    if kind in ("card", "substitution"):
        outcome = words.CARD_TO.get(row.detail, "caution") if kind == "card" else "substitution"
        return "referee", words.REFEREE_KINDS[kind], outcome, True
    if kind in ("period-start", "period-end"):
        last = kind == "period-end" and row.period == out.last
        return "referee", "final_whistle" if last else None, kind.removeprefix("period-"), True
    type_, sub_type = words.KIND_TO[kind]
    if kind in ("pass", "shot"):
        sub_type = words.SET_PLAY_TO.get(row.set_play)
        if sub_type is None and row.detail != "own-goal":
            sub_type = words.DETAIL_TO.get(row.detail)
        elif sub_type is not None and row.detail not in ("", "own-goal"):
            out.count(f"detail {row.detail!r} of a set play", "one sub_type: set play or detail")
    if kind == "shot" and row.detail == "own-goal":
        return type_, sub_type, "own_goal", True if success is None else success
    if kind in ("pass", "shot", "take-on", "tackle", "duel"):
        outcome = words.OUTCOME_TO.get((kind, row.outcome), "")
        if success is None:
            success = row.outcome in ("complete", "goal", "won")
            outcome = outcome or UNKNOWN
        return type_, sub_type, outcome or ("successful" if success else "unsuccessful"), success
    if kind in ("carry", "touch"):
        good = kind == "carry" if success is None else success
        return type_, sub_type, "successful" if good else "unsuccessful", good
    return type_, sub_type, str(sub_type), True if success is None else success


def _place(out: Outgoing, row: Any, frame: int, kind: str) -> tuple[float, float] | None:
    x, y = row.x, row.y
    tracking = out.match.tracking
    if not (np.isfinite(x) and np.isfinite(y)):
        if kind not in words.KIND_TO or frame < 0 or tracking is None or row.player not in tracking.players:
            return None
        x, y = (float(v) for v in tracking.xy[frame, tracking.column(row.player)])
        if not np.isfinite(x):
            return None
        out.count(
            "event without a place",
            "a place, which the standard demands",
            "That of the player in the tracking was written.",
        )
    sign = out.sign[row.period]
    x, y = turned(x, sign), turned(y, sign)
    inside = min(max(x, -X_MAX), X_MAX), min(max(y, -Y_MAX), Y_MAX)
    if inside != (x, y):
        out.count(
            "place of an event far off the pitch", f"at most {X_MAX:g} x {Y_MAX:g} m", "It was moved to that limit."
        )
    return inside
