"""The truth beside a match: three small tables in a folder ``truth`` of the match folder, read back whole.

The match folder itself holds what a tracking system and an event logger would have seen; what the players were
told lies apart from it, and no reader of matches opens it.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd

from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.match import Match

from .truth import Truth

__all__ = ["drop_truth", "read_truth", "write_truth"]

FORM = "tactical_kit truth of a simulated match"
VERSION = 1


FOLDER = "truth"
TABLES = ("phases", "marking", "patterns")


def drop_truth(match_folder: str | Path) -> None:
    """Remove the truth of an earlier simulated match from a match folder; touches no other file."""
    folder = Path(match_folder) / FOLDER
    if not (folder / "truth.json").is_file():
        return
    for name in ("truth.json", *(f"{t}.parquet" for t in TABLES)):
        (folder / name).unlink(missing_ok=True)
    if not any(folder.iterdir()):
        folder.rmdir()


def write_truth(truth: Truth, match: Match, match_folder: str | Path) -> Path:
    """Write the truth of a simulated match into the folder ``truth`` of its match folder.

    Parameters
    ----------
    truth : Truth
        As `simulate` gives it.
    match : Match
        The match it belongs to.
    match_folder : path
        The folder the match was written to; an earlier truth in it is replaced.

    Returns
    -------
    Path
        The folder.

    Notes
    -----
    Frames are kept as spells: a row each time the owner or a phase changes. The same match gives the same bytes.
    """
    folder = Path(match_folder) / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    tracking = match.need_tracking("The truth")
    code = [pd.factorize(np.asarray(a))[0] for a in (tracking.period, truth.owner, truth.in_phase, truth.out_phase)]
    changed = np.zeros(len(truth.owner), bool)
    changed[:1] = True
    for column in code:
        changed[1:] |= column[1:] != column[:-1]
    first = np.flatnonzero(changed)
    phases = pd.DataFrame(
        {
            "frame": first.astype(np.int32),
            "period": tracking.period[first],
            "start_s": tracking.time_s[first],
            "owner": truth.owner[first],
            "in_phase": truth.in_phase[first],
            "out_phase": truth.out_phase[first],
        }
    )
    patterns = truth.patterns.assign(players=[json.dumps(list(p)) for p in truth.patterns["players"]])
    for name, table in zip(TABLES, (phases, truth.marking, patterns), strict=True):
        table.to_parquet(folder / f"{name}.parquet", index=False, compression="zstd")
    head = {
        "form": FORM,
        "version": VERSION,
        "match_id": match.match_id,
        "label": match.label,
        "frames": len(truth.owner),
        "rate_hz": float(tracking.rate_hz),
    }
    (folder / "truth.json").write_text(json.dumps(head, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return folder


def read_truth(match_folder: str | Path) -> Truth:
    """Read the truth of a simulated match.

    Parameters
    ----------
    match_folder : path
        The folder of the match.

    Returns
    -------
    Truth
        As `simulate` gave it, frame by frame.

    Raises
    ------
    MissingDataError
        If there is no truth: real matches have none.
    TacticalKitError
        If the truth belongs to another match, is of another form or version, or lacks a file.
    """
    here = Path(match_folder) / FOLDER
    if not (here / "truth.json").is_file():
        raise MissingDataError(
            f"{match_folder} holds no truth; looked for {here / 'truth.json'}. Only a simulated "
            "match has one; write such a match with: tactical-kit demo FOLDER"
        )
    try:
        head = json.loads((here / "truth.json").read_text(encoding="utf-8"))
        if not isinstance(head, dict) or head.get("form") != FORM or head.get("version") != VERSION:
            raise ValueError(f"truth.json is not {FORM!r}, version {VERSION}")
        match_id = json.loads((here.parent / "match.json").read_text(encoding="utf-8")).get("match_id")
        if match_id != head["match_id"]:
            raise ValueError(f"it belongs to match {head['match_id']!r}, the folder holds {match_id!r}")
        phases, marking, patterns = (pd.read_parquet(here / f"{n}.parquet") for n in TABLES)
        patterns["players"] = [tuple(json.loads(p)) for p in patterns["players"]]
        patterns["done"] = patterns["done"].astype("boolean")
        length = np.diff(np.append(phases["frame"].to_numpy(), head["frames"]))
        owner, inside, outside = (np.repeat(phases[c].to_numpy(), length) for c in ("owner", "in_phase", "out_phase"))
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise TacticalKitError(
            f"{here} is not readable as the truth of a match: {error}. Write the match again with: "
            "tactical-kit demo FOLDER"
        ) from error
    return Truth(
        owner=owner.astype(np.int8),
        in_phase=inside.astype(str),
        out_phase=outside.astype(str),
        marking=marking,
        patterns=patterns,
    )
