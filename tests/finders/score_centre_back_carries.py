"""Centre-back carries against the script: the same man, setting off at the same time."""

from scoring import Subject, patterns

from tactical_kit.finders import find_centre_back_carries

SUBJECTS = [
    Subject(
        "centre-back carry", find_centre_back_carries, patterns("centre-back carry"), 1.5, 1,
        note="told to step in; a man who steps in untold counts as a false alarm",
    ),
]  # fmt: skip
