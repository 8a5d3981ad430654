"""The page on the mapping file: its example reads, and it leaves no key out."""

import re
from pathlib import Path

import tactical_kit.sources
from tactical_kit.sources import check_files
from tactical_kit.sources.mapping_form import FORM, WORD_FIELDS

PAGE = (Path(tactical_kit.sources.__file__).parent / "MAPPING.md").read_text(encoding="utf-8")
LOG = """My log;;;;;;;;;;;
of a match that I made up;;;;;;;;;;;
Half;Clock;What;Side;Who;To;Result;X;Y;X2;Y2;Remark
1;00:00;Pass;Harbour;Ann;Bea;ok;50,0;50,0;40,5;50,0;short
1;00:05;Cross in;Harbour;Bea;Cid;lost;80,0;90,0;92,0;55,0;
2;45:00;Pass;Mill Ln;Dov;Eli;ok;50,0;50,0;45,0;60,0;
"""


def keys_of(form):
    if isinstance(form, list):
        form = form[0]
    if isinstance(form, dict):
        for key, value in form.items():
            yield key
            yield from keys_of(value)


def test_the_page_names_every_key():
    words = {w for field in WORD_FIELDS.values() for w in field}  # the kit's own words stand in the guide to events
    missing = {k for k in keys_of(FORM) if not re.search(rf"\b{re.escape(k)}\b", PAGE)} - words
    assert missing == set()


def test_the_example_on_the_page_reads(tmp_path):
    (tmp_path / "my-log.toml").write_text(re.search(r"```toml\n(.*?)```", PAGE, re.S)[1], encoding="utf-8")
    (tmp_path / "my-log.csv").write_text(LOG, encoding="utf-8")
    assert check_files([tmp_path / "my-log.toml"]).errors == []
    match = tactical_kit.read_match(tmp_path / "my-log.toml")
    assert match.events["kind"].tolist() == ["pass", "pass", "pass"]
    assert match.events["detail"].tolist() == ["", "cross", ""]
    assert match.events["success"].tolist() == [True, False, True]
    # By hand: 80 % of 105 m from the own goal line is 31.5 m past the centre spot; 90 % of 68 m is 27.2 m to the left.
    assert match.events[["x", "y"]].iloc[1].round(6).tolist() == [31.5, 27.2]
    assert match.attacking_events[["end_x", "end_y"]].iloc[2].round(6).tolist() == [-5.25, 6.8]
    assert match.events["Remark"].tolist()[0] == "short"
