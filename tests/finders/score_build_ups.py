"""Build-ups against the script: the spells, whether they got out, and the numbers that were told."""

from scoring import Subject, patterns

from tactical_kit.finders import find_build_ups


def progressed(match):
    return find_build_ups(match).where(outcome="progressed")


def _with_number(table, column):
    """The number takes the place of the players, so that a hit has the same one."""
    return table.assign(players=[(f"{n:.0f}",) for n in table[column]])


def found_number(column):
    return lambda match: _with_number(find_build_ups(match).table, column)


def true_number(column):
    return lambda truth: _with_number(patterns("build-up")(truth), column)


SUBJECTS = [
    Subject("build-up", find_build_ups, patterns("build-up"), 1.0, overlap=True, note="spells of the phase; overlap"),
    Subject("build-up: got out", progressed, patterns("build-up", done=True), 1.0, overlap=True),
    Subject(
        "build-up: opponents who press", found_number("n_against"), true_number("n_against"), 1.0, 1, overlap=True,
        note="the very number; the script says how many were told to press, the finder counts where they stand",
    ),
    Subject(
        "build-up: players who build", found_number("n_for"), true_number("n_for"), 1.0, 1, overlap=True,
        note="the very number; the script names players by task (a low full-back may not be one), the finder by depth",
    ),
]  # fmt: skip
