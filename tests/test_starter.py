"""Laying the starter files: common practice, no source; the rule is "never over a file that is there"."""

import os
import re
import shutil

import pytest

import tactical_kit
from tactical_kit import starter
from tactical_kit.errors import MissingDataError, TacticalKitError


@pytest.fixture
def kit(tmp_path, monkeypatch):
    """A kit as installed from a wheel, with two notebooks, a table beside them and a match."""
    inside = tmp_path / "kit" / "_starter"
    (inside / "notebooks" / ".ipynb_checkpoints").mkdir(parents=True)
    (inside / "notebooks" / "data").mkdir()
    (inside / "demo_data" / "story").mkdir(parents=True)
    (inside / "notebooks" / starter.FIRST_NOTEBOOK).write_text("first")
    (inside / "notebooks" / "02_more.ipynb").write_text("second")
    (inside / "notebooks" / ".ipynb_checkpoints" / "02_more-checkpoint.ipynb").write_text("an editor's copy")
    (inside / "notebooks" / "data" / "log.csv").write_text("a,b")
    (inside / "demo_data" / "story" / "match.json").write_text("{}")
    monkeypatch.setattr(starter, "_PACKAGE", tmp_path / "kit")
    return inside


NAMES = [starter.FIRST_NOTEBOOK, "02_more.ipynb", "data/log.csv", "demo_data/story/match.json"]


def test_a_new_folder_gets_every_file_and_no_editor_copies(kit, tmp_path):
    laid = starter.lay_starter(tmp_path / "new" / "deeper")
    assert sorted(str(p) for p in laid.written) == sorted(NAMES)
    assert (laid.same, laid.changed) == ((), ())
    found = sorted(str(p.relative_to(laid.folder)) for p in laid.folder.rglob("*") if p.is_file())
    assert found == sorted(NAMES)
    assert laid.words() == f"Laid 4 starter files into {laid.folder}."


def test_a_second_time_nothing_is_written_or_said_of_files_that_are_the_same(kit, tmp_path):
    starter.lay_starter(tmp_path / "mine")
    before = {p: p.stat().st_mtime_ns for p in (tmp_path / "mine").rglob("*")}
    laid = starter.lay_starter(tmp_path / "mine")
    assert (laid.written, len(laid.same), laid.changed) == ((), 4, ())
    assert {p: p.stat().st_mtime_ns for p in (tmp_path / "mine").rglob("*")} == before
    assert laid.words() == f"The starter files are in {tmp_path / 'mine'}."


def test_a_changed_file_is_kept_and_named(kit, tmp_path):
    starter.lay_starter(tmp_path / "mine")
    (tmp_path / "mine" / "02_more.ipynb").write_text("my own work")
    (tmp_path / "mine" / "data" / "log.csv").unlink()
    laid = starter.lay_starter(tmp_path / "mine")
    assert (tmp_path / "mine" / "02_more.ipynb").read_text() == "my own work"
    assert [str(p) for p in laid.changed] == ["02_more.ipynb"]
    assert [str(p) for p in laid.written] == ["data/log.csv"]
    assert laid.words() == (
        f"Laid 1 starter file into {tmp_path / 'mine'}. "
        "Kept your own version of 02_more.ipynb; rename it to get the starter's."
    )


def test_a_folder_or_a_dangling_link_in_the_way_is_kept(kit, tmp_path):
    (tmp_path / "mine" / "02_more.ipynb").mkdir(parents=True)
    os.symlink(tmp_path / "nowhere", tmp_path / "mine" / starter.FIRST_NOTEBOOK)
    laid = starter.lay_starter(tmp_path / "mine")
    assert sorted(str(p) for p in laid.changed) == sorted([starter.FIRST_NOTEBOOK, "02_more.ipynb"])
    assert not (tmp_path / "nowhere").exists()


def test_a_file_where_the_folder_should_be_is_refused(kit, tmp_path):
    (tmp_path / "taken").write_text("a letter")
    for folder in (tmp_path / "taken", tmp_path / "taken" / "in it"):
        message = f"{folder} is a file, or lies in one; expected a folder, new or old."
        with pytest.raises(TacticalKitError, match=f"^{re.escape(message)}$"):
            starter.lay_starter(folder)
    assert (tmp_path / "taken").read_text() == "a letter"


def test_without_starter_files_the_message_says_how_to_mend_it(kit, tmp_path):
    shutil.rmtree(kit)
    message = (
        f"The starter notebooks are not where the kit expects them ({tmp_path / 'notebooks'}). Install the kit again "
        "with `pip install --force-reinstall --no-deps tactical-kit`, or from a checkout."
    )
    with pytest.raises(MissingDataError, match=f"^{re.escape(message)}$"):
        starter.lay_starter(tmp_path / "mine")
    assert not (tmp_path / "mine").exists()


def test_the_kit_as_installed_has_its_notebooks_and_its_match():
    names = {str(target) for _, target in starter.starter_files()}
    assert {starter.FIRST_NOTEBOOK, "02_bring_your_own_match.ipynb", "03_reading_the_charts.ipynb"} <= names
    notebooks = [source for source, target in starter.starter_files() if target.suffix == ".ipynb"]
    wanted = {name for path in notebooks for name in re.findall(r"data/\w+\.\w+", path.read_text(encoding="utf-8"))}
    assert wanted >= {"data/messy_log.csv", "data/demo_claims.toml"} and wanted <= names  # what a lesson reads travels
    assert any(name.startswith("demo_data") and name.endswith("match.json") for name in names)
    match = tactical_kit.demo_match()
    assert match.level == "events and tracking"
    assert (match.invented, match.label) == (True, "invented demonstration data")
