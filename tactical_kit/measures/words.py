"""The words that measures, phases and views share: phases of play and states of the score."""

from __future__ import annotations

__all__ = ["IN_PHASES", "OUT_PHASES", "PHASES", "SCORE_STATES"]

# Common practice, no source: the trade's words for a side with the ball and for a side without it.
IN_PHASES = ("build-up", "progression", "final third", "attacking transition", "set play")
OUT_PHASES = ("high press", "mid-block", "low block", "defensive transition", "counter-press", "set play")
PHASES = (*IN_PHASES, *OUT_PHASES[:-1])  # "set play" is one word for both sides
SCORE_STATES = ("leading", "level", "trailing")
