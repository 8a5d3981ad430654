"""Finding out what a path holds, reading it, and turning one form into another."""

import importlib.util
import random
import shutil
import warnings
from pathlib import Path

import pytest

import tactical_kit as tk
from tactical_kit.errors import TacticalKitError, UnknownNameError
from tactical_kit.sources import (
    convert,
    form_of,
    forms,
    read,
    read_match,
    register_form,
    write_cdf,
    write_match,
    write_match_folder,
)
from tactical_kit.sources.problems import InputError, Problems

_spec = importlib.util.spec_from_file_location("small_match", Path(__file__).with_name("small_match.py"))
small = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(small)

KNOWN = (
    "expected a match folder (match.json with events.parquet and/or tracking.parquet); a folder of Common Data Format "
    "files (meta.json, match.json, events.jsonl, tracking.jsonl) or the meta.json; a mapping (.toml) that says how to "
    "read a table."
)


def test_both_forms_are_told_apart(tmp_path):
    match = small.small_match(start=small.utc())
    write_match_folder(match, tmp_path / "a")
    write_cdf(match, tmp_path / "b", Problems())
    for path, form in (("a", "folder"), ("a/match.json", "folder"), ("b", "cdf"), ("b/meta.json", "cdf")):
        assert form_of(tmp_path / path).name == form
        small.assert_same(match, read_match(tmp_path / path), by_name=True)
        small.assert_same(match, tk.read_match(str(tmp_path / path)), by_name=True)
    (tmp_path / "c.toml").write_text("")
    assert form_of(tmp_path / "c.toml").name == "table"


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"form": 3}'])
def test_a_damaged_match_folder_is_still_one(tmp_path, damage):
    write_match_folder(small.small_match(), tmp_path / "a")
    (tmp_path / "a" / "match.json").write_text(damage)
    assert form_of(tmp_path / "a").name == "folder"
    with pytest.raises(InputError):
        read_match(tmp_path / "a")


@pytest.mark.parametrize(
    ("make", "met", "hint"),
    [
        (lambda p: None, "no file or folder", ""),
        (lambda p: p.mkdir(), "an empty folder", ""),
        (lambda p: (p.mkdir(), [(p / n).touch() for n in "fedcba"]), "a folder with a, b, c, d, e, …", ""),
        (lambda p: p.touch(), "a file without an ending", ""),
    ],
)
def test_unknown_forms_are_named_with_the_known_ones(tmp_path, make, met, hint):
    path = tmp_path / "thing"
    make(path)
    with pytest.raises(TacticalKitError) as error:
        read_match(path)
    assert str(error.value) == f"{path} is {met}; {KNOWN}{hint}"


def test_a_bare_table_is_told_about_the_mapping(tmp_path):
    (tmp_path / "events.csv").write_text("a,b\n")
    with pytest.raises(TacticalKitError) as error:
        read_match(tmp_path / "events.csv")
    assert str(error.value) == (
        f"{tmp_path / 'events.csv'} is a .csv file; {KNOWN} A table needs a mapping: `tactical-kit check events.csv` "
        "drafts one."
    )


def test_convert_there_and_back(tmp_path):
    match = small.small_match(start=small.utc())
    write_match_folder(match, tmp_path / "a")
    assert convert(tmp_path / "a", tmp_path / "b", "cdf") == tmp_path / "b"
    convert(tmp_path / "b", tmp_path / "c")
    for name in ("match.json", "events.parquet", "tracking.parquet"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "c" / name).read_bytes()


def test_convert_refuses_before_the_long_reading(tmp_path):
    with pytest.raises(UnknownNameError) as error:
        convert(tmp_path / "none", tmp_path / "b", "cfd")
    assert str(error.value) == "form is 'cfd'; expected one of 'folder', 'cdf'. Did you mean 'cdf'?"
    with pytest.raises(TacticalKitError) as error:
        convert(tmp_path / "a", tmp_path / "x" / ".." / "a")
    assert str(error.value) == f"{tmp_path / 'x' / '..' / 'a'} is both source and target; name a new folder."


def test_a_new_form_is_one_entry(tmp_path, monkeypatch):
    monkeypatch.setattr(read, "_FORMS", dict(read._FORMS))
    match = small.small_match()
    register_form(read.Form("mine", "a .mine file", lambda p: p.suffix == ".mine", lambda p: match))
    (tmp_path / "x.mine").touch()
    assert read_match(tmp_path / "x.mine") is match
    assert [f.name for f in forms()] == ["folder", "cdf", "table", "mine"]
    with pytest.raises(UnknownNameError):  # it cannot be written
        write_match(match, tmp_path / "y", "mine")
    with pytest.raises(TacticalKitError) as error:
        register_form(read.Form("cdf", "", lambda p: False, lambda p: match))
    assert str(error.value) == "a form 'cdf' is registered already; choose another name."


@pytest.mark.parametrize("form", ["folder", "cdf"])
def test_random_damage_gives_a_match_or_the_kits_own_error(tmp_path, form):
    """Bytes overwritten, files cut off: whatever comes of it, it is said in the kit's words.  Seeded."""
    rng = random.Random(7)
    match = small.small_match(start=small.utc(), seconds=20.0, numbers=(1,))
    write_match(match, tmp_path / "whole", form)
    refused = 0
    for _ in range(60):
        shutil.copytree(tmp_path / "whole", tmp_path / "m")
        file = rng.choice(sorted((tmp_path / "m").iterdir()))
        raw = bytearray(file.read_bytes())
        for _ in range(rng.choice([1, 3, 20])):
            raw[rng.randrange(len(raw))] = rng.randrange(256)
        file.write_bytes(raw[: rng.randrange(len(raw))] if rng.random() < 0.3 else raw)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            try:
                read_match(tmp_path / "m")
            except TacticalKitError:
                refused += 1
        shutil.rmtree(tmp_path / "m")
    assert refused > 20
