"""The views: they read the store, show it, and hand back what is picked; they keep nothing."""

from __future__ import annotations

import html
from collections.abc import Callable

from bokeh.models import Column

from tactical_kit.explorer.look import FONT
from tactical_kit.explorer.store import Store
from tactical_kit.explorer.words import Words
from tactical_kit.scenes import style
from tactical_kit.scenes.canvas import Canvas
from tactical_kit.scenes.charts import network_scene, pressure_scene, progression_scene
from tactical_kit.scenes.legend import legend_html
from tactical_kit.scenes.scene import Scene

__all__ = ["ChartView", "ConditionsView", "chart_scene"]

_SCENES: dict[str, Callable[..., Scene]] = {
    "network": network_scene,
    "progression": progression_scene,
    "pressure": pressure_scene,
}
_WIDTH_PX = 500
# What each picture draws with; a canvas makes another layer when a picture needs it.
_LAYERS = {
    "network": ("ghost.lines", "ghost.discs", "main.arrows", "main.heads", "main.names", "main.discs", "main.texts"),
    "progression": ("main.zones", "main.arrows", "main.heads", "main.texts"),
    "pressure": ("main.zones", "main.texts"),
}


def chart_scene(store: Store, name: str) -> Scene:
    """Return the scene of a chart ("network", "progression", "pressure") for the store's selection."""
    return _SCENES[name](
        store.measure(name), store.match, ghost=store.measure_whole(name), empty_because=_wrapped(store.empty_words)
    )


def _wrapped(text: str, width: int = 56) -> str:
    """Break a sentence for the middle of a pitch."""
    import textwrap

    return "\n".join(textwrap.wrap(text, width))


class ChartView:
    """One chart: heading, pitch, how to read it.

    Picks are handed to the store: a player toggles the condition on players, a zone the one on zones, a box
    drawn on the pitch becomes the area.
    """

    def __init__(self, store: Store, name: str, css_class: str, words: Words) -> None:
        self.store, self.name, self.words = store, name, words
        self.canvas = Canvas(store.match.pitch, name=name, width_px=_WIDTH_PX, header=False, layers=_LAYERS[name])
        self.head = words.place(f"{name}-head", margin=(0, 0, 2, 0))
        self.foot = words.place(f"{name}-foot", margin=(2, 0, 0, 0))
        self.canvas.on_pick(self._picked)
        self.canvas.on_area(self._area)
        self.layout = Column(
            self.head, self.canvas.figure, self.foot, css_classes=["tk-chart", css_class], sizing_mode="stretch_width",
            margin=(0, 0, 0, 0),
        )  # fmt: skip
        self.update()

    def update(self) -> None:
        """Show the store's selection; only data that differ are sent."""
        scene = chart_scene(self.store, self.name)
        self.canvas.show(scene)
        self.canvas.set_area(self.store.selection.area)
        facts = html.escape(scene.fact_line)
        if self.name == "network" and self.store.selection.team is None:
            one, other = self.store.match.home.name, self.store.match.away.name
            facts += f"<br>Both sides are chosen and a network shows one: {html.escape(one)}. "
            facts += f"Choose {html.escape(other)} under Side to see theirs."
        self.words.write(
            f"{self.name}-head",
            f'<div style="font:13px {FONT};color:{style.INK}"><h2 style="font-size:15px;margin:0">'
            f'{html.escape(scene.title)}</h2><span style="color:{style.FAINT}">{facts}</span></div>',
        )
        self.words.write(
            f"{self.name}-foot",
            f'<div style="font:12px/1.45 {FONT};color:{style.INK}">{legend_html(scene.legend)}'
            f'<div style="color:{style.FAINT}">{html.escape(scene.caption)}</div></div>',
        )

    def _picked(self, kind: str, key: str) -> None:
        if kind == "discs":
            self.store.toggle("players", key)
        elif kind == "arrows" and ">" in key and self.name == "network":
            pair = frozenset(key.split(">"))
            self.store.change(players=frozenset() if pair == self.store.selection.players else pair)
        elif kind == "zones":
            self._zone_picked(key)

    def _zone_picked(self, key: str) -> None:
        names = self.store.match.pitch.named_zones().names()
        if key in names:
            self.store.toggle("zones", key)
            return
        grid = getattr(self.store.measure(self.name), "grid", None)  # a finer grid than the named zones
        if grid is not None and key in grid.names():
            area = tuple(float(v) for v in grid.bounds(grid.index_of(key)))
            self.store.change(area=None if area == self.store.selection.area else area)

    def _area(self, area: tuple[float, float, float, float] | None) -> None:
        self.store.change(area=None if area is None else tuple(round(v, 1) for v in area))


class ConditionsView:
    """How many instances each condition leaves, as a small table."""

    def __init__(self, store: Store, words: Words) -> None:
        self.store, self.words = store, words
        self.layout = words.place("conditions", css_classes=["tk-conditions"], margin=(0, 0, 0, 0))
        self.update()

    def update(self) -> None:
        """Show the conditions of the store's selection."""
        table = self.store.conditions
        events = self.store.index.has_events
        kept, without = ("left", "without") if events else ("seconds_left", "seconds_without")
        rows = []
        for i, row in enumerate(table.to_dict("records")):
            left, other = row[kept], row[without]
            if left != left:  # neither events nor tracking
                continue
            end = "" if i == 0 else f"{other:.0f}"
            rows.append(
                f'<tr><td style="padding:1px 8px 1px 0">{html.escape(str(row["condition"]))}</td>'
                f'<td style="text-align:right;padding:1px 8px">{left:.0f}</td>'
                f'<td style="text-align:right;padding:1px 0;color:{style.FAINT}">{end}</td></tr>'
            )
        unit = "actions" if events else "seconds"
        cell = f"font-weight:normal;color:{style.FAINT};text-align"
        self.words.write(
            "conditions",
            f'<div style="font:12px/1.4 {FONT};color:{style.INK}">'
            f'<h3 style="margin:0 0 2px;font:bold 13px {FONT}">What each condition leaves</h3>'
            f'<table style="border-collapse:collapse;width:100%;font:inherit"><tr>'
            f'<th style="{cell}:left">condition</th>'
            f'<th style="{cell}:right;padding:0 8px">{unit} left</th><th style="{cell}:right">if dropped</th></tr>'
            f"{''.join(rows)}</table></div>",
        )
