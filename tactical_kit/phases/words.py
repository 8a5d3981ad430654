"""The words for the phases of play, each with the sentence that defines it."""

from __future__ import annotations

from tactical_kit.errors import check_choice
from tactical_kit.measures.words import IN_PHASES, OUT_PHASES

__all__ = ["IN_PHASES", "NO_PHASE", "OUT_PHASES", "PHASE_SENTENCES", "phase_sentence"]

NO_PHASE = -1  # code of an instant without a phase: the ball is dead, or the data do not cover it

PHASE_SENTENCES: dict[tuple[str, str], str] = {
    ("in", "build-up"): "The side has settled possession and plays from the keeper and the first line; the ball is not "
    "yet out of its own third or past the opponents' first line of pressure.",
    ("in", "progression"): "Settled possession: the ball is carried and passed through the middle of the pitch.",
    ("in", "final third"): "Settled possession with the ball in the attacking third and the opponents defending their "
    "goal.",
    ("in", "attacking transition"): "The side has just won the ball in open play and the opponents are not yet "
    "organised; it ends when they are, when the side settles to keep the ball, or after about ten seconds.",
    ("in", "set play"): "Corner, penalty, kick-off, a free kick within reach of goal or a throw into the box, from the "
    "restart until the ball is secured and the sides have reorganised, or lost.",
    ("out", "high press"): "Organised, the side engages the opponents in their build-up, its first line in their third "
    "and its back line up near halfway.",
    ("out", "mid-block"): "Organised, the side lets the opponents have the ball in front of it and keeps its block "
    "around the middle of the pitch.",
    ("out", "low block"): "Organised, the side defends deep around its own third and box.",
    ("out", "defensive transition"): "The side has lost the ball in open play and runs back or delays until its block "
    "stands again.",
    ("out", "counter-press"): "Right after losing the ball in open play the nearest two or more hunt it at once, until "
    "it is won back, they are beaten, or they give up.",
    ("out", "set play"): "The other side's set play.",
}


def phase_sentence(side: str, phase: str) -> str:
    """Return the sentence that defines a phase of a side ("in" or "out" of possession).

    >>> phase_sentence("out", "set play")
    "The other side's set play."
    """
    check_choice("side", side, ("in", "out"))
    return PHASE_SENTENCES[side, check_choice("phase", phase, IN_PHASES if side == "in" else OUT_PHASES)]
