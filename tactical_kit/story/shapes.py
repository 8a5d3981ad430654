"""The shapes of a side in a few lines: what it held longest in each phase, and where that changed at the interval."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match
from tactical_kit.measures.words import PHASES
from tactical_kit.moments import Moments

__all__ = ["shape_lines"]

LEAST_S = 120.0  # less time than this in a phase is too little to name a shape
_SIDES = {"in": "with the ball", "out": "without the ball"}


def shape_lines(found: Moments, match: Match) -> Iterator[tuple[str, str, str, NDArray[np.bool_], NDArray[np.bool_]]]:
    """Yield (kind, team id, sentence, spells in those shapes, spells looked at) of the finder "line-up shape".

    Parameters
    ----------
    found : Moments
        All spells.
    match : Match
        For the names.

    Notes
    -----
    Minutes, not spells, say which shape it was, and how long it was held of how many minutes in the phase.  A change
    is told where another shape was held for most of the second half of the phase than for most of the first; it is a
    description, no interval.
    """
    table = found.table
    for team in match.teams:
        for side, words in _SIDES.items():
            mine = ((table["team"] == team.team_id) & (table["side"] == side)).to_numpy(bool)
            told, inside = [], np.zeros(len(table), bool)
            for phase in PHASES:
                rows = mine & (table["phase"] == phase).to_numpy(bool)
                main = _main(table[rows])
                if main is not None:
                    told.append(f"{phase} {main[0]} ({_minutes(*main[1:])})")
                    inside |= rows & (table["shape"] == main[0]).to_numpy(bool)
            if told:
                yield "frequent", team.team_id, f"{team.name} {words}: {', '.join(told)}.", inside, mine
        for phase in PHASES:
            rows = ((table["team"] == team.team_id) & (table["phase"] == phase)).to_numpy(bool)
            halves = [_main(table[rows & (table["period"] == period).to_numpy(bool)]) for period in (1, 2)]
            before, after = halves
            if before is None or after is None or before[0] == after[0]:
                continue
            if all(2 * held > whole for _, held, whole in (before, after)):
                text = (
                    f"{team.name}, {phase}: {before[0]} in the first half ({_minutes(*before[1:])}), {after[0]} in the "
                    f"second half ({_minutes(*after[1:])})."
                )
                yield "changed", team.team_id, text, rows, rows


def _main(spells: pd.DataFrame) -> tuple[str, float, float] | None:
    """Return the shape that was held longest, how long, and of how long, s; None with too little time."""
    held = spells[spells["shape"] != ""].groupby("shape")["seconds"].sum()
    whole = float(spells["seconds"].sum())
    if whole < LEAST_S or not len(held):
        return None
    return str(held.idxmax()), float(held.max()), whole


def _minutes(held: float, whole: float) -> str:
    return f"{held / 60:.1f} of {whole / 60:.1f} min"
