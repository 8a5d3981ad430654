"""The native form: a folder with match.json, events.parquet, tracking.parquet and, if there are any, tags.parquet.

match.json holds the squads, the periods, the pitch, the label, and the list of the other files with their
row counts and SHA-256 sums.  Times of tracking are kept to the microsecond, positions to the centimetre; all
else is kept as it is.  The same match gives the same bytes.
"""

from __future__ import annotations

import hashlib
import json
import re
import warnings
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import EVENT_COLUMNS, Match, Period, Player, Team, Tracking
from tactical_kit.pitch import Pitch
from tactical_kit.sources.atomic import new_folder, previous_of
from tactical_kit.sources.fields import Fields
from tactical_kit.sources.folder_tables import (
    TrackingHead,
    open_table,
    read_events,
    read_tags,
    read_tracking,
    write_table,
    write_tracking,
)
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.text import read_json_guarded

__all__ = ["FORM", "VERSION", "check_match_folder", "is_match_folder", "read_match_folder", "write_match_folder"]

FORM = "tactical_kit match folder"
VERSION = 1
MAX_ROWS = 10_000_000  # 90 minutes at 25 Hz are 135,000 frames
_TABLES = ("events.parquet", "tracking.parquet", "tags.parquet")
# Places in match.json where a fault means that somebody is missing.
_LOST = re.compile(r"(home|away)(\.team_id|\.players(\[\d+\](\.(player_id|name))?)?)?")
_FILES = ("match.json", *_TABLES)


def write_match_folder(match: Match, path: str | Path) -> Path:
    """Write a match as a match folder.

    Parameters
    ----------
    match : Match
        The match.
    path : str or Path
        The folder to make.  A match folder that is there is replaced, once the new one is complete; a folder
        with anything else in it is refused.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    TacticalKitError
        The place cannot be written to or holds other things; a coordinate beyond 327.67 m; a column of events
        or tags that Parquet cannot hold.

    Notes
    -----
    Positions are rounded to the centimetre, tracking times to the microsecond.  A match folder holds no stills: a
    match that has some is written without them, with a warning.
    """
    path = Path(path)
    if match.stills:
        warnings.warn(
            f"A match folder holds no stills; {len(match.stills)} of {match!r} were left out of {path}. Keep them "
            "where they come from.",
            stacklevel=2,
        )
    with new_folder(path, _why_not) as part:
        files: dict[str, dict[str, object]] = {}
        if match.events is not None:
            files["events.parquet"] = {"rows": write_table(match.events, part / "events.parquet", EVENT_COLUMNS)}
        if match.tracking is not None:
            files["tracking.parquet"] = {"rows": write_tracking(match.tracking, part / "tracking.parquet")}
        if match.tags is not None:
            files["tags.parquet"] = {"rows": write_table(match.tags, part / "tags.parquet")}
        for name, entry in files.items():
            entry["sha256"] = _sha256(part / name)
        text = json.dumps(_to_json(match, files), ensure_ascii=False, indent=1, allow_nan=False)
        (part / "match.json").write_bytes((text + "\n").encode("utf-8"))
    return path


def read_match_folder(path: str | Path) -> Match:
    """Return the match of a match folder.

    Parameters
    ----------
    path : str or Path
        The folder, or the match.json in it.

    Raises
    ------
    InputError
        Everything that is wrong with it, in one message; nothing is loaded then.

    Notes
    -----
    Row counts, columns, times and names are checked; the SHA-256 sums only by `check_match_folder`.
    """
    problems = Problems()
    match = _read(Path(path), problems, sums=False)
    problems.raise_if_any()
    assert match is not None
    return match


def check_match_folder(path: str | Path, problems: Problems) -> Match | None:
    """Note everything that is wrong with a match folder; return the match if nothing is.

    Beyond what `read_match_folder` looks at: the SHA-256 sums, and what cannot be in any match (twelve players
    of a side, places off the pitch, players who act after they have left it...).
    """
    before = len(problems.errors)
    match = _read(Path(path), problems, sums=True)
    return match if len(problems.errors) == before else None


def is_match_folder(path: str | Path) -> bool:
    """Tell whether a path looks like a match folder (or the match.json of one), whatever state it is in."""
    path = Path(path)
    index = path / "match.json" if path.is_dir() else path
    if index.name != "match.json" or not index.is_file():
        return False
    try:
        with index.open("rb") as file:
            head = file.read(400)
    except OSError:
        return False
    return FORM.encode() in head or any((index.parent / name).exists() for name in _TABLES)


# -- to JSON ----------------------------------------------------------------------------------------------


def _to_json(match: Match, files: dict[str, dict[str, object]]) -> dict[str, object]:
    made: dict[str, object] = {
        "form": FORM,
        "version": VERSION,
        "match_id": match.match_id,
        "label": match.label,
        "invented": match.invented,
        "day": match.day.isoformat() if match.day else None,
        "pitch": {
            "length_m": float(match.pitch.length_m),
            "width_m": float(match.pitch.width_m),
            "international": match.pitch.international,
        },
        "periods": [
            {
                "number": int(p.number),
                "duration_s": float(p.duration_s),
                "home_attacks": int(p.home_attacks),
                "start_utc": _utc_text(p.start_utc),
            }
            for p in match.periods
        ],
        "home": _team_json(match.home),
        "away": _team_json(match.away),
    }
    if match.tracking is not None:
        made["tracking"] = {
            "rate_hz": float(match.tracking.rate_hz),
            "has_owner": match.tracking.owner is not None,
            "players": list(match.tracking.players),
        }
    made["files"] = files
    return made


def _team_json(team: Team) -> dict[str, object]:
    players = [
        {
            "player_id": p.player_id,
            "name": p.name,
            "shirt": None if p.shirt is None else int(p.shirt),
            "position": p.position,
            "starter": bool(p.starter),
        }
        for p in team.players
    ]
    return {"team_id": team.team_id, "name": team.name, "short_name": team.short_name, "players": players}


def _utc_text(moment: datetime | None) -> str | None:
    if moment is None:
        return None
    moment = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    return moment.isoformat().replace("+00:00", "Z")


# -- from JSON --------------------------------------------------------------------------------------------


def _read(path: Path, problems: Problems, sums: bool) -> Match | None:
    folder = path.parent if path.name == "match.json" and not path.is_dir() else path
    index = folder / "match.json"
    if not folder.is_dir():
        waiting = previous_of(folder.resolve())
        if waiting.is_dir():
            problems.add(
                folder,
                "no such folder",
                "a match folder",
                f"Writing was cut off; the match before it is whole: rename {waiting.name} to {folder.name}.",
            )
        else:
            problems.add(folder, "no such folder", "a match folder", "Check the name.")
        return None
    value = read_json_guarded(index, problems)
    if value is None:
        return None
    top = Fields(value, index, problems)
    form, version = top.text("form", None), top.whole("version", None, low=-(2**53), high=2**53)
    if form != FORM:
        top.note("form", repr(form), repr(FORM), "This is another form of match; try read_match on the folder.")
        return None
    if version != VERSION:
        newer = version is not None and version > VERSION
        mend = "Update tactical_kit to read it." if newer else "Write the match again."
        top.note("version", repr(version), f"version {VERSION}", mend)
        return None
    before = len(problems.errors)
    match_id, label = top.text("match_id"), top.text("label", "")
    invented, day = top.flag("invented", False), top.day("day", None)
    pitch, periods = _pitch(top.object("pitch")), _periods(top)
    home, away = _team(top.object("home")), _team(top.object("away"))
    head = _tracking_head(top, home, away)
    events = tags = tracking = None
    bad: dict[str, NDArray[np.bool_]] = {}
    listed = top.object("files")
    for name in listed.value:
        if name not in _TABLES:
            listed.note(name, repr(name), f"one of {', '.join(_TABLES)}", "Remove the entry.")
    for name in _TABLES:
        if name not in listed:
            if (folder / name).exists():
                listed.note(
                    name,
                    "a file that is not listed",
                    "every file of the folder listed",
                    "Write the match again.",
                    kind="warning",
                )
            continue
        if not _fits_listing(folder / name, listed.object(name), problems, sums):
            continue
        if name == "events.parquet":
            events, bad = read_events(folder / name, problems)
        elif name == "tags.parquet":
            tags = read_tags(folder / name, problems)
        elif head is not None:
            tracking = read_tracking(folder / name, head, problems)
    match, silent = None, False
    if len(problems.errors) == before and home is not None and away is not None and pitch is not None:
        try:
            match = Match(match_id, home, away, periods, pitch, events, tracking, tags, day, label, invented)
        except TacticalKitError as error:
            fault = str(error).split(" does not fit together: ", 1)[-1].rstrip(".")
            for one in fault.split("; "):
                problems.add(index, one, "squads, events and tracking that belong together", "Write the match again.")
            silent = True  # who is unknown has been said
    if sums or match is None:
        _check_contents(problems, index, (home, away), periods, pitch, events, bad, tracking, silent)
    return match


def _check_contents(
    problems: Problems,
    index: Path,
    teams: tuple[Team | None, Team | None],
    periods: tuple[Period, ...],
    pitch: Pitch | None,
    events: pd.DataFrame | None,
    bad: dict[str, NDArray[np.bool_]],
    tracking: Tracking | None,
    silent: bool,
) -> None:
    """Note what cannot be in any match, as far as the faults noted before leave something to be looked at."""
    from tactical_kit.sources.content import EventsOrigin, check_match_tables  # only a check looks that closely

    said = [p.column for p in problems.errors if p.file == index.name]
    home, away = (team or Team(word, word) for team, word in zip(teams, ("home", "away")))
    silent |= None in teams or any(_LOST.fullmatch(column) for column in said)
    loose = any(column.startswith("periods") for column in said)
    if loose:  # the lengths and directions are not known
        met = {int(p) for p in (() if events is None else events["period"])}
        met |= {int(p) for p in (() if tracking is None else np.unique(tracking.period))}
        periods = tuple(Period(n, 36_000.0, 1) for n in sorted(met) if 1 <= n <= 5)
    if events is not None and (silent or pitch is None):
        events = events.copy()
        every = np.ones(len(events), bool)
        bad = dict(bad)
        if silent:
            bad |= dict.fromkeys(("team", "player", "receiver"), every)
        if pitch is None:
            events[["x", "y", "end_x", "end_y"]] = np.nan
    check_match_tables(
        problems,
        periods=periods,
        pitch=pitch or Pitch(),
        home=home,
        away=away,
        events=events,
        origin=EventsOrigin("events.parquet", bad=bad, whole=not silent),
        tracking=None if pitch is None else tracking,
        tracking_file="tracking.parquet",
        directions=() if loose else None,
        timed=not any(column.startswith("tracking.rate") for column in said),
    )


def _pitch(fields: Fields) -> Pitch | None:
    length, width = fields.number("length_m"), fields.number("width_m")
    international = fields.flag("international", False)
    if length is None or width is None:
        return None
    try:
        return Pitch(length, width, international)
    except TacticalKitError as error:
        fields.note("", f"{length:g} x {width:g} m", "a pitch that Law 1 allows", str(error))
        return None


def _periods(top: Fields) -> tuple[Period, ...]:
    made: list[Period] = []
    for fields in top.objects("periods", most=5):
        number, duration = fields.whole("number", low=1, high=5), fields.number("duration_s", low=1e-3, high=36_000)
        attacks, start = fields.whole("home_attacks", low=-1, high=1), fields.moment("start_utc", None)
        if attacks == 0:
            fields.note("home_attacks", 0, "1 or -1")
        if number and made and number <= made[-1].number:
            fields.note("number", number, f"a period after {made[-1].number}")
        elif number and duration and attacks:
            made.append(Period(number, duration, attacks, start))
    if not made:
        top.note("periods", "no period", "at least one period", "Add the periods that were played.")
    return tuple(made)


def _team(fields: Fields) -> Team | None:
    team_id, name = fields.text("team_id"), fields.text("name")
    short_name = fields.text("short_name", "")
    players = []
    for one in fields.objects("players", most=100):
        player_id, player_name = one.text("player_id"), one.text("name")
        shirt, position = one.whole("shirt", None, low=0, high=999), one.text("position", "", longest=40)
        starter = one.flag("starter", True)
        if player_id is not None and player_name is not None:
            players.append(Player(player_id, player_name, team_id or "", shirt, position, starter))
    if team_id is None or name is None:
        return None
    return Team(team_id, name, short_name, tuple(players))


def _tracking_head(top: Fields, home: Team | None, away: Team | None) -> TrackingHead | None:
    has_table = "tracking.parquet" in top.object("files", required=False)
    fields = top.object("tracking", required=has_table)
    if not fields.fits:
        return None
    before = len(top.problems.errors)
    rate = fields.number("rate_hz", low=0.1, high=1000)
    players, has_owner = fields.texts("players", most=200), fields.flag("has_owner")
    side = {p.player_id: i for i, t in enumerate((home, away)) if t is not None for p in t.players}
    strangers = [player for player in players if player not in side]
    if None in (home, away) or any(_LOST.fullmatch(p.column) for p in top.problems.errors):
        strangers = []  # they may be those whose entry is faulty
    noted = len(top.problems.errors)
    for player in strangers:
        fields.note("players", repr(player), "ids of the two squads", "Add the player to his squad.")
    known_faults = before + len(top.problems.errors) - noted
    if len(set(players)) < len(players):
        twice = next(p for p in players if players.count(p) > 1)
        fields.note("players", f"{twice!r} twice", "each id once", "Write the match again.")
    if has_owner is None or len(top.problems.errors) > known_faults + (rate is None):
        return None  # the columns of the table cannot be told
    return TrackingHead(rate or 25.0, tuple(players), tuple(side.get(p, -1) for p in players), has_owner)


def _fits_listing(path: Path, entry: Fields, problems: Problems, sums: bool) -> bool:
    rows, stated = entry.whole("rows", low=0, high=MAX_ROWS), entry.text("sha256", longest=64)
    with open_table(path, problems) as file:
        if file is None:
            return False
        met = file.metadata.num_rows
    if rows is not None and met != rows:
        problems.add(path, f"{met} rows", f"{rows} rows as match.json says", "Copy the whole folder again.")
        return met <= MAX_ROWS  # what is there can be looked at all the same
    if rows is None and met > MAX_ROWS:
        return False
    if sums and stated is not None and _sha256(path) != stated:
        problems.add(
            path,
            f"SHA-256 {_sha256(path)[:12]}…",
            f"{stated[:12]}… as match.json says",
            "The file was changed after it was written; copy the folder again or write the match again.",
        )
    return True


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _why_not(folder: Path) -> str:
    """Reason why an existing folder must not be replaced, "" if it may."""
    others = sorted(p.name for p in folder.iterdir() if p.name not in _FILES)
    if others:
        return f"it holds other files ({', '.join(others[:3])}{', …' if len(others) > 3 else ''})"
    if not is_match_folder(folder):
        return "it is not a match folder"
    return ""
