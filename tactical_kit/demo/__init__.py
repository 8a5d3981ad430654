"""The demonstration match: a seeded simulation of agents who play a tactical script, and its truth.

Everything here is invented: teams, players, story. The data show what the kit can do; they say nothing
about any real match.
"""

from __future__ import annotations

from .files import demo_match, demo_match_path, write_demo
from .script import Script, ScriptError, default_script_path, load_script
from .simulate import DEMO_SEED, SimulatedMatch, simulate
from .truth import Truth
from .truth_files import read_truth

__all__ = [
    "DEMO_SEED",
    "Script",
    "ScriptError",
    "SimulatedMatch",
    "Truth",
    "default_script_path",
    "demo_match",
    "demo_match_path",
    "load_script",
    "read_truth",
    "simulate",
    "write_demo",
]
