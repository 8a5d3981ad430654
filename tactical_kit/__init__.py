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
    "find_shapes": "finders.shapes",
    "block_series": "finders.blocks",
    "find_blocks": "finders.blocks",
    "explore": "explorer",
    "find": "finders",
    "find_build_ups": "finders",
    "find_lines_beaten": "finders",
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
    "show_pass_network": "scenes.show",
    "show_pressure": "scenes.show",
    "show_progression": "scenes.show",
    "Claim": "claims",
    "claim": "claims",
    "add_to_claim_sheet": "claims",
    "read_claim_sheet": "claims",
    "Selection": "measures.selection",
    "count_conditions": "measures.selection",
    "index_match": "measures.index",
    "list_finders": "finders",
    "pass_network": "measures.pass_network",
    "passes_per_defensive_action": "measures.defending",
    "passing_lanes": "measures.lanes",
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
