"""What must hold in tracking: frames, places, eleven a side, speeds a person can run."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from tactical_kit.match import Period, Tracking
from tactical_kit.pitch import Pitch
from tactical_kit.sources.content_units import suspected
from tactical_kit.sources.problems import Problems

__all__ = ["check_tracking", "keeper_sides"]


def check_tracking(
    problems: Problems,
    tracking: Tracking,
    file: str | Path,
    rows: ArrayLike | None,
    periods: Sequence[Period],
    pitch: Pitch,
    margin_m: float = 10.0,
    speed_ms: float = 12.0,
    timed: bool = True,
) -> bool:
    """Check tracking: frames, periods, places, number of players, speeds; tell whether the places are sound.

    Parameters
    ----------
    problems : Problems
        Where the findings go.
    tracking : Tracking
        Positions in metres, pitch frame.
    file, rows
        The user's file and the row of each frame in it (1, 2, 3... if not given).
    periods, pitch
        The match.
    margin_m : float, default 10
        How far off the pitch a player may be: behind the advertising boards is too far.
    speed_ms : float, default 12
        Mean speed over one second that nobody runs; more than it is a warning.
    timed : bool, default True
        False if the frame rate was found wrong before: then no speeds are taken.
    """
    if not len(tracking):
        problems.add(file, "0 frames", "at least one frame", "Check that the export is whole.")
        return False
    row = np.arange(1, len(tracking) + 1) if rows is None else np.asarray(rows)
    lasts = {p.number: p.duration_s for p in periods}
    for number, frames in tracking.iter_periods():
        first = frames.start
        if number not in lasts:
            problems.add(
                file,
                f"period {number}",
                f"a period that was played ({', '.join(map(str, lasts))})",
                "1 and 2 are the halves, 3 and 4 extra time, 5 the shoot-out.",
                int(row[first]),
            )
        elif tracking.time_s[frames.stop - 1] > lasts[number] + 1.0:
            problems.add(
                file,
                f"{tracking.time_s[frames.stop - 1]:g} s in period {number}",
                f"at most its length of {lasts[number]:g} s",
                "Mend the length of the period, or say that the clock counts from the start of the match.",
                int(row[frames.stop - 1]),
            )
        if tracking.time_s[first] < 0:
            problems.add(
                file,
                f"{tracking.time_s[first]:g} s",
                "0 or more seconds from the start of the period",
                "Check where the clock starts.",
                int(row[first]),
            )
    sound = _check_places(problems, tracking, file, row, pitch, margin_m)
    _check_eleven(problems, tracking, file, row)
    if timed and sound:
        _check_speeds(problems, tracking, file, row, speed_ms)
    return sound


def _check_places(
    problems: Problems, tracking: Tracking, file: str | Path, row: np.ndarray, pitch: Pitch, margin: float
) -> bool:
    xy = tracking.xy
    infinite = np.isinf(xy).any(axis=2)
    for i, p in np.argwhere(infinite)[:20]:
        problems.add(
            file,
            "an infinite place",
            "a place on the pitch",
            "Leave the cell empty where a player is not on the pitch.",
            int(row[i]),
            tracking.players[p],
        )
    if infinite.any():
        return False
    with np.errstate(invalid="ignore"):
        # One pass over float32 without copies: False where NaN.
        outside = (np.abs(xy[..., 0]) > pitch.half_length + margin) | (np.abs(xy[..., 1]) > pitch.half_width + margin)
    known = int(np.isfinite(xy[..., 0]).sum())
    if known == 0:
        problems.add(file, "no position at all", "places of the players", "Check which columns hold the coordinates.")
        return False
    thin = xy[:: max(1, len(xy) // 2000)]
    hint = suspected(thin[..., 0].ravel(), thin[..., 1].ravel(), pitch)
    mend = f"{hint}: check unit, origin and pitch size." if hint else "Check unit, origin and pitch size."
    count = int(outside.sum())
    for i, p in np.argwhere(outside)[: problems.limit + 1]:
        x, y = xy[i, p]
        problems.add(
            file,
            f"({x:.1f}, {y:.1f}) m from the centre spot, and {count - 1} more"
            if count > 1
            else f"({x:.1f}, {y:.1f}) m",
            f"a place within {margin:g} m of the pitch of {pitch.length_m:g} x {pitch.width_m:g} m",
            mend,
            int(row[i]),
            tracking.players[p],
            kind="warning" if count < 0.001 * known else "error",
        )
        break  # one line with the count: a wrong unit would fill the report
    spread = float(np.nanmax(thin[..., 0]) - np.nanmin(thin[..., 0])) if np.isfinite(thin[..., 0]).any() else 0.0
    if not count and len(tracking.players) >= 14 and spread < pitch.length_m / 50:
        problems.add(file, f"all players within {spread:.2f} m", "players all over the pitch", mend)
        return False
    return count < 0.001 * known


def _check_eleven(problems: Problems, tracking: Tracking, file: str | Path, row: np.ndarray) -> None:
    seen = np.isfinite(tracking.xy[..., 0])
    for side, name in enumerate(("home", "away")):
        count = seen[:, tracking.team_index == side].sum(axis=1)
        over = np.flatnonzero(count > 11)
        if len(over):
            i = int(over[0])
            span = f" (and in {len(over) - 1} more frames)" if len(over) > 1 else ""
            problems.add(
                file,
                f"{count[i]} players of the {name} side at once{span}",
                "at most 11",
                "Leave the cells of players who are not on the pitch empty.",
                int(row[i]),
            )
    if not seen.any(axis=0).all():
        for p in np.flatnonzero(~seen.any(axis=0)):
            problems.add(
                file,
                f"no position of {tracking.players[p]!r}",
                "a place in at least one frame",
                "The player counts as not having played.",
                kind="warning",
            )


def _check_speeds(problems: Problems, tracking: Tracking, file: str | Path, row: np.ndarray, speed_ms: float) -> None:
    """Mean speed over one second: a single noisy frame does not count, a swap of two players does."""
    step = max(1, round(tracking.rate_hz))
    if len(tracking) <= step:
        return
    thin = max(1, step // 5)
    start = np.arange(0, len(tracking) - step, thin)
    elapsed = tracking.time_s[start + step] - tracking.time_s[start]
    whole = (tracking.period[start + step] == tracking.period[start]) & (
        np.abs(elapsed - step / tracking.rate_hz) < 0.05
    )
    start, elapsed = start[whole], elapsed[whole]
    if not len(start):
        return
    moved = tracking.xy[start + step] - tracking.xy[start]
    with np.errstate(invalid="ignore"):
        speed = np.hypot(moved[..., 0], moved[..., 1]) / elapsed[:, None].astype(np.float32)
        fast = speed > speed_ms
    for p in np.flatnonzero(fast.any(axis=0)):
        i = int(np.flatnonzero(fast[:, p])[0])
        problems.add(
            file,
            f"{tracking.players[p]!r} at {speed[i, p]:.0f} m/s"
            + (f", in {int(fast[:, p].sum()) * thin / tracking.rate_hz:.1f} s in all" if fast[:, p].sum() > 1 else ""),
            f"at most {speed_ms:g} m/s over one second",
            "Two players may have been taken for one another, or the unit or the frame rate is wrong.",
            int(row[start[i]]),
            kind="warning",
        )


def keeper_sides(tracking: Tracking, period: int, pitch: Pitch, keepers: Sequence[set[str]]) -> list[tuple[int, str]]:
    """Tell the direction of attack of both sides in a period from where their keepers stand.

    Parameters
    ----------
    tracking : Tracking
        Positions.
    period : int
        Period.
    pitch : Pitch
        Field of play.
    keepers : two sets of str
        Ids of the keepers of the home and away side; with none known, the side's player who is furthest
        from the centre line over the period counts.

    Returns
    -------
    list of (int, str)
        +1, -1 or 0 for home and away, and the evidence in words.
    """
    frames = tracking.frames_of(period)
    x = tracking.xy[frames.start : frames.stop : max(1, round(tracking.rate_hz)), :, 0]
    found = []
    for side in (0, 1):
        columns = [
            i
            for i, p in enumerate(tracking.players)
            if tracking.team_index[i] == side and (not keepers[side] or p in keepers[side])
        ]
        medians = [
            float(np.median(x[np.isfinite(x[:, c]), c]))
            for c in columns
            if np.isfinite(x[:, c]).sum() >= max(1, len(x) // 4)
        ]
        deepest = max(medians, key=abs, default=0.0)
        if abs(deepest) > pitch.half_length / 2 and (keepers[side] or len(medians) >= 7):
            found.append((-int(np.sign(deepest)), f"keeper at x = {deepest:.0f} m"))
        else:
            found.append((0, ""))
    return found
