"""Finders search a match and return Moments; each registers itself by name."""

from tactical_kit.finders.between_lines import find_between_the_lines
from tactical_kit.finders.blocks import find_blocks
from tactical_kit.finders.box_occupation import find_box_occupation
from tactical_kit.finders.build_ups import find_build_ups
from tactical_kit.finders.centre_back_carries import find_centre_back_carries
from tactical_kit.finders.combinations import find_one_twos, find_third_men
from tactical_kit.finders.counter_presses import find_counter_presses
from tactical_kit.finders.ground import find_phases, find_possessions
from tactical_kit.finders.lines_beaten import find_lines_beaten
from tactical_kit.finders.long_balls import find_long_balls
from tactical_kit.finders.marking import find_marking
from tactical_kit.finders.presses import find_presses
from tactical_kit.finders.registry import Finder, find, finder, finder_names, get_finder, list_finders
from tactical_kit.finders.rest_defence import find_rest_defence
from tactical_kit.finders.roads_to_goal import find_roads_to_goal
from tactical_kit.finders.shapes import find_shapes
from tactical_kit.finders.shots import find_shots
from tactical_kit.finders.switches import find_switches
from tactical_kit.finders.transitions import find_transitions
from tactical_kit.finders.wide_support import find_wide_support
from tactical_kit.finders.wide_traps import find_wide_traps

__all__ = [
    "Finder",
    "find",
    "find_between_the_lines",
    "find_blocks",
    "find_box_occupation",
    "find_build_ups",
    "find_centre_back_carries",
    "find_counter_presses",
    "find_lines_beaten",
    "find_long_balls",
    "find_marking",
    "find_one_twos",
    "find_phases",
    "find_possessions",
    "find_presses",
    "find_rest_defence",
    "find_roads_to_goal",
    "find_shapes",
    "find_shots",
    "find_switches",
    "find_third_men",
    "find_transitions",
    "find_wide_support",
    "find_wide_traps",
    "finder",
    "finder_names",
    "get_finder",
    "list_finders",
]
