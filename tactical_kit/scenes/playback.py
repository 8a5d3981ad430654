"""The moving pitch: a match played in the browser, fed with frames a minute at a time.

Python packs the frames of a minute as int16 centimetres; the browser interpolates between them at its own
rate and changes the arrays of the figure in place (`playback.js`).  While it plays, only requests for the
next minute and the place of the cursor (twice a second) travel to Python.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager, nullcontext
from importlib import resources
from typing import Any

import numpy as np
from bokeh.core.properties import value
from bokeh.events import SelectionGeometry
from bokeh.models import (
    BoxAnnotation,
    BoxSelectTool,
    Button,
    Column,
    ColumnDataSource,
    CustomJS,
    Div,
    InlineStyleSheet,
    RadioButtonGroup,
    Range1d,
    Row,
    Span,
    Toggle,
    glyphs,
)
from bokeh.models.renderers import GlyphRenderer
from bokeh.plotting import figure
from numpy.typing import NDArray

from tactical_kit.match import PERIOD_NAMES, Match
from tactical_kit.moments import Moments
from tactical_kit.scenes import style
from tactical_kit.scenes.canvas import marking_columns, marking_glyph, plain_renderer
from tactical_kit.scenes.pitch_marks import MARGIN

__all__ = ["CHUNK_S", "KEYS_HELP", "SPEEDS", "FrameChunks", "Playback"]

_DRAW: Any = glyphs  # the stubs know neither columns nor all of the glyphs
CHUNK_S = 60.0
SPEEDS = (0.25, 0.5, 1.0, 2.0, 4.0)
TRAIL_S = 2.0
TRAIL_POINTS = 9
FONT = "'DejaVu Sans', 'Helvetica Neue', Arial, sans-serif"
GAP = -32768  # int16 for "not in the data"
_EDGE = 1.2  # width of the edge of a player, px
HEADROOM_M = 10.0  # strip above the pitch for clock and phases, m
KEYS_HELP = (
    "Space play or pause; ← → one second, with Shift or as , and . one frame; Page Up, Page Down ten seconds; "
    "↑ ↓ speed; Home start of the moment; L loop; N names; T trails."
)


class FrameChunks:
    """The tracking of a match cut into packed chunks, home side attacking towards +x throughout.

    Parameters
    ----------
    match : Match
        With tracking.
    chunk_s : float, default 60
        Seconds of play in a chunk.

    Notes
    -----
    A chunk of n frames and P players is one int16 array: n * P * 2 centimetres (x, y of each player, frame by
    frame), n * 3 centimetres (ball), then n times as float64 seconds of the time line, seen as int16.  A value
    that is not in the data is -32768.  One frame of the next chunk is repeated at the end, so that the
    browser interpolates across the join.
    """

    def __init__(self, match: Match, chunk_s: float = CHUNK_S) -> None:
        tracking = match.need_tracking("The moving pitch", "The charts from events work without it.")
        self.match, self.tracking = match, tracking
        self.timeline_s = match.clock.timeline(tracking.period, tracking.time_s)
        number = np.floor(tracking.time_s / chunk_s).astype(np.int64) + 10_000 * tracking.period.astype(np.int64)
        first = np.flatnonzero(np.diff(number, prepend=-1))
        self.edges: NDArray[np.int64] = np.append(first, len(tracking))

    def __len__(self) -> int:
        return len(self.edges) - 1

    @property
    def starts(self) -> NDArray[np.float64]:
        """Time-line second of the first frame of each chunk."""
        return self.timeline_s[self.edges[:-1]]

    def at(self, timeline_s: float) -> int:
        """Return the number of the chunk that holds an instant of the time line."""
        return max(0, int(np.searchsorted(self.starts, timeline_s + 1e-6, side="right")) - 1)

    def packed(self, chunk: int) -> tuple[NDArray[np.int16], tuple[int, int]]:
        """Return the packed array of a chunk and its head: (number, frames)."""
        a, b = int(self.edges[chunk]), int(min(self.edges[chunk + 1] + 1, len(self.tracking)))
        sign = np.ones(b - a, np.float32)
        for period in self.match.periods:
            sign[self.tracking.period[a:b] == period.number] = period.home_attacks
        xy = self.tracking.xy[a:b] * sign[:, None, None]
        ball = self.tracking.ball[a:b] * np.stack([sign, sign, np.ones_like(sign)], axis=1)
        times = np.ascontiguousarray(self.timeline_s[a:b], dtype="<f8")
        return np.concatenate([_centimetres(xy), _centimetres(ball), times.view("<i2")]), (chunk, b - a)


def _centimetres(metres: NDArray[np.float32]) -> NDArray[np.int16]:
    known = np.isfinite(metres)
    value = np.clip(np.rint(np.where(known, metres, 0) * 100), -32767, 32767)
    return np.where(known, value, GAP).astype("<i2").ravel()


class Playback:
    """The moving pitch with its controls, as Bokeh models.

    Parameters
    ----------
    match : Match
        With tracking.
    phases : Moments, optional
        From `find_phases`; the phase of each side is told in words.
    turn : str, optional
        Team that attacks to the right, in both halves; the home side by default.
    on_cursor : callable, optional
        Called with (period, time_s) when the cursor has moved, at most four times a second.
    on_area : callable, optional
        Called with (x0, y0, x1, y1), metres in the attacking frame of the side that plays to the right, when
        an area has been drawn on the pitch.
    batch : callable, optional
        Makes the context in which models are changed, so that the browser is told.
    cursors : tuple of Span, optional
        Spans of other figures on the time line that follow the cursor in the browser.
    sheets : tuple of InlineStyleSheet, optional
        House style of the controls.

    Attributes
    ----------
    figure : bokeh figure
        The pitch.
    controls : Row
        Buttons; `layout` holds both.

    Notes
    -----
    Keys work while the pitch or a control has the focus: see `KEYS_HELP`.

    Raises
    ------
    MissingDataError
        No tracking.
    """

    def __init__(
        self,
        match: Match,
        phases: Moments | None = None,
        *,
        turn: str | None = None,
        on_cursor: Callable[[int, float], None] | None = None,
        on_area: Callable[[float, float, float, float], None] | None = None,
        batch: Callable[[], AbstractContextManager[None]] = nullcontext,
        cursors: tuple[Span, ...] = (),
        sheets: tuple[InlineStyleSheet, ...] = (),
    ) -> None:
        self.match = match
        self.chunks = FrameChunks(match)
        self._on_cursor, self._on_area = on_cursor, on_area
        self._batch = batch
        self._sheets = list(sheets)
        self._turn = -1 if turn is not None and match.team_index(turn) == 1 else 1
        self._serial = 0
        self._ring, self._place = "", (float("nan"), float("nan"))
        period, time_s = int(self.chunks.tracking.period[0]), float(self.chunks.tracking.time_s[0])
        self.cursor: tuple[int, float] = (period, time_s)
        self.playing = False
        self._build_sources()
        self._build_figure()
        self._build_controls()
        self._wire(phases, cursors)
        self.layout = Column(self.figure, self.controls, sizing_mode="stretch_width")

    # -- Python drives --------------------------------------------------------------------------------

    def go_to(
        self,
        period: int,
        time_s: float,
        play: bool = False,
        until: float | None = None,
        players: Iterable[str] = (),
        place: tuple[float, float, str] | None = None,
    ) -> None:
        """Move the cursor to an instant.

        Parameters
        ----------
        period, time_s
            When.
        play : bool, default False
            Play on, and stop (or loop) at `until`.
        until : float, optional
            End of a moment, seconds of the period.
        players : iterable of str
            Ids of those involved; they have a ring as long as the cursor stays within the moment.
        place : (x, y, team), optional
            Where the moment is, metres in the attacking frame of a side; a cross marks it.
        """
        column = {p: i for i, p in enumerate(self.chunks.tracking.players)}
        self._ring = ",".join(str(column[p]) for p in players if p in column)
        self._place = (float("nan"), float("nan"))
        if place is not None:
            sign = -1.0 if place[2] == self.match.away.team_id else 1.0
            self._place = (sign * place[0], sign * place[1])
        t = float(self.match.clock.timeline(period, time_s))
        end = float("nan") if until is None else float(self.match.clock.timeline(period, until))
        self.cursor = (int(period), float(time_s))
        self._command(t, play, end)

    def turn_to(self, team: str | None) -> None:
        """Let a side attack to the right (None: the home side)."""
        turn = -1 if team is not None and self.match.team_index(team) == 1 else 1
        if turn != self._turn:
            self._turn = turn
            self._command(float(self.match.clock.timeline(*self.cursor)), self.playing, float("nan"))

    def show_area(self, area: tuple[float, float, float, float] | None) -> None:
        """Outline an area given in the attacking frame of the side that plays to the right; None hides it."""
        if area is None:
            self._area_box.visible = False
        else:
            x0, y0, x1, y1 = area
            self._area_box.update(left=x0, bottom=y0, right=x1, top=y1, visible=True)

    def _command(self, t: float, play: bool, until: float) -> None:
        self._serial += 1
        data = {
            "t": [t], "play": [int(play)], "until": [until], "turn": [self._turn], "serial": [self._serial],
            "ring": [self._ring], "place_x": [self._place[0]], "place_y": [self._place[1]],
        }  # fmt: skip
        with self._batch():
            self.command.data = data

    # -- the browser asks -----------------------------------------------------------------------------

    def _send_chunks(self, attr: str, old: object, new: dict[str, Any]) -> None:
        wanted = [int(k) for k in new.get("chunk", ()) if 0 <= int(k) < len(self.chunks)]
        if wanted:
            self.chunk.data = self._chunk_data(wanted)

    def _chunk_data(self, wanted: list[int]) -> dict[str, list[Any]]:
        packed = [self.chunks.packed(k) for k in wanted]
        return {"packed": [flat for flat, _ in packed], "head": [list(head) for _, head in packed]}

    def _told(self, attr: str, old: object, new: dict[str, Any]) -> None:
        if len(new.get("t", ())) != 1:
            return
        period, time_s = self.match.clock.from_timeline(float(new["t"][0]))
        self.cursor = (int(period), float(time_s))
        self.playing = bool(new["playing"][0])
        if self._on_cursor:
            self._on_cursor(*self.cursor)

    def _drawn(self, event: SelectionGeometry) -> None:
        shape = event.geometry
        if self._on_area and event.final and shape.get("type") == "rect":
            x0, x1 = sorted((float(shape["x0"]), float(shape["x1"])))
            y0, y1 = sorted((float(shape["y0"]), float(shape["y1"])))
            self._on_area(x0, y0, x1, y1)

    # -- models ---------------------------------------------------------------------------------------

    def _build_sources(self) -> None:
        tracking = self.chunks.tracking
        self.teams: list[ColumnDataSource] = []
        for side in (0, 1):
            players = [self.match.player(p) for p, t in zip(tracking.players, tracking.team_index) if t == side]
            blank = np.full(len(players), np.nan)
            self.teams.append(
                ColumnDataSource(
                    {
                        "x": blank.copy(),
                        "y": blank.copy(),
                        "y_name": blank.copy(),
                        "number": ["" if p.shirt is None else str(p.shirt) for p in players],
                        "name": [p.name.split()[-1] if p.name else p.label for p in players],
                        "line": [style.PAPER] * len(players),
                        "edge": np.full(len(players), _EDGE),
                    },
                    name=f"playback-{('home', 'away')[side]}",
                    syncable=False,
                )
            )
        nothing = np.full(1, np.nan)
        self.ball = ColumnDataSource(
            {"x": nothing.copy(), "y": nothing.copy(), "size": np.full(1, 8.0)}, name="playback-ball", syncable=False
        )
        self.place = ColumnDataSource({"x": nothing.copy(), "y": nothing.copy()}, name="playback-place", syncable=False)
        counts = [int((tracking.team_index == s).sum()) * (TRAIL_POINTS + 1) for s in (0, 1)] + [TRAIL_POINTS]
        self.trails = [
            ColumnDataSource({"x": np.full(n, np.nan), "y": np.full(n, np.nan)}, syncable=False) for n in counts
        ]
        self.command = ColumnDataSource(
            {"t": [float(self.chunks.timeline_s[0])], "play": [0], "until": [float("nan")], "turn": [self._turn],
             "serial": [0], "ring": [""], "place_x": [float("nan")], "place_y": [float("nan")]},
            name="playback-command",
        )  # fmt: skip
        self.chunk = ColumnDataSource(self._chunk_data([0]), name="playback-chunk")
        self.want = ColumnDataSource({"chunk": [], "nonce": []}, name="playback-want")
        self.report = ColumnDataSource({"t": [], "playing": []}, name="playback-report")

    def _build_figure(self) -> None:
        pitch = self.match.pitch
        x, y = pitch.half_length + MARGIN, pitch.half_width + MARGIN
        top = y + HEADROOM_M
        bottom = -y - 3
        fig = figure(
            x_range=Range1d(-x, x), y_range=Range1d(bottom, top), aspect_ratio=2 * x / (top - bottom),
            sizing_mode="scale_width", width=600, height=round(600 * (top - bottom) / (2 * x)),
            toolbar_location=None, tools="", min_border=0, outline_line_color=None,
            background_fill_color=style.PAPER, border_fill_color=style.PAPER, name="playback-figure", title=None,
            x_axis_type=None, y_axis_type=None,
            stylesheets=[*self._sheets, InlineStyleSheet(css=_FOCUS_CSS)],
        )  # fmt: skip

        def draw(source: ColumnDataSource, glyph: Any, **look: Any) -> GlyphRenderer:
            fig.renderers.append(made := plain_renderer(source, glyph, **look))
            return made

        draw(ColumnDataSource(marking_columns(pitch, 1.2, 3.0)), marking_glyph())
        self._area_box = BoxAnnotation(
            fill_color=style.INK,
            fill_alpha=0.06,
            line_color=style.INK,
            line_dash="dashed",
            visible=False,
            level="image",
        )
        fig.add_layout(self._area_box)
        for source, colour in zip(self.trails, (*style.TEAM_FILL, style.INK)):
            draw(source, _DRAW.Line(x="x", y="y", line_color=colour, line_alpha=0.45, line_width=2))
        cross: dict[str, Any] = {"size": 13, "line_color": style.INK, "line_width": 2.5}
        draw(self.place, _DRAW.Scatter(x="x", y="y", marker="x", **cross))
        self.number_text, self.name_text = [], []
        for side, source in enumerate(self.teams):
            # A diamond of the same width as a circle looks smaller: it gets more.
            disc = _DRAW.Scatter(
                x="x", y="y", marker=style.TEAM_MARKER[side], size=(18, 23)[side],
                fill_color=style.TEAM_FILL[side], line_color="line", line_width="edge",
            )  # fmt: skip
            number = _DRAW.Text(
                x="x", y="y", text="number", text_color=style.TEAM_TEXT[side], text_font_size="10px",
                text_font=value(FONT), text_font_style="bold", text_align="center", text_baseline="middle",
            )  # fmt: skip
            label = _DRAW.Text(
                x="x", y="y_name", text="name", text_color=style.INK, text_font_size="11px", text_font=value(FONT),
                text_align="center", text_baseline="middle",
            )  # fmt: skip
            draw(source, disc)
            text, name = draw(source, number), draw(source, label, visible=False)
            text.syncable = name.syncable = False
            self.number_text.append(text)
            self.name_text.append(name)
        look: dict[str, Any] = {"fill_color": "#ffffff", "line_color": style.INK, "line_width": 2}
        draw(self.ball, _DRAW.Scatter(x="x", y="y", size="size", **look))
        self.words = ColumnDataSource(
            {
                "x": [0.0, 0.0, -pitch.half_length, pitch.half_length, 0.0],
                "y": [y + 7.0, y + 2.4, y + 4.7, y + 4.7, -y - 0.8],
                "text": ["", "", "", "", ""],
            },
            name="playback-words", syncable=False,
        )  # fmt: skip
        draw(self.words, self._words_text())
        tool = BoxSelectTool(renderers=[], description="Draw an area")
        tool.overlay.update(fill_color=style.INK, fill_alpha=0.08, line_color=style.INK, line_dash="dashed")
        fig.add_tools(tool)
        fig.toolbar.active_drag = tool
        fig.on_event(SelectionGeometry, self._drawn)
        self.figure = fig

    def _words_text(self) -> Any:
        # Clock and period in the middle, the two sides left and right of it, directions of attack below.
        self.words.data["align"] = ["center", "center", "left", "right", "center"]
        self.words.data["size"] = ["20px", "12px", "12px", "12px", "12px"]
        self.words.data["weight"] = ["bold", "normal", "bold", "bold", "normal"]
        self.words.data["colour"] = [style.INK, style.FAINT, style.TEAM_FILL[0], "#a34700", style.FAINT]
        return _DRAW.Text(
            x="x", y="y", text="text", text_color="colour", text_font_size="size", text_align="align",
            text_font=value(FONT), text_font_style="weight", text_baseline="middle",
        )  # fmt: skip

    def _build_controls(self) -> None:
        def button(label: str, name: str, width: int) -> Button:
            return Button(
                label=label, name=f"playback-{name}", width=width, stylesheets=self._sheets, margin=(2, 2, 2, 2)
            )

        def toggle(label: str, name: str, active: bool, width: int) -> Toggle:
            return Toggle(
                label=label, active=active, name=f"playback-{name}", width=width, stylesheets=self._sheets,
                margin=(2, 2, 2, 2), syncable=False,
            )  # fmt: skip

        self.play = button("Play", "play", 64)
        self.play.syncable = False
        self.steps = [
            button("− 1 s", "back", 50), button("− frame", "frame-back", 66), button("+ frame", "frame-forward", 66),
            button("+ 1 s", "forward", 50),
        ]  # fmt: skip
        self.speed = RadioButtonGroup(
            labels=[f"{s:g}×" for s in SPEEDS], active=SPEEDS.index(1.0), name="playback-speed", syncable=False,
            stylesheets=self._sheets, margin=(2, 2, 2, 2),
        )  # fmt: skip
        self.loop = toggle("Loop", "loop", False, 52)
        self.trail_toggle = toggle("Trails", "trails", True, 56)
        self.names = button("Labels: numbers", "labels", 122)
        self.names.syncable = False
        self.help = Div(
            text=f'<span style="font:12px/1.4 {FONT};color:{style.FAINT}">Keys, once the pitch has the focus: '
            f"{KEYS_HELP}</span>",
            stylesheets=self._sheets,
            sizing_mode="stretch_width",
        )
        wrap = InlineStyleSheet(css=":host { flex-wrap: wrap; row-gap: 2px; }")
        self.controls = Column(
            Row(
                self.play, *self.steps, self.speed, self.loop, self.trail_toggle, self.names,
                sizing_mode="stretch_width", stylesheets=[wrap],
            ),
            self.help, sizing_mode="stretch_width",
        )  # fmt: skip

    def _wire(self, phases: Moments | None, cursors: tuple[Span, ...]) -> None:
        for span in cursors:
            span.syncable = False
        code = resources.files("tactical_kit.scenes").joinpath("playback.js").read_text(encoding="utf-8")
        engine = CustomJS(
            args={
                "config": self._config(phases), "fig": self.figure, "home": self.teams[0], "away": self.teams[1],
                "ball": self.ball, "trails": self.trails, "words": self.words, "command": self.command,
                "place": self.place,
                "chunk": self.chunk, "want": self.want, "report": self.report, "play": self.play,
                "speed": self.speed, "loop": self.loop, "names": self.names, "trail_toggle": self.trail_toggle,
                "number_text": self.number_text, "name_text": self.name_text, "cursors": list(cursors),
            },
            code=code,
        )  # fmt: skip
        self.figure.js_on_change("inner_width", engine)  # the first layout in the browser starts it
        self.command.js_on_change("data", engine)
        self.chunk.js_on_change("data", engine)
        self.speed.js_on_change("active", engine)
        self.loop.js_on_change("active", engine)
        self.trail_toggle.js_on_change("active", engine)
        for button in (self.play, self.names, *self.steps):
            button.js_on_event("button_click", engine)
        self.want.on_change("data", self._send_chunks)
        self.report.on_change("data", self._told)

    def _config(self, phases: Moments | None) -> dict[str, Any]:
        clock, match = self.match.clock, self.match
        offsets = [float(clock.timeline(p.number, 0.0)) for p in match.periods]
        words, runs = _phase_runs(match, phases)
        starts = {1: (0, 45), 2: (45, 45), 3: (90, 15), 4: (105, 15), 5: (120, 0)}
        t = self.chunks.timeline_s
        return {
            "rate": float(self.chunks.tracking.rate_hz), "team": self.chunks.tracking.team_index.tolist(),
            "starts": self.chunks.starts.tolist(), "at": float(t[0]), "end": float(t[-1]), "turn": self._turn,
            "breaks": offsets[1:], "period_starts": offsets,
            "period_names": [PERIOD_NAMES[p.number] for p in match.periods],
            "clock_start": [starts[p.number][0] for p in match.periods],
            "clock_length": [starts[p.number][1] for p in match.periods],
            "sides": [t.short_name for t in match.teams], "phase_words": words, "phases": runs,
            "speeds": list(SPEEDS), "trail_s": TRAIL_S, "trail_points": TRAIL_POINTS, "help": KEYS_HELP,
            "rings": {"plain": [style.PAPER, _EDGE], "involved": [style.INK, 3.5]},
        }  # fmt: skip


def _phase_runs(match: Match, phases: Moments | None) -> tuple[list[str], list[dict[str, Any]]]:
    """Return the phase words and, for each side, its phases as sorted spans of the time line."""
    if phases is None or not len(phases):
        empty: dict[str, Any] = {"start": [], "end": [], "code": [], "estimated": []}
        return [], [dict(empty), dict(empty)]
    table = phases.table
    words = sorted(set(table["phase"]))
    runs = []
    for team in match.teams:
        own = table[table["team"] == team.team_id].sort_values(["period", "start_s"], kind="stable")
        runs.append(
            {
                "start": match.clock.timeline(own["period"], own["start_s"]),
                "end": match.clock.timeline(own["period"], own["end_s"]),
                "code": np.array([words.index(w) for w in own["phase"]], np.uint8),
                "estimated": own["estimated"].to_numpy(np.uint8),
            }
        )
    return words, runs


_FOCUS_CSS = f"""
:host(:focus) {{ outline: 2px solid {style.INK}; outline-offset: -2px; }}
:host {{ touch-action: pan-y; }}
"""
