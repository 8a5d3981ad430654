"""The interactive surface: a Bokeh figure whose data are replaced in place.

A `Canvas` has a fixed set of renderers and data sources, one a kind of mark and layer.  Showing another
scene replaces the data of those sources whose data differ, and nothing else: an update sends arrays only.
"""

from __future__ import annotations

import html
import re
import textwrap
from collections.abc import Callable, Collection
from typing import Any

import numpy as np
from bokeh.core.properties import value
from bokeh.embed import file_html
from bokeh.layouts import column
from bokeh.models import BoxSelectTool, CDSView, ColumnDataSource, CustomJS, HoverTool, Range1d, TapTool, glyphs
from bokeh.models.renderers import GlyphRenderer
from bokeh.models.widgets.markups import Div
from bokeh.plotting import figure
from bokeh.resources import INLINE

from tactical_kit.errors import TacticalKitError
from tactical_kit.pitch import Pitch
from tactical_kit.scenes import style
from tactical_kit.scenes.hatch import hatch_lines
from tactical_kit.scenes.layers import DRAW_ORDER, KINDS, Columns, lay_out
from tactical_kit.scenes.legend import legend_html
from tactical_kit.scenes.pitch_marks import pitch_bounds, pitch_marks
from tactical_kit.scenes.scene import Scene

__all__ = ["Canvas", "marking_columns", "marking_glyph", "plain_renderer"]

_DRAW: Any = glyphs  # the stubs know neither columns nor all of the glyphs
_PICKABLE = ("zones", "areas", "lines", "arrows", "discs")
# Columns that only this surface needs, in pixels and patterns of Bokeh.
_EXTRA = {
    "texts": ("font_size",), "names": ("font_size",), "discs": ("size_px", "number"), "balls": ("size_px",),
    "zones": ("hatch_xs", "hatch_ys"),
}  # fmt: skip
_HATCH_PX = 10.0  # between two lines of a hatch
_BASE_PX = {"small": 11.0, "normal": 13.0, "large": 16.0}
_FONT = "'DejaVu Sans', 'Helvetica Neue', Arial, sans-serif"
# The text under the pointer: Bokeh escapes what it puts in for @hover; line feeds are kept.
_TOOLTIP = f'<div style="font:13px {_FONT};white-space:pre-line;max-width:260px;color:{style.INK}">@hover</div>'

# Without it a mark that has nothing to say would show an empty box.
_HAS_WORDS = 'export default (args, tool, {value}) => value != ""'

Pick = Callable[[str, str], None]
Area = tuple[float, float, float, float]


def plain_renderer(source: ColumnDataSource, glyph: Any, **look: Any) -> GlyphRenderer:
    """Return a renderer that draws a source with one glyph, whatever is picked or pointed at.

    The plotting functions make five glyphs for it: a page is built in a third of the time.  A tap must not fade
    the other marks: the scene itself says what is picked.
    """
    return GlyphRenderer(
        data_source=source, glyph=glyph, view=CDSView(), selection_glyph=glyph, nonselection_glyph=glyph,
        hover_glyph=None, muted_glyph=glyph, **look,
    )  # fmt: skip


def marking_columns(pitch: Pitch, width: float, spot: float) -> dict[str, list[Any]]:
    """Return the lines of a pitch as columns for `marking_glyph`; `width` of lines and spots in pixels.

    One source for all: a spot is a line to itself, which a round cap makes a dot.
    """
    marks = pitch_marks(pitch)
    paths = [m.points if not m.spot else np.repeat(m.points[:1], 2, axis=0) for m in marks]
    return {
        "xs": [p[:, 0].tolist() for p in paths],
        "ys": [p[:, 1].tolist() for p in paths],
        "width": [spot if m.spot else width for m in marks],
    }


def marking_glyph() -> Any:
    """Return the glyph for the lines of a pitch."""
    look: dict[str, Any] = {"line_color": style.MARKING, "line_join": "round", "line_cap": "round"}
    return _DRAW.MultiLine(xs="xs", ys="ys", line_width="width", **look)


class Canvas:
    """A pitch in the browser on which scenes are shown.

    Parameters
    ----------
    pitch : Pitch
        The field of play; every scene shown must have the same.
    name : str, default "pitch"
        Prefix of the names of the data sources ("pitch.main.discs"...), so that several canvases of one page
        can be told apart.
    width_px : int, default 640
        Width it will have about; sizes of players and words are chosen for it.  The canvas itself fills the
        width it is given and keeps the pitch's proportions.
    header : bool, default True
        Show title, subtitle and facts above, caption and legend below.
    layers : collection of str, optional
        Layers to make at once, as "main.discs"; all by default.  A page with several canvases opens sooner with
        what its pictures use; a layer that a scene needs later is made then.

    Attributes
    ----------
    figure : bokeh figure
        The pitch alone.
    layout : bokeh column
        Header, pitch and footer: what to put on a page.
    sources : dict of str to ColumnDataSource
        By layer, as "main.discs"; the drawn area is in "area".
    scene : Scene or None
        The scene shown last.
    """

    def __init__(
        self,
        pitch: Pitch,
        name: str = "pitch",
        width_px: int = 640,
        header: bool = True,
        layers: Collection[str] | None = None,
    ) -> None:
        self.pitch = pitch
        self.name = name
        self.scene: Scene | None = None
        x0, y0, x1, y1 = pitch_bounds(pitch)
        self.px_per_m = width_px / (x1 - x0)
        # Words shrink with a small canvas, but stay readable on a phone.
        self.text_scale = min(1.15, max(0.9, width_px / 640))
        self._pick: list[Pick] = []
        self._area: list[Callable[[Area | None], None]] = []
        self.sources: dict[str, ColumnDataSource] = {}
        self.renderers: dict[str, Any] = {}
        self._shown: dict[str, Columns] = {}
        self._words: tuple[str, str] = ("", "")
        self._drawn: dict[str, list[GlyphRenderer]] = {}
        self._tap: TapTool | None = None
        self.figure = self._make_figure((x0, y0, x1, y1))
        words: dict[str, Any] = {"@hover": CustomJS(code=_HAS_WORDS)}
        self._hover = HoverTool(tooltips=_TOOLTIP, renderers=[], point_policy="follow_mouse", filters=words)
        self.figure.add_tools(self._hover)
        self._add("markings", ColumnDataSource(marking_columns(pitch, 1.4, 4.0)), marking_glyph())
        self._make_area()
        self._make_layers([x for x in DRAW_ORDER if x != "markings" and (layers is None or x in layers)])
        self.header = _words_div(f"{name}.header")
        self.footer = _words_div(f"{name}.footer")
        parts = [self.header, self.figure, self.footer] if header else [self.figure]
        self.layout = column(*parts, sizing_mode="stretch_width", name=f"{name}.layout")

    # -- showing --------------------------------------------------------------------------------------

    def show(self, scene: Scene) -> tuple[str, ...]:
        """Replace what is shown by another scene.

        Parameters
        ----------
        scene : Scene
            On the same pitch.

        Returns
        -------
        tuple of str
            The layers whose data changed; the data of all others were left alone.
        """
        if scene.pitch != self.pitch:
            raise TacticalKitError(
                f"the scene has a pitch {scene.pitch}, the canvas {self.pitch}; make another canvas."
            )
        changed = []
        tables = self._columns(scene)
        if late := [x for x, c in tables.items() if x not in self.sources and len(next(iter(c.values())))]:
            self._make_layers(late)
        for layer, columns in tables.items():
            if layer in self.sources and self._shown.get(layer) != columns:
                self._shown[layer] = columns
                source = self.sources[layer]
                if source.selected.indices:
                    source.selected.indices = []
                source.data = dict(columns)
                changed.append(layer)
        words = (_header_html(scene), _footer_html(scene))
        if words != self._words:
            self._words = words
            self.header.text, self.footer.text = words
        self.scene = scene
        return tuple(changed)

    def _columns(self, scene: Scene) -> dict[str, Columns]:
        """The columns of `lay_out` with sizes in pixels, and the message across an empty pitch."""
        tables = lay_out(scene)
        if scene.message:
            for i, text in enumerate(self._broken(scene.message)):
                row = {
                    "x": 0.0, "y": 3.0 - 22 * self.text_scale / self.px_per_m * i, "dy_m": 0.0, "text": text,
                    "colour": style.INK, "size": "normal", "align": "center", "weight": "bold", "back": 0.9,
                    "plate": style.PAPER,
                }  # fmt: skip
                for key, entry in row.items():
                    tables["main.texts"][key].append(entry)
        for layer, table in tables.items():
            kind = layer.partition(".")[2]
            if kind in ("texts", "names"):
                table["font_size"] = [f"{_BASE_PX[s] * self.text_scale:.1f}px" for s in table["size"]]
            elif kind == "discs":
                wide = [0.9 if m == "square" else 1.0 for m in table["marker"]]
                least = [min(10 + 6.5 * max(len(n), 2), 42) * self.text_scale if n else 9.0 for n in table["label"]]
                table["size_px"] = [
                    max(2 * r * self.px_per_m, low) * w for r, w, low in zip(table["radius_m"], wide, least)
                ]
                table["number"] = _uncovered(table)
            elif kind == "balls":
                table["size_px"] = [max(2 * r * self.px_per_m, 8.0) for r in table["radius_m"]]
            elif kind == "zones":
                drawn = [
                    hatch_lines(x, y, _HATCH_PX / self.px_per_m) if h else ([], [])
                    for x, y, h in zip(table["xs"], table["ys"], table["hatch"])
                ]
                table["hatch_xs"], table["hatch_ys"] = [x for x, _ in drawn], [y for _, y in drawn]
        return tables

    def _broken(self, message: str) -> list[str]:
        """A message in lines that fit the pitch; bold letters are about 0.68 of their size wide."""
        letters = max(20, int(self.pitch.length_m * self.px_per_m / (0.68 * _BASE_PX["normal"] * self.text_scale)))
        return [line for part in message.splitlines() for line in textwrap.wrap(part, letters)]

    def to_html(self) -> str:
        """Return the canvas as a page that holds all it needs: nothing is asked for from anywhere."""
        page = file_html(self.layout, INLINE, title=self.scene.title if self.scene else "")
        # Once Panel has been imported, Bokeh's pages name a script of Panel's that no canvas uses.
        return re.sub(r'<script src="[^"]*"></script>\n?', "", page)

    def _repr_html_(self) -> str:
        """The canvas by itself in a notebook cell: pointing at marks works, picking does not reach Python.

        All that it needs is inside (over a megabyte), so it works with no network.
        """
        page = self.to_html()
        x0, y0, x1, y1 = pitch_bounds(self.pitch)
        width = round(self.px_per_m * (x1 - x0))
        height = round(self.px_per_m * (y1 - y0)) + 230
        alt = html.escape(self.scene.alt if self.scene else "an empty pitch")
        look = f"width:{width + 20}px;max-width:100%;height:{height}px;border:0"
        return f'<iframe title="{alt}" style="{look}" srcdoc="{html.escape(page)}"></iframe>'

    # -- answering ------------------------------------------------------------------------------------

    def on_pick(self, callback: Pick) -> None:
        """Call `callback(kind, key)` when a mark with a key is tapped; kind is "discs", "zones", "arrows"..."""
        if not self._pick:
            self._tap = TapTool(renderers=[])
            self.figure.add_tools(self._tap)
            self.figure.toolbar.active_tap = self._tap
            self._let_pick(list(self.renderers))
        self._pick.append(callback)

    def _let_pick(self, layers: list[str]) -> None:
        mine = [x for x in layers if x.startswith("main.") and x[5:] in _PICKABLE]
        if self._tap is None or not mine:
            return
        self._tap.renderers = [*self._tap.renderers, *(self.renderers[x] for x in mine)]
        for layer in mine:
            source = self.sources[layer]
            source.selected.on_change("indices", self._picked(layer[5:], source))

    def _picked(self, kind: str, source: ColumnDataSource) -> Callable[[str, Any, Any], None]:
        def picked(_attr: str, _old: list[int], new: list[int]) -> None:
            if not new:
                return
            keys = source.data.get("key", [])
            key = keys[new[-1]] if new[-1] < len(keys) else ""
            source.selected.indices = []  # before the callbacks, which send the page its changes
            if key:
                for callback in self._pick:
                    callback(kind, key)

        return picked

    def on_area(self, callback: Callable[[Area | None], None]) -> None:
        """Call `callback((x0, y0, x1, y1))` when a box is drawn, `callback(None)` when it is cleared.

        Metres in the frame of the scene, clipped to the pitch.  A box of less than 1 m either way clears.
        """
        if not self._area:
            tool = BoxSelectTool(renderers=[], persistent=False, description="Draw an area")
            self.figure.add_tools(tool)
            self.figure.toolbar.active_drag = tool
            self.figure.js_on_event("selectiongeometry", CustomJS(args=self._area_args(), code=_AREA_JS))
            self.sources["area"].on_change("data", self._area_drawn)
        self._area.append(callback)

    @property
    def area(self) -> Area | None:
        """The drawn area (x0, y0, x1, y1) in metres, or None."""
        data = self.sources["area"].data
        if not len(data["left"]):
            return None
        return tuple(float(data[k][0]) for k in ("left", "bottom", "right", "top"))  # type: ignore[return-value]

    def set_area(self, area: Area | None) -> None:
        """Draw an area from Python, or clear it; callbacks are called only if it differs."""
        values = [[], [], [], []] if area is None else [[float(v)] for v in area]
        if area != self.area:
            self.sources["area"].data = dict(zip(("left", "bottom", "right", "top"), values))

    def _area_drawn(self, _attr: str, _old: Any, _new: Any) -> None:
        for callback in self._area:
            callback(self.area)

    def _area_args(self) -> dict[str, Any]:
        return {"source": self.sources["area"], "hx": self.pitch.half_length, "hy": self.pitch.half_width}

    # -- building -------------------------------------------------------------------------------------

    def _make_figure(self, bounds: Area) -> Any:
        x0, y0, x1, y1 = bounds
        made = figure(
            x_range=Range1d(start=x0, end=x1), y_range=Range1d(start=y0, end=y1),
            tools="", toolbar_location=None, name=self.name,
            sizing_mode="scale_width", aspect_ratio=(x1 - x0) / (y1 - y0), min_border=0, width=600,
            height=round(600 * (y1 - y0) / (x1 - x0)), background_fill_color=style.PAPER,
            border_fill_color=style.PAPER, outline_line_color=None, title=None, x_axis_type=None, y_axis_type=None,
        )  # fmt: skip
        return made

    def _add(self, layer: str, source: ColumnDataSource, *glyphs: Any) -> None:
        self._drawn[layer] = [plain_renderer(source, glyph) for glyph in glyphs]

    def _make_layers(self, layers: list[str]) -> None:
        for layer in layers:
            kind = layer.partition(".")[2]
            empty: Columns = {c: [] for c in (*KINDS[kind], *_EXTRA.get(kind, ()))}
            source = ColumnDataSource(dict(empty), name=f"{self.name}.{layer}")
            self._shown[layer] = empty
            self.sources[layer] = source
            self._add(layer, source, *_GLYPHS[kind](self.text_scale))
            self.renderers[layer] = self._drawn[layer][0]
        self.figure.renderers = [r for layer in (*DRAW_ORDER, "area") for r in self._drawn.get(layer, ())]
        self._hover.renderers = [
            self.renderers[x]
            for x in DRAW_ORDER
            if x in self.renderers and x.partition(".")[2] in (*_PICKABLE, "balls")
        ]
        self._let_pick(layers)

    def _make_area(self) -> None:
        source = ColumnDataSource({k: [] for k in ("left", "bottom", "right", "top")}, name=f"{self.name}.area")
        self.sources["area"] = source
        look: dict[str, Any] = {"fill_color": style.INK, "fill_alpha": 0.06, "line_color": style.INK, "line_width": 2}
        box = _DRAW.Quad(left="left", right="right", top="top", bottom="bottom", line_dash="dashed", **look)
        self._add("area", source, box)


def _zones(_scale: float) -> list[Any]:
    return [
        _DRAW.Patches(
            xs="xs", ys="ys", fill_color="fill", fill_alpha="fill_alpha", line_color="line", line_width="line_width",
            line_dash="dash",
        ),
        _DRAW.MultiLine(xs="hatch_xs", ys="hatch_ys", line_color="hatch_colour", line_width=0.8),
    ]  # fmt: skip


def _areas(_scale: float) -> list[Any]:
    look = {"fill_color": "fill", "fill_alpha": "fill_alpha", "line_color": "line"}
    return [_DRAW.Patches(xs="xs", ys="ys", line_alpha=0.5, line_width=0.8, **look)]


def _lines(_scale: float) -> list[Any]:
    look = {"line_color": "colour", "line_width": "width", "line_dash": "dash"}
    return [_DRAW.MultiLine(xs="xs", ys="ys", line_cap="round", **look)]


def _arrows(_scale: float) -> list[Any]:
    look = {"line_color": "colour", "line_alpha": "alpha", "line_width": "width", "line_dash": "dash"}
    return [_DRAW.MultiLine(xs="xs", ys="ys", line_join="round", **look)]


def _heads(_scale: float) -> list[Any]:
    return [_DRAW.Patches(xs="xs", ys="ys", fill_color="colour", fill_alpha="alpha", line_color=None)]


def _discs(scale: float) -> list[Any]:
    return [
        _DRAW.Scatter(
            x="x", y="y", size="size_px", marker="marker", fill_color="fill", fill_alpha="fill_alpha",
            line_color="line", line_width="line_width",
        ),
        _DRAW.Text(
            x="x", y="y", text="number", text_color="label_colour", text_align="center", text_baseline="middle",
            text_font=value(_FONT), text_font_style="bold", text_font_size=f"{12 * scale:.1f}px",
        ),
    ]  # fmt: skip


def _balls(_scale: float) -> list[Any]:
    look = {"fill_color": "#ffffff", "line_color": "#000000", "line_width": 2}
    return [_DRAW.Scatter(x="x", y="y", size="size_px", marker="circle_dot", **look)]


def _texts(_scale: float) -> list[Any]:
    return [
        _DRAW.Text(
            x="x", y="y", text="text", text_color="colour", text_align="align", text_baseline="middle",
            text_font=value(_FONT), text_font_size="font_size", text_font_style="weight",
            background_fill_color="plate", background_fill_alpha="back", padding=1,
        )
    ]  # fmt: skip


_GLYPHS: dict[str, Callable[[float], list[Any]]] = {
    "zones": _zones, "areas": _areas, "lines": _lines, "arrows": _arrows, "heads": _heads, "discs": _discs,
    "balls": _balls, "texts": _texts, "names": _texts,
}  # fmt: skip

# Runs in the page, so the box stands at once; the data of the source then reach Python like any other change.
_AREA_JS = """
const g = cb_obj.geometry
if (g.type != "rect" || !cb_obj.final) return
const clip = (v, h) => Math.max(-h, Math.min(h, v))
const x = [clip(g.x0, hx), clip(g.x1, hx)].sort((a, b) => a - b)
const y = [clip(g.y0, hy), clip(g.y1, hy)].sort((a, b) => a - b)
const small = x[1] - x[0] < 1 || y[1] - y[0] < 1
source.data = small ? {left: [], bottom: [], right: [], top: []}
                    : {left: [x[0]], bottom: [y[0]], right: [x[1]], top: [y[1]]}
"""


def _uncovered(discs: Columns) -> list[str]:
    """The labels, "" where a later disc lies over the middle: numbers are drawn above all discs."""
    x, y, r = (np.array(discs[c], float) for c in ("x", "y", "radius_m"))
    near = np.hypot(x[:, None] - x, y[:, None] - y) < 0.6 * (r[:, None] + r)
    covered = np.triu(near, k=1).any(axis=1)
    return ["" if hidden else label for label, hidden in zip(discs["label"], covered)]


def _words_div(name: str) -> Div:
    return Div(
        text="", name=name, sizing_mode="stretch_width", margin=0, styles={"background": style.PAPER},
        disable_math=True,  # a name may hold dollar signs
    )  # fmt: skip


def _header_html(scene: Scene) -> str:
    lines = [f'<div style="font-weight:bold;font-size:16px">{html.escape(scene.title)}</div>']
    if scene.subtitle:
        lines.append(f'<div style="font-size:13px;white-space:pre-line">{html.escape(scene.subtitle)}</div>')
    if scene.fact_line:
        lines.append(f'<div style="font-size:13px;color:{style.FAINT}">{html.escape(scene.fact_line)}</div>')
    return _box("".join(lines), "8px 10px 4px")


def _footer_html(scene: Scene) -> str:
    words = " · ".join(part for part in (scene.caption, scene.source and f"Data: {scene.source}") if part)
    legend = legend_html(scene.legend)
    text = f'<div style="color:{style.FAINT}">{html.escape(words)}</div>' if words else ""
    return _box(legend + text, "4px 10px 8px")


def _box(inside: str, padding: str) -> str:
    look = f"font:12px/1.4 {_FONT};color:{style.INK};padding:{padding};overflow-wrap:anywhere"
    return f'<div style="{look}">{inside}</div>'
