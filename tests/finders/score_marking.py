"""Marking against the script's man-for-man presses: the pairs, and the spells."""

import pandas as pd
from scoring import Subject

from tactical_kit.finders import find_marking


def pairs(match):
    """One row a pair found."""
    found = find_marking(match).to_frame().explode("pairs").dropna(subset="pairs")
    return found.assign(players=[tuple(p.split(":")) for p in found["pairs"]]).reset_index(drop=True)


def told_pairs(truth):
    rows = truth.marking[truth.marking["why"] == "press"]
    return rows.assign(players=list(zip(rows["marker"], rows["marked"]))).reset_index(drop=True)


def man_oriented(match):
    found = find_marking(match)
    return found.where(found["orientation"] >= 0.25)


def told_spells(truth):
    rows = told_pairs(truth).drop_duplicates(["period", "start_s", "end_s", "team"])
    return rows.assign(players=[()] * len(rows)).reset_index(drop=True)


def told_spells_again(truth):
    """A press may reach into two spells."""
    return pd.concat([told_spells(truth)] * 2, ignore_index=True)


SUBJECTS = [
    Subject(
        "marking: pairs of a man-for-man press",
        pairs,
        told_pairs,
        tol_s=0.0,
        players=2,
        overlap=True,
        note="recall alone counts (pairs elsewhere are not told); half of the told men are within 5 m of their places for half of the time",
    ),
    Subject(
        "marking: man-for-man press (orientation 0.25 or more)",
        man_oriented,
        told_spells,
        tol_s=0.0,
        also_true=told_spells_again,
        overlap=True,
        note="spells are cut by phases, not by presses: most hold both; the zonal side has none that are told",
    ),
]
