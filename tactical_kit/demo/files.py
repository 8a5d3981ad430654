"""Where the demonstration match lives, how to load it and how to write another."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from tactical_kit.errors import MissingDataError

from .simulate import DEMO_SEED, simulate

if TYPE_CHECKING:
    from tactical_kit.match import Match

__all__ = ["demo_match", "demo_match_path", "write_demo"]


def demo_match_path() -> Path:
    """The folder of the demonstration match: in the installed kit, else in a checkout.

    Raises
    ------
    MissingDataError
        If neither holds it.
    """
    package = Path(__file__).resolve().parent.parent
    places = (package / "_starter" / "demo_data", package.parent / "demo_data")
    for place in places:
        if (place / "match.json").is_file():
            return place
        inside = sorted(p.parent for p in place.glob("*/match.json")) if place.is_dir() else []
        if inside:
            return inside[0]
    raise MissingDataError(
        "The demonstration match is not there; looked in "
        + " and ".join(map(str, places))
        + ". Write one with: tactical-kit demo FOLDER"
    )


def demo_match() -> Match:
    """Load the demonstration match that ships with the kit (invented demonstration data)."""
    from tactical_kit.sources import read_match_folder

    return read_match_folder(demo_match_path())


def write_demo(
    out_folder: str | Path,
    seed: int = DEMO_SEED,
    rate_hz: int = 25,
    story: str | Path | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> Path:
    """Simulate a match and write it as a match folder, with its truth in a folder ``truth`` of it.

    Parameters
    ----------
    out_folder : path
        Folder to write; a match that is there is replaced.
    seed : int
        Seed of all chance.
    rate_hz : int
        25, 5 or 1 frames a second.
    story : path, optional
        Another story (TOML); None for the kit's own.
    progress : callable, optional
        Called with the share done, 0 to 1, and what is being done, in words.

    Returns
    -------
    Path
        The folder written.
    """
    from tactical_kit.sources import write_match_folder

    from .truth_files import drop_truth, write_truth

    made = simulate(story, seed=seed, rate_hz=rate_hz, progress=progress)
    drop_truth(out_folder)
    write_match_folder(made.match, Path(out_folder))
    write_truth(made.truth, made.match, out_folder)
    return Path(out_folder)
