"""tactical_kit: an interactive notebook kit for the tactical analysis of association-football matches.

>>> import tactical_kit as tk
>>> tk.Pitch().length_m
105.0
"""

from __future__ import annotations

import importlib
from typing import Any

__version__ = "0.1.0"

# Public name -> module; loaded on first use, so that `import tactical_kit` stays quick and draws nothing.
_PUBLIC = {
    "find_centre_back_carries": "finders",
    "explore": "explorer",
    "find_long_balls": "finders",
    "find_transitions": "finders",
    "find_rest_defence": "finders",
    "find_counter_presses": "finders",
    "find_box_occupation": "finders",
    "block_series": "finders.blocks",
    "find_blocks": "finders",
    "find_roads_to_goal": "finders",
    "find_shapes": "finders",
    "road_steps": "finders.roads_to_goal",
    "find": "finders",
    "find_build_ups": "finders",
    "find_lines_beaten": "finders",
    "find_marking": "finders",
    "find_presses": "finders",
    "find_wide_traps": "finders",
    "find_phases": "phases",
    "find_possessions": "phases",
    "Clock": "match",
    "Match": "match",
    "Moments": "moments",
    "Period": "match",
    "Pitch": "pitch",
    "Player": "match",
    "Scene": "scenes",
    "show_instant": "scenes.show",
    "show_moment": "scenes.moment",
    "show_moments": "scenes.moment",
    "show_pass_network": "scenes.show",
    "show_pressure": "scenes.show",
    "show_progression": "scenes.show",
    "show_road": "scenes.road",
    "Claim": "claims",
    "claim": "claims",
    "add_to_claim_sheet": "claims",
    "read_claim_sheet": "claims",
    "run_claim_sheet": "claims",
    "check_claim_sheet": "claims",
    "compare": "claims",
    "compare_halves": "claims",
    "compare_score_states": "claims",
    "compare_before_after": "claims",
    "compare_means": "claims",
    "compare_rates": "claims",
    "split_by_column": "claims",
    "split_by_halves": "claims",
    "split_by_labels": "claims",
    "split_by_minute": "claims",
    "split_by_phase": "claims",
    "split_by_player": "claims",
    "split_by_score": "claims",
    "split_by_substitution": "claims",
    "Selection": "measures.selection",
    "count_conditions": "measures.selection",
    "index_match": "measures.index",
    "list_finders": "finders",
    "match_story": "story",
    "matching": "claims",
    "pass_network": "measures.pass_network",
    "passes_per_defensive_action": "measures.defending",
    "passing_lanes": "measures.lanes",
    "find_wide_support": "finders",
    "find_third_men": "finders",
    "find_one_twos": "finders",
    "find_between_the_lines": "finders",
    "find_switches": "finders",
    "pressure_map": "measures.pressure",
    "progression_zones": "measures.progression",
    "Snapshot": "match",
    "Team": "match",
    "Tracking": "match",
    "demo_match": "demo",
    "read_match": "sources",
    "read_table_match": "sources",
    "draft_mapping": "sources",
    "check_files": "sources",
    "write_match_folder": "sources",
    "read_match_folder": "sources",
    "read_cdf": "sources",
    "write_cdf": "sources",
    "convert": "sources",
}
__all__ = sorted(_PUBLIC)


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        from tactical_kit.errors import suggest

        raise AttributeError(f"module 'tactical_kit' has no attribute {name!r}.{suggest(name, _PUBLIC)}")
    value = getattr(importlib.import_module(f"tactical_kit.{_PUBLIC[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_PUBLIC})
