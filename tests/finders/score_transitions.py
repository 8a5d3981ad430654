"""How transitions are scored: those that went forward at once against the counter-attacks that were ordered."""

from scoring import Subject, patterns

from tactical_kit.finders.transitions import find_transitions

NOTE = "told to go forward on winning the ball; every win called forward would score 0.57 and 0.97 on the trial seeds"
SUBJECTS = [
    Subject(
        "transition (went forward)",
        lambda m: find_transitions(m).where(went_forward=True),
        patterns("counter-attack"),
        tol_s=0.5,
        note=NOTE,
    )
]
