"""The house look: paper, ink, one accent a side, and shapes that tell the sides apart without colour.

The accents are blue and vermilion of the colour-blind-safe set of Okabe & Ito 2008 ("Color Universal
Design"); the blue is darkened, its hue kept, so that the two fills differ in greyscale as well.
"""

from __future__ import annotations

from functools import lru_cache

__all__ = [
    "FAINT",
    "FONT_FAMILIES",
    "GHOST",
    "INK",
    "LIGHT",
    "MARKING",
    "PAPER",
    "TEAM_FILL",
    "TEAM_MARKER",
    "TEAM_TEXT",
    "contrast",
    "luminance",
    "mix",
    "ramp",
    "text_on",
]  # fmt: skip

PAPER = "#f7f3ea"
INK = "#2b2926"
MARKING = "#a59c8c"  # lines of the pitch: visible, never louder than a mark
FAINT = "#6f685d"  # second-rank words
TEAM_FILL = ("#003b5c", "#d55e00")  # home, away
TEAM_TEXT = ("#ffffff", "#000000")  # numbers on the fills
TEAM_MARKER = ("circle", "square")
GHOST = ("#5b7d92", "#c98a5c")  # accents mixed with paper, for outlines of what was before
LIGHT = 0.6  # share of the ramp used where arrows lie on top
_RAMP = ("#f1ece0", "#b9cdc4", "#6fa096", "#2f6f6a")  # one hue, light to dark
# Fonts that travel with Matplotlib, then whatever the reader has.
FONT_FAMILIES = ("DejaVu Sans", "sans-serif")


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


@lru_cache(maxsize=512)
def luminance(colour: str) -> float:
    """Return the relative luminance of a "#rrggbb" colour, 0 black to 1 white.

    Source: WCAG 2.1, definition of relative luminance (sRGB).

    >>> round(luminance("#ffffff"), 3), round(luminance("#d55e00"), 3)
    (1.0, 0.222)
    """
    part = [v / 255 for v in _rgb(colour)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in part)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 (equal) to 21 (black on white).

    Source: WCAG 2.1, definition of contrast ratio: (lighter + 0.05) / (darker + 0.05).

    >>> contrast("#000000", "#ffffff")
    21.0
    """
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def mix(colour: str, other: str, share: float) -> str:
    """Return `colour` with a `share` from 0 to 1 of the other one.

    >>> mix("#000000", "#ffffff", 0.5)
    '#808080'
    """
    return "#" + "".join(f"{round(a * (1 - share) + b * share):02x}" for a, b in zip(_rgb(colour), _rgb(other)))


def ramp(shade: float) -> str:
    """Return the colour of a value from 0 (light) to 1 (dark): one hue, ever darker, in a hundred steps."""
    return _ramp_step(round(100 * min(max(float(shade), 0.0), 1.0)))


@lru_cache(maxsize=101)
def _ramp_step(step: int) -> str:
    place = step / 100 * (len(_RAMP) - 1)
    i = min(int(place), len(_RAMP) - 2)
    return mix(_RAMP[i], _RAMP[i + 1], place - i)


@lru_cache(maxsize=512)
def text_on(fill: str) -> str:
    """Return black or white, whichever reads better on a fill: at least 4.5 to 1 on any colour."""
    return "#000000" if contrast("#000000", fill) >= contrast("#ffffff", fill) else "#ffffff"
