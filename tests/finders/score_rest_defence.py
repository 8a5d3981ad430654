"""How rest defence is scored: spells in the final third, and whether those told to stay are among those found."""

from scoring import Subject, patterns

from tactical_kit.finders.rest_defence import find_rest_defence


def long_enough(table):
    """Spells of at least a second: what is shorter is an edge of another phase."""
    return table[table["end_s"] - table["start_s"] >= 1.0]


SUBJECTS = [
    Subject(
        "rest defence (spell)",
        lambda m: find_rest_defence(m, min_s=1.0),
        lambda truth: long_enough(patterns("rest defence")(truth)),
        tol_s=0.0,
        also_true=patterns("rest defence"),
        overlap=True,
        note="a spell in the final third of at least 1 s",
    ),
    Subject(
        "rest defence (all who were told to stay are named)",
        lambda m: find_rest_defence(m, min_s=1.0),
        lambda truth: long_enough(patterns("rest defence")(truth)),
        tol_s=0.0,
        players=3,
        also_true=patterns("rest defence"),
        overlap=True,
        note="the finder names more: all who stand well behind the ball for half the spell",
    ),
]
