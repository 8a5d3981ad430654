"""The print surface: PNG, SVG and PDF of a Scene through Matplotlib, the same bytes each time.

Title, facts, legend and caption stand above and below the pitch in lines that are broken to the width of the
picture, which grows downwards as needed: no word is cut off.  pyplot is not used, nor the reader's own
Matplotlib settings.
"""

from __future__ import annotations

import io
import textwrap
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon

from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.scenes import style
from tactical_kit.scenes.layers import DRAW_ORDER, Columns, arrow_head, arrow_shaft, lay_out
from tactical_kit.scenes.pitch_marks import pitch_bounds, pitch_marks
from tactical_kit.scenes.scene import KeyItem, Scene

__all__ = ["FORMATS", "draw", "notebook_png", "save", "to_bytes"]

FORMATS = ("png", "svg", "pdf")
_WIDTH_IN = 6.0  # narrow, so that words keep their size on a phone
_SETTINGS: dict[str, Any] = {
    "font.family": list(style.FONT_FAMILIES),
    "svg.hashsalt": "tactical_kit",
    "svg.fonttype": "none",  # words stay words: to be searched, read aloud, copied
    "pdf.fonttype": 42,
    "text.usetex": False,
    "text.parse_math": False,  # a name may hold dollar signs
    "hatch.linewidth": 0.5,
    "path.simplify": False,
    "axes.unicode_minus": True,
}
_POINTS = {"small": 8.5, "normal": 10.0, "large": 13.0}
_DASH: dict[str, Any] = {"solid": "-", "dashed": (0, (4, 2.4)), "dotted": (0, (1.2, 2))}
_MARKER = {"circle": "o", "square": "s"}
_NO_CLIP: dict[str, Any] = {"clip_on": False}


def draw(scene: Scene, ax: Axes | None = None, size: tuple[float, float] | None = None) -> Figure:
    """Draw a scene with Matplotlib.

    Parameters
    ----------
    scene : Scene
        Any scene.
    ax : Axes, optional
        Axes of your own: only the pitch and its marks are drawn into it, the words are left to you.
    size : (float, float), optional
        Width and height of the whole picture in inches.  By default 6 in wide and as high as needed.

    Returns
    -------
    Figure
        The figure drawn on, not known to pyplot.

    Raises
    ------
    TacticalKitError
        A size too small for the words.
    """
    with _settings():
        if ax is not None:
            _draw_pitch(scene, ax)
            root = ax.get_figure(root=True)
            assert isinstance(root, Figure)
            return root
        return _Sheet(scene, size).figure


def save(
    scene: Scene,
    path: str | Path,
    dpi: int = 200,
    size: tuple[float, float] | None = None,
    format: str | None = None,
) -> Path:
    """Write a scene to a file.

    Parameters
    ----------
    scene : Scene
        Any scene.
    path : str or Path
        Its ending sets the form: .png, .svg or .pdf.
    dpi : int, default 200
        Dots an inch of a PNG: 1200 across; 300 or more for paper.
    size : (float, float), optional
        Width and height in inches; by default 6 wide and as high as needed.
    format : {"png", "svg", "pdf"}, optional
        If the ending does not say it.

    Returns
    -------
    Path
        Where it was written.

    Raises
    ------
    UnknownNameError
        An ending that is none of the three.
    TacticalKitError
        A folder that is not there or cannot be written into, or a resolution out of range.

    Notes
    -----
    The same scene gives the same bytes: no date is written, ids in SVG come from a fixed salt.  Title and
    description travel in the file.  SVG keeps its words as words; where the font is missing a reader's
    sans-serif stands in.
    """
    target = Path(path)
    data = to_bytes(scene, format or target.suffix.lower().lstrip("."), dpi, size)
    if not target.parent.is_dir():
        raise TacticalKitError(f"the folder {str(target.parent)!r} is not there; make it first, or name another one.")
    try:
        target.write_bytes(data)
    except OSError as error:
        why = error.strerror or error
        raise TacticalKitError(f"cannot write {str(target)!r} ({why}); name another file or folder.") from error
    return target


def to_bytes(scene: Scene, format: str = "png", dpi: int = 200, size: tuple[float, float] | None = None) -> bytes:
    """Return the picture as the bytes of a PNG, SVG or PDF file; parameters as in `save`."""
    check_choice("format of a picture", format, FORMATS)
    if not 1 <= dpi <= 2400:
        raise TacticalKitError(f"dpi is {dpi:g}; expected dots an inch from 1 to 2400, such as 200.")
    metadata: dict[str, Any] = {
        "png": {"Title": scene.title, "Description": scene.alt, "Software": None},
        "svg": {"Title": scene.title, "Description": scene.alt, "Date": None, "Creator": None},
        "pdf": {"Title": scene.title, "Subject": scene.alt, "CreationDate": None, "Creator": None, "Producer": None},
    }[format]
    buffer = io.BytesIO()
    with _settings():
        figure = draw(scene, size=size)
        figure.savefig(buffer, format=format, dpi=dpi, metadata=metadata, facecolor=style.PAPER)
    return buffer.getvalue()


def notebook_png(scene: Scene, width_px: int = 640) -> tuple[bytes, dict[str, Any]]:
    """Return a PNG at twice the shown size, sharp on dense screens, and its display metadata with alt text."""
    data = to_bytes(scene, "png", dpi=round(2 * width_px / _WIDTH_IN))
    width, height = (int.from_bytes(data[i : i + 4], "big") for i in (16, 20))
    return data, {"width": width // 2, "height": height // 2, "alt": scene.alt}


@contextmanager
def _settings() -> Iterator[None]:
    with matplotlib.rc_context(), warnings.catch_warnings():
        # A script that the bundled font lacks shows as boxes in PNG; a warning a glyph would bury the cell.
        warnings.filterwarnings("ignore", message=r"Glyph \d+ .* missing from font")
        own: dict[Any, Any] = {k: v for k, v in matplotlib.rcParamsDefault.items() if k in _SCRUB} | _SETTINGS
        matplotlib.rcParams.update(own)
        yield


# Settings of the reader that would change the picture are put back to Matplotlib's own.
_SCRUB = {
    name
    for name in matplotlib.rcParamsDefault
    if name.partition(".")[0] in ("axes", "font", "hatch", "lines", "patch", "path", "pdf", "savefig", "svg", "text")
}


# -- the sheet: words around the pitch ------------------------------------------------------------------


class _Sheet:
    """One picture: words above, pitch, words below; heights are found by measuring the words."""

    margin = 0.22  # in

    def __init__(self, scene: Scene, size: tuple[float, float] | None) -> None:
        self.scene = scene
        self.width = _WIDTH_IN if size is None else float(size[0])
        self.figure = Figure(figsize=(self.width, 4), facecolor=style.PAPER)
        self.renderer = FigureCanvasAgg(self.figure).get_renderer()
        above = [
            *self._wrapped(scene.title, 14, style.INK, "bold", even=True),
            *self._wrapped(scene.subtitle, 10, style.INK),
            *self._wrapped(self._parted(scene.fact_line, 10), 10, style.FAINT),
        ]
        below = [
            *self._wrapped(scene.caption, 9, style.FAINT),
            *self._wrapped(scene.source and f"Data: {scene.source}", 9, style.FAINT),
        ]
        legend = self._legend_rows()
        x0, y0, x1, y1 = pitch_bounds(scene.pitch)
        top = self.margin + sum(line[1] for line in above)
        bottom = self.margin + sum(line[1] for line in below) + 0.24 * len(legend)
        room = self.width - 2 * self.margin
        field = room * (y1 - y0) / (x1 - x0)
        if size is not None:
            field = float(size[1]) - top - bottom
            if field < 0.8 or room < 1.5:
                raise TacticalKitError(
                    f"a picture of {size[0]:g} x {size[1]:g} in leaves {room:.1f} x {max(field, 0):.1f} in for the "
                    "pitch; expected at least 1.5 x 0.8 in. Ask for a larger size, or leave it out."
                )
        self.height = top + field + bottom
        self.figure.set_size_inches(self.width, self.height)
        y = self.height - self.margin / 2
        for text, height, options in above:
            self._put(text, self.margin, y - height / 2, options)
            y -= height
        y = bottom - self.margin / 2
        for row in legend:
            self._put_legend(row, y - 0.12)
            y -= 0.24
        for text, height, options in below:
            self._put(text, self.margin, y - height / 2, options)
            y -= height
        box = (self.margin / self.width, bottom / self.height, room / self.width, field / self.height)
        _draw_pitch(scene, self.figure.add_axes(box))

    def _put(self, text: str, x_in: float, y_in: float, options: dict[str, Any]) -> None:
        self.figure.text(x_in / self.width, y_in / self.height, text, va="center_baseline", **options)

    def _wrapped(
        self, text: str, points: float, colour: str, weight: str = "normal", even: bool = False
    ) -> list[tuple[str, float, dict[str, Any]]]:
        options = {"fontsize": points, "color": colour, "fontweight": weight}
        height = points / 72 * 1.45
        lines = self._lines(text, points, weight)
        if even and len(lines) > 1:  # lines of like length: no single word is left for the last one
            wide = self.width - 2 * self.margin
            narrow = wide / len(lines)
            while wide - narrow > 0.02:
                middle = (wide + narrow) / 2
                fits = len(self._lines(text, points, weight, middle)) == len(lines)
                wide, narrow = (middle, narrow) if fits else (wide, middle)
            lines = self._lines(text, points, weight, wide)
        return [(line, height, options) for line in lines]

    def _parted(self, text: str, points: float) -> str:
        """Break facts joined by dots between two facts, not within one, wherever a line is long enough for it."""
        lines: list[str] = []
        for part in text.split(" · "):
            longer = f"{lines[-1]} · {part}" if lines else part
            if lines and self._width(longer, points) <= self.width - 2 * self.margin:
                lines[-1] = longer
            else:
                lines.append(part)
        return "\n".join(lines)

    def _lines(self, text: str, points: float, weight: str, room: float | None = None) -> list[str]:
        """Break words to the width of the sheet; a word longer than a line is cut, never run over the edge."""
        room = self.width - 2 * self.margin if room is None else room
        lines: list[str] = []
        for paragraph in text.splitlines():
            line = ""
            for word in paragraph.split(" "):
                longer = f"{line} {word}" if line else word
                if self._width(longer, points, weight) <= room:
                    line = longer
                    continue
                if line:
                    lines.append(line)
                while self._width(word, points, weight) > room:
                    cut = len(word) - 1
                    while cut > 1 and self._width(word[:cut], points, weight) > room:
                        cut -= 1
                    lines.append(word[:cut])
                    word = word[cut:]
                line = word
            if line:
                lines.append(line)
        return lines

    def _width(self, text: str, points: float, weight: str = "normal") -> float:
        """Width of a line in inches as the renderer will set it."""
        if not text:
            return 0.0
        font = matplotlib.font_manager.FontProperties(family=list(style.FONT_FAMILIES), size=points, weight=weight)
        return float(self.renderer.get_text_width_height_descent(text, font, False)[0]) / self.figure.dpi

    def _legend_rows(self) -> list[list[tuple[KeyItem, float, float]]]:
        """Legend entries with their left edge and symbol width in inches, in as many rows as needed."""
        rows: list[list[tuple[KeyItem, float, float]]] = []
        x = self.width
        for item in self.scene.legend:
            symbol = _SYMBOL_IN.get(item.symbol, 0.2)
            start = symbol + 0.06 if symbol else 0.0
            lines = self._lines(item.text, 9, "normal", self.width - 2 * self.margin - start) or [""]
            width = start + self._width(lines[0], 9) + 0.2
            if x + width > self.width - self.margin + 0.2 or len(lines) > 1 or not rows:
                rows.append([])
                x = self.margin
            rows[-1].append((KeyItem(item.symbol, lines[0]), x, symbol))
            rows.extend([(KeyItem("none", line), self.margin + start, 0.0)] for line in lines[1:])
            x = self.width if len(lines) > 1 else x + width
        return rows

    def _put_legend(self, row: list[tuple[KeyItem, float, float]], y: float) -> None:
        for item, x, width in row:
            for artist in _symbol(item.symbol, x, y, width):
                artist.set_transform(self.figure.dpi_scale_trans)
                self.figure.add_artist(artist)
            options = {"fontsize": 9, "color": style.INK}
            self._put(item.text, x + (width + 0.06 if width else 0), y, options)


_SYMBOL_IN = {"pass": 0.42, "run": 0.42, "dribble": 0.42, "ramp": 0.7, "ramp-light": 0.7, "none": 0.0}


def _symbol(symbol: str, x: float, y: float, width: float) -> list[Any]:
    """A legend symbol as artists in inches."""
    middle = x + width / 2
    marker = {"home": "o", "away": "s", "ghost": "o", "ghost-away": "s", "ball": "o"}
    if symbol in marker:
        team = 1 if "away" in symbol else 0
        fill = style.PAPER if "ghost" in symbol else "#ffffff" if symbol == "ball" else style.TEAM_FILL[team]
        edge = style.GHOST[team] if "ghost" in symbol else "#000000" if symbol == "ball" else fill
        size = 5 if symbol == "ball" else 8 if team else 9
        look: dict[str, Any] = {
            "markersize": size,
            "markerfacecolor": fill,
            "markeredgecolor": edge,
            "markeredgewidth": 1.2,
        }
        return [Line2D([middle], [y], linestyle="none", marker=marker[symbol], **look)]
    if symbol in ("pass", "run", "dribble"):
        scale = 0.06  # inches a "metre", so that the wave is the one on the pitch
        reach = width / scale
        shaft = arrow_shaft(0, 0, reach, 0, symbol, 1.8)
        shaft[-1, 0] -= 1.2  # the head covers the rest
        head = arrow_head(0, 0, reach, 0, 1, 1.9)
        dash = _DASH["dashed" if symbol == "run" else "solid"]
        return [
            Line2D(x + shaft[:, 0] * scale, y + shaft[:, 1] * scale, color=style.INK, linewidth=1.4, linestyle=dash),
            Polygon(head * scale + (x, y), closed=True, facecolor=style.INK, linewidth=0),
        ]
    if symbol in ("ramp", "ramp-light"):
        part = width / 5
        top = style.LIGHT if symbol == "ramp-light" else 1.0
        return [
            _rectangle(x + i * part, y - 0.07, part, 0.14, facecolor=style.ramp((i + 0.5) / 5 * top), linewidth=0)
            for i in range(5)
        ]
    if symbol == "few":
        look = {"facecolor": style.PAPER, "edgecolor": style.FAINT, "hatch": "/////", "linewidth": 0.6}
        return [_rectangle(x, y - 0.08, width, 0.16, **look)]
    return []


def _rectangle(x: float, y: float, width: float, height: float, **look: Any) -> Polygon:
    return Polygon([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], closed=True, **look)


# -- the pitch ------------------------------------------------------------------------------------------


def _draw_pitch(scene: Scene, ax: Axes) -> None:
    x0, y0, x1, y1 = pitch_bounds(scene.pitch)
    ax.set_xlim(x0, x1)
    ax.set_ylim(y0, y1)
    ax.set_aspect("equal")
    ax.set_axis_off()
    ax.add_patch(_rectangle(x0, y0, x1 - x0, y1 - y0, facecolor=style.PAPER, linewidth=0, zorder=0))
    tables = lay_out(scene)
    for order, layer in enumerate(DRAW_ORDER, start=1):
        if layer == "markings":
            _draw_markings(scene, ax, order)
        else:
            table = tables[layer]
            _ARTISTS[layer.partition(".")[2]](ax, table, order)
    for i, line in enumerate(line for part in scene.message.splitlines() for line in _even(part, 48)):
        ax.annotate(
            line, (0, 0), xytext=(0, 24 - 18 * i), textcoords="offset points", ha="center", va="center", fontsize=11,
            fontweight="bold", color=style.INK, zorder=40, annotation_clip=False, parse_math=False,
            bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 2},
        )  # fmt: skip


def _even(text: str, most: int) -> list[str]:
    """Break words into as few lines of at most `most` letters as there can be, of like length."""
    lines = textwrap.wrap(text, most)
    for width in range(max(map(len, text.split()), default=1), most):
        shorter = textwrap.wrap(text, width)
        if len(shorter) == len(lines):
            return shorter
    return lines


def _draw_markings(scene: Scene, ax: Axes, order: int) -> None:
    for mark in pitch_marks(scene.pitch):
        x, y = mark.points[:, 0], mark.points[:, 1]
        if mark.spot:
            ax.plot(x, y, marker="o", markersize=2.4, color=style.MARKING, zorder=order, **_NO_CLIP)
        else:
            ax.plot(x, y, color=style.MARKING, linewidth=1.0, solid_joinstyle="round", zorder=order, **_NO_CLIP)


def _rows(table: Columns) -> Iterator[dict[str, Any]]:
    for values in zip(*table.values()):
        yield dict(zip(table, values))


def _polygon(row: dict[str, Any], **look: Any) -> Polygon:
    return Polygon(list(zip(row["xs"], row["ys"])), closed=True, **look)


def _zones(ax: Axes, table: Columns, order: int) -> None:
    for row in _rows(table):
        if row["fill_alpha"]:
            ax.add_patch(_polygon(row, facecolor=row["fill"], linewidth=0, zorder=order))
        if row["hatch"]:
            look = {"facecolor": "none", "edgecolor": row["hatch_colour"], "hatch": "///", "linewidth": 0}
            ax.add_patch(_polygon(row, zorder=order + 0.1, **look))
        ax.add_patch(
            _polygon(
                row, facecolor="none", edgecolor=row["line"], linewidth=row["line_width"],
                linestyle=_DASH[row["dash"]], zorder=order + (0.3 if row["line_width"] > 2 else 0.2),
            )
        )  # fmt: skip


def _areas(ax: Axes, table: Columns, order: int) -> None:
    for row in _rows(table):
        ax.add_patch(_polygon(row, facecolor=row["fill"], alpha=row["fill_alpha"], linewidth=0, zorder=order))


def _lines(ax: Axes, table: Columns, order: int) -> None:
    for row in _rows(table):
        dash = _DASH[row["dash"]]
        ax.plot(row["xs"], row["ys"], color=row["colour"], linewidth=row["width"], linestyle=dash, zorder=order)


def _arrows(ax: Axes, table: Columns, order: int) -> None:
    for row in _rows(table):
        ax.plot(
            row["xs"], row["ys"], color=row["colour"], alpha=row["alpha"], linewidth=row["width"],
            linestyle=_DASH[row["dash"]], solid_capstyle="butt", zorder=order,
        )  # fmt: skip


def _heads(ax: Axes, table: Columns, order: int) -> None:
    for row in _rows(table):
        ax.add_patch(_polygon(row, facecolor=row["colour"], alpha=row["alpha"], linewidth=0, zorder=order))


def _points_per_m(ax: Axes) -> float:
    box = ax.get_position()
    figure = ax.get_figure(root=True)
    assert figure is not None
    width, height = figure.get_size_inches()
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    return float(min(box.width * width / (x1 - x0), box.height * height / (y1 - y0)) * 72)


def _discs(ax: Axes, table: Columns, order: int) -> None:
    scale = _points_per_m(ax)
    for i, row in enumerate(_rows(table)):
        # Never smaller than its number: 8 points are the least that reads on paper and on a phone.
        letters = len(row["label"])
        least = max(13.0, 5.6 * letters) if letters else 5.0
        size = max(2 * row["radius_m"] * scale, least) * (0.9 if row["marker"] == "square" else 1.0)
        # A strong ring goes around the mark: half inside it, it would lie under the number.
        ring = row["line_width"] if row["line_width"] > 2 else 0.0
        ax.plot(
            [row["x"]], [row["y"]], marker=_MARKER[row["marker"]], markersize=size + ring, zorder=order + i / 1000,
            markerfacecolor=row["fill"] if row["fill_alpha"] else "none", markeredgecolor=row["line"],
            markeredgewidth=row["line_width"], linestyle="none", **_NO_CLIP,
        )  # fmt: skip
        ax.text(
            row["x"], row["y"], row["label"], color=row["label_colour"], fontsize=_number_points(letters, size),
            fontweight="bold", ha="center", va="center_baseline", zorder=order + (i + 0.5) / 1000, parse_math=False,
        )  # fmt: skip


def _number_points(letters: int, size: float) -> float:
    """Size of a number inside a disc: one or two figures in full, longer ones as wide as the disc allows."""
    full = min(9.0, max(8.0, size * 0.5))
    return full if letters <= 2 else max(5.5, min(full, size / (0.72 * letters)))


def _balls(ax: Axes, table: Columns, order: int) -> None:
    scale = _points_per_m(ax)
    for row in _rows(table):
        size = max(2 * row["radius_m"] * scale, 5.5)
        look: dict[str, Any] = {"markerfacecolor": "#ffffff", "markeredgecolor": "#000000", "markeredgewidth": 1.6}
        ax.plot([row["x"]], [row["y"]], marker="o", markersize=size, zorder=order, **look, **_NO_CLIP)
        ax.plot([row["x"]], [row["y"]], marker="o", markersize=1.6, color="#000000", zorder=order, **_NO_CLIP)


def _texts(ax: Axes, table: Columns, order: int) -> None:
    for row in _rows(table):
        ax.text(
            row["x"], row["y"], row["text"], color=row["colour"], fontsize=_POINTS[row["size"]], ha=row["align"],
            va="center_baseline", fontweight=row["weight"], zorder=order, parse_math=False,
            bbox={"facecolor": row["plate"], "alpha": row["back"], "linewidth": 0, "pad": 0.6} if row["back"] else None,
        )  # fmt: skip


_ARTISTS: dict[str, Any] = {
    "zones": _zones, "areas": _areas, "lines": _lines, "arrows": _arrows, "heads": _heads, "discs": _discs,
    "balls": _balls, "texts": _texts, "names": _texts,
}  # fmt: skip
