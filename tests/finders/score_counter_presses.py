"""How counter-presses are scored: losses that were counter-pressed against the orders to hunt the ball."""

from scoring import Subject, patterns

from tactical_kit.finders.counter_presses import find_counter_presses


def pressed(match):
    """Losses that were counter-pressed."""
    found = find_counter_presses(match)
    return found.where(found["pressed"].fillna(False))


def won_back(match):
    """Counter-presses that brought the ball back."""
    found = pressed(match)
    return found.where(found["regained"])


SUBJECTS = [
    Subject("counter-press", pressed, patterns("counter-press"), tol_s=0.5, note="told to hunt the ball at the loss"),
    Subject(
        "counter-press, ball back within 5 s",
        won_back,
        patterns("counter-press", done=True),
        tol_s=0.5,
        also_true=lambda truth: patterns("counter-press", done=False)(truth),
        note="the script counts a ball won while the order stood",
    ),
]
