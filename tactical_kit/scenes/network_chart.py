"""The picture of a pass network: who played with whom, from where."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from tactical_kit.match import Match
from tactical_kit.measures.pass_network import PassNetwork
from tactical_kit.scenes.chart_words import (
    attack_words,
    disc_label,
    empty_message,
    hover_lines,
    short_name,
    side_key,
    subtitle_words,
)
from tactical_kit.scenes.names import place_names
from tactical_kit.scenes.rows import rows_of
from tactical_kit.scenes.scene import Arrow, Disc, KeyItem, Line, Mark, Scene

__all__ = ["network_scene"]


def network_scene(
    network: PassNetwork,
    match: Match,
    ghost: PassNetwork | None = None,
    names: bool = True,
    few_below: int = 30,
    empty_because: str = "",
    lane_gap_m: float = 0.7,
) -> Scene:
    """Draw a pass network: discs at the players' mean places, arrows for the passes between them.

    Parameters
    ----------
    network : PassNetwork
        What `tactical_kit.measures.pass_network.pass_network` counted.
    match : Match
        For names and words.
    ghost : PassNetwork, optional
        A network to compare with, as the one of the whole match: hollow discs at the old places, joined to
        the new ones by a dotted line.
    names : bool, default True
        Write the last word of each name beside the disc, where there is room.
    few_below : int, default 30
        Fewer passes than this are called few (common practice, no source).
    empty_because : str
        Which condition left nothing; stands across the empty pitch.
    lane_gap_m : float, default 0.7
        How far the arrows of a pair lie to the right of their line, so that both directions show, m.

    Returns
    -------
    Scene
        Keys of the discs are player ids, of the arrows "passer>receiver".  A disc grows with the passes
        made and received, an arrow widens with its passes, neither from nothing; `value` holds both numbers.
    """
    side = match.team_index(network.team)
    selection = network.selection.replace(team=network.team)
    marks: list[Mark] = []
    if ghost is not None:
        marks += _ghost_marks(ghost, network, match, side)
    players = _placed(network.players)
    links = network.links.dropna(subset=["x", "y", "end_x", "end_y"])
    most = max((int(v) for v in links["passes"]), default=0)
    by_id = {row.player: row for row in rows_of(players)}
    for row in rows_of(links.sort_values("passes", kind="stable")):
        dx, dy = row.end_x - row.x, row.end_y - row.y
        length = math.hypot(dx, dy)
        if length < 1e-6:
            continue
        right_x, right_y = dy / length * lane_gap_m, -dx / length * lane_gap_m
        share = row.passes / most
        facts = {"passes": row.passes, "together on the pitch": f"{row.minutes_together:.0f} min"}
        title = f"{_name(by_id, row.player)} → {_name(by_id, row.receiver)}"
        marks.append(
            Arrow(
                row.x + right_x, row.y + right_y, row.end_x + right_x, row.end_y + right_y,
                width=0.8 + 3.4 * share, strength=share, head_at=0.62, team=side,
                value=float(row.passes), key=f"{row.player}>{row.receiver}", hover=hover_lines(title, facts),
            )
        )  # fmt: skip
    discs: list[Disc] = []
    busiest = max((int(v) for v in players["strength"]), default=0) or 1
    for row in rows_of(players):
        discs.append(
            Disc(
                row.x, row.y, label=disc_label(row.label), radius_m=1.5 + 1.4 * math.sqrt(row.strength / busiest),
                name=short_name(row.name) if names else "", team=side, value=float(row.strength), key=row.player,
                hover=hover_lines(row.name, _facts(row)),
                picked=bool({row.player, row.name, *row.players} & network.selection.players),
            )
        )  # fmt: skip
    marks += place_names(discs)
    legend = [*side_key(match, side, ": size by passes made and received")]
    if most:
        legend.append(KeyItem("pass", f"width by passes, widest {most}; at least {network.min_passes} drawn"))
    if ghost is not None:
        legend.append(KeyItem("ghost" if side == 0 else "ghost-away", "hollow: whole match"))
    return Scene(
        title=f"Pass network, {match.teams[side].name}",
        subtitle=subtitle_words(match, selection),
        marks=tuple(marks),
        pitch=match.pitch,
        attacking=attack_words(match, selection),
        source=match.label,
        n=network.n,
        n_of="completed passes",
        few_below=few_below,
        caption=_caption(network, len(network.players) - len(players)),
        legend=tuple(legend) if network.n or ghost is not None else (),
        message="" if network.n else empty_message("completed passes", empty_because),
    )


def _placed(players: pd.DataFrame) -> pd.DataFrame:
    """The players whose place is known: a log of events need not tell places."""
    return players.dropna(subset=["x", "y"])


def _caption(network: PassNetwork, unplaced: int) -> str:
    """Centroid and advance where they are known, then what was left out."""
    x, y, advance = (network.summary[name] for name in ("centroid_x", "centroid_y", "advance_ratio"))
    said = []
    if math.isfinite(x) and math.isfinite(y):
        said.append(f"mean place of the passes: {_place_words(x, y)}")
    if math.isfinite(advance):
        said.append(f"{advance:.2f} m along the pitch for each metre across")
    if unplaced:
        said.append(f"{unplaced} player{'s' if unplaced > 1 else ''} without a known place not drawn")
    return ". ".join(part[:1].upper() + part[1:] for part in ("; ".join(said), network.note) if part)


def _place_words(x: float, y: float) -> str:
    """Say a place of the attacking frame from the centre spot, as "12 m into their own half, 3 m to the left"."""
    along = f"{abs(x):.0f} m into {'the opponents’' if x > 0 else 'their own'} half" if round(x) else "on halfway"
    across = f"{abs(y):.0f} m to the {'left' if y > 0 else 'right'}" if round(y) else "in the middle"
    return f"{along}, {across}"


def _ghost_marks(ghost: PassNetwork, now: PassNetwork, match: Match, side: int) -> list[Mark]:
    place = {row.player: (row.x, row.y) for row in rows_of(_placed(now.players))}
    marks: list[Mark] = []
    for row in rows_of(_placed(ghost.players)):
        if row.player in place:
            x, y = place[row.player]
            if np.hypot(x - row.x, y - row.y) > 0.5:
                marks.append(Line(((row.x, row.y), (x, y)), style="dotted", width=1.4, team=side, layer="ghost"))
        marks.append(
            Disc(
                row.x, row.y, label="" if row.player in place else disc_label(row.label), radius_m=1.7, team=side,
                layer="ghost", hover=hover_lines(f"{row.name}, whole match", _facts(row)), value=float(row.strength),
            )
        )  # fmt: skip
    return marks


def _facts(row: Any) -> dict[str, Any]:
    return {
        "position": row.position,
        "passes made": row.passes,
        "received": row.received,
        "on the pitch": f"{row.minutes:.0f} min",
        "betweenness": f"{row.betweenness:.2f}",
        "PageRank": f"{row.pagerank:.3f}",
        "clustering": f"{row.clustering:.2f}",
    }


def _name(by_id: dict[str, Any], player: str) -> str:
    return str(by_id[player].name) if player in by_id else player
