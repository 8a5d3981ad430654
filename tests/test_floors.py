"""Imports go down, never up: the floors that DEVELOPERS.md draws, read from the source of every module."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

import tactical_kit

PACKAGE = Path(tactical_kit.__file__).parent

# Top to bottom.  A room imports from rooms below it and from itself; rooms of one floor leave each other alone.
FLOORS = [
    {"cli"},
    {"lab", "starter"},
    {"lessons"},
    {"explorer"},
    {"publish"},
    {"story"},
    {"whatif", "claims"},
    {"scenes"},
    {"finders"},
    {"phases"},
    {"measures"},
    {"moments"},
    {"sources"},
    {"video", "demo"},
    {"match"},
    {"pitch"},
    {"errors", "teaching"},
]
FLOOR_OF = {room: number for number, floor in enumerate(FLOORS) for room in floor}

# (room, room it may import all the same): why.
EXCEPTIONS = {
    ("demo", "sources"): "the simulator writes the match that it made",
}

VIEW_LIBRARIES = {"bokeh", "panel", "matplotlib", "ipywidgets", "jupyter_bokeh", "ipywidgets_bokeh", "IPython"}
VIEWS_ALLOWED = {"cli", "lab", "starter", "lessons", "explorer", "publish", "scenes"}


def room_of(path):
    inside = path.relative_to(PACKAGE)
    return inside.parts[0].removesuffix(".py")


def imports_of(source, package):
    """Yield (line, module) of every import of a module's source, wherever in the file it stands."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                up = package.split(".")
                base = ".".join([*up[: len(up) - node.level + 1], *([base] if base else [])])
            yield node.lineno, base
            if base == "tactical_kit":
                for alias in node.names:
                    yield node.lineno, f"{base}.{alias.name}"


def faults_of(path, source, known_rooms):
    room, package = room_of(path), ".".join(["tactical_kit", *path.relative_to(PACKAGE).parts[:-1]])
    if room == "__init__":
        return []
    if room not in FLOOR_OF:
        return [f"{path.name}: room {room!r} has no floor; give it one in FLOORS"]
    faults, lines = [], source.splitlines()
    for line, module in imports_of(source, package):
        head, *rest = module.split(".")
        where = f"{path.relative_to(PACKAGE)}:{line}: {lines[line - 1].strip()}"
        if head in VIEW_LIBRARIES and room not in VIEWS_ALLOWED:
            faults.append(f"{where}  [{room} may not import a view library]")
        if head != "tactical_kit" or not rest or rest[0] == room or rest[0] not in known_rooms:
            continue
        if FLOOR_OF.get(rest[0], -1) <= FLOOR_OF[room] and (room, rest[0]) not in EXCEPTIONS:
            faults.append(f"{where}  [{room} may not import {rest[0]}]")
    return faults


FILES = sorted(PACKAGE.rglob("*.py"))
ROOMS = {room_of(f) for f in FILES} - {"__init__", "__main__"}


@pytest.mark.parametrize("path", FILES, ids=[str(f.relative_to(PACKAGE)) for f in FILES])
def test_imports_go_down(path):
    assert faults_of(path, path.read_text(encoding="utf-8"), ROOMS | set(FLOOR_OF)) == []


def test_every_room_has_a_floor():
    assert sorted(ROOMS - set(FLOOR_OF)) == []


# Common practice, no source: the checker is tried on imports that it must refuse, each form of import once.
@pytest.mark.parametrize(
    ("room", "statement", "why"),
    [
        ("measures", "import bokeh.models", "measures may not import a view library"),
        ("match", "from matplotlib import pyplot", "match may not import a view library"),
        ("match", "from tactical_kit.moments import Moments", "match may not import moments"),
        ("measures", "from tactical_kit import scenes", "measures may not import scenes"),
        ("phases", "from ..finders import registry", "phases may not import finders"),
        ("video", "import tactical_kit.demo", "video may not import demo"),
    ],
)
def test_an_import_upwards_is_named(room, statement, why):
    path = PACKAGE / room / "made_up.py"
    source = f"def late():\n    {statement}\n"
    assert faults_of(path, source, set(FLOOR_OF)) == [f"{room}/made_up.py:2: {statement}  [{why}]"]


def test_an_import_downwards_passes():
    source = "from tactical_kit.match import Match\nfrom . import words\nimport numpy\n"
    assert faults_of(PACKAGE / "phases" / "made_up.py", source, set(FLOOR_OF)) == []


WATCH = """
import logging, sys, warnings
seen = []
def watch(event, args):
    if event == "open" and isinstance(args[1], str) and set(args[1]) & set("wax+"):
        seen.append(f"writes {args[0]}")
    elif event in ("os.mkdir", "socket.connect", "socket.getaddrinfo", "subprocess.Popen", "os.remove", "os.rename"):
        seen.append(f"{event} {args}")
before = (list(warnings.filters), list(logging.getLogger().handlers))
sys.addaudithook(watch)
import tactical_kit
assert (list(warnings.filters), list(logging.getLogger().handlers)) == before, "global options changed"
assert seen == [], seen
heavy = {"pandas", "bokeh", "panel", "matplotlib", "numba", "scipy", "networkx"} & set(sys.modules)
assert not heavy, heavy
print("quiet")
"""


def test_importing_the_kit_has_no_effect(tmp_path):
    environ = {**os.environ, "HOME": str(tmp_path), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-c", WATCH], cwd=tmp_path, env=environ, capture_output=True, text=True, check=False
    )
    assert (done.stdout.strip(), done.returncode) == ("quiet", 0), done.stderr
    assert list(tmp_path.iterdir()) == []
