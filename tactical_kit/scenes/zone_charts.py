"""The pictures made of zones: where the ball gains ground, and where the player on the ball is pressed."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match
from tactical_kit.measures.pressure import PressureMap
from tactical_kit.measures.progression import ProgressionZones
from tactical_kit.pitch import CORRIDORS, ZoneGrid
from tactical_kit.scenes.chart_words import (
    attack_words,
    empty_message,
    hover_lines,
    side_of,
    signed,
    subtitle_words,
)
from tactical_kit.scenes.rows import rows_of
from tactical_kit.scenes.scene import Arrow, KeyItem, Label, Mark, Scene, Zone
from tactical_kit.scenes.style import LIGHT

__all__ = ["pressure_scene", "progression_scene"]


def progression_scene(
    progression: ProgressionZones,
    match: Match,
    ghost: ProgressionZones | None = None,
    most_flows: int = 10,
    least_flow: int = 2,
    few_below: int = 20,
    few_actions: int = 3,
    empty_because: str = "",
) -> Scene:
    """Draw where the ball gains ground: zones by metres gained, arrows from zone to zone, entries by corridor.

    Parameters
    ----------
    progression : ProgressionZones
        What `tactical_kit.measures.progression.progression_zones` added up.
    match : Match
        For names and words.
    ghost : ProgressionZones, optional
        Zones to compare with, as those of the whole match, in the same grid: each zone then says by how many
        percentage points its share of all ground gained is higher (▲) or lower (▼).
    most_flows : int, default 10
        At most so many arrows, the most frequent.
    least_flow : int, default 2
        Arrows stand for at least this many actions.
    few_below : int, default 20
        Fewer actions in all than this are called few (common practice, no source).
    few_actions : int, default 3
        Zones with fewer actions than this, but some, are hatched.
    empty_because : str
        Which condition left nothing.

    Returns
    -------
    Scene
        Keys of the zones are their names.  `value` of a zone: metres gained; of an arrow: actions; entries are
        labels on the limit of the final third and of the box.
    """
    side = side_of(match, progression.selection)
    _same_grid(progression.grid, None if ghost is None else ghost.grid)
    gained = progression.zones["gained_m"].to_numpy()
    top = _round_up(float(gained.max(initial=0.0)))
    shift = None if ghost is None else 100 * (_share(gained) - _share(ghost.zones["gained_m"].to_numpy()))
    flows = progression.flows[progression.flows["count"] >= least_flow].head(most_flows)
    ways = _ways(flows)
    marks: list[Mark] = []
    for i, row in enumerate(rows_of(progression.zones)):
        facts = {
            "gained": f"{row.gained_m:.0f} m by {row.actions} actions",
            "by pass": f"{row.gained_pass_m:.0f} m, {row.passes}",
            "by carry": f"{row.gained_carry_m:.0f} m, {row.carries}",
            "by long ball": f"{row.gained_long_m:.0f} m, {row.long_balls}",
            "a time": f"{row.mean_gain_m:.1f} m" if row.actions else "",
            "share of all, against the whole match": "" if shift is None else f"{shift[i]:+.1f} points",
        }
        note = _by_words(row) if shift is None else signed(shift[i])
        few = 0 < row.actions < few_actions
        x0, y0, x1, y1 = progression.grid.bounds(row.zone)
        room = y1 - y0  # wings of a narrow pitch hold no words; they are told on hover
        marks.append(
            Zone.rect(
                x0, y0, x1, y1, value=float(row.gained_m),
                # Light enough for arrows on top.
                shade=LIGHT * row.gained_m / top if row.actions and not few else None,
                label=f"{row.gained_m:.0f} m" if row.actions and room > 3.5 else "",
                note=note if row.actions and room > 7 else "", few=few,
                corner=_free_corner(ways, x0, y0, y1), key=row.name, picked=row.name in progression.selection.zones,
                hover=hover_lines(row.name, facts),
            )
        )  # fmt: skip
    widest = int(flows["count"].max()) if len(flows) else 0
    for row in reversed(rows_of(flows)):
        share = row.count / widest
        names = f"{progression.grid.name(row.from_zone)} → {progression.grid.name(row.to_zone)}"
        facts = {"actions": row.count, "gained": f"{row.gained_m:.0f} m"}
        marks.append(
            Arrow(
                row.x, row.y, row.end_x, row.end_y, width=0.8 + 2.4 * share, strength=0.4 + 0.6 * share,
                value=float(row.count), key=f"{row.from_zone}>{row.to_zone}", hover=hover_lines(names, facts),
            )
        )  # fmt: skip
    marks += _entry_labels(progression.entries, match)
    legend = []
    if progression.n:
        legend.append(KeyItem("ramp-light", f"ground gained from the zone, 0 to {top:.0f} m"))
        if widest:
            legend.append(KeyItem("pass", f"from zone to zone, widest {widest} actions"))
        if shift is None:
            legend.append(KeyItem("none", "“carry 60 %”: what gained most of it, and its share"))
        if len(progression.entries):
            legend.append(KeyItem("none", "“5 ▸” on a limit: entries to the final third, to the box, by corridor"))
        if any(m.few for m in marks if isinstance(m, Zone)):
            legend.append(KeyItem("few", f"few: under {few_actions} actions"))
        if shift is not None:
            legend.append(KeyItem("none", "▲▼ share of the ground gained, points against the whole match"))
    elsewhere = f"A long ball is a completed pass of {progression.params['long_ball_m']:g} m or more"
    return Scene(
        title=f"Where the ball gains ground, {match.teams[side].name if side is not None else 'both sides'}",
        subtitle=subtitle_words(match, progression.selection),
        marks=tuple(marks),
        pitch=match.pitch,
        attacking=attack_words(match, progression.selection),
        source=match.label,
        n=progression.n,
        n_of="actions that gain ground",
        few_below=few_below,
        caption=_joined(elsewhere if progression.n else "", progression.note),
        legend=tuple(legend),
        message="" if progression.n else empty_message("passes or carries that gain ground", empty_because),
    )


def pressure_scene(
    pressure: PressureMap,
    match: Match,
    ghost: PressureMap | None = None,
    few_seconds: float = 5.0,
    few_below_s: float = 30.0,
    empty_because: str = "",
) -> Scene:
    """Draw how hard the player on the ball is pressed, zone by zone; from events alone, defensive actions.

    Parameters
    ----------
    pressure : PressureMap
        What `tactical_kit.measures.pressure.pressure_map` found.
    match : Match
        For names and words.
    ghost : PressureMap, optional
        A map to compare with, as the one of the whole match, in the same grid: each zone then says by how many
        percentage points its mean pressure is higher (▲) or lower (▼).
    few_seconds : float, default 5
        Zones with less time on the ball than this are hatched and not shaded, s (common practice, no source).
    few_below_s : float, default 30
        Less time in all than this is called few, s.
    empty_because : str
        Which condition left nothing.

    Returns
    -------
    Scene
        Keys of the zones are their names; `value` is the mean pressure in %, or without tracking the number
        of defensive actions.
    """
    _same_grid(pressure.grid, None if ghost is None else ghost.grid)
    draw = _events_zones if pressure.estimated else _pressure_zones
    marks, legend = draw(pressure, ghost, few_seconds)
    side = side_of(match, pressure.selection)
    who = match.teams[side].name if side is not None else "both sides"
    if pressure.estimated:
        other = match.teams[1 - side].name if side is not None else "both sides"
        title = f"Defensive actions of {other if pressure.on_side else who} (estimate, no tracking)"
        n, n_of, least, what = pressure.n, "passes and defensive actions", 20, "passes or defensive actions"
    else:
        title = f"Pressure on {who}" if pressure.on_side else f"Pressure by {who}"
        n = round(pressure.seconds) if math.isfinite(pressure.seconds) else 0
        n_of, least, what = "seconds with a player on the ball", round(few_below_s), "time on the ball"
    mean = f"Mean {pressure.mean_pct:.0f} %" if math.isfinite(pressure.mean_pct) else ""
    reading = "" if pressure.estimated or not mean else f"{mean}; 100 %: one opponent at no distance; several add up"
    return Scene(
        title=title,
        subtitle=subtitle_words(match, pressure.selection),
        marks=tuple(marks),
        pitch=match.pitch,
        attacking=attack_words(match, pressure.selection),
        source=match.label,
        n=n,
        n_of=n_of,
        few_below=least,
        caption=_joined(reading, pressure.note),
        legend=tuple(legend) if pressure.n else (),
        message="" if pressure.n else empty_message(what, empty_because),
    )


def _pressure_zones(
    pressure: PressureMap, ghost: PressureMap | None, few_seconds: float
) -> tuple[list[Mark], list[KeyItem]]:
    enough = pressure.zones.loc[pressure.zones["seconds"] >= few_seconds, "pressure_pct"]
    values = [*enough, *(ghost.zones.loc[ghost.zones["seconds"] >= few_seconds, "pressure_pct"] if ghost else ())]
    top = max(20.0, 10 * math.ceil(max((v for v in values if v == v), default=0) / 10))
    wide = _wide(pressure.grid)
    marks: list[Mark] = []
    before = ghost.zones["pressure_pct"].to_numpy() if ghost is not None else None
    for i, row in enumerate(rows_of(pressure.zones)):
        known = math.isfinite(row.pressure_pct)
        few = row.seconds < few_seconds
        shift = row.pressure_pct - before[i] if before is not None else math.nan
        facts = {
            "mean pressure": f"{row.pressure_pct:.0f} %" if known else "unknown",
            "time on the ball": f"{row.seconds:.1f} s" + (", few" if few else ""),
            "against the whole match": f"{shift:+.0f} points" if math.isfinite(shift) else "",
            "passes": row.passes,
            "defensive actions": row.defensive_actions,
        }
        note = ""
        if wide and row.seconds:  # a tenth keeps 4.8 s, called few, from reading as the limit
            note = f"{row.seconds:.1f} s" if few else f"{row.seconds:.0f} s"
        if ghost is not None:
            note = signed(shift) if math.isfinite(shift) and not few else ""
        marks.append(
            Zone.rect(
                *pressure.grid.bounds(row.zone), value=float(row.pressure_pct),
                shade=row.pressure_pct / top if known and not few else None,
                label=f"{row.pressure_pct:.0f}{' %' if wide else ''}" if known and not few else "",
                note=note if known else "", few=few and row.seconds > 0, key=row.name,
                picked=row.name in pressure.selection.zones, hover=hover_lines(row.name, facts),
            )
        )  # fmt: skip
    legend = [KeyItem("ramp", f"mean pressure, 0 to {top:.0f} %")]
    if any(m.few for m in marks if isinstance(m, Zone)):
        legend.append(KeyItem("few", f"few: under {few_seconds:g} s on the ball"))
    if ghost is not None:
        legend.append(KeyItem("none", "▲▼ points against the whole match"))
    return marks, legend


def _events_zones(
    pressure: PressureMap, ghost: PressureMap | None, _few_seconds: float
) -> tuple[list[Mark], list[KeyItem]]:
    actions = pressure.zones["defensive_actions"].to_numpy(float)
    top = _round_up(float(actions.max(initial=0)))
    shift = None
    if ghost is not None:
        shift = 100 * (_share(actions) - _share(ghost.zones["defensive_actions"].to_numpy(float)))
    wide = _wide(pressure.grid)
    marks: list[Mark] = []
    for i, row in enumerate(rows_of(pressure.zones)):
        ratio = f"{row.passes_per_action:.1f}" if row.defensive_actions else "none"
        facts = {
            "defensive actions": row.defensive_actions,
            "passes of the side with the ball": row.passes,
            "passes for each action": ratio,
            "share, against the whole match": "" if shift is None else f"{shift[i]:+.1f} points",
        }
        note = f"{row.passes} pass" + ("es" if row.passes > 1 else "") if wide and row.passes else ""
        if shift is not None:
            note = signed(shift[i])
        some = row.defensive_actions > 0
        marks.append(
            Zone.rect(
                *pressure.grid.bounds(row.zone), value=float(row.defensive_actions),
                shade=row.defensive_actions / top if some else None, label=str(row.defensive_actions) if some else "",
                note=note if some or wide else "", key=row.name, picked=row.name in pressure.selection.zones,
                hover=hover_lines(row.name, facts),
            )
        )  # fmt: skip
    legend = [KeyItem("ramp", f"defensive actions, 0 to {top:.0f}")]
    if shift is not None:
        legend.append(KeyItem("none", "▲▼ share of all actions, points against the whole match"))
    return marks, legend


# -- small helpers ------------------------------------------------------------------------------------


def _entry_labels(entries: pd.DataFrame, match: Match) -> list[Mark]:
    """A number for each corridor on the limit of the final third and of the box."""
    pitch = match.pitch
    limit = {"final third": float(pitch.third_edges[2]), "box": pitch.penalty_area_x}
    middle = (pitch.corridor_edges[:-1] + pitch.corridor_edges[1:]) / 2
    marks: list[Mark] = []
    for (entry, corridor), part in entries.groupby(["entry", "corridor"], sort=True):
        count = int(part["count"].sum())
        shift = -0.6 if entry == "final third" else 0.6  # clear of the words in the zones' corners
        by = ", ".join(f"{row.by} {row.count}" for row in rows_of(part))
        y = float(middle[CORRIDORS.index(corridor)])
        marks.append(
            Label(
                limit[entry] + shift, y, f"{count} ▸", align="right" if shift < 0 else "left", bold=True,
                chip=True, key=f"{entry}, {corridor}", hover=f"entries to the {entry}, {corridor}: {by}",
            )
        )  # fmt: skip
    return marks


def _ways(flows: pd.DataFrame) -> np.ndarray:
    """Points along each arrow, (N, 2) m, close enough that none jumps over words; tips count thrice."""
    start, end = (flows[list(names)].to_numpy(float) for names in (("x", "y"), ("end_x", "end_y")))
    along = np.concatenate([np.linspace(0, 1, 41), [1.0, 1.0]])[:, None, None]
    return (start + along * (end - start)).reshape(-1, 2)


def _free_corner(ways: np.ndarray, x0: float, y0: float, y1: float) -> str:
    """The left corner of a zone whose words hide less of the arrows; the upper one where it makes no difference."""
    words_m = (13.0, 7.0)  # width and height of the words in print, where they are largest against the pitch
    inside = (ways[:, 0] >= x0) & (ways[:, 0] <= x0 + words_m[0])
    y = ways[inside, 1]
    upper = ((y <= y1) & (y >= y1 - words_m[1])).sum()
    lower = ((y >= y0) & (y <= y0 + words_m[1])).sum()
    return "lower" if lower < upper else "upper"


def _by_words(row: Any) -> str:
    """The means that gained most, with its share."""
    parts = {"pass": row.gained_pass_m, "carry": row.gained_carry_m, "long ball": row.gained_long_m}
    best = max(parts, key=lambda name: parts[name])
    return f"{best} {100 * parts[best] / row.gained_m:.0f} %" if row.gained_m > 0 else ""


def _share(values: np.ndarray) -> np.ndarray:
    total = values.sum()
    return values / total if total > 0 else np.zeros(len(values))


def _round_up(value: float) -> float:
    """The next round number, the end of a scale: 1, 1.5, 2, 3, 4, 5, 6, 8 times a power of ten."""
    if value <= 0:
        return 1.0
    power = 10 ** math.floor(math.log10(value))
    return float(next(step * power for step in (1, 1.5, 2, 3, 4, 5, 6, 8, 10) if value <= step * power))


def _wide(grid: ZoneGrid) -> bool:
    """Whether the zones hold a unit and a second line."""
    return min(np.diff(grid.x_edges)) >= 10 and min(np.diff(grid.y_edges)) >= 8.5


def _same_grid(grid: ZoneGrid, other: ZoneGrid | None) -> None:
    if other is not None and other != grid:
        raise TacticalKitError(
            f"the zones compared differ: a grid of {grid.shape} and one of {other.shape}; use one grid."
        )


def _joined(*parts: str) -> str:
    return ". ".join(p[:1].upper() + p[1:] for p in parts if p)
