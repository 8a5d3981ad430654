"""Finders search a match and return Moments; each registers itself by name."""

from tactical_kit.finders.ground import find_phases, find_possessions
from tactical_kit.finders.lines_beaten import find_lines_beaten
from tactical_kit.finders.registry import Finder, find, finder, finder_names, get_finder, list_finders
from tactical_kit.finders.shots import find_shots

__all__ = [
    "Finder",
    "find",
    "find_lines_beaten",
    "find_phases",
    "find_possessions",
    "find_shots",
    "finder",
    "finder_names",
    "get_finder",
    "list_finders",
]
