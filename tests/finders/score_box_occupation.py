"""How box occupation is scored: the balls that came in, with events and from the tracking alone."""

from scoring import Subject, patterns

from tactical_kit.finders.box_occupation import find_box_occupation


def from_tracking(match):
    """The same match without its events."""
    return find_box_occupation(match.with_data(events=None), set_plays=True)


SUBJECTS = [
    Subject(
        "box occupation (cross or cut-back)",
        lambda m: find_box_occupation(m, set_plays=True),
        patterns("cross"),
        tol_s=0.5,
        players=1,
        note="the events name crosses, so this only shows that none is dropped; corners among them",
    ),
    Subject(
        "box occupation, tracking alone",
        from_tracking,
        patterns("cross"),
        tol_s=0.8,
        note="told by where the ball came from and went; corners among them",
    ),
]
