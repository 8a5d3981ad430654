"""Reading the Common Data Format 0.3.2; see `tactical_kit.sources.cdf` for what is taken from it."""

from __future__ import annotations

import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import INVENTED_LABEL, PERIOD_NAMES, Match, Period, Player, Team, Tracking, events_table
from tactical_kit.pitch import Pitch
from tactical_kit.sources import cdf_words as words
from tactical_kit.sources.cdf_events import read_event_rows
from tactical_kit.sources.cdf_frames import Frames, read_frames, unsafe
from tactical_kit.sources.cdf_write import EPOCH, UNKNOWN
from tactical_kit.sources.fields import Fields
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.text import read_json_guarded

__all__ = ["check_cdf", "find_cdf_files", "is_cdf", "read_cdf"]

_KINDS = {
    "meta": (".json", "meta"),
    "match": (".json", "match"),
    "events": (".jsonl", "event"),
    "tracking": (".jsonl", "track"),
}
_USUAL_S = {1: 2700.0, 2: 2700.0, 3: 900.0, 4: 900.0, 5: 600.0}
_EPOCH_UTC = datetime(1970, 1, 1, tzinfo=UTC)


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
    if problems is None and notes.warnings:
        warnings.warn("\n".join(notes.lines()), stacklevel=2)
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
        return any(_kind_of_file(p) for p in sorted(path.iterdir()) if p.is_file())
    return path.is_file() and _kind_of_file(path) is not None


def find_cdf_files(path: Path, problems: Problems) -> dict[str, Path]:
    """Return the files of each kind ("meta", "match", "events", "tracking") at a path."""
    if not path.exists():
        problems.add(path, "no such file or folder", "Common Data Format files", "Check the name.")
        return {}
    if path.is_file() and _kind_of_file(path) != "meta":
        kind = _kind_of_file(path)
        if kind is None:
            problems.add(path, f"a file named {path.name}", "meta.json, match.json, events.jsonl or tracking.jsonl",
                         "Rename it to what it is.")  # fmt: skip
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
            problems.add(folder, f"{len(files)} {kind} files ({', '.join(f.name for f in files[:4])})",
                         "one file of each kind", "Put each match in a folder of its own.")  # fmt: skip
    if not found:
        problems.add(folder, "none of its files", "meta.json, match.json, events.jsonl or tracking.jsonl",
                     "Rename the files to what they are.")  # fmt: skip
    return {kind: files[0] for kind, files in found.items()}


def _kind_of_file(path: Path) -> str | None:
    name = path.name.lower()
    for kind, (ending, word) in _KINDS.items():
        if name.endswith(ending) and word in name and not name.startswith("."):
            if kind != "match":
                return kind
            try:  # a match folder has a match.json, too
                with path.open("rb") as file:
                    return kind if b'"officials"' in file.read(2_000_000) else None
            except OSError:
                return None
    return None


@dataclass
class _Squad:
    team_id: str = ""
    name: str = ""
    short_name: str = ""
    players: dict[str, dict[str, Any]] = field(default_factory=dict)


@dataclass
class _Found:
    """What the files say, before it is put together."""

    match_ids: dict[str, str] = field(default_factory=dict)
    squads: dict[str, tuple[_Squad, _Squad]] = field(default_factory=dict)
    periods: list[Fields] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    pitch: tuple[float | None, float | None] = (None, None)
    label: str = ""
    fps: int | None = None
    kickoff: datetime | None = None
    sheet: dict[str, list[dict[str, Any]]] = field(default_factory=dict)


def _read(path: Path, problems: Problems, progress: Callable[[float], None] | None) -> Match | None:
    before = len(problems.errors)
    files = find_cdf_files(path, problems)
    if len(problems.errors) > before or not files:
        return None
    found = _Found()
    if "meta" in files:
        _read_meta(files["meta"], problems, found)
    if "match" in files:
        _read_sheet(files["match"], problems, found)
    rows: list[dict[str, Any]] | None = None
    if "events" in files:
        rows = read_event_rows(files["events"], problems, found.match_ids)
    frames = read_frames(files["tracking"], problems, progress) if "tracking" in files else None
    if frames is not None:
        found.match_ids["tracking"] = frames.match_id
        home, away = (_Squad(t) for t in frames.team_ids)
        for player, side in zip(frames.players, frames.team_index):
            (home, away)[side].players[player] = {}
        found.squads["tracking"] = (home, away)
    if len(problems.errors) > before:
        return None
    return _Assembly(path, files, found, rows, frames, problems).match()


# -- meta.json and match.json -----------------------------------------------------------------------------


def _read_meta(path: Path, problems: Problems, found: _Found) -> None:
    value = read_json_guarded(path, problems)
    if value is None:
        return
    top = Fields(value, path, problems)
    about = top.object("match")
    found.match_ids["meta"] = about.text("id") or ""
    found.kickoff = about.moment("kickoff_time", None)
    for period in about.objects("periods", most=5):
        word = period.choice("period", tuple(words.PERIOD_FROM))
        if word is not None:
            number = words.PERIOD_FROM[word]
            if found.numbers and number <= found.numbers[-1]:
                period.note("period", repr(word), f"a period after {words.PERIOD_TO[found.numbers[-1]]!r}")
            found.numbers.append(number)
            found.periods.append(period)
    teams = top.object("teams")
    found.squads["meta"] = (_read_squad(teams.object("home")), _read_squad(teams.object("away")))
    venue = top.object("venue", required=False)
    found.pitch = (venue.number("pitch_length", None), venue.number("pitch_width", None))
    sources = top.object("meta", required=False)
    label = sources.object("meta", required=False).text("name", "", longest=200)
    found.label = "" if label == UNKNOWN else label
    tracking = sources.object("tracking", required=False)
    found.fps = tracking.whole("fps", None, low=1, high=1000)


def _read_sheet(path: Path, problems: Problems, found: _Found) -> None:
    value = read_json_guarded(path, problems)
    if value is None:
        return
    top = Fields(value, path, problems)
    found.match_ids["match"] = top.object("match").text("id") or ""
    status = top.object("match", required=False).object("status", required=False)
    if not found.numbers:
        found.numbers = [1, 2]
        if status.flag("has_extratime", False):
            found.numbers += [3, 4]
        if status.flag("has_shootout", False):
            found.numbers += [5]
    teams = top.object("teams")
    found.squads["match"] = (_read_squad(teams.object("home")), _read_squad(teams.object("away")))
    events = top.object("events", required=False)
    periods = tuple(words.PERIOD_FROM)
    for entry in events.objects("substitutions", required=False):
        team, off, on = entry.text("team_id", ""), entry.text("out_player_id", ""), entry.text("in_player_id", "")
        period, when = entry.choice("period", periods), entry.moment("out_time")
        found.sheet.setdefault("substitution", []).append(
            {"team": unsafe(team), "player": off, "receiver": on, "period": words.PERIOD_FROM.get(period), "utc": when}
        )
    for entry in events.objects("cards", required=False):
        team, player = entry.text("team_id", ""), entry.text("player_id", "")
        period, when = entry.choice("period", periods), entry.moment("time")
        kind = entry.choice("type", tuple(words.CARD_FROM))
        found.sheet.setdefault("card", []).append(
            {
                "team": unsafe(team),
                "player": player,
                "detail": words.CARD_FROM.get(kind, ""),
                "period": words.PERIOD_FROM.get(period),
                "utc": when,
            }
        )


def _read_squad(team: Fields) -> _Squad:
    squad = _Squad(unsafe(team.text("id") or ""), team.text("name", ""), team.text("short_name", ""))
    for entry in team.objects("players", most=100):
        player_id = entry.text("id")
        if player_id is None:
            continue
        if player_id in squad.players:
            entry.note("id", repr(player_id), "each player once in a squad", "Remove one of the two.")
        first, last = entry.text("first_name", ""), entry.text("last_name", "")
        position = entry.text("position", "")
        made: dict[str, Any] = {
            "name": entry.text("short_name", "") or f"{first} {last}".strip(),
            "shirt": entry.whole("jersey_number", None, low=0, high=999) or None,
            "starter": entry.flag("is_starter", None),
            "position": words.POSITION_FROM.get(position, position),
        }
        squad.players[player_id] = {k: v for k, v in made.items() if v not in ("", None)}
    return squad


# -- putting it together ----------------------------------------------------------------------------------


class _Assembly:
    def __init__(
        self,
        path: Path,
        files: dict[str, Path],
        found: _Found,
        rows: list[dict[str, Any]] | None,
        frames: Frames | None,
        problems: Problems,
    ) -> None:
        self.path, self.files, self.found, self.rows, self.frames = path, files, found, rows, frames
        self.problems = problems
        self.before = len(problems.errors)

    def note(self, met: str, expected: str, mend: str) -> None:
        self.problems.add(self.path, met, expected, mend, kind="warning")

    def match(self) -> Match | None:
        """Return the match, or None with the reasons noted."""
        missing = [n for n in _KINDS if n not in self.files]
        if missing:
            self.note(
                f"only {', '.join(self.files[n].name for n in _KINDS if n in self.files)}",
                "meta, match, events and tracking", "The match has what is there.",
            )  # fmt: skip
        self._same_match()
        teams = self._teams()
        if len(self.problems.errors) > self.before or teams is None:
            return None
        home, away = teams
        pitch = self._pitch()
        periods, starts = self._periods(home, away)
        if len(self.problems.errors) > self.before or not periods or pitch is None:
            return None
        tracking = self._tracking(starts)
        events = self._events(starts, teams, tracking)
        turned = self._frame_of_reference(periods, events, tracking, pitch, teams)
        if len(self.problems.errors) > self.before:
            return None
        self._contents(turned, pitch, teams, events, tracking)
        if len(self.problems.errors) > self.before:
            return None
        label, invented = self.found.label, INVENTED_LABEL in self.found.label
        if invented and label != INVENTED_LABEL:
            label = label.removesuffix(f" ({INVENTED_LABEL})")
        ids = [i for i in self.found.match_ids.values() if i]
        day = self.found.kickoff.date() if self.found.kickoff is not None else None
        try:
            return Match(
                ids[0] if ids else UNKNOWN, home, away, turned, pitch, events, tracking, None,
                None if day == EPOCH else day, label, invented,
            )  # fmt: skip
        except TacticalKitError as error:
            fault = str(error).split(" does not fit together: ", 1)[-1].rstrip(".")
            for one in fault.split("; "):
                self.problems.add(self.path, one, "files that belong together", "Correct the files.")
            return None

    def _same_match(self) -> None:
        """Files of different matches are refused; another id alone, with the same teams, is noted."""
        ids = {kind: i for kind, i in self.found.match_ids.items() if i}
        first = next(iter(ids), None)
        if first is None:
            return
        known = self._team_ids_of(first)
        for kind, value in ids.items():
            if value == ids[first]:
                continue
            others = self._team_ids_of(kind)
            name = self.files[kind].name
            if known and others and not others <= known:
                self.problems.add(
                    name, f"match {value!r} of {' and '.join(sorted(others))}",
                    f"match {ids[first]!r} of {' and '.join(sorted(known))} as in {self.files[first].name}",
                    "These files are of different matches; put each match in a folder of its own.",
                )  # fmt: skip
            else:
                self.problems.add(
                    name, f"match {value!r}", f"match {ids[first]!r} as in {self.files[first].name}",
                    "The teams are the same, so they were read as one match.", kind="warning",
                )  # fmt: skip

    def _team_ids_of(self, kind: str) -> set[str]:
        if kind == "events":
            return {r["team"] for r in self.rows or [] if r["team"]}
        return {s.team_id for s in self.found.squads.get(kind, ())}

    def _teams(self) -> tuple[Team, Team] | None:
        pairs = [self.found.squads[k] for k in ("meta", "match", "tracking") if k in self.found.squads]
        if not pairs:
            return self._teams_of_events()
        listed = "meta" in self.found.squads or "match" in self.found.squads
        ids = tuple(s.team_id for s in pairs[0])
        if ids[0] == ids[1]:
            self.problems.add(self.path, f"both teams with the id {ids[0]!r}", "two teams", "Correct the ids.")
            return None
        for pair in pairs[1:]:
            met = tuple(s.team_id for s in pair)
            if met != ids:
                turned = " (home and away are swapped)" if met == ids[::-1] else ""
                self.problems.add(
                    self.path, f"teams {met[0]!r} and {met[1]!r} in one file{turned}",
                    f"teams {ids[0]!r} and {ids[1]!r} in all", "Correct the files, or leave one out.",
                )  # fmt: skip
                return None
        made = []
        for side in (0, 1):
            squads = [pair[side] for pair in pairs]
            name = next((s.name or s.short_name for s in squads if s.name or s.short_name), ids[side])
            short = next((s.short_name for s in squads if s.short_name), "")
            players: dict[str, dict[str, Any]] = {}
            for squad in squads:
                for player_id, about in squad.players.items():
                    if player_id in players or squad is squads[0] or not listed:
                        players.setdefault(player_id, {}).update(about)
                    elif squad is not pairs[-1][side] or "tracking" not in self.found.squads:
                        players[player_id] = dict(about)
                    else:
                        self.problems.add(
                            self.files["tracking"], repr(player_id), f"a player of the squad of {ids[side]!r}",
                            "Add the player to the squad in meta.json.",
                        )  # fmt: skip
            made.append(self._team(ids[side], name, short, players))
        return made[0], made[1]

    def _team(self, team_id: str, name: str, short: str, players: dict[str, dict[str, Any]]) -> Team:
        return Team(
            team_id, name, short,
            tuple(
                Player(i, a.get("name") or i, team_id, a.get("shirt"), a.get("position", ""), a.get("starter", True))
                for i, a in players.items()
            ),
        )  # fmt: skip

    def _teams_of_events(self) -> tuple[Team, Team] | None:
        ids: list[str] = []
        players: dict[str, dict[str, dict[str, Any]]] = {}
        for row in self.rows or []:
            if row["team"] and row["team"] not in ids:
                ids.append(row["team"])
            if row["team"] and row["player"] and not any(row["player"] in p for p in players.values()):
                players.setdefault(row["team"], {})[row["player"]] = {}
        for row in self.rows or []:
            team, receiver = row.get("receiver_team") or "", row["receiver"]
            if team in ids and receiver and not any(receiver in p for p in players.values()):
                players.setdefault(team, {})[receiver] = {}
        if len(ids) != 2:
            self.problems.add(self.path, f"{len(ids)} teams in the events", "two teams",
                              "Put meta.json beside the events: it tells the teams.")  # fmt: skip
            return None
        self.note("no file that tells the home side", "meta.json",
                  f"{ids[0]!r}, which acts first, was taken for the home side; all players for starters.")  # fmt: skip
        made = [self._team(i, i, "", players.get(i, {})) for i in ids]
        return made[0], made[1]

    def _pitch(self) -> Pitch | None:
        length, width = self.found.pitch
        if length is None or width is None:
            self.note("no size of the pitch", "pitch_length and pitch_width in meta.json", "105 x 68 m was taken.")
            return Pitch()
        try:
            return Pitch(length, width)
        except TacticalKitError as error:
            self.problems.add(self.files["meta"], f"{length:g} x {width:g} m", "a pitch that Law 1 allows", str(error),
                              column="venue")  # fmt: skip
            return None

    def _periods(self, home: Team, away: Team) -> tuple[list[tuple[Period, int | None]], dict[int, int]]:
        """Periods with the direction in which the file says the home side plays in its coordinates."""
        given = {words.PERIOD_FROM[p.value["period"]]: p for p in self.found.periods}
        seen = set((self.rows and [r["period"] for r in self.rows]) or [])
        if self.frames is not None:
            seen |= set(np.unique(self.frames.period).tolist())
        numbers = sorted(given) if given else sorted(seen) or self.found.numbers
        strangers = sorted(seen - set(numbers))
        if strangers:
            met = ", ".join(PERIOD_NAMES[n] for n in strangers)
            self.problems.add(self.path, f"data of the {met}", "data of the periods in meta.json alone",
                              "Add the period to meta.json.")  # fmt: skip
            return [], {}
        made: list[tuple[Period, int | None]] = []
        starts: dict[int, int] = {}
        for number in numbers:
            fields = given.get(number)
            begin = fields.moment("start_time", None) if fields else None
            end = fields.moment("end_time", None) if fields else None
            stated, actual = self._directions(fields, home, away)
            first, last = self._span(number)
            start = _micro(begin) if begin is not None else first
            if begin is None and first is not None:
                self.note(f"no start of the {PERIOD_NAMES[number]}", "start_time in meta.json",
                          "Its first frame or event was taken for the kick-off.")  # fmt: skip
            if start is not None and end is not None:
                duration = (_micro(end) - start) / 1e6
            elif start is not None and last is not None and last > start:
                duration = (last - start) / 1e6
                self.note(f"no end of the {PERIOD_NAMES[number]}", "end_time in meta.json",
                          "Its last frame or event was taken for the whistle.")  # fmt: skip
            else:
                duration = _USUAL_S[number]
                self.note(f"no length of the {PERIOD_NAMES[number]}", "start_time and end_time in meta.json",
                          f"{duration:g} s was taken.")  # fmt: skip
            if duration <= 0:
                assert fields is not None
                fields.note("end_time", fields.value.get("end_time"), "an end after start_time")
                continue
            began = _EPOCH_UTC + timedelta(microseconds=start) if start is not None else None
            made.append((Period(number, duration, actual, began), stated))
            if start is not None:
                starts[number] = start
        return made, starts

    def _span(self, number: int) -> tuple[int | None, int | None]:
        """First and last microsecond of a period in frames and events."""
        times: list[int] = []
        if self.frames is not None and (self.frames.period == number).any():
            own = self.frames.micro[self.frames.period == number]
            times += [int(own[0]), int(own[-1]) + round(1e6 / (self.found.fps or 25))]
        times += [_micro(r["utc"]) for r in self.rows or [] if r["period"] == number]
        return (min(times), max(times)) if times else (None, None)

    def _directions(self, fields: Fields | None, home: Team, away: Team) -> tuple[int | None, int]:
        """Where the home side attacks in the coordinates (None: not told), and where it did on the pitch."""
        if fields is None:
            return None, 1
        word = fields.choice("play_direction", ("left_right", "right_left"), None)
        stated = {"left_right": 1, "right_left": -1}.get(word) if word else None
        left, right = (unsafe(fields.text(k, "")) for k in ("left_team_id", "right_team_id"))
        ids = (home.team_id, away.team_id)
        for key, value in (("left_team_id", left), ("right_team_id", right)):
            if value and value not in ids:
                fields.note(key, repr(value), f"{ids[0]!r} or {ids[1]!r}")
        if left and left == right:
            fields.note("right_team_id", repr(right), "the other side than left_team_id",
                        "Both teams cannot attack the same way.")  # fmt: skip
        if left or right:
            return stated, 1 if left == home.team_id or right == away.team_id else -1
        return stated, stated or 1

    # -- tracking and events --------------------------------------------------------------------------

    def _tracking(self, starts: dict[int, int]) -> Tracking | None:
        frames = self.frames
        if frames is None:
            return None
        offset = np.zeros(len(frames), np.int64)
        for number, start in starts.items():
            offset[frames.period == number] = start
        micro = frames.micro - offset
        same = (np.diff(frames.period) == 0) & (np.diff(micro) == 0)
        if same.any():
            if self.found.fps is None:
                self.problems.add(
                    self.files["tracking"], f"{int(same.sum())} frames with the time of the frame before",
                    "times that rise", "State fps in meta.json; then the frame ids tell the time.",
                )  # fmt: skip
                return None
            for number in np.unique(frames.period):
                own = frames.period == number
                ids = frames.frame_id[own]
                micro[own] = micro[own][0] + np.rint((ids - ids[0]) * (1e6 / self.found.fps)).astype(np.int64)
            self.problems.add(
                self.files["tracking"], f"{int(same.sum())} frames with the time of the frame before",
                "times that rise", "The frame ids and fps were taken for the time.", kind="warning",
            )  # fmt: skip
        rate = self._rate(frames, micro)
        if not frames.status_told:
            self.problems.add(self.files["tracking"], "no status of the ball", "ball.status in each frame",
                              "The ball was taken to be in play throughout.", kind="warning")  # fmt: skip
        try:
            return Tracking(
                rate, frames.period, micro / 1e6, tuple(frames.players), np.array(frames.team_index, np.int8),
                frames.xy, frames.ball, frames.alive, frames.owner,
            )  # fmt: skip
        except TacticalKitError as error:
            self.problems.add(self.files["tracking"], str(error), "frames in order", "Correct the file.")
            return None

    def _rate(self, frames: Frames, micro: np.ndarray) -> float:
        steps = np.diff(micro)[np.diff(frames.period) == 0]
        stated = self.found.fps
        if not len(steps):
            if stated is None:
                self.note("no frame rate", "tracking.fps in meta.json", "25 frames a second was taken.")
            return float(stated or 25)
        typical = float(np.median(steps))
        regular = steps[steps < 1.5 * typical]
        met = round(1e6 / float(regular.mean()), 3)
        if stated is not None and abs(met - stated) < 0.01 * stated:
            # A whole number is all that the standard can state: 29.97 shows in the times alone.
            return float(stated) if abs(met - stated) < 2e-4 * stated else met
        if stated is not None:
            self.note(f"{met:g} frames a second in the times of the frames", f"the {stated} that meta.json states",
                      "The times were taken.")  # fmt: skip
        return met

    def _events(
        self, starts: dict[int, int], teams: tuple[Team, Team], tracking: Tracking | None
    ) -> pd.DataFrame | None:
        if self.rows is None:
            if self.found.sheet and tracking is None:
                self.note("no events.jsonl", "events beside match.json", "Its cards and substitutions were left out.")
            return None
        self._pair_with_sheet()
        by_frame: dict[int, float] = {}
        if tracking is not None and self.frames is not None:
            by_frame = dict(zip(self.frames.frame_id.tolist(), tracking.time_s.tolist()))
        for row in self.rows:
            start = starts[row["period"]]
            row["time_s"] = (_micro(row["utc"]) - start) / 1e6
            if row["received"] is not None:
                row["end_s"] = (_micro(row["received"]) - start) / 1e6
            else:
                row["end_s"] = by_frame.get(row["frame_id_end"], np.nan)
        for column in ("utc", "received", "frame_id_end", "receiver_team"):
            for row in self.rows:
                row.pop(column, None)
        order = sorted(self.rows, key=lambda r: (r["period"], r["time_s"]))
        if any(a is not b for a, b in zip(order, self.rows)):
            self.problems.add(self.files["events"], "events out of the order of time", "events in the order of time",
                              "They were sorted.", kind="warning")  # fmt: skip
        return events_table(order)

    def _pair_with_sheet(self) -> None:
        """Fill in who was booked or substituted: the events do not say, match.json does."""
        assert self.rows is not None
        lost: Counter[str] = Counter()
        for kind, entries in self.found.sheet.items():
            open_rows = [r for r in self.rows if r["kind"] == kind]
            for entry in entries:
                fitting = [
                    r for r in open_rows
                    if r["period"] == entry["period"]
                    and abs((r["utc"] - entry["utc"]).total_seconds()) <= 1.0
                    and (kind != "card" or r["detail"] in ("", entry["detail"]))
                ]  # fmt: skip
                if not fitting:
                    if entry["utc"] is not None:
                        self.rows.append(
                            {"event_id": f"sheet-{kind}-{entries.index(entry) + 1}", "kind": kind, "detail": "",
                             "set_play": "", "receiver": "", "success": None, "outcome": "", "x": np.nan,
                             "y": np.nan, "end_x": np.nan, "end_y": np.nan, "body_part": "", "related": "",
                             "received": None, "frame_id_end": None, "receiver_team": "", **entry}
                        )  # fmt: skip
                    continue
                row = min(fitting, key=lambda r: abs(r["utc"] - entry["utc"]))
                open_rows = [r for r in open_rows if r is not row]
                row.update({k: v for k, v in entry.items() if k not in ("utc", "period")})
            lost[kind] += len(open_rows)
        for kind in ("card", "substitution"):
            unnamed = lost[kind] if kind in self.found.sheet else sum(r["kind"] == kind for r in self.rows)
            if unnamed:
                self.note(f"{unnamed} x {kind} without players", "the players in match.json", "Nobody is named there.")

    # -- frame of reference ---------------------------------------------------------------------------

    def _frame_of_reference(
        self,
        periods: list[tuple[Period, int | None]],
        events: pd.DataFrame | None,
        tracking: Tracking | None,
        pitch: Pitch,
        teams: tuple[Team, Team],
    ) -> tuple[Period, ...]:
        """Turn the coordinates of each period into the pitch frame; return the periods."""
        from tactical_kit.sources.content import infer_home_attacks

        made = []
        for period, stated in periods:
            shown = infer_home_attacks(events, tracking, period.number, pitch, teams)
            actual, name = period.home_attacks, period.name
            if stated is None:
                if period.number != 5 or shown:
                    self.note(f"no play_direction in the {name}", "play_direction in meta.json",
                              "It was told from where the keepers stand and shots are taken." if shown
                              else "The home side was taken to attack left to right.")  # fmt: skip
                in_file = shown or 1
                if not self._sides_told(period.number):
                    actual = in_file
            elif shown and shown != stated:
                self.note(f"coordinates in the {name} against its play_direction",
                          "the home side attacking as play_direction says",
                          "They were taken to be standardised, with the home side attacking left to right."
                          if shown == 1 else "What keepers and shots show was taken.")  # fmt: skip
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
                        events.loc[own, column] *= -1
            made.append(Period(period.number, period.duration_s, actual, period.start_utc))
        if tracking is not None:
            np.add(tracking.xy, np.float32(0), out=tracking.xy)  # no -0.0
        return tuple(made)

    def _sides_told(self, number: int) -> bool:
        for fields in self.found.periods:
            if fields.value.get("period") == words.PERIOD_TO[number]:
                return "left_team_id" in fields or "right_team_id" in fields
        return False

    def _contents(
        self,
        periods: tuple[Period, ...],
        pitch: Pitch,
        teams: tuple[Team, Team],
        events: pd.DataFrame | None,
        tracking: Tracking | None,
    ) -> None:
        from tactical_kit.sources.content import EventsOrigin, check_match_tables

        if events is not None and not len(events):
            events = None
        check_match_tables(
            self.problems, periods=periods, pitch=pitch, home=teams[0], away=teams[1], events=events,
            origin=EventsOrigin(self.files.get("events", "events")), tracking=tracking,
            tracking_file=self.files.get("tracking", "tracking"), stated_directions=False,
        )  # fmt: skip


def _micro(moment: datetime) -> int:
    return (moment - _EPOCH_UTC) // timedelta(microseconds=1)
