"""Receptions between the lines: ground passes, up to 22 m from the middle of the pitch, as the script has them."""

from scoring import Subject, patterns

from tactical_kit.finders import find_between_the_lines


def ground_passes(match):
    return find_between_the_lines(match, across_m=22.0).where(delivery="ground")


SUBJECTS = [
    Subject(
        "between the lines",
        ground_passes,
        patterns("between-the-lines reception", done=True),
        tol_s=0.5,
        players=2,
        also_true=patterns("between-the-lines reception"),
        note="ground passes within 22 m of the middle; the script has its own lines, the finder those by usual places",
    )
]
