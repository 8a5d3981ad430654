"""Wide traps against the script: the same victim, from the pass to him on."""

import pandas as pd
from scoring import Subject, patterns

from tactical_kit.finders import find_wide_traps


def victims(match):
    """The found traps with the victim alone, who is third in the script's rows."""
    found = find_wide_traps(match).to_frame()
    return found.assign(players=[(v,) for v in found["victim"]])


def told(truth):
    rows = patterns("wide trap")(truth)
    return rows.assign(players=[(p[2],) for p in rows["players"]])


def pressed(truth):
    """The script's presses; a man who is shut in wide in one of them is no false alarm.  The victim is not told."""
    rows = pd.concat([patterns("press")(truth), patterns("wide trap")(truth)], ignore_index=True)
    return rows.assign(players=[()] * len(rows))


NOTE = "an order, not a run; a fifth of the passes never reach the victim; presses excused"
SUBJECTS = [
    Subject("wide trap, by the pass", victims, told, tol_s=1.0, players=1, also_true=pressed, note=NOTE),
    Subject("wide trap, by overlap", victims, told, tol_s=0.5, players=0, also_true=pressed, overlap=True, note=NOTE),
]
