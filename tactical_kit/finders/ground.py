"""Phases and possession as finders: they lie a floor below the register, so they are entered here."""

from __future__ import annotations

from tactical_kit.finders.registry import finder
from tactical_kit.moments import Column
from tactical_kit.phases import find_phases, find_possessions

__all__ = ["find_phases", "find_possessions"]

finder(
    "possession",
    needs=("events or tracking",),
    finds="A spell of one side having the ball, from winning or restarting it until it is lost or dead.",
    columns={
        "began": Column("str", "the restart, or how the ball was won"),
        "won_in_play": Column("bool", "won from the other side without a break of play"),
        "outcome": Column("str", "how it ended: lost, out, foul, offside, goal, period-end"),
        "passes": Column("float64", "passes of the side in the spell"),
        "won_back_after_s": Column("float64", "time until the side had the ball again, if lost in open play", "s"),
        "won_back_early": Column("bool", "won back within the seconds of the counter-press"),
        "estimated": Column("bool", "who has the ball, or the dead ball, was inferred"),
    },
)(find_possessions)
finder(
    "phase",
    needs=("events or tracking",),
    finds="What each side is doing at every instant of play: the phase with the ball and the phase without.",
    columns={
        "side": Column("str", "in possession or out of possession"),
        "phase": Column("str", "the phase of play"),
        "estimated": Column("bool", "read from events alone"),
        "possession": Column("int64", "number of the spell of possession it lies in"),
    },
)(find_phases)
