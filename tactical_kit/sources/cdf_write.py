"""Writing a match in the Common Data Format 0.3.2; see `tactical_kit.sources.cdf` for what it holds."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tactical_kit.match import Match
from tactical_kit.sources.atomic import new_folder
from tactical_kit.sources.cdf_out import CDF_VERSION, Outgoing
from tactical_kit.sources.cdf_out_events import event_lines
from tactical_kit.sources.cdf_out_frames import frame_lines
from tactical_kit.sources.cdf_out_sheets import match_sheet, meta
from tactical_kit.sources.problems import Problems

__all__ = ["CDF_VERSION", "FILES", "write_cdf"]

FILES = ("meta.json", "match.json", "events.jsonl", "tracking.jsonl")


def write_cdf(
    match: Match,
    folder: str | Path,
    problems: Problems | None = None,
    progress: Callable[[float], None] | None = None,
) -> Path:
    """Write a match as meta.json, match.json, events.jsonl and tracking.jsonl of CDF 0.3.2.

    Parameters
    ----------
    match : Match
        The match.  Without events neither events.jsonl nor match.json is written (the latter demands a
        result), without tracking no tracking.jsonl.
    folder : str or Path
        The folder to make; an earlier CDF folder is replaced, one with other files is refused.
    problems : Problems, optional
        Takes what had to be left out or changed, as warnings.  Without it they are given as one Python warning.
    progress : callable, optional
        Called now and then with the share done, 0 to 1.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    TacticalKitError
        The folder holds other things, or the periods overlap in time.
    """
    folder = Path(folder)
    notes = Problems() if problems is None else problems
    out = Outgoing(match, notes)
    with new_folder(folder, _why_not) as part:
        _write_json(part / "meta.json", meta(out))
        if match.events is not None:
            with (part / "events.jsonl").open("w", encoding="utf-8", newline="\n") as file:
                for event in event_lines(out):
                    file.write(_compact(event) + "\n")
            _write_json(part / "match.json", match_sheet(out))
        else:
            notes.add(
                "match.json",
                "a match without events",
                "events, for the result that match.json demands",
                "It was not written; short names and positions are not in the other files.",
                kind="warning",
            )
        if match.stills:
            notes.add(
                "CDF",
                f"{len(match.stills)} still{'s' if len(match.stills) > 1 else ''}",
                "frames of a camera system",
                "They were left out: the standard has no place for single instants placed by hand.",
                kind="warning",
            )
        if match.tracking is not None:
            with (part / "tracking.jsonl").open("w", encoding="utf-8", newline="\n") as file:
                for i, line in enumerate(frame_lines(out, match.tracking)):
                    file.write(line)
                    if progress is not None and i % 5000 == 0:
                        progress(i / max(len(match.tracking), 1))
    if progress is not None:
        progress(1.0)
    out.report()
    if problems is None:
        notes.warn()
    return folder


def _compact(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def _write_json(path: Path, value: Any) -> None:
    text = json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False)
    path.write_bytes((text + "\n").encode("utf-8"))


def _why_not(folder: Path) -> str:
    others = sorted(p.name for p in folder.iterdir() if p.name not in FILES)
    if others:
        return f"it holds other files ({', '.join(others[:3])}{', …' if len(others) > 3 else ''})"
    if not (folder / "meta.json").is_file():
        return "it is not a folder of the Common Data Format"
    return ""
