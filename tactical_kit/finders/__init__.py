"""Finders search a match and return Moments; each registers itself by name."""

from tactical_kit.finders.registry import Finder, find, finder, finder_names, get_finder, list_finders
from tactical_kit.finders.shots import find_shots
from tactical_kit.phases import find_phases, find_possessions

__all__ = ["Finder", "find", "find_shots", "finder", "finder_names", "get_finder", "list_finders"]

# The phases lie a floor below and cannot import the register, so they are entered here.
finder(
    "possession",
    needs=("events or tracking",),
    finds="A spell of one side having the ball, from winning or restarting it until it is lost or dead.",
)(find_possessions)
finder(
    "phase",
    needs=("events or tracking",),
    finds="What each side is doing at every instant of play: the phase with the ball and the phase without.",
)(find_phases)
