"""Which unit and origin a column of coordinates looks like, told from the range of its values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from tactical_kit.pitch import Pitch

__all__ = ["RangeGuess", "guess_ranges", "suspected"]

YARD_M = 0.9144  # exact, by the international agreement of 1959
_SLACK = 0.04  # share of the length or width by which a ball or a player may leave the pitch


@dataclass(frozen=True)
class RangeGuess:
    """One reading of a pair of coordinate columns.

    Parameters
    ----------
    unit : str
        "m", "cm", "yd", "%", "0-1" or "pitch units".
    origin : str
        "centre" or "corner".
    length, width : float
        What the far end counts in that unit, from end to end.
    fill : float
        Share of that field that the values span, 0-1: the higher, the likelier.
    """

    unit: str
    origin: str
    length: float
    width: float
    fill: float

    @property
    def words(self) -> str:
        """The reading in words, as "metres from a corner (0 to 105, 0 to 68)"."""
        names = {"m": "metres", "cm": "centimetres", "yd": "yards", "%": "per cent of the pitch", "0-1": "shares 0-1"}
        name = names.get(self.unit, self.unit)
        if self.origin == "corner":
            return f"{name} from a corner (0 to {self.length:g}, 0 to {self.width:g})"
        half, across = self.length / 2, self.width / 2
        return f"{name} from the centre (-{half:g} to {half:g}, -{across:g} to {across:g})"


def guess_ranges(x: ArrayLike, y: ArrayLike, pitch: Pitch | None = None) -> list[RangeGuess]:
    """List the readings of two coordinate columns that their values allow, the likeliest first.

    A reading is allowed if every value lies within its field and 4 % around it; among those the field that
    the values fill best comes first.  It errs where few rows reach the ends of the pitch.

    Parameters
    ----------
    x, y : array_like
        Values as they stand in the file.
    pitch : Pitch, optional
        Field of play, 105 x 68 m unless known.

    Notes
    -----
    Source: common practice, no source.

    >>> guess_ranges([0, 99], [1, 100])[0].unit
    '%'
    >>> guess_ranges([-52, 50], [-34, 33])[0].words
    'metres from the centre (-52.5 to 52.5, -34 to 34)'
    """
    pitch = pitch or Pitch()
    xs, ys = np.asarray(x, float), np.asarray(y, float)
    known = np.isfinite(xs) & np.isfinite(ys)
    if not known.any():
        return []
    xs, ys = xs[known], ys[known]
    length, width = pitch.length_m, pitch.width_m
    yards = (round(length / YARD_M, 1), round(width / YARD_M, 1))
    fields = [
        ("0-1", 1.0, 1.0),
        ("%", 100.0, 100.0),
        ("m", length, width),
        ("yd", *yards),
        ("pitch units", 120.0, 80.0),
        ("cm", length * 100, width * 100),
    ]
    guesses = []
    for unit, far_x, far_y in fields:
        for origin, x0, y0 in (("corner", 0.0, 0.0), ("centre", -far_x / 2, -far_y / 2)):
            slack_x, slack_y = far_x * _SLACK, far_y * _SLACK
            inside = (
                xs.min() >= x0 - slack_x
                and xs.max() <= x0 + far_x + slack_x
                and ys.min() >= y0 - slack_y
                and ys.max() <= y0 + far_y + slack_y
            )
            if inside:
                fill = float(np.ptp(xs) / far_x * np.ptp(ys) / far_y)
                guesses.append(RangeGuess(unit, origin, far_x, far_y, min(fill, 1.0)))
    # A centre origin has values on both sides of 0: prefer it only then.  Values of one sign sit in a corner frame.
    signed = xs.min() < -_SLACK * np.ptp(xs) and ys.min() < -_SLACK * np.ptp(ys)
    return sorted(guesses, key=lambda g: (-(g.fill + (0.5 if (g.origin == "centre") == signed else 0.0)), g.length))


def suspected(x: ArrayLike, y: ArrayLike, pitch: Pitch | None = None, but: str = "") -> str:
    """Return a sentence that names the unit the values look like, or an empty text.

    Parameters
    ----------
    x, y : array_like
        Values as they stand in the file.
    pitch : Pitch, optional
        Field of play.
    but : str
        `words` of the reading that was tried, which is then not named.
    """
    for guess in guess_ranges(x, y, pitch):
        if guess.words != but and guess.fill > 0.2:
            return f"The values look like {guess.words}"
    return ""
