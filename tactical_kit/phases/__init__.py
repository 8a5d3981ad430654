"""Possession spells and phases of play."""

from tactical_kit.phases.find import find_phases, phase_evidence
from tactical_kit.phases.lookup import PhaseCodes, phase_codes
from tactical_kit.phases.possession import find_possessions
from tactical_kit.phases.words import IN_PHASES, NO_PHASE, OUT_PHASES, PHASE_SENTENCES, phase_sentence

__all__ = [
    "IN_PHASES", "NO_PHASE", "OUT_PHASES", "PHASE_SENTENCES", "PhaseCodes", "find_phases", "find_possessions",
    "phase_codes", "phase_evidence", "phase_sentence",
]  # fmt: skip
