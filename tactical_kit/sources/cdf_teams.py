"""Who played, where and when: teams, pitch and periods from whichever Common Data Format files are there."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import PERIOD_NAMES, Period, Player, Team
from tactical_kit.pitch import Pitch
from tactical_kit.sources import cdf_words as words
from tactical_kit.sources.cdf_frames import Frames, unsafe
from tactical_kit.sources.cdf_sheets import Found
from tactical_kit.sources.fields import Fields
from tactical_kit.sources.problems import Problems

__all__ = ["Held", "check_same_match", "micro_of", "periods_of", "pitch_of", "teams_of"]

_USUAL_S = {1: 2700.0, 2: 2700.0, 3: 900.0, 4: 900.0, 5: 600.0}
_LONGEST_S = 36_000.0
_EPOCH_UTC = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass
class Held:
    """What the files hold, and where problems go."""

    path: Path
    files: dict[str, Path]
    found: Found
    rows: list[dict[str, Any]] | None
    frames: Frames | None
    problems: Problems
    before: int = 0  # errors noted before these files
    lost: list[int] = field(default_factory=list)  # lines of the events that could not be read
    order: list[tuple[int, set[str]]] = field(default_factory=list)  # of each event its line and its faulty cells

    def note(self, met: str, expected: str, mend: str) -> None:
        """Note something that is missing or assumed; nothing if there are errors, from which it may follow."""
        if not self.failed:
            self.problems.add(self.path, met, expected, mend, kind="warning")

    @property
    def failed(self) -> bool:
        """True if an error was noted."""
        return len(self.problems.errors) > self.before

    def faulty(self, kind: str, *places: str) -> bool:
        """Tell whether an error was noted in a file ("meta", "match"), under one of these keys if some are given."""
        if kind not in self.files:
            return False
        met = [p.column for p in self.problems.errors if p.file == self.files[kind].name]
        return any(not places or column.startswith(places) or not column for column in met)

    @property
    def squads_faulty(self) -> bool:
        """True if somebody of a squad could not be read: then nobody is missed in it."""
        met = [p.column for p in self.problems.errors for k in ("meta", "match") if p.file == self._name(k)]
        lost = re.compile(r"|teams(\.(home|away)(\.id|\.players(\[\d+\](\.id)?)?)?)?")
        return any(lost.fullmatch(column) for column in met) or (
            not {"meta", "match"} & self.found.squads.keys() and self.faulty("tracking", "teams")
        )

    def _name(self, kind: str) -> str:
        return self.files[kind].name if kind in self.files else ""


def check_same_match(held: Held) -> None:
    """Files of different matches are refused; another id alone, with the same teams, is noted."""
    ids = {kind: i for kind, i in held.found.match_ids.items() if i}
    first = next(iter(ids), None)
    if first is None:
        return
    known = _team_ids_of(held, first)
    for kind, value in ids.items():
        if value == ids[first]:
            continue
        others = _team_ids_of(held, kind)
        name = held.files[kind].name
        if known and others and not others <= known:
            held.problems.add(
                name,
                f"match {value!r} of {' and '.join(sorted(others))}",
                f"match {ids[first]!r} of {' and '.join(sorted(known))} as in {held.files[first].name}",
                "These files are of different matches; put each match in a folder of its own.",
            )
            _drop(held, kind)
        else:
            held.problems.add(
                name,
                f"match {value!r}",
                f"match {ids[first]!r} as in {held.files[first].name}",
                "The teams are the same, so they were read as one match.",
                kind="warning",
            )


def _drop(held: Held, kind: str) -> None:
    """Leave out a file that does not belong to the others, which was said."""
    held.found.squads.pop(kind, None)
    if kind == "events":
        held.rows = None
    elif kind == "tracking":
        held.frames = None


def _team_ids_of(held: Held, kind: str) -> set[str]:
    if kind == "events":
        return {r["team"] for r in held.rows or [] if r["team"]}
    return {s.team_id for s in held.found.squads.get(kind, ())}


def teams_of(held: Held) -> tuple[Team, Team] | None:
    """Home and away side with their squads, from all files together."""
    kinds = [k for k in ("meta", "match", "tracking") if k in held.found.squads]
    kinds = [k for k in kinds if all(s.team_id for s in held.found.squads[k])]  # a missing id was said
    pairs = [held.found.squads[k] for k in kinds]
    if not pairs:
        return _teams_of_events(held)
    listed = "meta" in held.found.squads or "match" in held.found.squads
    ids = tuple(s.team_id for s in pairs[0])
    if ids[0] == ids[1]:
        held.problems.add(held.path, f"both teams with the id {ids[0]!r}", "two teams", "Correct the ids.")
        return None
    for kind, pair in list(zip(kinds, pairs))[1:]:
        met = tuple(s.team_id for s in pair)
        if met != ids:
            turned = " (home and away are swapped)" if met == ids[::-1] else ""
            held.problems.add(
                held.path,
                f"teams {met[0]!r} and {met[1]!r} in one file{turned}",
                f"teams {ids[0]!r} and {ids[1]!r} in all",
                "Correct the files, or leave one out.",
            )
            pairs.remove(pair)
            _drop(held, kind)
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
                elif squad is not pairs[-1][side] or "tracking" not in held.found.squads or held.squads_faulty:
                    players[player_id] = dict(about)
                else:
                    held.problems.add(
                        held.files["tracking"],
                        repr(player_id),
                        f"a player of the squad of {ids[side]!r}",
                        "Add the player to the squad in meta.json.",
                    )
        made.append(_team(ids[side], name, short, players))
    return made[0], made[1]


def _team(team_id: str, name: str, short: str, players: dict[str, dict[str, Any]]) -> Team:
    return Team(
        team_id,
        name,
        short,
        tuple(
            Player(i, a.get("name") or i, team_id, a.get("shirt"), a.get("position", ""), a.get("starter", True))
            for i, a in players.items()
        ),
    )


def _teams_of_events(held: Held) -> tuple[Team, Team] | None:
    ids: list[str] = []
    players: dict[str, dict[str, dict[str, Any]]] = {}
    for row in held.rows or []:
        if row["team"] and row["team"] not in ids:
            ids.append(row["team"])
        if row["team"] and row["player"] and not any(row["player"] in p for p in players.values()):
            players.setdefault(row["team"], {})[row["player"]] = {}
    for row in held.rows or []:
        team, receiver = row.get("receiver_team") or "", row["receiver"]
        if team in ids and receiver and not any(receiver in p for p in players.values()):
            players.setdefault(team, {})[receiver] = {}
    if len(ids) != 2 and (held.failed or held.lost):
        return None  # the others may be among what could not be read
    if len(ids) != 2:
        held.problems.add(
            held.path,
            f"{len(ids)} teams in the events",
            "two teams",
            "Put meta.json beside the events: it tells the teams.",
        )
        return None
    held.note(
        "no file that tells the home side",
        "meta.json",
        f"{ids[0]!r}, which acts first, was taken for the home side; all players for starters.",
    )
    made = [_team(i, i, "", players.get(i, {})) for i in ids]
    return made[0], made[1]


def pitch_of(held: Held) -> Pitch | None:
    """The pitch; 105 x 68 m, with a note, where no file tells its size."""
    length, width = held.found.pitch
    if length is None or width is None:
        held.note("no size of the pitch", "pitch_length and pitch_width in meta.json", "105 x 68 m was taken.")
        return Pitch()
    try:
        return Pitch(length, width)
    except TacticalKitError as error:
        held.problems.add(
            held.files["meta"], f"{length:g} x {width:g} m", "a pitch that Law 1 allows", str(error), column="venue"
        )
        return None


def periods_of(held: Held, home: Team, away: Team) -> tuple[list[tuple[Period, int | None]], dict[int, int]]:
    """Periods with the direction in which the file says the home side plays in its coordinates."""
    given = {words.PERIOD_FROM[p.value["period"]]: p for p in held.found.periods}
    seen: set[int] = {r["period"] for r in held.rows or []}
    if held.frames is not None:
        seen |= set(np.unique(held.frames.period).tolist())
    numbers = sorted(given) if given else sorted(seen) or held.found.numbers
    strangers = sorted(seen - set(numbers))
    if strangers and held.faulty("meta", "match.periods"):
        numbers = sorted({*numbers, *seen})
    elif strangers:
        met = ", ".join(PERIOD_NAMES[n] for n in strangers)
        held.problems.add(
            held.path, f"data of the {met}", "data of the periods in meta.json alone", "Add the period to meta.json."
        )
        numbers = sorted({*numbers, *seen})
    made: list[tuple[Period, int | None]] = []
    starts: dict[int, int] = {}
    for number in numbers:
        fields = given.get(number)
        begin = fields.moment("start_time", None) if fields else None
        end = fields.moment("end_time", None) if fields else None
        stated, actual = _directions(held, fields, home, away)
        first, last = _span(held, number)
        start = micro_of(begin) if begin is not None else first
        if begin is None and first is not None:
            held.note(
                f"no start of the {PERIOD_NAMES[number]}",
                "start_time in meta.json",
                "Its first frame or event was taken for the kick-off.",
            )
        if start is not None and end is not None:
            duration = (micro_of(end) - start) / 1e6
        elif start is not None and last is not None and last > start:
            duration = (last - start) / 1e6
            held.note(
                f"no end of the {PERIOD_NAMES[number]}",
                "end_time in meta.json",
                "Its last frame or event was taken for the whistle.",
            )
        else:
            duration = _USUAL_S[number]
            held.note(
                f"no length of the {PERIOD_NAMES[number]}",
                "start_time and end_time in meta.json",
                f"{duration:g} s was taken.",
            )
        if duration <= 0:
            assert fields is not None
            fields.note("end_time", fields.value.get("end_time"), "an end after start_time")
        if number in strangers or (fields is not None and held.faulty("meta", "match.periods")):
            duration = _LONGEST_S  # not known: what is wrong was said
        began = _EPOCH_UTC + timedelta(microseconds=start) if start is not None else None
        made.append((Period(number, duration, actual, began), stated))
        if start is not None:
            starts[number] = start
    return made, starts


def _span(held: Held, number: int) -> tuple[int | None, int | None]:
    """First and last microsecond of a period in frames and events."""
    times: list[int] = []
    if held.frames is not None and (held.frames.period == number).any():
        own = held.frames.micro[held.frames.period == number]
        times += [int(own[0]), int(own[-1]) + round(1e6 / (held.found.fps or 25))]
    times += [micro_of(r["utc"]) for r in held.rows or [] if r["period"] == number]
    return (min(times), max(times)) if times else (None, None)


def _directions(held: Held, fields: Fields | None, home: Team, away: Team) -> tuple[int | None, int]:
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
        fields.note(
            "right_team_id", repr(right), "the other side than left_team_id", "Both teams cannot attack the same way."
        )
    if left or right:
        return stated, 1 if left == home.team_id or right == away.team_id else -1
    return stated, stated or 1


def micro_of(moment: datetime) -> int:
    """Whole microseconds since 1970."""
    return (moment - _EPOCH_UTC) // timedelta(microseconds=1)
