"""Claim sheets: read with every fault at once, added to without touching what is there, run, and failing as a test.

Common practice, no source.
"""

import os
import pickle
import stat
import subprocess
import sys
import tomllib
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import tactical_kit as tk
from tactical_kit.claims import (
    ClaimsDoNotHold,
    ClaimSheetError,
    add_to_claim_sheet,
    check_claim_sheet,
    read_claim_sheet,
    run_claim_sheet,
)
from tactical_kit.claims.conditions import FORMS
from tactical_kit.claims.sheet import CLAIM_KEYS, COMPARISONS, EXPECTED, RATES, SHEET_KEYS
from tactical_kit.claims.words import SHARE_WORDS
from tactical_kit.errors import TacticalKitError
from tactical_kit.finders import find, registry

PAGE = Path(tk.__file__).parent / "claims" / "SHEET.md"


@pytest.fixture
def sheet(tmp_path):
    def write(text, name="claims.toml"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


def faults_of(call):
    with pytest.raises(ClaimSheetError) as refused:
        call()
    error = refused.value
    assert str(error).split("\n")[1:] == list(error.faults)
    return list(error.faults)


GOOD = """\
title = "A match"

[words]
"as a rule" = [0.75, 1]

[[claim]]
text = "A spell of theirs as a rule ends in a loss"
finder = "possession"
team = "home"
of = ["passes at least 1"]
where = ["outcome is lost"]
word = "as a rule"

[[claim]]
text = "They lost it more often after the break"
finder = "possession"
where = [{ column = "outcome", op = "is", value = ["lost", "out"] }]
compare = { by = "halves", more = "second half" }
"""


# -- reading -----------------------------------------------------------------------------------------------


def test_a_sheet_is_read(sheet):
    found = read_claim_sheet(sheet(GOOD))
    assert (found.title, len(found), found.few, found.level, found.strict) == ("A match", 2, 10, 0.95, False)
    first, second = found.claims
    assert (first.number, first.team, first.word) == (1, "home", "as a rule")
    assert [c.to_text() for c in first.of + first.where] == ["passes at least 1", "outcome is lost"]
    assert second.to_table() == {
        "text": "They lost it more often after the break", "finder": "possession", "where": ["outcome is lost or out"],
        "compare": {"by": "halves", "more": "second half"},
    }  # fmt: skip
    assert found.match_path == found.path.parent


def test_every_fault_of_a_sheet_is_told_at_once(sheet):
    path = sheet("""\
few = 0
levl = 0.9
level = 95
strict = "yes"
words = { usually = [2, 1] }
[[claim]]
text = "First"
finder = 3
where = ["a b c", "passes >= 3"]
segmnt = "first half"
word = "usualy"
[[claim]]
text = "Second"
finder = "shot"
where = ["won"]
phase = ["build-up", "biuld-up"]
score = "ahead"
segment = "first haf"
compare = { by = "halfs", more = "x", less = "y" }
[[claim]]
text = "Third"
finder = "shot"
where = []
rate = "per match"
expect = "true"
few = 2.5
compare = { by = "minute", more = "after", player = "x", at = "sixty" }
""")
    assert faults_of(lambda: read_claim_sheet(path)) == [
        "claims.toml, key 'few': met 0; expected a whole number of instances from 1 up.",
        "claims.toml, key 'levl': not known; expected title, match, few, level, strict, words, claim. Did you mean 'level'?",
        "claims.toml, key 'level': level is 95; expected a share between 0 and 1, as 0.95.",
        "claims.toml, key 'strict': met 'yes'; expected true or false.",
        "claims.toml, key 'words': the word 'usually' stands for 2 to 1; expected two shares from 0 to 1, the lower first, "
        "as [0.65, 1.0]; [1, 1] is always and [0, 0] is never.",
        "claims.toml, claim 1 (“First”), key 'finder': met 3; expected a text.",
        f"claims.toml, claim 1 (“First”), key 'where': the condition 'a b c' cannot be read; expected {FORMS}.",
        f"claims.toml, claim 1 (“First”), key 'segmnt': not known; expected {', '.join(CLAIM_KEYS)}. Did you mean 'segment'?",
        "claims.toml, claim 1 (“First”), key 'word': the word 'usualy' stands for no share; expected one of "
        f"{', '.join(map(repr, SHARE_WORDS))}, or a share as 'at least 60 %', 'at most 20 %', '60-80 %' or "
        "'two in three'. Did you mean 'usually'?",
        "claims.toml, claim 2 (“Second”), key 'phase': phase is 'biuld-up'; expected one of 'build-up', 'progression', "
        "'final third', 'attacking transition', 'set play', 'high press', 'mid-block', 'low block', "
        "'defensive transition', 'counter-press'. Did you mean 'build-up'?",
        "claims.toml, claim 2 (“Second”), key 'score': score is 'ahead'; expected one of 'leading', 'level', 'trailing'.",
        "claims.toml, claim 2 (“Second”), key 'segment': met 'first haf'; expected 'first half', '60:00-75:00', "
        "'from 60:00', 'until 30:00'. Did you mean 'first half'?",
        "claims.toml, claim 2 (“Second”), key 'compare': by is 'halfs'; expected one of halves, score, minute, "
        "substitution, player, phase, column. Did you mean 'halves'?",
        "claims.toml, claim 2 (“Second”), key 'compare': needs one of more and less: the group in which it was more, or "
        "less, often.",
        "claims.toml, claim 3 (“Third”), key 'rate': met 'per match'; expected one of in possession, out of possession, "
        "in play.",
        "claims.toml, claim 3 (“Third”), key 'expect': met 'true'; expected one of supported, undecided, not borne, "
        "too few, no instances.",
        "claims.toml, claim 3 (“Third”), key 'few': met 2.5; expected a whole number of instances from 1 up.",
        "claims.toml, claim 3 (“Third”), key 'compare': 'player' is not known here; expected by, more, less, than, at.",
        "claims.toml, claim 3 (“Third”), key 'compare': at is 'sixty'; expected a match clock, as '60:00' or '45+1:30'.",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("keys", "fault"),
    [
        ('where = ["won"]', "has no word for how often, neither as word nor in its text; expected always, almost always, usually, mostly, half the time, sometimes, seldom, almost never, never, a share, or compare."),
        ('word = "usually"', "has no where; expected a list of conditions: what the claim says of them."),
        ('where = ["won"]\nword = "usually"\ncompare = { by = "halves", more = "first half" }', "has both word and compare; make two claims of it."),
        ('mean = "duration_s"', "has mean without compare; expected what it is compared between."),
        ('rate = "in play"', "has rate without compare; expected what it is compared between."),
        ('mean = "a"\nrate = "in play"\ncompare = { by = "halves", more = "first half" }', "has both mean and rate; one claim is about one of them."),
        ('mean = "a"\nwhere = ["won"]\ncompare = { by = "halves", more = "first half" }', "has both mean and where; write under `of` which moments the mean is taken of."),
        ('rate = "in play"\ncompare = { by = "column", column = "won", more = "yes" }', "has rate compared by column; time can be split by halves, score, minute, substitution."),
    ],
)  # fmt: skip
def test_keys_that_do_not_go_together(sheet, keys, fault):
    path = sheet(f'[[claim]]\ntext = "A claim"\nfinder = "shot"\n{keys}\n')
    assert faults_of(lambda: read_claim_sheet(path)) == [f"claims.toml, claim 1 (“A claim”): {fault}"]


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"", "claims.toml: holds no claim; expected at least one [[claim]]."),
        (b"claim = 3\n", "claims.toml, key 'claim': met 3; expected claims, each under [[claim]]."),
        (b"a = [", "claims.toml: cannot be read as TOML: Invalid value (at end of document)."),
        (b"\xff\xfe", "claims.toml: met bytes that are not UTF-8; save it as UTF-8 text."),
        (b"[[claim]]\n", "claims.toml, claim 1: has no text; expected the claim, as it will be published."),
    ],
)
def test_what_is_no_sheet(tmp_path, content, fault):
    path = tmp_path / "claims.toml"
    path.write_bytes(content)
    assert faults_of(lambda: read_claim_sheet(path))[0] == fault


def test_no_file(tmp_path, sheet):
    sheet(GOOD)
    missing = tmp_path / "claim.toml"
    assert faults_of(lambda: read_claim_sheet(missing)) == [
        f"{missing}: there is no such file; expected a claim sheet (.toml). Did you mean 'claims.toml'?"
    ]


def test_a_folder_is_no_sheet(tmp_path):
    assert faults_of(lambda: read_claim_sheet(tmp_path)) == [
        f"{tmp_path}: met a folder; expected a claim sheet (.toml)."
    ]


def test_a_byte_order_mark_is_borne(tmp_path):
    path = tmp_path / "claims.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert len(read_claim_sheet(path)) == 2


# -- adding ------------------------------------------------------------------------------------------------


def test_adding_keeps_every_byte_that_is_there(sheet):
    text = GOOD + "# a remark of mine, without a line end"
    path = sheet(text)
    os.chmod(path, 0o640)
    spec = add_to_claim_sheet(
        path, "A new one, “quoted” \\ and\ttabbed", "shot", where=["outcome is goal"], word="seldom",
        thresholds={"before_s": 5.0}, team="", phase=[], note=None,
    )  # fmt: skip
    new = path.read_text(encoding="utf-8")
    assert new.startswith(text + "\n\n[[claim]]\n")
    assert new.endswith(
        'text = "A new one, “quoted” \\\\ and\\ttabbed"\nfinder = "shot"\nthresholds = { before_s = 5.0 }\n'
        'where = ["outcome is goal"]\nword = "seldom"\n'
    )
    assert spec.number == 3 and read_claim_sheet(path).claims[2] == spec
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [p.name for p in path.parent.iterdir()] == ["claims.toml"]


def test_the_same_claim_is_not_added_twice(sheet):
    path = sheet(GOOD)
    keys = dict(where=["outcome  is  goal"], word="seldom")
    first = add_to_claim_sheet(path, "A new one", "shot", **keys)
    before = path.read_bytes()
    assert add_to_claim_sheet(path, "A new one", "shot", **keys) == first
    assert path.read_bytes() == before
    assert add_to_claim_sheet(path, "A new one", "shot", **keys | {"word": "never"}).number == 4


def test_a_new_sheet_says_how_it_is_made(tmp_path):
    path = tmp_path / "new.toml"
    add_to_claim_sheet(path, "Shots seldom go in", "shot", where=[{"column": "outcome", "op": "is", "value": "goal"}])
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# Claims about a match.  Check them with:  tactical-kit claims new.toml\n")
    assert read_claim_sheet(path).claims[0].where[0].to_text() == "outcome is goal"


def test_windows_line_ends_and_links_are_kept(sheet, tmp_path):
    path = sheet("")
    path.write_bytes(GOOD.replace("\n", "\r\n").encode())
    link = tmp_path / "link.toml"
    link.symlink_to(path)
    add_to_claim_sheet(link, "Shots seldom go in", "shot", where=["outcome is goal"])
    assert link.is_symlink()
    raw = path.read_bytes()
    assert raw.count(b"\n") == raw.count(b"\r\n")
    assert len(read_claim_sheet(path)) == 3


@pytest.mark.parametrize(
    ("old", "keys", "faults"),
    [
        (GOOD, dict(where=["a b c"], wrd="usually"), ["claims.toml, claim 3 (“New”), key 'where': the condition 'a b c' cannot be read; ", "claims.toml, claim 3 (“New”), key 'wrd': not known; expected "]),
        (GOOD, dict(where=["won"], thresholds={"a": object()}), None),
        ("few = 0\n", dict(where=["won"], word="usually"), ["claims.toml, key 'few': met 0; "]),
        ('claim = [{ text = "usually", finder = "shot", where = ["won"] }]\n', dict(where=["won"], word="usually"), ["claims.toml: a claim cannot be added at its end; write each of its claims under [[claim]]."]),
    ],
)  # fmt: skip
def test_where_a_claim_cannot_be_added_the_file_is_as_it_was(sheet, old, keys, faults):
    path = sheet(old)
    with pytest.raises(TacticalKitError) as refused:
        add_to_claim_sheet(path, "New", "shot", **keys)
    if faults is not None:
        assert str(refused.value).startswith(
            f"{len(faults)} fault{'s' if len(faults) > 1 else ''}; nothing was added.\n"
        )
        assert [got.startswith(start) for got, start in zip(refused.value.faults, faults)] == [True] * len(faults)
    assert path.read_text(encoding="utf-8") == old
    assert [p.name for p in path.parent.iterdir()] == ["claims.toml"]


def test_a_folder_that_is_not_there(tmp_path):
    path = tmp_path / "none" / "claims.toml"
    assert faults_of(lambda: add_to_claim_sheet(path, "Seldom", "shot", where=["won"])) == [
        f"{path}: there is no folder {path.parent}; make it first."
    ]


texts = st.text(st.characters(exclude_categories=["Cs"]), min_size=1).filter(lambda t: t.strip() == t)


@given(
    text=texts, note=texts, value=texts.filter(lambda t: not ('"' in t and "'" in t)), number=st.floats(allow_nan=False)
)
def test_whatever_is_added_reads_back(tmp_path_factory, text, note, value, number):
    path = tmp_path_factory.mktemp("sheet") / "claims.toml"
    spec = add_to_claim_sheet(
        path, text, "shot", note=note, word="usually", thresholds={"a b": number, "c": value, "d": True, "e": 3},
        where=[{"column": "outcome", "op": "is", "value": value}],
    )  # fmt: skip
    found = read_claim_sheet(path).claims[0]
    assert found.to_table() == spec.to_table()
    assert (found.text, found.note, found.thresholds["a b"], found.where[0].values[0].text) == (
        text,
        note,
        number,
        value,
    )


# -- running -----------------------------------------------------------------------------------------------


@pytest.fixture
def simple(sheet, small):
    """Claims on the small match, in which each spell of A but the one before the goal ends in a loss."""
    return sheet("""\
few = 2
[[claim]]
text = "A usually lose it"
finder = "possession"
team = "home"
where = ["outcome is lost"]
few = 3

[[claim]]
text = "Every spell is of many passes"
finder = "possession"
where = ["passes more than 5"]
word = "always"
""")


def test_a_sheet_is_run(simple, small):
    result = run_claim_sheet(small, simple)
    first, second = result
    assert (first.result.count, first.result.base, first.verdict.status, first.holds) == (2, 3, "undecided", True)
    assert first.numbers == "2 of 3, 67 %, 95 % interval 21-94 %"
    assert first.short_verdict == "“usually” (at least 65 %): undecided, but it fits"
    assert (second.holds, second.counterexamples) == (False, ("05:10",))
    assert result.fallen == (second,) and result[2] is second and not result.holds
    assert result.summary == "1 of 2 claims holds on Reds of A v Blues of B (invented demonstration data)."
    assert result.caution == (
        "2 claims were checked. A 95 % interval misses the truth in about 1 of 20 cases; with 2 of them the chance that "
        "at least one does is about 10 %. Claims that were tried and dropped count as well."
    )
    assert result.table[["number", "holds"]].to_numpy().tolist() == [[1, True], [2, False]]
    assert (
        result.as_text(90)
        == """\
            claim                    count and interval            verdict
------------------------------------------------------------------------------------------
  1  holds  A usually lose it        2 of 3, 67 %, 95 % interval   “usually” (at least
                                     21-94 %                       65 %): undecided, but
                                                                   it fits
  2  FALLS  Every spell is of many   5 of 6, 83 %, 95 % interval   “always” (in every
            passes                   44-97 %                       instance): not borne

claim 2: Every spell is of many passes: 5 of 6, 83 %, 95 % interval 44-97 %. “always” (in
every instance) is not borne: 1 instance speaks against it.
  1 counterexample: 05:10

1 of 2 claims holds on Reds of A v Blues of B (invented demonstration data).
2 claims were checked. A 95 % interval misses the truth in about 1 of 20 cases; with 2 of
them the chance that at least one does is about 10 %. Claims that were tried and dropped
count as well."""
    )
    page = result._repr_html_()
    assert page.count("<tr>") == 3 and "FALLS" not in page and "✗" in page
    with pytest.raises(TacticalKitError) as refused:
        result[3]
    assert str(refused.value) == "claim 3 is not in the sheet; it has 1 to 2."


def test_strict_asks_for_the_interval(sheet, simple, small):
    path = sheet("strict = true\n" + simple.read_text())
    assert [c.holds for c in run_claim_sheet(small, path)] == [False, False]


def test_a_sheet_is_a_test(simple, small):
    with pytest.raises(ClaimsDoNotHold) as fell:
        check_claim_sheet(small, simple)
    assert isinstance(fell.value, AssertionError)
    assert str(fell.value) == (
        "1 of 2 claims of claims.toml does not hold on this match.\n"
        "claim 2: Every spell is of many passes: 5 of 6, 83 %, 95 % interval 44-97 %. “always” (in every instance) is not "
        "borne: 1 instance speaks against it.\n"
        "  1 counterexample: 05:10"
    )
    assert list(fell.value.result[2].result.counterexamples["start_s"].round()) == [310.0]
    simple.write_text(simple.read_text().replace('word = "always"', 'word = "always"\nexpect = "not borne"'))
    assert check_claim_sheet(small, read_claim_sheet(simple)).holds


def test_an_expected_verdict_that_does_not_come(simple, small):
    simple.write_text(simple.read_text().replace("few = 3\n", 'expect = "not borne"\n'))
    with pytest.raises(ClaimsDoNotHold, match="\n  expected 'not borne', found 'undecided'\n"):
        check_claim_sheet(small, simple)


def test_all_faults_of_a_sheet_on_a_match_are_told_at_once(sheet, demo):
    path = sheet("""\
[[claim]]
text = "One"
finder = "shott"
where = ["outcome is goal"]
word = "seldom"
[[claim]]
text = "Two"
finder = "shot"
team = "Nobody"
segment = "70:00-60:00"
thresholds = { before = 5, after_s = "x" }
of = ["outcom is goal", "outcome more than 3"]
where = ["goal_distance_m less than far"]
word = "seldom"
[[claim]]
text = "Three"
finder = "shot"
where = ["outcome is goal"]
compare = { by = "substitution", player = "Nobody", more = "after" }
[[claim]]
text = "Four"
finder = "shot"
where = ["outcome is goal"]
compare = { by = "halves", more = "third half" }
[[claim]]
text = "Five"
finder = "shot"
mean = "outcome"
compare = { by = "halves", more = "first half" }
""")
    faults = faults_of(lambda: run_claim_sheet(demo, path))
    starts = [
        "claims.toml, claim 1 (“One”), key 'finder': finder is 'shott'; expected one of ",
        "claims.toml, claim 2 (“Two”), key 'thresholds': a threshold of finder 'shot' is 'before'; expected one of "
        "'before_s', 'after_s', 'shoot_out'. Did you mean 'before_s'?",
        "claims.toml, claim 2 (“Two”), key 'thresholds': after_s is 'x'; expected a number, as its default 3.0.",
        f"claims.toml, claim 2 (“Two”), key 'team': team 'Nobody' does not play in this match; expected {demo.home.name!r}",
        "claims.toml, claim 2 (“Two”), key 'segment': '70:00-60:00' ends before it starts.",
        "claims.toml, claim 2 (“Two”), key 'of': moments of 'shot' have no column 'outcom'; they have ",
        "claims.toml, claim 2 (“Two”), key 'of': outcome holds words, not numbers; it cannot be 'more than'.",
        "claims.toml, claim 2 (“Two”), key 'where': goal_distance_m is a number; it cannot be compared with 'far'. ",
        "claims.toml, claim 3 (“Three”), key 'compare': player 'Nobody' is in neither squad.",
        "claims.toml, claim 4 (“Four”), key 'compare': group is 'third half'; expected one of 'first half', "
        "'second half'. Did you mean 'first half'?",
        "claims.toml, claim 5 (“Five”), key 'compare': outcome holds no numbers, so it has no mean; expected a column of "
        "numbers.",
    ]
    assert [(got[: len(start)], start)[0] for got, start in zip(faults, starts)] == starts
    assert len(faults) == len(starts)
    assert faults[0].endswith("Did you mean 'shot'?")


def test_what_the_match_lacks_is_no_fault_of_the_sheet(sheet, demo):
    path = sheet("""\
[[claim]]
text = "Shots seldom go in"
finder = "shot"
where = ["outcome is goal"]
[[claim]]
text = "Seldom when leading"
finder = "possession"
score = "leading"
where = ["outcome is goal"]
""")
    result = run_claim_sheet(demo.with_data(events=None), path)
    assert [c.verdict.status for c in result] == ["cannot be checked"] * 2
    assert result[1].verdict.words.startswith("Cannot be checked: Finder 'shot' needs events; this match has tracking.")
    assert (
        result[2].sentence == "Seldom when leading: Cannot be checked: The score needs events; this match has tracking."
    )
    assert (result[1].numbers, result[1].counterexamples, result.holds) == ("", (), False)


@pytest.mark.parametrize(
    ("segment", "starts"),
    [
        ("first half", [0.0, 310.0, 320.0, 600.0]),
        ("Second half", [0.0, 600.0]),
        ("until 05:10", [0.0]),  # half-open
        ("from 50:00", [600.0]),
        ("05:10-10:00", [310.0, 320.0]),
        ("05:10 to 50:00", [310.0, 320.0, 600.0, 0.0]),
    ],
)
def test_segments_are_half_open(sheet, small, segment, starts):
    path = sheet(
        f'few = 1\n[[claim]]\ntext = "a"\nfinder = "possession"\nsegment = "{segment}"\nwhere = ["passes at least 0"]\nword = "always"\n'
    )
    found = run_claim_sheet(small, path)[1].result.of
    assert [round(s, -1) for s in found["start_s"]] == starts


def test_team_phase_and_score_limit_what_is_looked_at(sheet, demo):
    path = sheet("""\
few = 1
[[claim]]
text = "a"
finder = "shot"
team = "away"
phase = ["final third", "attacking transition"]
opponent_phase = "low block"
score = ["level", "trailing"]
where = ["goal_distance_m at least 0"]
word = "always"
""")
    found = run_claim_sheet(demo, path)[1].result.of
    shots = tk.claims.matching(
        find(demo, "shot"),
        [
            "team is away",
            "phase is final third or attacking transition",
            "opponent_phase is low block",
            "score is not leading",
        ],
        demo,
    )
    assert list(found["moment_id"]) == list(shots["moment_id"])
    assert len(found)


def test_comparisons_of_every_kind_run(sheet, demo):
    substitutions = demo.events[(demo.events["kind"] == "substitution") & (demo.events["team"] == demo.home.team_id)]
    player = substitutions["receiver"].iloc[0]
    name = demo.players[player].name
    kinds = {
        "halves": 'more = "second half"', "score": 'more = "level", than = "leading"',
        "minute": 'at = "60:00", less = "before"', "substitution": f'player = "{name}", more = "after"',
        "player": f'player = "{name}", more = "with"', "phase": 'more = "build-up"',
        "column": 'column = "won_in_play", more = "yes"',
    }  # fmt: skip
    assert set(kinds) == set(COMPARISONS)
    head = '[[claim]]\ntext = "{0}"\nfinder = "possession"\nteam = "home"\n'
    text = ""
    for by, keys in kinds.items():
        comparison = f'compare = {{ by = "{by}", {keys} }}\n'
        text += head.format(by) + 'where = ["outcome is lost"]\n' + comparison
        text += head.format(by) + 'mean = "duration_s"\n' + comparison
        if by in ("halves", "score", "minute", "substitution"):
            for rate in RATES:
                text += head.format(by) + f'rate = "{rate}"\nwhere = ["outcome is lost"]\n' + comparison
    result = run_claim_sheet(demo, sheet(text))
    assert len(result) == 2 * 7 + 4 * 3
    for one in result:
        assert one.verdict.status in ("supported", "undecided", "not borne", "too few"), one.sentence
        assert one.short_verdict.split()[0] in ("more", "less")
        claimed = one.spec.compare.get("more", one.spec.compare.get("less"))
        assert claimed.split()[0] in one.short_verdict or one.spec.compare["by"] in ("player", "column")
    assert str(result) == str(run_claim_sheet(demo, result.sheet))  # the same input, the same output


def test_remarks_on_words_and_possessions_are_told(sheet, demo):
    path = sheet("""\
[[claim]]
text = "Their phases seldom are a biuld-up"
finder = "phase"
team = "home"
of = ["side is in"]
where = ["phase is biuld-up"]
""")
    found = run_claim_sheet(demo, path)[1]
    assert found.notes[0].startswith("'biuld-up' is in no moment of phase, which has ")
    assert found.notes[0].endswith("Did you mean 'build-up'?")
    assert found.notes[1].endswith("the wider one counts.")  # none of 266 from 140 possessions is none of 140
    plain = """
[[claim]]
text = "Their phases seldom are a build-up"
finder = "phase"
team = "home"
of = ["side is in"]
where = ["phase is build-up"]
"""
    path.write_text(plain)
    assert run_claim_sheet(demo, path)[1].notes == ()  # several of one possession, but they change nothing


def test_possessions_are_remarked_where_they_matter(sheet, small):
    # Each pass of A in a half is one of a single possession of sixty.
    path = sheet("""\
few = 1
[[claim]]
text = "Their passes mostly come early"
finder = "claimed pass"
team = "home"
where = ["start_s at most 400"]
""")
    with registered(small):
        found = run_claim_sheet(small, path)[1]
    assert "from 3 possessions (up to 60 from one) depend on each other" in found.notes[0]
    assert found.notes[0].endswith("the wider one counts.")


@contextmanager
def registered(match):
    """A finder of every pass, for as long as it is needed."""

    @registry.finder("claimed pass", needs=("events",), finds="A pass.")
    def find_passes(match):
        passes = match.events[match.events["kind"] == "pass"]
        rows = passes[["period", "team"]].assign(
            start_s=passes["time_s"], end_s=passes["end_s"], players=[()] * len(passes)
        )
        return tk.Moments.build("claimed pass", rows, match_id=match.match_id)

    try:
        yield
    finally:
        del registry._FINDERS["claimed pass"]


def test_control_characters_of_a_sheet_do_not_reach_the_terminal(sheet, small):
    path = sheet('[[claim]]\ntext = "\\u001b[31mred usually"\nfinder = "possession"\nwhere = ["outcome is lost"]\n')
    assert "\x1b" not in run_claim_sheet(small, path).as_text()
    path.write_text(path.read_text().replace("possession", "x"))
    with pytest.raises(ClaimSheetError) as refused:
        run_claim_sheet(small, path)
    assert "\x1b" not in str(refused.value)


# -- the page ----------------------------------------------------------------------------------------------


def test_the_page_names_every_key_word_and_verdict():
    page = PAGE.read_text(encoding="utf-8")
    for key in [*CLAIM_KEYS, *SHEET_KEYS, *COMPARISONS, *EXPECTED, *SHARE_WORDS, "cannot be checked"]:
        assert key in page, key
    for word in SHARE_WORDS.values():
        if not word.exact:
            assert f"| {word.word} | {word.range_words()} |" in page


def test_the_example_of_the_page_runs(tmp_path, demo):
    text = PAGE.read_text(encoding="utf-8").split("```toml\n")[1].split("```")[0]
    path = tmp_path / "claims.toml"
    path.write_text(text, encoding="utf-8")
    tomllib.loads(text)
    result = run_claim_sheet(demo, path)
    assert [c.verdict.status for c in result if c.verdict.status == "cannot be checked"] == []
    assert [note for c in result for note in c.notes if "is in no moment" in note] == []


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        (
            '"They lost it usually"', "“They lost it usually”",
            "line 2, claim 1, key 'text': met 'text = “They lost it usually”'; expected "
            'straight quotes, " at either end, not those of a word processor.',
        ),
        (
            'usually"\n', "usually\n",
            "line 2, claim 1, key 'text': met 'text = \"They lost it usually'; a text is not "
            "closed on its line; expected a quote at its end.",
        ),
        (
            '"home"', "home",
            "line 4, claim 1, key 'team': met 'team = home'; expected a text in quotes, a "
            "number, true, false, a list [...] or a table {...}.",
        ),
        ('team = "home"', 'finder = "shot"', "line 4, claim 1, key 'finder': met 'finder = \"shot\"'; the key stands twice."),
        ('team = "home"', "few = 1,5", "line 4, claim 1, key 'few': met 'few = 1,5'; more stands there than one value; expected one, and 1.5 with a point."),
        ('"home"', r'"C:\Users"', r"""line 4, claim 1, key 'team': met 'team = "C:\\Users"'; expected \\ for each \, or the text in single quotes."""),
    ],
)  # fmt: skip
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_what_is_no_toml_names_line_claim_key_and_what_was_expected(tmp_path, old, new, fault, ending):
    plain = (
        '[[claim]]\ntext = "They lost it usually"\nfinder = "possession"\nteam = "home"\nwhere = ["outcome is lost"]\n'
    )
    path = tmp_path / "claims.toml"
    path.write_bytes(plain.replace(old, new).replace("\n", ending).encode("utf-8-sig"))
    assert faults_of(lambda: read_claim_sheet(path)) == [f"claims.toml: cannot be read as TOML: {fault}"]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ('text = "They did not always lose it"', "says “not always” in its text, which stands for no share; write what is meant under word."),
        ('text = "They usually won and seldom lost it"', "has several words for how often in its text, “usually” and “seldom”; write the one that is meant under word."),
        ('text = "They seldom lost it"\nword = "mostly"', "has the word “mostly” (more than 50 %), but its text says “seldom” (at most 25 %); the sentence would not say what was counted."),
    ],
)  # fmt: skip
def test_a_text_that_says_another_word_than_is_counted_is_a_fault(sheet, change, fault):
    path = sheet(f'[[claim]]\n{change}\nfinder = "possession"\nwhere = ["outcome is lost"]\n')
    (found,) = faults_of(lambda: read_claim_sheet(path))
    assert found.endswith(f"): {fault}")


@pytest.mark.parametrize(
    ("condition", "fault"),
    [
        ("outcome is lost and passes more than 5", "the condition 'outcome is lost and passes more than 5' says two things; write each as a condition of its own (a word with \"and\" in it stands in quotes)."),
        ("passes between 5 and 2", "passes between 5 and 2 holds for nothing; the lower first."),
        ("outcome", "outcome holds words, not yes or no; write 'outcome is WORD'."),
        ("not passes", "passes holds numbers, not yes or no; write 'passes at least NUMBER' or the like."),
        ("passes at least 5,5", "passes is a number; it cannot be compared with '5,5'. Expected a number, or a column of numbers. Write 5.5, with a point."),
        ("passes at least 5 m", "passes is a number; it cannot be compared with '5 m'. Expected a number, or a column of numbers. Write the number alone."),
    ],
)  # fmt: skip
def test_conditions_that_would_count_nothing_are_refused(sheet, small, condition, fault):
    path = sheet(f'[[claim]]\ntext = "They usually did"\nfinder = "possession"\nwhere = ["{condition}"]\n')
    (found,) = faults_of(lambda: run_claim_sheet(small, path))
    assert found == f"claims.toml, claim 1 (“They usually did”), key 'where': {fault}"


def test_quotes_of_a_word_processor_in_a_condition_are_quotes(sheet, small):
    path = sheet('[[claim]]\ntext = "They usually did"\nfinder = "possession"\nwhere = ["outcome is “lost”"]\n')
    assert run_claim_sheet(small, path)[1].result.count == run_claim_sheet(small, sheet(path.read_text("utf-8").replace("“lost”", "lost")))[1].result.count > 0  # fmt: skip


def test_the_same_question_twice_is_remarked(sheet, small):
    one = '[[claim]]\ntext = "They usually {}"\nfinder = "possession"\nwhere = ["outcome is lost"]\n'
    result = run_claim_sheet(
        small,
        sheet(
            one.format("lost it")
            + one.format("let it go")
            + one.replace("lost", "out")
            + one.replace("usually", "seldom")
        ),
    )
    assert "it asks the same as claim 1; it is counted twice." in result[2].notes
    assert not any("asks the same" in note for k in (1, 3, 4) for note in result[k].notes)


def test_a_key_in_the_wrong_place_says_where_it_belongs(sheet):
    path = sheet(
        'team = "home"\n[[claim]]\ntext = "Usually"\nfinder = "shot"\nwhere = ["x more than 1"]\nstrict = true\n'
    )
    first, second = faults_of(lambda: read_claim_sheet(path))
    assert first.endswith("It is a key of a claim; it stands under its [[claim]].")
    assert second.endswith("It is a key of the whole sheet; it stands before the first [[claim]].")


def test_a_threshold_that_is_no_number_is_refused(sheet, small):
    path = sheet('[[claim]]\ntext = "Usually"\nfinder = "possession"\nwhere = ["passes more than 1"]\nthresholds = { min_control_s = nan }\n')  # fmt: skip
    assert "min_control_s is nan; expected a number" in faults_of(lambda: run_claim_sheet(small, path))[0]


def test_one_claim_holds_or_not_in_the_singular(sheet, small):
    path = sheet('[[claim]]\ntext = "They never lost it"\nfinder = "possession"\nwhere = ["outcome is lost"]\n')
    assert run_claim_sheet(small, path).summary.startswith("0 of 1 claim holds on ")


ADD_MANY = """
import sys
from tactical_kit.claims import add_to_claim_sheet
path, who = sys.argv[1:]
for i in range(8):
    add_to_claim_sheet(path, f"They usually did {who}.{i}", "possession", where=["outcome is lost"])
"""


def test_programs_that_add_at_once_lose_nothing(tmp_path):
    path = tmp_path / "claims.toml"
    programs = [subprocess.Popen([sys.executable, "-c", ADD_MANY, str(path), str(who)]) for who in range(2)]
    assert [program.wait(timeout=120) for program in programs] == [0, 0]

    def add_many(who):
        for i in range(8):
            add_to_claim_sheet(path, f"They usually did {who}.{i}", "possession", where=["outcome is lost"])

    with ThreadPoolExecutor(4) as threads:
        list(threads.map(add_many, range(2, 6)))
    assert len({c.text for c in read_claim_sheet(path).claims}) == 48
    assert [p.name for p in tmp_path.iterdir()] == ["claims.toml"]


def test_faults_travel_between_programs(sheet, small):
    """A worker's error reaches the reader as it was, its faults whole."""
    with pytest.raises(ClaimSheetError) as refused:
        read_claim_sheet(sheet("nope = 1\nfew = 0\n"))
    again = pickle.loads(pickle.dumps(refused.value))
    assert again.faults == refused.value.faults and str(again) == str(refused.value)


def test_a_small_chance_is_not_none(sheet, small):
    one = '[[claim]]\ntext = "They {} lost it"\nfinder = "possession"\nwhere = ["outcome is lost"]\n'
    result = run_claim_sheet(small, sheet("level = 0.999\n" + one.format("usually") + one.format("seldom")))
    assert "the chance that at least one does is less than 1 %." in result.caution


def test_a_word_for_every_share_is_a_fault(sheet):
    path = sheet('[words]\nusually = [0, 1]\n[[claim]]\ntext = "Usually"\nfinder = "shot"\nwhere = ["x more than 1"]\n')
    assert (
        "claims.toml, key 'words': the word 'usually' stands for every share, 0 to 1; it would say nothing."
        in faults_of(lambda: read_claim_sheet(path))
    )


def test_a_claim_that_is_expected_to_fall_is_not_counted_as_borne(sheet, small):
    result = run_claim_sheet(
        small,
        sheet("""\
[[claim]]
text = "All spells were long"
finder = "possession"
where = ["passes more than 50"]
word = "always"
expect = "not borne"
"""),
    )
    assert result.holds and result.summary == (
        "1 of 1 claim holds on Reds of A v Blues of B (invented demonstration data), 1 of them by the verdict that the "
        "sheet expects."
    )
