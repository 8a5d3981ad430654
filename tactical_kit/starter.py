"""The starter notebooks and the demonstration match: where they are, and how they reach the user's folder."""

from __future__ import annotations

import filecmp
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tactical_kit.errors import MissingDataError, TacticalKitError

__all__ = ["FIRST_NOTEBOOK", "Laid", "lay_starter", "starter_files"]

FIRST_NOTEBOOK = "01_explore_a_match.ipynb"
_PACKAGE = Path(__file__).resolve().parent


@dataclass(frozen=True)
class Laid:
    """What laying the starter files did to a folder; paths are relative to it.

    Parameters
    ----------
    folder : Path
        Where they were laid.
    written : tuple of Path
        Files that were not there before.
    same : tuple of Path
        Files that were there already, unchanged.
    changed : tuple of Path
        Files that were there with other content: kept as they are.
    """

    folder: Path
    written: tuple[Path, ...] = field(default=())
    same: tuple[Path, ...] = field(default=())
    changed: tuple[Path, ...] = field(default=())

    def words(self) -> str:
        """Say in one or two sentences what happened, without naming files that were merely kept unchanged."""
        parts = []
        if self.written:
            files = "1 starter file" if len(self.written) == 1 else f"{len(self.written)} starter files"
            parts.append(f"Laid {files} into {self.folder}.")
        else:
            parts.append(f"The starter files are in {self.folder}.")
        if self.changed:
            names = ", ".join(str(p) for p in self.changed)
            parts.append(f"Kept your own version of {names}; rename it to get the starter's.")
        return " ".join(parts)


def _roots() -> tuple[Path, Path]:
    """Folders of the notebooks and of the demonstration match: inside the wheel, else in the checkout."""
    inside = _PACKAGE / "_starter"
    base = inside if inside.is_dir() else _PACKAGE.parent
    return base / "notebooks", base / "demo_data"


def starter_files() -> list[tuple[Path, Path]]:
    """List every starter file with the place it takes in the user's folder.

    Returns
    -------
    list of (Path, Path)
        The file that travels with the kit, and its path relative to the user's folder: notebooks at the
        top, the demonstration match under `demo_data`.

    Raises
    ------
    MissingDataError
        The kit was installed without them.
    """
    notebooks, demo = _roots()
    found = [(f, f.relative_to(notebooks)) for f in _visible_files(notebooks)]
    found += [(f, Path("demo_data") / f.relative_to(demo)) for f in _visible_files(demo)]
    if not any(target.name == FIRST_NOTEBOOK for _, target in found):
        raise MissingDataError(
            f"The starter notebooks are not where the kit expects them ({notebooks}). "
            "Install the kit again with `pip install --force-reinstall --no-deps tactical-kit`, or from a checkout."
        )
    return found


def _visible_files(folder: Path) -> Iterator[Path]:
    # Hidden folders hold an editor's own copies of notebooks; they are nobody's starter.
    for path in sorted(folder.rglob("*")):
        parts = path.relative_to(folder).parts
        if path.is_file() and not any(p.startswith((".", "__")) for p in parts):
            yield path


def lay_starter(folder: str | Path) -> Laid:
    """Copy the starter notebooks and the demonstration match into a folder, over nothing that is there.

    Parameters
    ----------
    folder : path
        Made if it is not there yet.

    Returns
    -------
    Laid
        What was written, what was there unchanged, what was there changed and therefore kept.

    Raises
    ------
    TacticalKitError
        The folder is a file, or one of its parents is.
    MissingDataError
        The kit was installed without its starter files.
    """
    folder = Path(folder)
    files = starter_files()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError) as error:
        raise TacticalKitError(f"{folder} is a file, or lies in one; expected a folder, new or old.") from error
    written: list[Path] = []
    same: list[Path] = []
    changed: list[Path] = []
    for source, relative in files:
        target = folder / relative
        if target.exists() or target.is_symlink():
            alike = target.is_file() and filecmp.cmp(source, target, shallow=False)
            (same if alike else changed).append(relative)
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            # "x": a file that appears between the look and the copy is not overwritten either.
            with source.open("rb") as data, target.open("xb") as out:
                shutil.copyfileobj(data, out)
        except FileExistsError:
            changed.append(relative)
            continue
        written.append(relative)
    return Laid(folder, tuple(written), tuple(same), tuple(changed))
