"""The time line: phases of both sides as lanes, goals, cards, substitutions, and the brush that selects a segment."""

from __future__ import annotations

import math
from importlib import resources
from typing import Any

import numpy as np
from bokeh.events import DoubleTap, Pan, PanEnd, PanStart, Tap
from bokeh.models import (
    BoxAnnotation,
    ColumnDataSource,
    CustomJS,
    FixedTicker,
    HoverTool,
    Range1d,
    Span,
    glyphs,
)
from bokeh.plotting import figure

from tactical_kit.explorer.look import FONT
from tactical_kit.explorer.store import Store, timeline_to_segment
from tactical_kit.phases import IN_PHASES, OUT_PHASES
from tactical_kit.scenes import style
from tactical_kit.scenes.canvas import plain_renderer

__all__ = ["Timeline", "match_marks", "phase_bands"]

_DRAW: Any = glyphs  # the stubs know neither columns nor all of the glyphs
_LANE = 1.0
_ROWS_IN, _ROWS_OUT = len(IN_PHASES), len(OUT_PHASES)
_GAP = 0.5  # between the phases with and without the ball, in lanes
_EVENTS = 3.5  # height of the rows of goals and of cards and substitutions, in lanes
# Home above, away below; goals have rows of their own, so that nothing covers the score.
_GOALS, _OTHERS = (2.95, 2.1), (1.25, 0.55)
_SHOWN = 0.9  # height of the row of listed moments
_PICKED = "#b3261e"  # the moment chosen among them
_TOOLTIP = f'<div style="font:13px {FONT};white-space:pre-line;color:{style.INK}">@hover</div>'


def _lanes() -> dict[tuple[str, str], float]:
    """Return the middle of each lane, from the top: final third first, so that up means further up the pitch."""
    order = ("final third", "progression", "build-up", "attacking transition", "set play")
    y = {("in", name): -(i + 0.5) * _LANE for i, name in enumerate(order)}
    top = -_ROWS_IN * _LANE - _GAP
    return y | {("out", name): top - (i + 0.5) * _LANE for i, name in enumerate(OUT_PHASES)}


def phase_bands(store: Store) -> dict[str, Any]:
    """Return the bars of the phases of both sides as columns.

    Returns
    -------
    dict
        left, right (s of the time line), top, bottom (lanes), colour, hover.  In each lane the home side has
        the upper half and the away side the lower one, so the sides are told apart without colour.
    """
    empty: dict[str, Any] = {k: [] for k in ("left", "right", "top", "bottom", "colour", "hover")}
    if store.phases is None or not len(store.phases):
        return empty
    table, match = store.phases.table, store.match
    y = _lanes()
    middle = np.array([y.get((s, p), np.nan) for s, p in zip(table["side"], table["phase"])])
    side = np.array([match.team_index(t) for t in table["team"]])
    left = match.clock.timeline(table["period"], table["start_s"])
    right = match.clock.timeline(table["period"], table["end_s"])
    top = np.where(side == 0, middle + 0.42, middle - 0.02)
    hover = [
        f"{match.clock.label(p, a)}-{match.clock.label(p, b)}\n{match.teams[s].name}: {phase}"
        for p, a, b, s, phase in zip(table["period"], table["start_s"], table["end_s"], side, table["phase"])
    ]
    return {
        "left": left, "right": right, "top": top, "bottom": top - 0.4,
        "colour": [style.TEAM_FILL[s] for s in side], "hover": hover,
    }  # fmt: skip


def match_marks(store: Store) -> dict[str, list[Any]]:
    """Return goals, cards and substitutions as columns: t, y, marker, fill, size, text, hover.

    A goal carries the score after it; an own goal counts for the other side.
    """
    columns: dict[str, list[Any]] = {k: [] for k in ("t", "y", "marker", "fill", "size", "text", "hover")}
    match = store.match
    if match.events is None:
        return columns
    events = match.events
    wanted = events[
        ((events["kind"] == "shot") & (events["outcome"] == "goal")) | events["kind"].isin(["card", "substitution"])
    ]
    score = [0, 0]
    for e in wanted.itertuples():
        if not e.team:
            continue
        side = match.team_index(e.team)
        who = match.players[e.player].name if e.player in match.players else ""
        when = match.clock.label(int(e.period), float(e.time_s))
        text = ""
        if e.kind == "shot":
            gains = 1 - side if e.detail == "own-goal" else side
            if int(e.period) < 5:  # the shoot-out is not part of the score
                score[gains] += 1
            side, text = gains, f"{score[0]}–{score[1]}"
            own = " (own goal)" if e.detail == "own-goal" else ""
            marker, fill, size = "star", style.TEAM_FILL[side], 15
            said = f"{when} goal, {match.teams[side].name}: {who}{own}\n{text}"
        elif e.kind == "card":
            red = e.detail != "yellow"
            marker, fill, size = "square", "#8d1b12" if red else "#f0c20c", 9
            said = f"{when} {e.detail} card, {match.teams[side].name}: {who}"
        else:
            on = match.players[e.receiver].name if e.receiver in match.players else ""
            marker, fill, size = "triangle", style.PAPER, 9
            said = f"{when} substitution, {match.teams[side].name}: {on} for {who}"
        row = (
            float(match.clock.timeline(int(e.period), float(e.time_s))),
            (_GOALS if e.kind == "shot" else _OTHERS)[side],
            marker,
            fill,
            size,
            text,
        )
        for name, entry in zip(columns, (*row, said)):
            columns[name].append(entry)
    return columns


class Timeline:
    """The figure of the whole match with its brush.

    Parameters
    ----------
    store : Store
        The state.
    batch : callable
        Context manager in which models may be changed (one update for the page).
    """

    def __init__(self, store: Store) -> None:
        self.store = store
        self._serial = 0
        self._lanes = _lanes() if store.phases is not None else {}
        self._low = min(self._lanes.values(), default=0.0) - 0.5 - _SHOWN - 0.35
        self.cursor = Span(
            location=float(store.match.clock.timeline(*store.cursor)), dimension="height", line_color=style.INK,
            line_width=1.5, name="timeline-cursor", level="overlay", visible=store.match.tracking is not None,
        )  # fmt: skip
        self.asked = ColumnDataSource({"a": [], "b": [], "nonce": []}, name="brush-asked")
        self.shown = ColumnDataSource(self._shown_data(), name="brush-shown")
        self.moments = ColumnDataSource(self._moment_data(), name="timeline-moments")
        self.figure = self._make()
        self.asked.on_change("data", self._brushed)
        self.figure.on_event(Tap, self._tapped)

    # -- store to page --------------------------------------------------------------------------------

    def update_segment(self) -> None:
        """Let the brush stand where the store's segment is."""
        self._serial += 1
        self.shown.data = self._shown_data()

    def update_moments(self) -> None:
        """Show where the listed moments lie."""
        self.moments.data = self._moment_data()

    def _shown_data(self) -> dict[str, list[float]]:
        a, b = self.store.timeline_span
        whole = int(self.store.selection.segment is None)
        return {"a": [a], "b": [b], "whole": [whole], "serial": [self._serial]}

    def _moment_data(self) -> dict[str, Any]:
        table, clock = self.store.moments.table, self.store.match.clock
        chosen = self.store.moment
        picked = (
            np.zeros(len(table), bool) if chosen is None else (table["moment_id"] == chosen["moment_id"]).to_numpy()
        )
        return {
            "left": clock.timeline(table["period"], table["start_s"]),
            "right": clock.timeline(table["period"], table["end_s"]),
            "top": np.where(picked, self._low + _SHOWN + 0.3, self._low + _SHOWN + 0.1),
            "colour": np.where(picked, _PICKED, style.INK).tolist(),
        }

    # -- page to store --------------------------------------------------------------------------------

    def _brushed(self, attr: str, old: object, new: dict[str, Any]) -> None:
        if len(new.get("a", ())) != 1:
            return
        a, b = float(new["a"][0]), float(new["b"][0])
        if not (math.isfinite(a) and math.isfinite(b)):
            return
        before = self.store.selection
        self.store.change(segment=timeline_to_segment(self.store.match, a, b), merge="brush")
        if self.store.selection == before:
            self.update_segment()  # the page waits for an answer

    def _tapped(self, event: Tap) -> None:
        if event.x is not None and 0 <= event.x <= self.store.match.clock.total_s:
            period, time_s = self.store.match.clock.from_timeline(float(event.x))
            listed = self._listed_at(float(event.x)) if event.y is not None and event.y < self._low + _SHOWN else ""
            if listed:
                self.store.choose_moment(listed)
            else:
                self.store.move_cursor(int(period), float(time_s))

    def _listed_at(self, t: float) -> str:
        """Id of the listed moment at a second of the time line, or of the one next to it within a few pixels."""
        table, data = self.store.moments.table, self._moment_data()
        if not len(table):
            return ""
        left, right = np.asarray(data["left"]), np.asarray(data["right"])
        apart = np.maximum(np.maximum(left - t, t - right), 0)
        near = int(np.argmin(apart))
        return str(table["moment_id"].iloc[near]) if apart[near] <= 0.004 * self.store.match.clock.total_s else ""

    # -- building -------------------------------------------------------------------------------------

    def _make(self) -> figure:
        match, total = self.store.match, self.store.match.clock.total_s
        y = self._lanes
        low = self._low
        top = _EVENTS
        fig = figure(
            x_range=Range1d(-total * 0.004, total * 1.004), y_range=Range1d(low, top), tools="", toolbar_location=None,
            sizing_mode="stretch_width", height=round(34 + 13.5 * (top - low)), min_border_right=8, min_border_top=0,
            outline_line_color=None, background_fill_color=style.PAPER, border_fill_color=style.PAPER,
            name="timeline", title=None,
        )  # fmt: skip
        fig.center = []  # no grid
        self._axes(fig, y, low)
        # A light ground for every other lane leads the eye.
        striped = sorted(y.values(), reverse=True)[::2]
        ground = ColumnDataSource({"y": striped})
        stripe = _DRAW.HBar(
            y="y", height=1, left=0, right=total, fill_color=style.INK, fill_alpha=0.035, line_color=None
        )
        fig.renderers.append(plain_renderer(ground, stripe))
        for period in match.periods[1:]:
            start = float(match.clock.timeline(period.number, 0.0))
            fig.add_layout(Span(location=start, dimension="height", line_color=style.FAINT, line_dash="dashed"))
        box = {"left": "left", "right": "right", "line_color": None}
        bands = plain_renderer(
            ColumnDataSource(phase_bands(self.store), name="timeline-bands"),
            _DRAW.Quad(top="top", bottom="bottom", fill_color="colour", **box), name="timeline-phases",
        )  # fmt: skip
        # On the upper canvas: the thousands of bars below are not painted anew with every filter.
        listed = plain_renderer(
            self.moments,
            _DRAW.Quad(top="top", bottom=low + 0.15, fill_color="colour", fill_alpha=0.75, **box),
            level="overlay",
        )  # fmt: skip
        marks = ColumnDataSource(match_marks(self.store), name="timeline-marks")
        symbols = plain_renderer(
            marks, _DRAW.Scatter(x="t", y="y", marker="marker", size="size", fill_color="fill", line_color=style.INK)
        )
        scores = plain_renderer(
            marks,
            _DRAW.Text(
                x="t", y="y", text="text", x_offset=10, text_baseline="middle", text_font_size="12px",
                text_font_style="bold", text_color=style.INK,
            ),
        )  # fmt: skip
        fig.renderers += [bands, listed, symbols, scores]
        fig.add_tools(HoverTool(renderers=[bands, symbols], tooltips=_TOOLTIP, point_policy="follow_mouse"))
        fig.add_layout(self.cursor)
        self._brush(fig)
        return fig

    def _axes(self, fig: figure, y: dict[tuple[str, str], float], low: float) -> None:
        labels = {v: name if name != "set play" else ("set play" if side == "in" else "against set play")
                  for (side, name), v in y.items()}  # fmt: skip
        labels[sum(_GOALS) / 2], labels[sum(_OTHERS) / 2] = "goals", "cards, changes"
        labels[low + _SHOWN / 2 + 0.12] = "moments listed"
        fig.yaxis.ticker = FixedTicker(ticks=sorted(labels))
        fig.yaxis.major_label_overrides = labels
        fig.yaxis.major_label_text_font_size = "11px"
        fig.yaxis.axis_line_color = fig.yaxis.major_tick_line_color = None
        fig.yaxis.major_label_standoff = 2
        ticks: dict[float, str] = {}
        match = self.store.match
        for period in match.periods:
            for minute in range(0, int(period.duration_s // 60) + 1, 5):
                t = float(match.clock.timeline(period.number, minute * 60.0))
                label = match.clock.label(period.number, minute * 60.0)
                if "+" not in label and (minute == 0 or minute * 60 < period.duration_s - 90):
                    ticks[t] = label.partition(":")[0].lstrip("0") or "0"
        fig.xaxis.ticker = FixedTicker(ticks=sorted(ticks))
        fig.xaxis.major_label_overrides = {k: f"{v}′" for k, v in ticks.items()}
        fig.xaxis.major_label_text_font_size = "12px"
        fig.axis.major_label_text_color = style.INK
        fig.axis.major_label_text_font = "DejaVu Sans, Helvetica Neue, Arial, sans-serif"
        fig.xaxis.axis_line_color = style.FAINT
        fig.axis.minor_tick_line_color = None

    def _brush(self, fig: figure) -> None:
        veil = {
            "fill_color": style.PAPER,
            "fill_alpha": 0.72,
            "line_color": None,
            "syncable": False,
            "level": "overlay",
        }
        before, after = BoxAnnotation(**veil), BoxAnnotation(**veil)
        frame = BoxAnnotation(
            fill_color=None, line_color=style.INK, line_width=2, syncable=False, level="overlay", name="brush-frame"
        )
        for box in (before, after, frame):
            fig.add_layout(box)
        code = resources.files("tactical_kit.explorer").joinpath("brush.js").read_text(encoding="utf-8")
        brush = CustomJS(
            args={
                "fig": fig, "asked": self.asked, "shown": self.shown, "before": before, "after": after,
                "frame": frame, "total": self.store.match.clock.total_s,
            },
            code=code,
        )  # fmt: skip
        self.shown.js_on_change("data", brush)
        fig.js_on_change("inner_width", brush)
        for event in (PanStart, Pan, PanEnd, DoubleTap):
            fig.js_on_event(event, brush)
