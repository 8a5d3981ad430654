"""Finders search a match and return Moments; each registers itself by name."""

from tactical_kit.finders.blocks import find_blocks
from tactical_kit.finders.build_ups import find_build_ups
from tactical_kit.finders.ground import find_phases, find_possessions
from tactical_kit.finders.lines_beaten import find_lines_beaten
from tactical_kit.finders.registry import Finder, find, finder, finder_names, get_finder, list_finders
from tactical_kit.finders.shapes import find_shapes
from tactical_kit.finders.shots import find_shots
from tactical_kit.finders.switches import find_switches

__all__ = [
    "Finder",
    "find",
    "find_blocks",
    "find_build_ups",
    "find_lines_beaten",
    "find_phases",
    "find_possessions",
    "find_shapes",
    "find_shots",
    "find_switches",
    "finder",
    "finder_names",
    "get_finder",
    "list_finders",
]
