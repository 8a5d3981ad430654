"""The house rules of teaching notebooks, read from the files themselves (DEVELOPERS.md, "Notebooks").

Common practice, no source: a head that is read in a minute, short cells, no stored outputs, exercises in
three cells, a plain call under each interactive cell.
"""

import json
import re
from pathlib import Path

import nbformat
import pytest

FOLDER = Path(__file__).parents[2] / "notebooks"
FILES = sorted(FOLDER.glob("*.ipynb"))
LONGEST_CELL = 10
HEAD = ("You will", "Minutes", "Before this", "Data")


def read(path):
    return nbformat.read(path, as_version=4)


def tags(cell):
    return set(cell.metadata.get("tags", []))


def faults_of(notebook):
    """Every breach of the rules in one notebook, as sentences."""
    cells, faults = notebook.cells, []
    markdown = [c.source for c in cells if c.cell_type == "markdown"]
    code = [c for c in cells if c.cell_type == "code"]

    first = cells[0]
    if first.cell_type != "markdown" or not re.match(r"# .+", first.source) or "?" not in first.source:
        faults.append("cell 1 must be a title and a coach's question")
    second = cells[1].source if cells[1].cell_type == "markdown" else ""
    faults += [f"cell 2 does not say {word!r}" for word in HEAD if f"**{word}" not in second]
    if "invented demonstration data" not in second:
        faults.append("cell 2 does not label the data as invented demonstration data")
    if not any(re.match(r"#+ .*can.?(not|'t|’t)? say", m) or re.match(r"#+ Limits", m) for m in markdown):
        faults.append("no part on the limits of what was found")

    for number, cell in enumerate(cells, 1):
        if cell.cell_type != "code":
            continue
        if len(cell.source.splitlines()) > LONGEST_CELL:
            faults.append(f"cell {number} has {len(cell.source.splitlines())} lines, at most {LONGEST_CELL}")
        if cell.outputs or cell.execution_count is not None:
            faults.append(f"cell {number} has stored outputs")
        if "skip-execution" in tags(cell) and "#" not in cell.source:
            faults.append(f"cell {number} is not run and does not say why")
        if "raises-exception" in tags(cell):
            after = next((c for c in cells[number:] if c.cell_type == "code"), None)
            if after is None or "assert" not in after.source:
                faults.append(f"cell {number} may fail and no cell after it checks that it did")
        if "interactive" in tags(cell):
            after = next((c for c in cells[number:] if c.cell_type == "code"), None)
            if after is None or "tk.show_" not in after.source:
                faults.append(f"cell {number} is interactive and has no plain call beneath it")
        if "tk.explore(" in cell.source and "interactive" not in tags(cell):
            faults.append(f"cell {number} opens the explorer and is not tagged as interactive")

    if sum("assert" in c.source for c in code) < 2:
        faults.append("fewer than two headline numbers are asserted")
    faults += exercise_faults(cells)
    return faults


def exercise_faults(cells):
    """Exercises come as stub, check, folded solution; the check is made again after the solution."""
    faults = []
    kinds = [next((t for t in tags(c) if t in ("exercise", "check", "solution")), "") for c in cells]
    for at, kind in enumerate(kinds):
        if kind != "exercise":
            continue
        rest = [k for k in kinds[at + 1 :] if k]
        if rest[:3] != ["check", "solution", "check"]:
            faults.append(f"exercise in cell {at + 1} is followed by {rest[:3]}, not by check, solution, check")
        if "..." not in cells[at].source:
            faults.append(f"exercise in cell {at + 1} has nothing to fill in")
    for at, kind in enumerate(kinds):
        if kind == "solution" and not cells[at].metadata.get("jupyter", {}).get("source_hidden"):
            faults.append(f"solution in cell {at + 1} is not folded")
    return faults


@pytest.mark.parametrize("path", FILES, ids=[f.name for f in FILES])
def test_a_notebook_keeps_the_house_rules(path):
    assert faults_of(read(path)) == []


@pytest.mark.parametrize("path", FILES, ids=[f.name for f in FILES])
def test_a_notebook_is_valid_and_names_the_plain_kernel(path):
    notebook = read(path)
    nbformat.validate(notebook)
    assert notebook.metadata.kernelspec.name == "python3"
    raw = json.loads(path.read_text(encoding="utf-8"))
    assert len({c["id"] for c in raw["cells"]}) == len(raw["cells"])


def test_the_notebooks_are_numbered_from_one_and_point_at_one_another():
    assert [f.name[:3] for f in FILES] == [f"{i:02d}_" for i in range(1, len(FILES) + 1)]
    assert len(FILES) >= 3
    first = "\n".join(c.source for c in read(FILES[0]).cells if c.cell_type == "markdown")
    assert [f.name for f in FILES[1:] if f.name not in first] == []


def test_links_to_files_lead_somewhere():
    for path in FILES:
        text = "\n".join(c.source for c in read(path).cells if c.cell_type == "markdown")
        for target in re.findall(r"\]\(([^)#]+)\)", text):
            assert not target.startswith("http"), f"{path.name} sends its reader to the network: {target}"
            assert (FOLDER / target).exists(), f"{path.name} points at {target}, which is not there"


# The rules are tried on a notebook that breaks each of them.
def book(cells):
    """A notebook of copies of these cells, each with an id of its own."""
    cells = [nbformat.from_dict({**c, "id": f"cell-{i}"}) for i, c in enumerate(cells)]
    return nbformat.v4.new_notebook(cells=cells)


def cell(source, kind="code", **metadata):
    make = nbformat.v4.new_code_cell if kind == "code" else nbformat.v4.new_markdown_cell
    return make(source, metadata=metadata)


GOOD_HEAD = [
    cell("# A title\n\n*Who built up best?*", "markdown"),
    cell(
        "**You will** look. **Minutes** 5. **Before this** nothing. **Data** invented demonstration data.", "markdown"
    ),
]
GOOD_END = [cell("assert 1"), cell("assert 2"), cell("## Limits\n\nOne match is one match.", "markdown")]
STUB = cell("answer = ...", tags=["exercise"])
CHECK = cell("check(answer)", tags=["check"])
SOLUTION = cell("answer = 1", tags=["solution"], jupyter={"source_hidden": True})


def test_a_good_notebook_has_no_faults():
    good = [*GOOD_HEAD, cell("tk.explore(m)", tags=["interactive"]), cell("tk.show_pressure(m)")]
    assert faults_of(book([*good, STUB, CHECK, SOLUTION, CHECK, *GOOD_END])) == []


@pytest.mark.parametrize(
    ("cells", "fault"),
    [
        ([*GOOD_HEAD, cell("\n".join(["x = 1"] * 11)), *GOOD_END], "cell 3 has 11 lines, at most 10"),
        ([cell("x = 1"), GOOD_HEAD[1], *GOOD_END], "cell 1 must be a title and a coach's question"),
        ([*GOOD_HEAD, *GOOD_END[1:]], "fewer than two headline numbers are asserted"),
        ([*GOOD_HEAD, *GOOD_END[:2]], "no part on the limits of what was found"),
        ([*GOOD_HEAD, cell("1/0", tags=["raises-exception"]), cell("x = 1"), *GOOD_END], "cell 3 may fail and no cell after it checks that it did"),
        ([*GOOD_HEAD, cell("x", tags=["interactive"]), cell("y"), *GOOD_END], "cell 3 is interactive and has no plain call beneath it"),
        ([*GOOD_HEAD, cell("tk.explore(m)"), *GOOD_END], "cell 3 opens the explorer and is not tagged as interactive"),
        ([*GOOD_HEAD, STUB, CHECK, SOLUTION, *GOOD_END], "exercise in cell 3 is followed by ['check', 'solution'], not by check, solution, check"),
        ([*GOOD_HEAD, STUB, CHECK, cell("answer = 1", tags=["solution"]), CHECK, *GOOD_END], "solution in cell 5 is not folded"),
    ],
)  # fmt: skip
def test_a_breach_is_named(cells, fault):
    assert faults_of(book(cells)) == [fault]


def test_stored_outputs_are_named():
    ran = cell("x = 1")
    ran.execution_count = 3
    assert faults_of(book([*GOOD_HEAD, ran, *GOOD_END])) == ["cell 3 has stored outputs"]
