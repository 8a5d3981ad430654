"""Events and tracking of Common Data Format files, brought into the kit's times and the pitch frame."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Period, Team, Tracking, events_table
from tactical_kit.pitch import Pitch
from tactical_kit.sources import cdf_words as words
from tactical_kit.sources.cdf_frames import Frames
from tactical_kit.sources.cdf_teams import Held, micro_of
from tactical_kit.sources.content import EventsOrigin, check_match_tables, infer_home_attacks

__all__ = ["check_contents", "events_of", "tracking_of", "turn_to_pitch"]


def tracking_of(held: Held, starts: dict[int, int]) -> Tracking | None:
    """Tracking in seconds of the periods, still in the frame of reference of the file."""
    frames = held.frames
    if frames is None:
        return None
    offset = np.zeros(len(frames), np.int64)
    for number, start in starts.items():
        offset[frames.period == number] = start
    micro = frames.micro - offset
    same = (np.diff(frames.period) == 0) & (np.diff(micro) == 0)
    fps = held.found.fps
    if same.any() and fps is None:
        held.problems.add(
            held.files["tracking"],
            f"{int(same.sum())} frames with the time of the frame before",
            "times that rise",
            "State fps in meta.json; then the frame ids tell the time.",
        )
        first = np.r_[True, ~same]
        frames.keep(first)
        micro = micro[first]
    elif same.any() and fps is not None:
        for number in np.unique(frames.period):
            own = frames.period == number
            ids = frames.frame_id[own]
            micro[own] = micro[own][0] + np.rint((ids - ids[0]) * (1e6 / fps)).astype(np.int64)
        held.problems.add(
            held.files["tracking"],
            f"{int(same.sum())} frames with the time of the frame before",
            "times that rise",
            "The frame ids and fps were taken for the time.",
            kind="warning",
        )
    rate = _rate(held, frames, micro)
    if not frames.status_told:
        held.problems.add(
            held.files["tracking"],
            "no status of the ball",
            "ball.status in each frame",
            "The ball was taken to be in play throughout.",
            kind="warning",
        )
    try:
        return Tracking(
            rate,
            frames.period,
            micro / 1e6,
            tuple(frames.players),
            np.array(frames.team_index, np.int8),
            frames.xy,
            frames.ball,
            frames.alive,
            frames.owner,
        )
    except TacticalKitError as error:
        held.problems.add(held.files["tracking"], str(error), "frames in order", "Correct the file.")
        return None


def _rate(held: Held, frames: Frames, micro: np.ndarray) -> float:
    steps = np.diff(micro)[np.diff(frames.period) == 0]
    stated = held.found.fps
    if not len(steps):
        if stated is None:
            held.note("no frame rate", "tracking.fps in meta.json", "25 frames a second was taken.")
        return float(stated or 25)
    typical = float(np.median(steps))
    regular = steps[steps < 1.5 * typical]
    met = round(1e6 / float(regular.mean()), 3)
    if stated is not None and abs(met - stated) < 0.01 * stated:
        # A whole number is all that the standard can state: 29.97 shows in the times alone.
        return float(stated) if abs(met - stated) < 2e-4 * stated else met
    if stated is not None:
        held.note(
            f"{met:g} frames a second in the times of the frames",
            f"the {stated} that meta.json states",
            "The times were taken.",
        )
    return met


def events_of(
    held: Held, starts: dict[int, int], teams: tuple[Team, Team], tracking: Tracking | None
) -> pd.DataFrame | None:
    """Events in seconds of the periods, still in the frame of reference of the file."""
    if held.rows is None:
        if held.found.sheet and tracking is None:
            held.note("no events.jsonl", "events beside match.json", "Its cards and substitutions were left out.")
        return None
    _pair_with_sheet(held)
    by_frame: dict[int, float] = {}
    if tracking is not None and held.frames is not None:
        by_frame = dict(zip(held.frames.frame_id.tolist(), tracking.time_s.tolist()))
    for row in held.rows:
        start = starts[row["period"]]
        row["time_s"] = (micro_of(row["utc"]) - start) / 1e6
        if row["received"] is not None:
            row["end_s"] = (micro_of(row["received"]) - start) / 1e6
        else:
            row["end_s"] = by_frame.get(row["frame_id_end"], np.nan)
    order = sorted(held.rows, key=lambda r: (r["period"], r["time_s"]))
    held.order = [(row.get("file_row", 0), row.get("bad", set())) for row in order]
    given = [row for row in held.rows if "file_row" in row]  # the others are of match.json
    if any(a is not b for a, b in zip((row for row in order if "file_row" in row), given)):
        held.problems.add(
            held.files["events"],
            "events out of the order of time",
            "events in the order of time",
            "They were sorted.",
            kind="warning",
        )
    for column in ("utc", "received", "frame_id_end", "receiver_team", "file_row", "bad"):
        for row in held.rows:
            row.pop(column, None)
    return events_table(order)


def _pair_with_sheet(held: Held) -> None:
    """Fill in who was booked or substituted: the events do not say, match.json does."""
    assert held.rows is not None
    lost: Counter[str] = Counter()
    for kind, entries in held.found.sheet.items():
        open_rows = [r for r in held.rows if r["kind"] == kind]
        for entry in entries:
            fitting = [
                r
                for r in open_rows
                if entry["utc"] is not None
                and r["period"] == entry["period"]
                and abs((r["utc"] - entry["utc"]).total_seconds()) <= 1.0
                and (kind != "card" or r["detail"] in ("", entry["detail"]))
            ]
            if not fitting:
                if entry["utc"] is not None and entry["period"] is not None:
                    held.rows.append(
                        {
                            "event_id": f"sheet-{kind}-{entries.index(entry) + 1}",
                            "kind": kind,
                            "detail": "",
                            "set_play": "",
                            "receiver": "",
                            "success": None,
                            "outcome": "",
                            "x": np.nan,
                            "y": np.nan,
                            "end_x": np.nan,
                            "end_y": np.nan,
                            "body_part": "",
                            "related": "",
                            "received": None,
                            "frame_id_end": None,
                            "receiver_team": "",
                            **entry,
                        }
                    )
                continue
            row = min(fitting, key=lambda r: abs(r["utc"] - entry["utc"]))
            open_rows = [r for r in open_rows if r is not row]
            row.update({k: v for k, v in entry.items() if k not in ("utc", "period")})
        lost[kind] += len(open_rows)
    for kind in ("card", "substitution"):
        unnamed = lost[kind] if kind in held.found.sheet else sum(r["kind"] == kind for r in held.rows)
        if unnamed:
            held.note(f"{unnamed} x {kind} without players", "the players in match.json", "Nobody is named there.")


# -- frame of reference ---------------------------------------------------------------------------


def turn_to_pitch(
    held: Held,
    periods: list[tuple[Period, int | None]],
    events: pd.DataFrame | None,
    tracking: Tracking | None,
    pitch: Pitch,
    teams: tuple[Team, Team],
) -> tuple[Period, ...]:
    """Turn the coordinates of each period into the pitch frame; return the periods."""
    made = []
    for period, stated in periods:
        shown = infer_home_attacks(events, tracking, period.number, pitch, teams)
        actual, name = period.home_attacks, period.name
        if stated is None:
            if period.number != 5 or shown:
                held.note(
                    f"no play_direction in the {name}",
                    "play_direction in meta.json",
                    "It was told from where the keepers stand and shots are taken."
                    if shown
                    else "The home side was taken to attack left to right.",
                )
            in_file = shown or 1
            if not _sides_told(held, period.number):
                actual = in_file
        elif shown and shown != stated:
            held.note(
                f"coordinates in the {name} against its play_direction",
                "the home side attacking as play_direction says",
                "They were taken to be standardised, with the home side attacking left to right."
                if shown == 1
                else "What keepers and shots show was taken.",
            )
            in_file = shown
        else:
            in_file = stated
        if in_file != actual:
            if tracking is not None:
                rows = tracking.frames_of(period.number)
                tracking.xy[rows] *= -1
                tracking.ball[rows, :2] *= -1
            if events is not None:
                own = events["period"] == period.number
                for column in ("x", "y", "end_x", "end_y"):
                    events.loc[own, column] = events.loc[own, column] * -1 + 0.0  # no -0.0
        made.append(Period(period.number, period.duration_s, actual, period.start_utc))
    if tracking is not None:
        np.add(tracking.xy, np.float32(0), out=tracking.xy)  # no -0.0
    return tuple(made)


def _sides_told(held: Held, number: int) -> bool:
    for fields in held.found.periods:
        if fields.value.get("period") == words.PERIOD_TO[number]:
            return "left_team_id" in fields or "right_team_id" in fields
    return False


def check_contents(
    held: Held,
    periods: tuple[Period, ...],
    pitch: Pitch,
    teams: tuple[Team, Team],
    events: pd.DataFrame | None,
    tracking: Tracking | None,
) -> None:
    """Note what cannot be in any match, as twelve players of a side or places off the pitch."""
    if events is not None and not len(events):
        events = None
    silent = held.squads_faulty
    bad = {name: np.zeros(len(held.order), bool) for name in ("event_id", "x", "y", "end_x", "end_y")}
    for i, (_, names) in enumerate(held.order):
        for name in names:
            bad[name][i] = True
    if silent:
        bad |= dict.fromkeys(("team", "player", "receiver"), np.ones(len(held.order), bool))
    loose = held.faulty("meta", "match.periods")
    unplaced = held.faulty("meta", "venue")
    if unplaced and events is not None:
        events = events.copy()
        events[["x", "y", "end_x", "end_y"]] = np.nan
    check_match_tables(
        held.problems,
        periods=periods,
        pitch=pitch,
        home=teams[0],
        away=teams[1],
        events=events,
        origin=EventsOrigin(
            held.files.get("events", "events"),
            [row for row, _ in held.order],
            bad=bad,
            whole=not (silent or held.lost or loose or held.faulty("match")),
        ),
        tracking=None if unplaced else tracking,
        tracking_file=held.files.get("tracking", "tracking"),
        tracking_rows=None if held.frames is None else held.frames.rows,
        stated_directions=False,
        directions=() if loose else None,
    )
