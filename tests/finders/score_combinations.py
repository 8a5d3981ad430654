"""Third man and one-two: those that came off, as the script planned them."""

from scoring import Subject, patterns

from tactical_kit.finders import find_one_twos, find_third_men

SUBJECTS = [
    Subject(
        "third man",
        find_third_men,
        patterns("third man", done=True),
        tol_s=0.5,
        players=3,
        also_true=patterns("third man"),
        note="those that came off; the others break off before there is anything to see",
    ),
    Subject(
        "one-two",
        find_one_twos,
        patterns("one-two", done=True),
        tol_s=0.5,
        players=2,
        also_true=patterns("one-two"),
        note="those that came off",
    ),
]
