"""A Scene: the marks of one picture in pitch metres, and the words that say what it is.

A Scene is plain data.  It never changes, two of them can be compared, and `Scene.table` gives every drawn
number, so a chart is tested without a window.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.pitch import Pitch

if TYPE_CHECKING:
    from tactical_kit.scenes.canvas import Canvas

__all__ = [
    "ARROW_STYLES", "KEY_SYMBOLS", "Arrow", "Ball", "Disc", "KeyItem", "Label", "Lane", "Line", "Mark", "Scene",
    "Shadow", "Zone",
]  # fmt: skip

ARROW_STYLES = ("pass", "run", "dribble")  # solid, dashed, wavy
LINE_STYLES = ("solid", "dashed", "dotted")
LABEL_SIZES = ("small", "normal", "large")
ALIGNS = ("left", "center", "right")
NAME_PLACES = ("below", "above", "right", "left")
LAYERS = ("main", "ghost")
KEY_SYMBOLS = (
    "home",
    "away",
    "ghost",
    "ghost-away",
    "ball",
    "pass",
    "run",
    "dribble",
    "ramp",
    "ramp-light",
    "few",
    "none",
)

Point = tuple[float, float]
_NAN = float("nan")


def _finite(value: Any) -> bool:
    """Whether a coordinate, or every coordinate of every point, is a finite number."""
    if isinstance(value, (float, int)):
        return math.isfinite(value)
    try:
        return all(map(math.isfinite, chain.from_iterable(value)))
    except TypeError:  # a number or an array of another library
        return bool(np.isfinite(value).all())


@dataclass(frozen=True, kw_only=True)
class Mark:
    """What every mark has; coordinates are metres from the centre spot, in the frame of its scene.

    Parameters
    ----------
    team : int, optional
        0 home, 1 away: gives colour and shape.  None: ink.
    layer : {"main", "ghost"}, default "main"
        A ghost is what the picture is compared with; it is drawn behind, hollow and lighter.
    hover : str
        Words shown under the pointer; lines are separated by a line feed.
    key : str
        Identifier handed back when the mark is picked; "" cannot be picked.
    """

    team: int | None = None
    layer: Literal["main", "ghost"] = "main"
    hover: str = ""
    key: str = ""

    def __post_init__(self) -> None:
        check_choice("layer", self.layer, LAYERS)
        if self.team not in (None, 0, 1):
            raise TacticalKitError(f"team of a mark is {self.team!r}; expected 0 (home), 1 (away) or None.")
        given = self.__dict__
        if given.get("value", 0.0) != given.get("value", 0.0):
            object.__setattr__(self, "value", _NAN)  # one and the same NaN, so that equal scenes are equal
        for name in ("points", "x", "y", "x0", "y0", "x1", "y1"):
            if name in given and not _finite(given[name]):
                raise TacticalKitError(f"{type(self).__name__} has {name} = {given[name]!r}; expected finite metres.")


@dataclass(frozen=True)
class Disc(Mark):
    """A player: a circle for the home side, a square for the away side; `label` stands inside.

    `filled` False draws it hollow, `picked` puts a strong ring around it; `value` is the number that its
    size stands for, if any; `name` stands beside it, at `name_at` (below, above, right, left).
    """

    x: float
    y: float
    label: str = ""
    radius_m: float = 1.9
    name: str = ""
    filled: bool = True
    picked: bool = False
    value: float = _NAN
    name_at: str = "below"

    def __post_init__(self) -> None:
        super().__post_init__()
        check_choice("name_at", self.name_at, NAME_PLACES)

    def name_place(self, place: str | None = None) -> tuple[float, float, str]:
        """Return (x, y, align) of the name in metres, at its own or another of the four places."""
        off = self.radius_m + 1.5
        return {
            "below": (self.x, self.y - off, "center"),
            "above": (self.x, self.y + off, "center"),
            "right": (self.x + self.radius_m + 0.8, self.y, "left"),
            "left": (self.x - self.radius_m - 0.8, self.y, "right"),
        }[place or self.name_at]


@dataclass(frozen=True)
class Ball(Mark):
    """The ball; `height_m` above the grass is told on hover and by a larger ring."""

    x: float
    y: float
    height_m: float = 0.0
    radius_m: float = 0.6


@dataclass(frozen=True)
class Arrow(Mark):
    """A movement from (x0, y0) to (x1, y1): solid "pass", dashed "run", wavy "dribble".

    `width` is in points; `head_at` places the head along the shaft (1 at the end, 0.6 past the middle, 0 no
    head); `strength` from 0 to 1 fades a weak arrow; `value` is the number that the width stands for.
    """

    x0: float
    y0: float
    x1: float
    y1: float
    style: Literal["pass", "run", "dribble"] = "pass"
    width: float = 1.6
    head_at: float = 1.0
    strength: float = 1.0
    value: float = _NAN

    def __post_init__(self) -> None:
        super().__post_init__()
        check_choice("style", self.style, ARROW_STYLES)


@dataclass(frozen=True)
class Lane(Mark):
    """A strip of `width_m` from (x0, y0) to (x1, y1), as a passing lane."""

    x0: float
    y0: float
    x1: float
    y1: float
    width_m: float = 2.0


@dataclass(frozen=True)
class Zone(Mark):
    """An area with a value: `shade` from 0 to 1 sets how dark it is, `label` is printed in its middle.

    `shade` None leaves it unfilled, `few` hatches it (too little to judge), `picked` gives it a strong edge.
    `note` stands below the label, smaller.  `corner` "upper" or "lower" puts the words into that corner on the
    left, on a plate that arrows pass below.
    """

    points: tuple[Point, ...]
    value: float = _NAN
    shade: float | None = None
    label: str = ""
    note: str = ""
    few: bool = False
    picked: bool = False
    corner: str = ""

    @classmethod
    def rect(cls, x0: float, y0: float, x1: float, y1: float, **rest: Any) -> Zone:
        """Make a rectangular zone from its limits in metres."""
        return cls(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), **rest)

    @property
    def centre(self) -> Point:
        """Middle of its bounds, m."""
        xs, ys = zip(*self.points)
        return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


@dataclass(frozen=True)
class Shadow(Mark):
    """An area that a player screens, as a cover shadow."""

    points: tuple[Point, ...]


@dataclass(frozen=True)
class Line(Mark):
    """A line through points, as a back line; `width` in points, `faint` draws it light."""

    points: tuple[Point, ...]
    style: Literal["solid", "dashed", "dotted"] = "solid"
    width: float = 1.4
    faint: bool = False

    def __post_init__(self) -> None:
        super().__post_init__()
        check_choice("style", self.style, LINE_STYLES)


@dataclass(frozen=True)
class Label(Mark):
    """Words on the pitch, centred on their place unless `align` says otherwise; `chip` puts paper behind them."""

    x: float
    y: float
    text: str
    size: Literal["small", "normal", "large"] = "normal"
    align: Literal["left", "center", "right"] = "center"
    bold: bool = False
    chip: bool = False

    def __post_init__(self) -> None:
        super().__post_init__()
        check_choice("size", self.size, LABEL_SIZES)
        check_choice("align", self.align, ALIGNS)


@dataclass(frozen=True)
class KeyItem:
    """One entry of the legend: a symbol of `KEY_SYMBOLS` and the words for it."""

    symbol: str
    text: str

    def __post_init__(self) -> None:
        check_choice("symbol", self.symbol, KEY_SYMBOLS)


@dataclass(frozen=True)
class Scene:
    """One picture: its marks in metres, and the words that say what it shows.

    Parameters
    ----------
    title : str
        What it is, as "Pass network, Alder Town".
    subtitle : str
        Match, minutes and filter in words.
    marks : tuple of Mark
        In drawing order within a kind.
    pitch : Pitch
        The field of play.
    attacking : str
        Direction of attack in words with an arrow, as "Alder Town attack →".
    source : str
        Where the data come from, as "invented demonstration data".
    n : int, optional
        Number of instances behind the picture.
    n_of : str, default "instances"
        What was counted, as "completed passes".
    few_below : int, default 10
        Fewer instances than this are called few (common practice, no source).
    caption : str
        How to read it, what was left out.
    legend : tuple of KeyItem
        Symbols in words.
    message : str
        Words across an empty pitch: why nothing is drawn.

    >>> scene = Scene("A shape", "", (Disc(-10, 0, team=0, label="4"),), n=3, n_of="passes")
    >>> scene.count_words
    'few: n = 3 passes'
    >>> scene.table()[["kind", "x", "y", "team"]].to_dict("records")
    [{'kind': 'disc', 'x': -10.0, 'y': 0.0, 'team': 0}]
    """

    title: str
    subtitle: str = ""
    marks: tuple[Mark, ...] = ()
    pitch: Pitch = field(default_factory=Pitch)
    attacking: str = ""
    source: str = ""
    n: int | None = None
    n_of: str = "instances"
    few_below: int = 10
    caption: str = ""
    legend: tuple[KeyItem, ...] = ()
    message: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "marks", tuple(self.marks))
        object.__setattr__(self, "legend", tuple(self.legend))
        strange = [type(m).__name__ for m in self.marks if not isinstance(m, Mark)]
        if strange:
            raise TacticalKitError(f"a Scene holds marks only; met {', '.join(sorted(set(strange)))}.")

    # -- words ----------------------------------------------------------------------------------------

    @property
    def count_words(self) -> str:
        """The number of instances in words; few are called few, "" where nothing was counted."""
        if self.n is None:
            return ""
        counted = self.n_of.removesuffix("es") if self.n == 1 and self.n_of.endswith("passes") else self.n_of
        amount = "none: " if self.n == 0 else "few: " if self.n < self.few_below else ""
        return f"{amount}n = {self.n:,} {counted}".replace(",", " ")

    @property
    def fact_line(self) -> str:
        """Number of instances and direction of attack, the line below the subtitle."""
        return " · ".join(part for part in (self.count_words, self.attacking) if part)

    @property
    def alt(self) -> str:
        """The picture in words for whoever cannot see it."""
        drawn = ", ".join(f"{count} {kind}s" if count > 1 else f"1 {kind}" for kind, count in self._kinds().items())
        parts = (
            self.title, self.subtitle, self.fact_line, self.message, f"Drawn: {drawn or 'an empty pitch'}",
            self.caption, self.source,
        )  # fmt: skip
        return ". ".join(p.rstrip(".") for p in parts if p) + "."

    def _kinds(self) -> dict[str, int]:
        counts: dict[str, int] = {}
        for mark in self.marks:
            kind = ("ghost " if mark.layer == "ghost" else "") + type(mark).__name__.lower()
            counts[kind] = counts.get(kind, 0) + 1
        return counts

    # -- data -----------------------------------------------------------------------------------------

    def table(self) -> pd.DataFrame:
        """Return the drawn numbers, one row a mark.

        Returns
        -------
        DataFrame
            kind, layer, team (-1 none), key, x, y (start, or middle of an area), x1, y1 (end; NaN), size
            (radius, width), value, label, note, hover, and `points` (tuple of (x, y), empty where the mark has none).
        """
        return pd.DataFrame([_row(m) for m in self.marks], columns=list(_COLUMNS)).astype(_COLUMNS)

    def of(self, kind: type[Mark], layer: str | None = None) -> tuple[Mark, ...]:
        """Return the marks of one kind, of one layer if named."""
        return tuple(m for m in self.marks if isinstance(m, kind) and layer in (None, m.layer))

    def replace(self, **changes: Any) -> Scene:
        """Return a copy with some fields changed."""
        return replace(self, **changes)

    def adding(self, *marks: Mark) -> Scene:
        """Return a copy with more marks on top."""
        return replace(self, marks=self.marks + marks)

    # -- surfaces -------------------------------------------------------------------------------------

    def save(self, path: str | Path, **options: Any) -> Path:
        """Write the picture as PNG, SVG or PDF; see `tactical_kit.scenes.printing.save`."""
        from tactical_kit.scenes import printing

        return printing.save(self, path, **options)

    def canvas(self, **options: Any) -> Canvas:
        """Return an interactive canvas that shows the scene; see `tactical_kit.scenes.canvas.Canvas`."""
        from tactical_kit.scenes.canvas import Canvas

        made = Canvas(self.pitch, **options)
        made.show(self)
        return made

    def _repr_png_(self) -> tuple[bytes, dict[str, Any]]:
        from tactical_kit.scenes import printing

        return printing.notebook_png(self)

    def __repr__(self) -> str:
        return f"<Scene {self.alt}>"


_COLUMNS = {
    "kind": "str", "layer": "str", "team": "int8", "key": "str", "x": "float64", "y": "float64", "x1": "float64",
    "y1": "float64", "size": "float64", "value": "float64", "label": "str", "note": "str", "hover": "str",
    "points": "object",
}  # fmt: skip


def _row(mark: Mark) -> tuple[Any, ...]:
    nan = _NAN
    points = tuple(getattr(mark, "points", ()))
    x, y = getattr(mark, "x", nan), getattr(mark, "y", nan)
    x1, y1 = getattr(mark, "x1", nan), getattr(mark, "y1", nan)
    if isinstance(mark, Arrow | Lane):
        x, y = mark.x0, mark.y0
    elif isinstance(mark, Zone):
        x, y = mark.centre
    elif points:
        x, y = (sum(c) / len(points) for c in zip(*points))
    size = getattr(mark, "radius_m", getattr(mark, "width", getattr(mark, "width_m", nan)))
    label = getattr(mark, "label", getattr(mark, "text", ""))
    note = getattr(mark, "note", getattr(mark, "name", ""))
    team = -1 if mark.team is None else mark.team
    value = mark.height_m if isinstance(mark, Ball) else getattr(mark, "value", nan)
    kind = type(mark).__name__.lower()
    return kind, mark.layer, team, mark.key, x, y, x1, y1, size, value, label, note, mark.hover, points
