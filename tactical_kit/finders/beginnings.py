"""How a possession began, told by its first touch: who had it, and the word for it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from tactical_kit.match import Match

__all__ = ["first_touches"]

# Kinds of event that say what was done with the ball, not how it was won.
_WORDS = {"pass": "first-time pass", "touch": "loose ball", "duel": "aerial duel"}
_FAR = 1e5  # seconds; more than any period lasts


def first_touches(match: Match, possessions: pd.DataFrame) -> pd.DataFrame:
    """Tell for each of N possessions who had the first touch, and name it.

    Parameters
    ----------
    match : Match
        With events; without, the first player of the possession is taken.
    possessions : DataFrame
        Rows of `find_possessions(match).table`.

    Returns
    -------
    DataFrame
        One row a possession, index of `possessions`: player ("" unknown), began.  The word is that of the possession;
        where that names only what was done with the ball: "header" or "first-time pass" for a pass, "loose ball" for a
        touch, "aerial duel" for a duel.

    Notes
    -----
    A ball that is headed on to a team-mate is won by who heads it; the possession itself begins when the team-mate
    has it under control, and does not list the header among its actions.
    """
    players, words = [], []
    touches = _Touches(match) if match.events is not None else None
    for spell in possessions.itertuples():
        word, player = str(spell.began), spell.players[0] if len(spell.players) else ""
        row = touches.find(spell) if touches is not None and word else -1
        if touches is not None and row >= 0:
            player = touches.player[row] or player
            word = "header" if word == "pass" and touches.headed[row] else word
        players.append(player)
        words.append(_WORDS.get(word, word))
    return pd.DataFrame({"player": players, "began": words}, index=possessions.index).astype("str")


class _Touches:
    """The events of a match, ready to be asked for the one that began a possession."""

    def __init__(self, match: Match) -> None:
        events = match.attacking_events
        self.kind, self.set_play, self.team, self.player = (
            events[c].to_numpy(object) for c in ("kind", "set_play", "team", "player")
        )
        self.headed = ((events["detail"] == "header") | (events["body_part"] == "head")).to_numpy(bool)
        self.x, self.y = events["x"].to_numpy(float), events["y"].to_numpy(float)
        self.key = events["period"].to_numpy() * _FAR + events["time_s"].to_numpy()

    def find(self, spell: Any, back: int = 30) -> int:
        """Row of the last event of the side, not after the possession began, that fits its word and place; -1 none."""
        stop = int(np.searchsorted(self.key, spell.period * _FAR + spell.start_s + 1e-6))
        for row in range(stop - 1, max(stop - back, 0) - 1, -1):
            fits = self.team[row] == spell.team and spell.began in (self.kind[row], self.set_play[row])
            if fits and np.hypot(self.x[row] - spell.x, self.y[row] - spell.y) < 1e-3:
                return row
        return -1
