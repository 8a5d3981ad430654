"""The picture of one instant: both sides, the ball, and where everybody is heading."""

from __future__ import annotations

import numpy as np

from tactical_kit.match import Match, Snapshot
from tactical_kit.scenes.chart_words import brief_name, disc_label, hover_lines, match_words, short_name, side_key
from tactical_kit.scenes.names import place_names
from tactical_kit.scenes.scene import Ball, Disc, KeyItem, Line, Mark, Scene

__all__ = ["snapshot_scene"]


def snapshot_scene(
    snapshot: Snapshot,
    match: Match,
    team: str | None = None,
    names: bool = False,
    look_ahead_s: float = 1.0,
    least_speed_ms: float = 0.5,
    ghost: Snapshot | None = None,
    picked: frozenset[str] = frozenset(),
) -> Scene:
    """Show where both sides and the ball were at one instant.

    Parameters
    ----------
    snapshot : Snapshot
        The instant, in the pitch frame.
    match : Match
        For names, shirts and clock.
    team : str, optional
        Turn the picture so that this side attacks from left to right; by default ends are as in the stadium.
    names : bool, default False
        Write the last word of each name beside the player, where there is room.
    look_ahead_s : float, default 1
        Ticks end where a player would be after this time at the speed he has, s.
    least_speed_ms : float, default 0.5
        Players slower than this have no tick, m/s.
    ghost : Snapshot, optional
        An instant to compare with, drawn hollow with a dotted line to the new place.
    picked : frozenset of str
        Ids of players to ring.

    Returns
    -------
    Scene
        Keys of the discs are player ids.

    Raises
    ------
    UnknownNameError
        A `team` that does not play.
    """
    turned = snapshot if team is None else snapshot.attacking(match.team_index(team))
    before = None if ghost is None else ghost if team is None else ghost.attacking(match.team_index(team))
    marks: list[Mark] = []
    if before is not None:
        marks += _ghost_marks(before, turned, match)
    discs: list[Disc] = []
    speed = np.hypot(turned.velocity[:, 0], turned.velocity[:, 1])
    for i, player_id in enumerate(turned.players):
        player = match.players[player_id]
        side = int(turned.team_index[i])
        x, y = (float(v) for v in turned.xy[i])
        if speed[i] >= least_speed_ms:
            ahead = turned.xy[i] + turned.velocity[i] * look_ahead_s
            marks.append(Line(((x, y), (float(ahead[0]), float(ahead[1]))), width=2.0, team=side))
        assumed = turned.assumed is not None and bool(turned.assumed[i])
        facts = {
            match.teams[side].name: player.position or "position unknown",
            "speed": f"{speed[i]:.1f} m/s",
            "place": "assumed, not seen" if assumed else "",
        }
        discs.append(
            Disc(
                x, y, label=disc_label(player.label), name=short_name(player.name) if names else "", filled=not assumed,
                radius_m=1.7, team=side, hover=hover_lines(player.name, facts), key=player_id,
                picked=player_id in picked, value=float(speed[i]),
            )
        )  # fmt: skip
    marks += place_names(discs)
    if np.isfinite(turned.ball[:2]).all():
        height = float(turned.ball[2]) if np.isfinite(turned.ball[2]) else 0.0
        marks.append(Ball(float(turned.ball[0]), float(turned.ball[1]), height, hover=f"ball, {height:.1f} m high"))
    signs = turned.attack_signs
    ways = " · ".join(
        f"{brief_name(match, s)} attack\u00a0→" if signs[s] > 0 else f"←\u00a0{brief_name(match, s)} attack"
        for s in (0, 1)
    )
    clock = match.clock.label(snapshot.period, snapshot.time_s)
    seen = {"tracking": "", "still": ", from a still", "what-if": ", what if"}.get(snapshot.origin, "")
    legend = [*side_key(match, None, ""), KeyItem("ball", "ball")]
    legend.append(KeyItem("none", f"line: path of the next {look_ahead_s:g} s"))
    if before is not None:
        legend.append(KeyItem("ghost", f"hollow: {match.clock.label(before.period, before.time_s)}"))
    if turned.assumed is not None and turned.assumed.any():
        legend.append(KeyItem("none", "hollow with number: place assumed"))
    return Scene(
        title=f"{clock}{seen}",
        subtitle=f"{match_words(match)}\n{match.clock[snapshot.period].name.capitalize()}",
        marks=tuple(marks),
        pitch=match.pitch,
        attacking=ways,
        source=match.label,
        n=len(turned),
        n_of="players",
        few_below=0,
        legend=tuple(legend),
    )


def _ghost_marks(before: Snapshot, now: Snapshot, match: Match) -> list[Mark]:
    place = {p: now.xy[i] for i, p in enumerate(now.players)}
    marks: list[Mark] = []
    for i, player_id in enumerate(before.players):
        x, y = (float(v) for v in before.xy[i])
        side = int(before.team_index[i])
        if player_id in place and np.hypot(*(place[player_id] - before.xy[i])) > 0.5:
            end = (float(place[player_id][0]), float(place[player_id][1]))
            marks.append(Line(((x, y), end), style="dotted", width=1.2, team=side, layer="ghost"))
        marks.append(
            Disc(x, y, radius_m=1.7, team=side, layer="ghost", hover=f"{match.players[player_id].name}, before")
        )
    return marks
