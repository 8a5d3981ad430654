"""Where the names of players stand, so that they cover neither a player nor one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tactical_kit.scenes.scene import Disc

__all__ = ["place_names"]

_CHARACTER_M = 1.35  # width of a letter and height of a line in print, where words are largest against the pitch
_LINE_M = 2.8

Box = tuple[float, float, float, float]


def place_names(discs: Sequence[Disc]) -> tuple[Disc, ...]:
    """Choose for each name the first free place of below, above, right, left; without one it is left out.

    Parameters
    ----------
    discs : sequence of Disc
        With `name` set; the largest discs choose first, then in the order given.

    Returns
    -------
    tuple of Disc
        In the order given, `name_at` set and `name` emptied where there is no room.

    >>> [d.name_at for d in place_names([Disc(0, 0, name="Ash"), Disc(0, -4, name="Elm"), Disc(9, 20)])]
    ['above', 'below', 'below']
    """
    taken: list[Box] = [_disc_box(d) for d in discs]
    placed = list(discs)
    for i in sorted(range(len(discs)), key=lambda k: (-discs[k].radius_m, k)):
        disc = discs[i]
        if not disc.name:
            continue
        others = taken[:i] + taken[i + 1 :]  # a name may touch its own disc
        for place in ("below", "above", "right", "left"):
            box = _name_box(disc, place)
            if not any(_overlap(box, other) for other in others):
                placed[i] = replace(disc, name_at=place)
                taken.append(box)
                break
        else:
            placed[i] = replace(disc, name="")
    return tuple(placed)


def _disc_box(disc: Disc) -> Box:
    r = max(disc.radius_m, 1.8)
    return disc.x - r, disc.y - r, disc.x + r, disc.y + r


def _name_box(disc: Disc, place: str) -> Box:
    x, y, _ = disc.name_place(place)
    width = len(disc.name) * _CHARACTER_M
    left = {"right": x, "left": x - width}.get(place, x - width / 2)
    return left, y - _LINE_M / 2, left + width, y + _LINE_M / 2


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
