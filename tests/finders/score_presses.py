"""Presses against the script: sprung at the cue, and at all while one was on."""

import pandas as pd
from scoring import Subject, patterns

from tactical_kit.finders import find_presses

# A wide trap is a press on the wide man, and a press that goes on may be found twice: no false alarms.
EXCUSED = ("press", "wide trap", "counter-press")
NOTE = "an order, not a run, is what the script tells: the half in a mid-block shows least; wide traps, second jumps excused"


def pressing(truth):
    return pd.concat([patterns(kind)(truth) for kind in EXCUSED], ignore_index=True)


SUBJECTS = [
    Subject("press, by its cue", find_presses, patterns("press"), tol_s=2.5, also_true=pressing, note=NOTE),
    Subject(
        "press, by overlap", find_presses, patterns("press"), tol_s=0.5, also_true=pressing, overlap=True, note=NOTE
    ),
    Subject(
        "press, by overlap, nothing excused", find_presses, patterns("press"), tol_s=0.5, overlap=True, note="as above"
    ),
    Subject(
        "press in build-up (back pass, keeper, goal kick)",
        lambda m: find_presses(m).where(cue=["back pass", "pass to keeper", "goal kick"]),
        lambda t: patterns("press")(t)[lambda p: p["detail"].isin(["back pass", "pass to keeper", "goal kick"])],
        tol_s=0.5,
        also_true=pressing,
        overlap=True,
        note="the three cues that need no guess at how a player is turned",
    ),
]
