"""How counter-presses are scored: losses that were counter-pressed against the orders to hunt the ball."""

from scoring import Subject, patterns

from tactical_kit.finders.counter_presses import find_counter_presses


def pressed(match):
    """Losses that were counter-pressed."""
    return find_counter_presses(match).where(pressed=True)


def won_back(match):
    """Counter-presses that brought the ball back."""
    return pressed(match).where(regained=True)


SUBJECTS = [
    Subject(
        "counter-press",
        pressed,
        patterns("counter-press"),
        tol_s=0.5,
        note="told to hunt the ball at the loss; every loss called pressed would score 0.40 and 0.97 on the trial seeds",
    ),
    Subject(
        "counter-press, ball back within 5 s",
        won_back,
        patterns("counter-press", done=True),
        tol_s=0.5,
        also_true=patterns("counter-press", done=False),
        note="the script counts a ball won while the order stood",
    ),
]
