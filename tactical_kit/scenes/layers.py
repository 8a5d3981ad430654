"""From the marks of a Scene to plain columns of shapes and colours: what both surfaces draw.

No library of either surface is used here, so the columns are the collecting surface of the tests, too.
Everything is in metres, widths of lines are in points.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tactical_kit.scenes import style
from tactical_kit.scenes.scene import Arrow, Ball, Disc, Label, Lane, Line, Mark, Scene, Shadow, Zone

__all__ = ["DRAW_ORDER", "KINDS", "Columns", "arrow_head", "arrow_shaft", "lay_out"]

Columns = dict[str, list[Any]]
_NAN = float("nan")  # one object, so that equal columns compare equal

# Columns of each kind of layer.  Names of layers are "main.discs", "ghost.zones"...
KINDS: dict[str, tuple[str, ...]] = {
    "zones": (
        "xs", "ys", "fill", "fill_alpha", "line", "line_width", "dash", "hatch", "hatch_colour", "value", "key",
        "hover",
    ),
    "areas": ("xs", "ys", "fill", "fill_alpha", "line", "key", "hover"),
    "lines": ("xs", "ys", "colour", "width", "dash", "key", "hover"),
    "arrows": ("xs", "ys", "colour", "alpha", "width", "dash", "value", "key", "hover"),
    "heads": ("xs", "ys", "colour", "alpha"),
    "discs": (
        "x", "y", "radius_m", "marker", "fill", "fill_alpha", "line", "line_width", "label", "label_colour", "value",
        "key", "hover",
    ),
    "balls": ("x", "y", "radius_m", "height_m", "key", "hover"),
    "names": ("x", "y", "dy_m", "text", "colour", "size", "align", "weight", "back", "plate"),
    "texts": ("x", "y", "dy_m", "text", "colour", "size", "align", "weight", "back", "plate"),
}  # fmt: skip

# From the ground up; "markings" stands for the lines of the pitch.
DRAW_ORDER = (
    "main.zones", "ghost.zones", "markings", "ghost.areas", "main.areas", "ghost.lines", "ghost.arrows", "ghost.heads",
    "main.lines", "main.arrows", "main.heads", "ghost.discs", "ghost.names", "main.names", "main.discs", "ghost.balls",
    "main.balls", "ghost.texts", "main.texts",
)  # fmt: skip


def lay_out(scene: Scene) -> dict[str, Columns]:
    """Turn the marks of a scene into columns, one table a kind and layer.

    Parameters
    ----------
    scene : Scene
        Any scene.

    Returns
    -------
    dict of str to Columns
        Every layer of `DRAW_ORDER` except "markings", each with all columns of `KINDS`, empty lists included.
    """
    tables: dict[str, Columns] = {
        layer: {column: [] for column in KINDS[layer.partition(".")[2]]} for layer in DRAW_ORDER if "." in layer
    }
    for mark in scene.marks:
        for kind, row in _ROWS[type(mark)](mark):
            table = tables[f"{mark.layer}.{kind}"]
            for column in KINDS[kind]:
                table[column].append(row[column])
    for depth in ("main", "ghost"):
        _free_numbers(tables[f"{depth}.balls"], tables[f"{depth}.discs"])
    return tables


def arrow_shaft(x0: float, y0: float, x1: float, y1: float, style_name: str, head_m: float) -> NDArray[np.float64]:
    """Return the shaft of an arrow, (N, 2) m: straight, or wavy for a dribble with a straight end.

    A wave is about 2.6 m long and swings 0.6 m to either side.
    """
    start, end = np.array([x0, y0]), np.array([x1, y1])
    length = float(np.hypot(*(end - start)))
    if style_name != "dribble" or length < 2 * head_m:
        return np.array([start, end])
    along = (end - start) / length
    across = np.array([-along[1], along[0]])
    wavy = length - 1.5 * head_m
    waves = max(1, round(wavy / 2.6))
    t = np.linspace(0, 1, waves * 10 + 1)
    swing = 0.6 * np.sin(2 * np.pi * waves * t)
    return np.vstack([start + np.outer(t * wavy, along) + np.outer(swing, across), end])


def arrow_head(x0: float, y0: float, x1: float, y1: float, at: float, size_m: float) -> NDArray[np.float64]:
    """Return the triangle of an arrow's head, (3, 2) m, its tip at the share `at` of the way."""
    start, end = np.array([x0, y0]), np.array([x1, y1])
    length = float(np.hypot(*(end - start)))
    if length == 0:
        return np.array([start, start, start])
    along = (end - start) / length
    across = np.array([-along[1], along[0]])
    size = min(size_m, length)
    tip = start + along * max(length * at, size)
    return np.array([tip, tip - along * size + across * size * 0.42, tip - along * size - across * size * 0.42])


def _colour(mark: Mark) -> str:
    if mark.layer == "ghost":
        return style.FAINT if mark.team is None else style.GHOST[mark.team]
    return style.INK if mark.team is None else style.TEAM_FILL[mark.team]


def _value(value: float) -> float:
    return float(value) if value == value else _NAN


def _xy(points: Any) -> dict[str, list[float]]:
    array = np.asarray(points, float)
    return {"xs": array[:, 0].tolist(), "ys": array[:, 1].tolist()}


def _zone(mark: Zone) -> list[tuple[str, dict[str, Any]]]:
    ghost = mark.layer == "ghost"
    filled = mark.shade is not None and not ghost
    fill = style.ramp(mark.shade) if filled and mark.shade is not None else style.PAPER
    rows: list[tuple[str, dict[str, Any]]] = [
        (
            "zones",
            {
                **_xy(mark.points),
                "fill": fill,
                "fill_alpha": 1.0 if filled else 0.0,
                "line": style.INK if mark.picked else style.FAINT if ghost else style.MARKING,
                "line_width": 3.0 if mark.picked else 0.8,
                "dash": "dashed" if ghost else "solid",
                "hatch": "few" if mark.few else "",
                "hatch_colour": style.mix(fill, style.text_on(fill), 0.3),
                "value": _value(mark.value),
                "key": mark.key,
                "hover": mark.hover,
            },
        )
    ]
    colour = style.text_on(fill) if filled else style.INK
    (x, y), align, up, down = mark.centre, "center", 1.6, -2.0
    if mark.corner:
        rim = (max if mark.corner == "upper" else min)(p[1] for p in mark.points)
        (x, y), align = (min(mark.points)[0] + 1.0, rim), "left"
        up, down = (-2.2, -5.4) if mark.corner == "upper" else (5.4 if mark.note else 2.2, 2.2)
    elif not (mark.label and mark.note):
        up = down = 0.0
    # Arrows pass below words in a corner: a plate in the zone's own colour keeps them legible.
    plate: dict[str, Any] = {"back": 0.85, "plate": fill} if mark.corner else {}
    if mark.label:
        rows.append(("texts", _words(x, y, mark.label, colour, "normal", align, weight="bold", dy_m=up, **plate)))
    if mark.note:
        rows.append(("texts", _words(x, y, mark.note, colour, "small", align, dy_m=down, **plate)))
    return rows


def _area(mark: Lane | Shadow) -> list[tuple[str, dict[str, Any]]]:
    if isinstance(mark, Lane):
        start, end = np.array([mark.x0, mark.y0]), np.array([mark.x1, mark.y1])
        along = (end - start) / (np.hypot(*(end - start)) or 1.0)
        side = np.array([-along[1], along[0]]) * mark.width_m / 2
        points = np.array([start + side, end + side, end - side, start - side])
    else:
        points = np.asarray(mark.points, float)
    colour = _colour(mark)
    row = {
        **_xy(points),
        "fill": colour,
        "fill_alpha": 0.1 if mark.layer == "ghost" else 0.22,
        "line": colour,
        "key": mark.key,
        "hover": mark.hover,
    }
    return [("areas", row)]


def _line(mark: Line) -> list[tuple[str, dict[str, Any]]]:
    colour = style.mix(_colour(mark), style.PAPER, 0.45) if mark.faint else _colour(mark)
    return [
        (
            "lines",
            {
                **_xy(mark.points),
                "colour": colour,
                "width": mark.width,
                "dash": mark.style,
                "key": mark.key,
                "hover": mark.hover,
            },
        )
    ]


def _arrow(mark: Arrow) -> list[tuple[str, dict[str, Any]]]:
    ghost = mark.layer == "ghost"
    head_m = 1.1 + 0.42 * mark.width
    path = (mark.x0, mark.y0, mark.x1, mark.y1)
    shaft = arrow_shaft(*path, mark.style, head_m)
    # Faded towards paper, not transparent: where shaft and head overlap the colour stays the same.
    colour = style.mix(_colour(mark), style.PAPER, 0.65 * (1 - float(np.clip(mark.strength, 0, 1))))
    alpha = 0.6 if ghost else 1.0
    rows: list[tuple[str, dict[str, Any]]] = []
    if mark.head_at > 0:
        head = arrow_head(*path, mark.head_at, head_m)
        rows.append(("heads", {**_xy(head), "colour": colour, "alpha": alpha}))
        if mark.head_at == 1:
            # The shaft ends inside the head, so that a wide line does not blunt the tip.
            shaft[-1] = head.mean(axis=0)
    shaft_row = {
        **_xy(shaft),
        "colour": colour,
        "alpha": alpha,
        "width": mark.width,
        "dash": "dashed" if mark.style == "run" else "dotted" if ghost else "solid",
        "value": _value(mark.value),
        "key": mark.key,
        "hover": mark.hover,
    }
    return [("arrows", shaft_row), *rows]


def _disc(mark: Disc) -> list[tuple[str, dict[str, Any]]]:
    ghost = mark.layer == "ghost"
    filled = mark.filled and not ghost
    colour = _colour(mark)
    fill = colour if filled else style.PAPER
    if mark.picked:
        line, line_width = "#000000", 3.5
    else:
        line, line_width = (style.PAPER, 1.0) if filled else (colour, 1.2 if ghost else 2.0)
    row = {
        "x": mark.x,
        "y": mark.y,
        "radius_m": mark.radius_m,
        "marker": style.TEAM_MARKER[mark.team or 0],
        "fill": fill,
        "fill_alpha": 0.0 if ghost else 1.0,
        "line": line,
        "line_width": line_width,
        "label": mark.label,
        "label_colour": style.TEAM_TEXT[mark.team or 0] if filled else colour,
        "value": _value(mark.value),
        "key": mark.key,
        "hover": mark.hover,
    }
    rows: list[tuple[str, dict[str, Any]]] = [("discs", row)]
    if mark.name:
        colour = style.FAINT if ghost else style.INK
        x, y, align = mark.name_place()
        rows.append(("names", _words(x, y, mark.name, colour, "small", align, back=0.65)))
    return rows


def _free_numbers(balls: Columns, discs: Columns) -> None:
    """Draw a ball that would lie on a player's number at the rim of his disc; the scene keeps its true place."""
    for i, (x, y) in enumerate(zip(balls["x"], balls["y"])):
        for disc_x, disc_y, radius in zip(discs["x"], discs["y"], discs["radius_m"]):
            dx, dy = x - disc_x, y - disc_y
            away = math.hypot(dx, dy)
            if away < radius:
                dx, dy = (dx / away, dy / away) if away > 0.05 else (0.7071, -0.7071)
                balls["x"][i], balls["y"][i] = disc_x + dx * radius * 1.15, disc_y + dy * radius * 1.15
                break


def _ball(mark: Ball) -> list[tuple[str, dict[str, Any]]]:
    radius = mark.radius_m * (1 + 0.25 * float(np.clip(mark.height_m, 0, 8)))
    row = {
        "x": mark.x, "y": mark.y, "radius_m": radius, "height_m": mark.height_m, "key": mark.key, "hover": mark.hover,
    }  # fmt: skip
    return [("balls", row)]


def _label(mark: Label) -> list[tuple[str, dict[str, Any]]]:
    weight, back = "bold" if mark.bold else "normal", 0.85 if mark.chip else 0.0
    return [("texts", _words(mark.x, mark.y, mark.text, _colour(mark), mark.size, mark.align, weight, back=back))]


def _words(
    x: float,
    y: float,
    text: str,
    colour: str,
    size: str,
    align: str = "center",
    weight: str = "normal",
    dy_m: float = 0.0,
    back: float = 0.0,
    plate: str = style.PAPER,
) -> dict[str, Any]:
    return {
        "x": x, "y": y + dy_m, "dy_m": dy_m, "text": text, "colour": colour, "size": size, "align": align,
        "weight": weight, "back": back, "plate": plate,
    }  # fmt: skip


_ROWS: dict[type[Mark], Callable[[Any], list[tuple[str, dict[str, Any]]]]] = {
    Zone: _zone, Lane: _area, Shadow: _area, Line: _line, Arrow: _arrow, Disc: _disc, Ball: _ball, Label: _label,
}  # fmt: skip
