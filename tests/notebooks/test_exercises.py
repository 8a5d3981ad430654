"""Exercises run both ways: a stub is "not done yet", its folded solution is right, and nothing else is said.

Common practice, no source: exercise and solution must not drift apart.
"""

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

FOLDER = Path(__file__).parents[2] / "notebooks"


def tags(cell):
    return set(cell.metadata.get("tags", []))


def has_exercises(path):
    return any("exercise" in tags(cell) for cell in nbformat.read(path, as_version=4).cells)


WITH_EXERCISES = [path for path in sorted(FOLDER.glob("*.ipynb")) if has_exercises(path)]


def verdicts_of(notebook):
    """The first line of what each check said, from a run of the whole notebook."""
    NotebookClient(notebook, timeout=300, resources={"metadata": {"path": str(FOLDER)}}).execute()
    checks = [cell for cell in notebook.cells if "check" in tags(cell)]
    return [cell.outputs[-1]["data"]["text/plain"].splitlines()[0] for cell in checks]


@pytest.mark.parametrize("path", WITH_EXERCISES, ids=[p.name for p in WITH_EXERCISES])
def test_stubs_are_not_done_and_solutions_are_right(path):
    verdicts = verdicts_of(nbformat.read(path, as_version=4))
    before, after = verdicts[::2], verdicts[1::2]
    assert len(before) == len(after) >= 2
    assert [v for v in before if not (v.startswith("… ") and v.endswith(": not done yet"))] == []
    assert [v for v in after if not (v.startswith("✓ ") and v.endswith(": right"))] == []
    assert [v[2:].split(":")[0] for v in before] == [v[2:].split(":")[0] for v in after]


def test_every_lesson_after_the_second_has_exercises():
    assert [p.name[:2] for p in WITH_EXERCISES] == ["03", "04", "05", "06", "07"]
