"""README and DEVELOPERS: their code runs, their links lead somewhere, their floors are those that are tested."""

import re
from pathlib import Path

import pytest

import tactical_kit
from tactical_kit import cli
from tactical_kit.finders import registry
from tactical_kit.sources import read

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(text, language):
    fenced = re.findall(r"^```(\w*)\n(.*?)^```$", text, re.M | re.S)
    return [block for name, block in fenced if name == language]


def test_the_main_job_takes_at_most_ten_lines_and_makes_three_pictures(tmp_path, monkeypatch):
    code, more = blocks(README, "python")
    assert len([line for line in code.splitlines() if line.strip()]) <= 10
    monkeypatch.chdir(tmp_path)
    space = {}
    exec(compile(code, "README.md", "exec"), space)
    exec(compile(more, "README.md", "exec"), space)  # finders and claims, on the same match
    assert len(space["free"]) <= len(space["switches"]) > 50
    starts = {p.name: p.read_bytes()[:5] for p in tmp_path.iterdir()}
    assert starts == {"network.png": b"\x89PNG\r", "progression.svg": b"<?xml", "pressure.pdf": b"%PDF-"}
    assert space["match"].label == "invented demonstration data"


def test_the_two_commands_stand_alone_on_their_lines():
    assert [b.strip() for b in blocks(README, "")] == [
        "pip install . && tactical-kit",
        "pip install '.[test]' && pytest",
    ]


def test_every_command_of_the_table_is_one(capsys):
    rows = re.findall(r"^\| `tactical-kit ?(.*?)` \|", README, re.M)
    assert rows[0] == ""
    for row in rows[1:]:
        command, *options = [word.strip(".") for word in row.split()]
        assert cli.main([command, "--help"]) == 0
        usage = capsys.readouterr().out.split("\n\n")[0]
        assert [word for word in options if not re.search(rf"(^|[^\w-]){word}\b", usage)] == []


def test_the_first_thing_is_the_job_in_one_paragraph():
    title, paragraph, picture = README.split("\n\n")[:3]
    assert title == "# tactical_kit"
    assert 60 <= len(paragraph.split()) <= 200
    assert picture.startswith("![")


def test_every_word_of_the_glossary_is_explained_once():
    table = README.split("## Glossary")[1].split("\n## ")[0]
    words = [w.strip() for row in re.findall(r"^\| (.+?) \| ", table, re.M)[1:] for w in row.split(",")]
    assert sorted(words) == sorted(set(words))
    assert len(words) > 20


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_links_lead_somewhere(text):
    targets = re.findall(r"\]\(([^)#]+)\)", text)
    assert [t for t in targets if not (ROOT / t).exists()] == []


def test_the_picture_is_small_enough():
    (target,) = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    data = (ROOT / target).read_bytes()
    assert data.startswith(b"\x89PNG")
    assert len(data) < 300_000


def test_the_examples_for_developers_run(tmp_path, monkeypatch):
    monkeypatch.setattr(registry, "_FINDERS", dict(registry._FINDERS))
    monkeypatch.setattr(read, "_FORMS", dict(read._FORMS))
    space = {}
    for code in blocks(DEVELOPERS, "python"):
        exec(compile(code, "DEVELOPERS.md", "exec"), space)
    assert registry.get_finder("long throw").thresholds == {"least_length_m": 15.0}

    (tmp_path / "short.pairs").write_text('{"t": 1, "from": "h1", "to": "h2"}\n')
    assert tactical_kit.read_match(tmp_path / "short.pairs").events["receiver"].tolist() == ["h2"]
    (tmp_path / "bad.pairs").write_text('{"t": 1}\nno\n')
    with pytest.raises(tactical_kit.sources.InputError, match=r"^2 problems; nothing was loaded\.\n(.|\n)+"):
        tactical_kit.read_match(tmp_path / "bad.pairs")


def test_the_floors_drawn_are_the_floors_tested():
    namespace = {"__file__": __file__}
    source = (ROOT / "tests" / "test_floors.py").read_text(encoding="utf-8")
    exec(re.search(r"^FLOORS = \[.*?^\]", source, re.M | re.S)[0], namespace)
    drawing = next(b for b in blocks(DEVELOPERS, "") if b.startswith("cli"))
    drawn = [set(re.split(r"\s{2,}", line)[0].split(", ")) for line in drawing.splitlines()]
    assert drawn == namespace["FLOORS"]
