"""Where the listed moments are: one dot each on a small pitch, picked to play."""

from __future__ import annotations

import html
from typing import Any

import numpy as np
import pandas as pd
from bokeh.models import Column

from tactical_kit.explorer.look import Look
from tactical_kit.explorer.store import Store
from tactical_kit.explorer.words import Words
from tactical_kit.match import Match
from tactical_kit.scenes.canvas import Canvas
from tactical_kit.scenes.scene import Disc, Label, Scene

__all__ = ["PlacesView", "places_scene"]

_MOST = 600  # dots; more would cover one another
LAYERS = ("main.discs", "main.texts")


def places_scene(match: Match, table: pd.DataFrame, chosen: str = "", title: str = "Where") -> Scene:
    """Return the scene of where moments are.

    Parameters
    ----------
    match : Match
        The match.
    table : DataFrame
        Of Moments; each place lies in the attacking frame of the moment's own side.
    chosen : str
        Id of the moment that is marked with its clock.
    title : str
        Of the scene.
    """
    known = table[np.isfinite(table["x"].to_numpy(float)) & np.isfinite(table["y"].to_numpy(float))]
    drawn = known.iloc[:_MOST]
    half_x, half_y = match.pitch.half_length, match.pitch.half_width
    sides = {t.team_id: i for i, t in enumerate(match.teams)}
    marks: list[Any] = []
    for x, y, team, moment, period, start in zip(
        np.clip(drawn["x"].to_numpy(float), -half_x, half_x).tolist(),
        np.clip(drawn["y"].to_numpy(float), -half_y, half_y).tolist(),
        drawn["team"].tolist(), drawn["moment_id"].tolist(), drawn["period"].tolist(), drawn["start_s"].tolist(),
    ):  # fmt: skip
        clock, picked = match.clock.label(period, start), moment == chosen
        radius = 1.9 if picked else 1.25
        marks.append(Disc(x, y, radius_m=radius, picked=picked, team=sides.get(team), key=moment, hover=clock))
        if picked:
            marks.append(Label(x, y + (4.5 if y < half_y - 8 else -4.5), clock, size="small", bold=True, chip=True))
    marks.sort(key=lambda m: isinstance(m, Label) or m.picked)  # the chosen one lies on top
    missing = len(table) - len(known)
    one = drawn["team"].nunique() == 1
    attack = (
        f"{match.team(drawn['team'].iloc[0]).short_name} attack →"
        if one and drawn["team"].iloc[0]
        else "each side attacks →"
    )
    caption = f"{missing} of {len(table)} have no place" if missing else ""
    if len(known) > _MOST:
        caption = "; ".join(filter(None, [caption, f"the first {_MOST} are drawn"]))
    return Scene(
        title, "", tuple(marks), match.pitch, attacking=attack if len(drawn) else "", n=len(table), n_of="moments",
        source=match.label, caption=caption,
        message="" if len(known) else "No moment is left" if not len(table) else "These moments have no place",
    )  # fmt: skip


class PlacesView:
    """The small pitch of the listed moments."""

    def __init__(self, store: Store, look: Look, words: Words) -> None:
        self.store, self.words = store, words
        self.canvas = Canvas(store.match.pitch, name="places", width_px=300, header=False, layers=LAYERS)
        self.canvas.on_pick(lambda kind, key: store.choose_moment(key))
        self.head = words.place("places-head", margin=(0, 0, 2, 0), stylesheets=[look.form])
        self.layout = Column(
            self.head, self.canvas.figure, css_classes=["tk-places"], sizing_mode="stretch_width", margin=(0, 0, 0, 0)
        )
        self.update()

    def update(self) -> None:
        """Show the store's moments."""
        store = self.store
        chosen = store.moment
        scene = places_scene(store.match, store.moments.table, "" if chosen is None else str(chosen["moment_id"]))
        self.canvas.show(scene)
        facts = html.escape(" · ".join(filter(None, [scene.fact_line, scene.caption])))
        pick = " Pick one to play it." if scene.marks else ""
        self.words.write("places-head", f'<h2>Where they are</h2><p class="faint">{facts}.{pick}</p>')
