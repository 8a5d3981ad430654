"""Reading the Common Data Format 0.3.2; see `tactical_kit.sources.cdf` for what is taken from it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import INVENTED_LABEL, Match
from tactical_kit.pitch import Pitch
from tactical_kit.sources.cdf_data import check_contents, events_of, tracking_of, turn_to_pitch
from tactical_kit.sources.cdf_events import read_event_rows
from tactical_kit.sources.cdf_frames import read_frames
from tactical_kit.sources.cdf_out import EPOCH, UNKNOWN
from tactical_kit.sources.cdf_sheets import Found, Squad, read_meta, read_sheet
from tactical_kit.sources.cdf_teams import Held, check_same_match, periods_of, pitch_of, teams_of
from tactical_kit.sources.problems import Problems

__all__ = ["check_cdf", "find_cdf_files", "is_cdf", "read_cdf"]

FILE_KINDS = {
    "meta": (".json", "meta"),
    "match": (".json", "match"),
    "events": (".jsonl", "event"),
    "tracking": (".jsonl", "track"),
}


def read_cdf(
    path: str | Path,
    problems: Problems | None = None,
    progress: Callable[[float], None] | None = None,
) -> Match:
    """Return the match in Common Data Format files.

    Parameters
    ----------
    path : str or Path
        A folder with meta.json, match.json, events.jsonl and tracking.jsonl (each may be missing), the
        meta.json of such a folder, or one of the other files alone.
    problems : Problems, optional
        Takes what is missing, assumed or left out, as warnings.  Without it they are given as one Python
        warning.
    progress : callable, optional
        Called now and then with the share of the tracking read, 0 to 1.

    Returns
    -------
    Match
        In the pitch frame: sides change ends as left_team_id says.

    Raises
    ------
    InputError
        Everything that is wrong, in one message; nothing is loaded then.
    """
    notes = Problems() if problems is None else problems
    match = _read(Path(path), notes, progress)
    notes.raise_if_any()
    assert match is not None
    if problems is None:
        notes.warn()
    return match


def check_cdf(path: str | Path, problems: Problems) -> Match | None:
    """Note everything that is wrong with Common Data Format files; return the match if it can be read."""
    before = len(problems.errors)
    match = _read(Path(path), problems, None)
    return match if len(problems.errors) == before else None


def is_cdf(path: str | Path) -> bool:
    """Tell whether a path looks like Common Data Format files, whatever state they are in."""
    path = Path(path)
    if path.is_dir():
        try:
            return any(_kind_of_file(p) for p in sorted(path.iterdir()) if p.is_file())
        except OSError:
            return False
    return path.is_file() and _kind_of_file(path) is not None


def find_cdf_files(path: Path, problems: Problems) -> dict[str, Path]:
    """Return the files of each kind ("meta", "match", "events", "tracking") at a path."""
    if not path.exists():
        problems.add(path, "no such file or folder", "Common Data Format files", "Check the name.")
        return {}
    if path.is_file() and _kind_of_file(path) != "meta":
        kind = _kind_of_file(path)
        if kind is None:
            problems.add(
                path,
                f"a file named {path.name}",
                "meta.json, match.json, events.jsonl or tracking.jsonl",
                "Rename it to what it is.",
            )
            return {}
        return {kind: path}
    folder = path if path.is_dir() else path.parent
    found: dict[str, list[Path]] = {}
    for file in sorted(folder.iterdir()):
        kind = _kind_of_file(file) if file.is_file() else None
        if kind is not None:
            found.setdefault(kind, []).append(file)
    if path.is_file():
        found["meta"] = [path]
    for kind, files in found.items():
        if len(files) > 1:
            problems.add(
                folder,
                f"{len(files)} {kind} files ({', '.join(f.name for f in files[:4])})",
                "one file of each kind",
                "Put each match in a folder of its own.",
            )
    if not found:
        problems.add(
            folder,
            "none of its files",
            "meta.json, match.json, events.jsonl or tracking.jsonl",
            "Rename the files to what they are.",
        )
    return {kind: files[0] for kind, files in found.items()}


def _kind_of_file(path: Path) -> str | None:
    name = path.name.lower()
    for kind, (ending, word) in FILE_KINDS.items():
        if name.endswith(ending) and word in name and not name.startswith("."):
            if kind != "match":
                return kind
            try:  # a match folder has a match.json, too
                with path.open("rb") as file:
                    return kind if b'"officials"' in file.read(2_000_000) else None
            except OSError:
                return None
    return None


def _read(path: Path, problems: Problems, progress: Callable[[float], None] | None) -> Match | None:
    before = len(problems.errors)
    files = find_cdf_files(path, problems)
    if len(problems.errors) > before or not files:
        return None
    found = Found()
    if "meta" in files:
        read_meta(files["meta"], problems, found)
    if "match" in files:
        read_sheet(files["match"], problems, found)
    rows: list[dict[str, Any]] | None = None
    lost: list[int] = []
    if "events" in files:
        rows = read_event_rows(files["events"], problems, found.match_ids, lost)
    frames = read_frames(files["tracking"], problems, progress) if "tracking" in files else None
    if frames is not None:
        found.match_ids["tracking"] = frames.match_id
        home, away = (Squad(t) for t in frames.team_ids)
        for player, side in zip(frames.players, frames.team_index):
            (home, away)[side].players[player] = {}
        found.squads["tracking"] = (home, away)
    return _assemble(Held(path, files, found, rows, frames, problems, before, lost))


# -- meta.json and match.json -----------------------------------------------------------------------------


def _assemble(held: Held) -> Match | None:
    """Return the match, or None with the reasons noted."""
    missing = [n for n in FILE_KINDS if n not in held.files]
    if missing:
        held.note(
            f"only {', '.join(held.files[n].name for n in FILE_KINDS if n in held.files)}",
            "meta, match, events and tracking",
            "The match has what is there.",
        )
    check_same_match(held)
    teams = teams_of(held)
    if teams is None:
        return None
    home, away = teams
    pitch = pitch_of(held)
    periods, starts = periods_of(held, home, away)
    if not periods:
        return None
    tracking = tracking_of(held, starts)
    events = events_of(held, starts, teams, tracking)
    turned = turn_to_pitch(held, periods, events, tracking, pitch or Pitch(), teams)
    check_contents(held, turned, pitch or Pitch(), teams, events, tracking)
    if held.failed or pitch is None:
        return None
    label, invented = held.found.label, INVENTED_LABEL in held.found.label
    if invented and label != INVENTED_LABEL:
        label = label.removesuffix(f" ({INVENTED_LABEL})")
    ids = [i for i in held.found.match_ids.values() if i]
    day = held.found.kickoff.date() if held.found.kickoff is not None else None
    try:
        return Match(
            ids[0] if ids else UNKNOWN,
            home,
            away,
            turned,
            pitch,
            events,
            tracking,
            None,
            None if day == EPOCH else day,
            label,
            invented,
        )
    except TacticalKitError as error:
        fault = str(error).split(" does not fit together: ", 1)[-1].rstrip(".")
        for one in fault.split("; "):
            held.problems.add(held.path, one, "files that belong together", "Correct the files.")
        return None
