"""Reading meta.json and match.json of the Common Data Format."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from tactical_kit.sources import cdf_words as words
from tactical_kit.sources.cdf_frames import unsafe
from tactical_kit.sources.cdf_out import UNKNOWN
from tactical_kit.sources.fields import Fields
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.text import read_json_guarded

__all__ = ["Found", "Squad", "read_meta", "read_sheet"]


@dataclass
class Squad:
    """One side as a file lists it: what it says of each player by id."""

    team_id: str = ""
    name: str = ""
    short_name: str = ""
    players: dict[str, dict[str, Any]] = field(default_factory=dict)


@dataclass
class Found:
    """What the files say, before it is put together."""

    match_ids: dict[str, str] = field(default_factory=dict)
    squads: dict[str, tuple[Squad, Squad]] = field(default_factory=dict)
    periods: list[Fields] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    pitch: tuple[float | None, float | None] = (None, None)
    label: str = ""
    fps: int | None = None
    kickoff: datetime | None = None
    sheet: dict[str, list[dict[str, Any]]] = field(default_factory=dict)


def read_meta(path: Path, problems: Problems, found: Found) -> None:
    """Take teams, periods, pitch, source and frame rate from meta.json."""
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


def read_sheet(path: Path, problems: Problems, found: Found) -> None:
    """Take squads, cards and substitutions from match.json."""
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


def _read_squad(team: Fields) -> Squad:
    squad = Squad(unsafe(team.text("id") or ""), team.text("name", ""), team.text("short_name", ""))
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
