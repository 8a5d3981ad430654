"""The house look: paper, ink, one accent a side, and shapes that tell the sides apart without colour.

The accents are blue and vermilion of the colour-blind-safe set of Okabe & Ito 2008 ("Color Universal
Design"); the blue is darkened, its hue kept, so that the two fills differ in greyscale as well.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

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


def _rgb(colour: str) -> np.ndarray:
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], float)


def _hex(rgb: np.ndarray) -> str:
    return "#" + "".join(f"{round(float(c)):02x}" for c in np.clip(rgb, 0, 255))


def luminance(colour: str) -> float:
    """Return the relative luminance of a "#rrggbb" colour, 0 black to 1 white.

    Source: WCAG 2.1, definition of relative luminance (sRGB).

    >>> round(luminance("#ffffff"), 3), round(luminance("#d55e00"), 3)
    (1.0, 0.223)
    """
    part = _rgb(colour) / 255
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    return float(linear @ np.array([0.2126, 0.7152, 0.0722]))


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
    return _hex(_rgb(colour) * (1 - share) + _rgb(other) * share)


def ramp(shade: float, stops: Sequence[str] = _RAMP) -> str:
    """Return the colour of a value from 0 (light) to 1 (dark): one hue, ever darker, good in greyscale."""
    place = float(np.clip(shade, 0, 1)) * (len(stops) - 1)
    i = min(int(place), len(stops) - 2)
    return mix(stops[i], stops[i + 1], place - i)


def text_on(fill: str) -> str:
    """Return black or white, whichever reads better on a fill: at least 4.5 to 1 on any colour."""
    return "#000000" if contrast("#000000", fill) >= contrast("#ffffff", fill) else "#ffffff"
