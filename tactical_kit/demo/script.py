"""The tactical script of a match: sides, players, shapes, plans and substitutions, read from a TOML file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tactical_kit.errors import TacticalKitError, suggest

from . import _layout as L

__all__ = ["Script", "ScriptError", "ScriptPlayer", "ScriptTeam", "default_script_path", "load_football", "load_script"]

QUALITIES = (
    "pace",
    "acceleration",
    "passing",
    "control",
    "dribbling",
    "tackling",
    "air",
    "shooting",
    "keeping",
    "stamina",
)
PAR_DEFAULTS: dict[str, float] = {
    "press_high_share": 0.4,
    "man_oriented": 0.0,
    "mid_line_m": 38.0,
    "low_line_m": 17.0,
    "high_line_m": 48.0,
    "block_length_m": 25.0,
    "block_width_m": 40.0,
    "engagement_m": 0.0,
    "low_spell": 0.0,
    "counter_press": 0.5,
    "counter_attack": 0.5,
    "tempo": 1.0,
    "long_ball_share": 0.4,
    "risk": 0.5,
    "width_m": 62.0,
    "switch_appetite": 0.8,
    "trap_appetite": 0.3,
    "cue_back_pass": 0.5,
    "cue_keeper": 0.6,
    "cue_full_back": 0.35,
    "cue_poor_touch": 0.5,
    "cue_facing_own_goal": 0.3,
    "carry_out": 0.25,
    "combination": 0.4,
    "goal_kick_short": 0.6,
    "corner_short": 0.15,
    "corner_near": 0.5,
    "man_at_corners": 0.4,
    "cross_appetite": 1.0,
    "run_appetite": 1.0,
    "shot_appetite": 1.0,
    "build_until_m": -14.0,
    "cover_men": -6.0,
    "time_wasting": 0.0,
}
PAR_LIMITS: dict[str, tuple[float, float]] = {
    "mid_line_m": (25.0, 48.0),
    "low_line_m": (8.0, 28.0),
    "high_line_m": (36.0, 56.0),
    "block_length_m": (15.0, 40.0),
    "block_width_m": (25.0, 60.0),
    "engagement_m": (-30.0, 40.0),
    "tempo": (0.5, 1.6),
    "width_m": (40.0, 66.0),
    "build_until_m": (-35.0, 0.0),
    "cover_men": (-52.5, 52.5),
    "switch_appetite": (0.0, 4.0),
    "cross_appetite": (0.0, 4.0),
    "run_appetite": (0.0, 4.0),
    "shot_appetite": (0.2, 4.0),
    "time_wasting": (0.0, 2.0),
}
SHAPE_KEYS = ("build", "attack", "block")


class ScriptError(TacticalKitError):
    """The story file cannot be played; the message lists every fault found."""


@dataclass(frozen=True)
class ScriptPlayer:
    """One player of the story; ``slot`` is empty for a substitute. Qualities run from 0 to 1."""

    player_id: str
    name: str
    shirt: int | None
    position: str
    slot: str
    qualities: dict[str, float]


@dataclass(frozen=True)
class ScriptTeam:
    """One side of the story: players, plan by minute, substitutions."""

    team_id: str
    name: str
    short_name: str
    colour: str
    players: tuple[ScriptPlayer, ...]
    plan: tuple[dict[str, Any], ...]
    substitutions: tuple[dict[str, Any], ...]

    @property
    def starters(self) -> tuple[ScriptPlayer, ...]:
        """The eleven who start, keeper first."""
        eleven = [p for p in self.players if p.slot]
        return tuple(sorted(eleven, key=lambda p: p.slot != "GK"))


@dataclass(frozen=True)
class Script:
    """A whole story. Build one with `load_script`; change a copy of its ``source`` and load again."""

    title: str
    label: str
    match_id: str
    date: str
    half_s: float
    added_first_s: tuple[float, float]
    added_second_s: tuple[float, float]
    home: ScriptTeam
    away: ScriptTeam
    shapes: dict[str, dict[str, tuple[float, float]]]
    football: dict[str, float]
    source: dict[str, Any] = field(repr=False)


def default_script_path() -> Path:
    """The story that ships with the kit."""
    return Path(__file__).with_name("story_lanterns.toml")


def load_football() -> dict[str, float]:
    """How the game goes in every story that says nothing else: the numbers of ``football.toml``."""
    text = Path(__file__).with_name("football.toml").read_text(encoding="utf-8")
    return {key: float(value) for key, value in tomllib.loads(text).items()}


def load_script(story: str | Path | dict[str, Any] | None = None) -> Script:
    """Read a story and check all of it.

    Parameters
    ----------
    story : path, dict or None
        A TOML file, its content as nested dicts (as ``Script.source`` holds it), or None for the kit's own story.

    Returns
    -------
    Script

    Raises
    ------
    ScriptError
        With every fault of the story, one a line.
    """
    where = "story"
    if isinstance(story, dict):
        data = story
    else:
        path = Path(story) if story is not None else default_script_path()
        where = path.name
        try:
            data = tomllib.loads(path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            raise ScriptError(
                f"No story file at {path}. Give the path of a TOML file, or nothing for the kit's own story."
            ) from None
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise ScriptError(f"{where} is not readable as TOML: {error}. Mend that line and load it again.") from None
    faults: list[str] = []
    shapes = _read_shapes(data.get("shapes"), faults)
    football = _read_football(data.get("football", {}), faults)
    clock = data.get("time", {})
    half = _number(clock, "half_min", 45.0, (1.0, 60.0), "time", faults)
    first = _pair(clock, "added_first_s", (60.0, 180.0), faults)
    second = _pair(clock, "added_second_s", (180.0, 330.0), faults)
    teams = {side: _read_team(side, data.get(side), shapes, faults) for side in ("home", "away")}
    ids = [p.player_id for team in teams.values() if team for p in team.players]
    for twice in sorted({i for i in ids if ids.count(i) > 1}):
        faults.append(f"player id {twice!r} is used {ids.count(twice)} times; give every player his own id")
    if teams["home"] and teams["away"] and teams["home"].team_id == teams["away"].team_id:
        faults.append(f"both sides have team_id {teams['home'].team_id!r}; they must differ")
    if faults:
        many = f"{len(faults)} fault{'s' if len(faults) > 1 else ''}"
        raise ScriptError(f"{where} has {many}:\n" + "\n".join(f"- {f}" for f in faults))
    home, away = teams["home"], teams["away"]
    assert home is not None and away is not None
    return Script(
        title=str(data.get("title", f"{home.name} v {away.name}")),
        label=str(data.get("label", "invented demonstration data")),
        match_id=str(data.get("match_id", "demo")),
        date=str(data.get("date", "")),
        half_s=half * 60.0,
        added_first_s=first,
        added_second_s=second,
        home=home,
        away=away,
        shapes=shapes,
        football=football,
        source=data,
    )


def _number(
    table: dict[str, Any], key: str, default: float, limits: tuple[float, float], where: str, faults: list[str]
) -> float:
    value = table.get(key, default)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        faults.append(f"{where}: {key} is {value!r}; expected a number from {limits[0]:g} to {limits[1]:g}")
        return default
    if not limits[0] <= value <= limits[1]:
        faults.append(f"{where}: {key} is {value:g}; expected {limits[0]:g} to {limits[1]:g}")
        return default
    return float(value)


def _pair(table: dict[str, Any], key: str, default: tuple[float, float], faults: list[str]) -> tuple[float, float]:
    value = table.get(key, list(default))
    good = (
        isinstance(value, list)
        and len(value) == 2
        and all(isinstance(v, (int, float)) for v in value)
        and 0 <= value[0] <= value[1] <= 900
    )
    if not good:
        faults.append(f"time: {key} is {value!r}; expected [least, most] seconds, 0 to 900")
        return default
    return float(value[0]), float(value[1])


def _read_shapes(table: Any, faults: list[str]) -> dict[str, dict[str, tuple[float, float]]]:
    shapes: dict[str, dict[str, tuple[float, float]]] = {}
    if not isinstance(table, dict) or not table:
        faults.append("no [shapes]; give at least one shape with [depth, side] for eleven slots")
        return shapes
    for name, spots in table.items():
        if not isinstance(spots, dict):
            faults.append(f"shape {name!r} is {spots!r}; expected a table of slots")
            continue
        read: dict[str, tuple[float, float]] = {}
        for slot, spot in spots.items():
            good = (
                isinstance(spot, list)
                and len(spot) == 2
                and all(isinstance(v, (int, float)) for v in spot)
                and 0 <= spot[0] <= 1
                and -1 <= spot[1] <= 1
            )
            if not good:
                faults.append(f"shape {name!r}: {slot} is {spot!r}; expected [depth 0..1, side -1..1]")
                continue
            read[slot] = (float(spot[0]), float(spot[1]))
        if len(spots) != 11 or "GK" not in spots:
            faults.append(f"shape {name!r} has {len(spots)} slots; expected eleven, one of them GK")
        shapes[name] = read
    return shapes


def _read_football(table: Any, faults: list[str]) -> dict[str, float]:
    if not isinstance(table, dict):
        faults.append(f"[football] is {table!r}; expected a table of numbers")
        return {}
    usual = load_football()
    read: dict[str, float] = {}
    for key in table:
        if key not in usual:
            faults.append(f"[football]: unknown key {key!r}.{suggest(key, usual)}")
        else:
            read[key] = _number(table, key, usual[key], (0.0, 20.0), "[football]", faults)
    return read


def _read_team(
    side: str, table: Any, shapes: dict[str, dict[str, tuple[float, float]]], faults: list[str]
) -> ScriptTeam | None:
    if not isinstance(table, dict):
        faults.append(f"no [{side}]; expected a side with players and a plan")
        return None
    for key in ("team_id", "name"):
        if not str(table.get(key, "")).strip():
            faults.append(f"{side}: no {key}")
    players: list[ScriptPlayer] = []
    for number, row in enumerate(table.get("players", []), start=1):
        where = f"{side}: player {row.get('id', number)!r}"
        if not str(row.get("id", "")).strip() or not str(row.get("name", "")).strip():
            faults.append(f"{where} needs both an id and a name")
        known = {"id", "name", "shirt", "position", "slot", *QUALITIES}
        for key in row:
            if key not in known:
                faults.append(f"{where}: unknown key {key!r}.{suggest(key, known)}")
        qualities = {q: _number(row, q, 0.65, (0.0, 1.0), where, faults) for q in QUALITIES}
        shirt = row.get("shirt")
        players.append(
            ScriptPlayer(
                str(row.get("id", f"{side}{number}")),
                str(row.get("name", "")),
                int(shirt) if isinstance(shirt, int) else None,
                str(row.get("position", "")),
                str(row.get("slot", "")),
                qualities,
            )
        )
    slots = [p.slot for p in players if p.slot]
    if len(slots) != 11:
        faults.append(f"{side}: {len(slots)} players have a slot; expected eleven starters")
    for twice in sorted({s for s in slots if slots.count(s) > 1}):
        faults.append(f"{side}: slot {twice!r} is given to {slots.count(twice)} players")
    plan = _read_plan(side, table.get("plan", []), shapes, set(slots), faults)
    subs = _read_substitutions(side, table.get("substitutions", []), players, faults)
    return ScriptTeam(
        str(table.get("team_id", side)),
        str(table.get("name", side)),
        str(table.get("short_name", table.get("name", side))),
        str(table.get("colour", "")),
        tuple(players),
        tuple(plan),
        tuple(subs),
    )


def _read_plan(
    side: str, rows: Any, shapes: dict[str, dict[str, tuple[float, float]]], slots: set[str], faults: list[str]
) -> list[dict[str, Any]]:
    plan: list[dict[str, Any]] = []
    known = {"minute", "note", *SHAPE_KEYS, *L.PAR_NAMES}
    if not rows or rows[0].get("minute") != 0:
        faults.append(f"{side}: the plan must begin with an entry of minute = 0")
    for row in rows:
        minute = row.get("minute")
        where = f"{side}: plan of minute {minute!r}"
        entry = {"minute": _number(row, "minute", 0.0, (0.0, 130.0), where, faults), "note": str(row.get("note", ""))}
        for key, value in row.items():
            if key not in known:
                faults.append(f"{where}: unknown key {key!r}.{suggest(key, known)}")
            elif key in SHAPE_KEYS:
                if value not in shapes:
                    faults.append(
                        f"{where}: {key} is {value!r}, which is no shape of [shapes].{suggest(str(value), shapes)}"
                    )
                else:
                    missing = sorted(slots - set(shapes[value]))
                    if missing:
                        faults.append(f"{where}: shape {value!r} has no place for {', '.join(missing)}")
                    entry[key] = value
            elif key in L.PAR_NAMES:
                entry[key] = _number(row, key, PAR_DEFAULTS[key], PAR_LIMITS.get(key, (0.0, 1.0)), where, faults)
        plan.append(entry)
    if plan:
        for key in SHAPE_KEYS:
            if key not in plan[0] and key not in rows[0]:
                faults.append(f"{side}: plan of minute 0 names no {key} shape")
    return sorted(plan, key=lambda e: e["minute"])


def _read_substitutions(side: str, rows: Any, players: list[ScriptPlayer], faults: list[str]) -> list[dict[str, Any]]:
    on_pitch = {p.player_id for p in players if p.slot}
    bench = {p.player_id for p in players if not p.slot}
    subs = []
    for row in sorted(rows, key=lambda r: r.get("minute", 0)):
        where = f"{side}: substitution of minute {row.get('minute')!r}"
        minute = _number(row, "minute", 60.0, (0.0, 130.0), where, faults)
        off, on = str(row.get("off", "")), str(row.get("on", ""))
        if off not in on_pitch:
            faults.append(f"{where}: {off!r} goes off but is not on the pitch then.{suggest(off, on_pitch)}")
        if on not in bench:
            faults.append(f"{where}: {on!r} comes on but is not on the bench then.{suggest(on, bench)}")
        if off in on_pitch and on in bench:
            on_pitch = (on_pitch - {off}) | {on}
            bench = bench - {on}
        subs.append({"minute": minute, "off": off, "on": on})
    return subs
