"""Switches: one long ball across, as the script writes them when they are struck."""

from scoring import Subject, patterns

from tactical_kit.finders import find_switches

SUBJECTS = [
    Subject(
        "switch",
        lambda match: find_switches(match, most_passes=1),
        patterns("switch"),
        tol_s=0.5,
        players=1,
        note="long balls alone; the script writes them when struck, so those blocked at once are missed",
    )
]
