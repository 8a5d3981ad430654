"""The road to a goal or shot as a series of pictures, one a step."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError
from tactical_kit.finders.roads_to_goal import road_steps
from tactical_kit.match import Match
from tactical_kit.scenes.chart_words import brief_name, disc_label, hover_lines, match_words, short_name, side_key
from tactical_kit.scenes.instant_chart import snapshot_scene
from tactical_kit.scenes.scene import Arrow, Ball, Disc, KeyItem, Label, Line, Mark, Scene

__all__ = ["show_road"]

_STYLE = {"pass": "pass", "shot": "pass", "own goal": "pass", "carry": "dribble", "take-on": "dribble"}


def show_road(match: Match, moment: pd.Series | str, *, least_run_m: float = 2.0) -> list[Scene]:
    """Show the road to a goal or shot, one picture a step.

    Parameters
    ----------
    match : Match
        With events; with tracking every player is shown where he stood when the step began.
    moment : Series or str
        A row of `find_roads_to_goal(match)` or `find_shots(match)`, or the id of a road.
    least_run_m : float, default 2
        The receiver of a pass is given an arrow for his run if he came at least this far while it was on its way, m.

    Returns
    -------
    list of Scene
        In the order of the steps, all turned so that the side attacks from left to right.  Each has the way of the
        ball so far (light) and in this step (strong), the distance of the nearest opponent to the player on the
        ball, and in the caption numbers ahead of the ball and what the step beat.  Without tracking only those who
        have a part in the step are drawn.

    Raises
    ------
    TacticalKitError
        The moment is no shot of this match.
    """
    steps = road_steps(match, moment)
    return [_scene(match, steps, i, least_run_m) for i in range(len(steps))]


def _scene(match: Match, steps: pd.DataFrame, i: int, least_run_m: float) -> Scene:
    step, last = steps.iloc[i], steps.iloc[-1]
    side = match.team_index(step["team"])
    clock = match.clock.label(int(step["period"]), float(step["time_s"]))
    end = match.clock.label(int(last["period"]), float(last["time_s"]))
    what = last["outcome"] if last["what"] == "shot" else last["what"]
    what = "goal" if what == "goal" else "own goal" if what == "own goal" else f"shot ({what or 'outcome unknown'})"
    base = _players(match, step)
    way = [_arrow(match, s, side, now=False) for _, s in steps.iloc[:i].iterrows()]
    now = [_arrow(match, step, side, now=True), _run(match, step, side, least_run_m)]
    marks: list[Mark] = [m for m in (*way, *now) if m is not None]
    marks += _nearest_opponent(base, step, side)
    return base.replace(
        title=f"{clock}, step {step['step']} of {len(steps)}: {_told(step)[0]}",
        subtitle=f"{match_words(match)}\nRoad of {match.teams[side].name} to the {what} at {end}",
        marks=(*marks, *base.marks),
        attacking=f"{brief_name(match, side)} attack\u00a0→",
        n=None,
        caption=_caption(match, step),
        legend=(*base.legend, *_legend(marks, so_far=any(m is not None for m in way))),
    )


def _players(match: Match, step: pd.Series) -> Scene:
    """Everybody at the beginning of the step; without tracking there, those who have a part in it."""
    side = match.team_index(step["team"])
    picked = frozenset(p for p in (step["player"], step["receiver"]) if p)
    try:
        if match.tracking is not None:
            snapshot = match.snapshot(int(step["period"]), float(step["time_s"]))
            scene = snapshot_scene(snapshot, match, step["team"], picked=picked)
            legend = tuple(k for k in scene.legend if not k.text.startswith("line:"))
            legend = (*legend, KeyItem("none", "short line: where he is in 1 s"))
            # Who has a part in the step is drawn last, above an opponent who stands on top of him.
            marks = sorted(scene.marks, key=lambda m: isinstance(m, Disc) and m.picked)
            return scene.replace(marks=tuple(marks), legend=legend)
    except TacticalKitError:
        pass  # the tracking has a gap here
    own: list[Mark] = []
    for player, x, y in ((step["player"], "x", "y"), (step["receiver"], "end_x", "end_y")):
        if player in match.players and np.isfinite([step[x], step[y]]).all():
            who = match.players[player]
            own.append(
                Disc(
                    float(step[x]), float(step[y]), label=disc_label(who.label), name=short_name(who.name),
                    radius_m=1.7, team=side, hover=hover_lines(who.name, {"position": who.position}), key=player,
                    picked=True,
                )
            )  # fmt: skip
    if np.isfinite([step["x"], step["y"]]).all():
        own.append(Ball(float(step["x"]), float(step["y"]), hover="ball"))
    return Scene(
        title="",
        marks=tuple(own),
        pitch=match.pitch,
        source=match.label,
        legend=(*side_key(match, side, ""), KeyItem("ball", "ball")),
    )


def _arrow(match: Match, step: pd.Series, side: int, now: bool) -> Arrow | None:
    """The way of the ball in a step; a shot without an end goes to the middle of the goal."""
    if step["what"] not in _STYLE:
        return None
    x0, y0, x1, y1 = (float(step[c]) for c in ("x", "y", "end_x", "end_y"))
    if step["what"] == "shot" and not np.isfinite([x1, y1]).all():
        x1, y1 = match.pitch.goal
    if not np.isfinite([x0, y0, x1, y1]).all() or np.hypot(x1 - x0, y1 - y0) < 0.5:
        return None
    style: Any = _STYLE[step["what"]]
    return Arrow(
        x0, y0, x1, y1, style=style, width=3.0 if now else 1.4, strength=1.0 if now else 0.45, team=side,
        hover=f"step {step['step']}: {step['words']}", key=f"step {step['step']}", value=float(step["gain_m"]),
    )  # fmt: skip


def _run(match: Match, step: pd.Series, side: int, least_run_m: float) -> Arrow | None:
    """Where the receiver came from while the ball was on its way."""
    tracking = match.tracking
    if tracking is None or step["what"] != "pass" or not step["receiver"] or not np.isfinite(step["end_s"]):
        return None
    period = np.full(2, int(step["period"]))
    frames = tracking.indices_at(period, np.array([step["time_s"], step["end_s"]], float))
    if (frames < 0).any() or step["receiver"] not in tracking.players:
        return None
    places = tracking.xy[frames, tracking.column(step["receiver"])].astype(float)
    places = places * match.attack_sign(step["team"], int(step["period"]))
    if not np.isfinite(places).all() or np.hypot(*(places[1] - places[0])) < least_run_m:
        return None
    (x0, y0), (x1, y1) = places.tolist()
    return Arrow(x0, y0, x1, y1, style="run", team=side, hover="run of the receiver", key=step["receiver"])


def _nearest_opponent(base: Scene, step: pd.Series, side: int) -> list[Mark]:
    """A dotted line from the player on the ball to the nearest opponent, with the distance beside it."""
    discs = [m for m in base.of(Disc) if isinstance(m, Disc)]
    mine = [d for d in discs if d.key == step["player"]]
    theirs = [d for d in discs if d.team == 1 - side]
    if not mine or not theirs or not np.isfinite(step["space_m"]):
        return []
    me = mine[0]
    near = min(theirs, key=lambda d: np.hypot(d.x - me.x, d.y - me.y))
    if step["space_m"] < 4.5:  # the discs all but touch: the caption says it
        return []
    line = Line(((me.x, me.y), (near.x, near.y)), style="dotted", width=1.6, hover="nearest opponent")
    x, y = (me.x + near.x) / 2, (me.y + near.y) / 2
    return [line, Label(x, y, f"{step['space_m']:.0f} m", size="small", chip=True)]


def _caption(match: Match, step: pd.Series) -> str:
    """Numbers, space, and what the step beat, in words; what is unknown is left out."""
    said = _told(step)[1:]
    if np.isfinite(step["n_attack"]):
        said.append(f"level with the ball or ahead of it {step['n_attack']:.0f} against {step['n_defend']:.0f}")
    if np.isfinite(step["space_m"]):
        said.append(f"nearest opponent {step['space_m']:.1f} m")
    if np.isfinite(step["receiver_space_m"]):
        said.append(f"{step['receiver_space_m']:.1f} m from the receiver when it arrives")
    if np.isfinite(step["gain_m"]):
        way = "gains" if step["gain_m"] >= 0 else "gives up"
        said.append(f"the step {way} {abs(step['gain_m']):.0f} m")
    if match.tracking is None:
        said.append("other players not in the data")
    if not said:
        return ""
    words = "; ".join(str(part) for part in said)
    return words[:1].upper() + words[1:] + "."


def _told(step: pd.Series) -> list[str]:
    """The sentence of a step: what stands in the title, then what stands below."""
    words = str(step["words"])
    return words.split(", ") if step["what"] in ("pass", "carry") else [words]


def _legend(marks: list[Mark], so_far: bool) -> list[KeyItem]:
    words = {"pass": "pass or shot", "dribble": "carry", "run": "run"}
    met = {m.style for m in marks if isinstance(m, Arrow)}
    items = [KeyItem(style, text) for style, text in words.items() if style in met]
    if so_far:
        items.append(KeyItem("none", "light: the way so far"))
    if any(isinstance(m, Line) for m in marks):
        items.append(KeyItem("none", "dotted: nearest opponent"))
    return items
