"""Claims made in the explorer: what is shown is what the sheet gives when it is run later."""

import pytest

from tactical_kit.claims import read_claim_sheet
from tactical_kit.claims.sheet_run import run_claim_sheet
from tactical_kit.errors import TacticalKitError
from tactical_kit.explorer.claiming import Claiming, segment_words, sheet_beside, sheet_of
from tactical_kit.explorer.number_filters import ColumnFilter
from tactical_kit.explorer.store import Store
from tactical_kit.measures.selection import Selection


@pytest.fixture
def store(match, toy):
    made = Store(match)
    made.show_list("toy")
    made.filter_numbers(ColumnFilter("length_m", 15, None))
    return made


@pytest.fixture
def claiming(store, tmp_path):
    return Claiming(store, tmp_path / "claims.toml")


def test_the_claim_counts_what_the_list_counts(store, claiming):
    claiming.write(text="They usually play it far", word="usually")
    checked = claiming.check()
    assert (checked.result.count, checked.result.base) == (len(store.moments), len(store.selected_moments))
    assert checked.short_verdict.startswith("“usually” (at least 65 %)")
    left_out = set(store.selected_moments["moment_id"]) - set(store.moments["moment_id"])
    assert set(checked.result.counterexamples["moment_id"]) == left_out
    assert checked.sentence.startswith("They usually play it far: ")


def test_what_is_written_gives_the_same_when_it_is_run(store, claiming, match):
    store.ask(store.finding.with_threshold("least_m", 5.0))
    store.filter_numbers(
        ColumnFilter("outcome", values={"complete", "intercepted"}), ColumnFilter("good", values={"yes"}),
        ColumnFilter("spell", 0, 3), ColumnFilter("receiver", values={"h2", "h3", "h4"}),
        ColumnFilter("near", values={"x"}),
    )  # fmt: skip
    store.change(segment=((1, 0.0, 300.0),))
    claiming.write(text="To three men, seldom", base=frozenset({"spell", "good"}))
    shown = claiming.check()
    spec = claiming.add()
    assert claiming.said == "Added as claim 1." and spec.number == 1
    again = run_claim_sheet(match, claiming.path)[1]
    assert (again.numbers, again.short_verdict, again.sentence) == (shown.numbers, shown.short_verdict, shown.sentence)
    (written,) = read_claim_sheet(claiming.path).claims
    assert [c.to_text() for c in written.of] == ["good", "spell between 0 and 3"]
    assert [c.to_text() for c in written.where] == [
        "length_m at least 15", "near has x", "outcome is complete or intercepted", "receiver is h2 or h3 or h4",
    ]  # fmt: skip
    assert (written.team, written.segment, dict(written.thresholds)) == ("home", "first half", {"least_m": 5.0})
    assert (shown.result.count, shown.result.base) == (
        len(store.moments), len(store.found.shown(store.finding.without("length_m").without("near").without(
            "outcome").without("receiver"), store.selection)),
    )  # fmt: skip


def test_added_twice_it_stands_once_and_all_else_stays(claiming):
    claiming.path.write_text(
        '# mine\n[[claim]]\ntext = "Older, always"\nfinder = "shot"\nwhere = ["outcome is goal"]\n'
    )
    older = claiming.path.read_text()
    claiming.write(text="They usually play it far")
    claiming.add()
    once = claiming.path.read_text()
    assert once.startswith(older) and claiming.said == "Added as claim 2."
    claiming.add()
    assert claiming.path.read_text() == once and claiming.said == "It stands in the sheet already, as claim 2."
    assert [c.text for c in claiming.listed()] == ["Older, always", "They usually play it far"]


def test_a_comparison_of_the_halves(claiming, match):
    claiming.write(text="They played it far more often after the break", word="more in the second half")
    assert "first half" in claiming.check().numbers
    claiming.add()
    (written,) = read_claim_sheet(claiming.path).claims
    assert dict(written.compare) == {"by": "halves", "more": "second half"}


@pytest.mark.parametrize(
    "change, fault",
    [
        ({"zones": {"final third, centre"}}, "A claim sheet cannot say zones. Drop that condition first."),
        ({"area": (0, 0, 10, 10), "players": {"h3"}}, "A claim sheet cannot say a drawn area and chosen players. "),
        ({"segment": ((1, 0.0, 10.0), (2, 0.0, 10.0))}, "A claim sheet cannot say several stretches of time at once."),
    ],
)
def test_what_a_sheet_cannot_say_is_refused_in_words(store, claiming, change, fault):
    claiming.write(text="Usually")
    store.change(**change)
    with pytest.raises(TacticalKitError) as caught:
        claiming.add()
    assert str(caught.value).startswith(fault)
    assert not claiming.path.exists() and claiming.said == ""


def test_what_is_missing_is_said(store, claiming):
    with pytest.raises(TacticalKitError, match=r"^Write the claim in words first, as you would publish it\.$"):
        claiming.add()
    claiming.write(text="They play it far")
    with pytest.raises(TacticalKitError, match=r"^Say how often: choose a word, or use one in the text "):
        claiming.check()
    claiming.write(base=frozenset({"length_m", "spell"}), word="usually")
    assert claiming.check().result.base == len(store.selected_moments)  # a single filter is what is claimed
    store.filter_numbers(ColumnFilter("spell", 0, 3))
    with pytest.raises(TacticalKitError, match=r"^Every filter limits what is counted, so nothing is claimed of it\."):
        claiming.check()
    claiming.write(base=frozenset())
    store.filter_numbers(ColumnFilter("length_m"), ColumnFilter("spell"))
    with pytest.raises(TacticalKitError, match=r"^Filter the moments by one of their own numbers first: "):
        claiming.check()
    store.filter_numbers(ColumnFilter("length_m", 10, None, unknown=True))
    with pytest.raises(TacticalKitError, match=r"^A claim sheet cannot say “or unknown” of length\. Untick "):
        claiming.keys()
    store.filter_numbers(ColumnFilter("length_m"), ColumnFilter("good", values={"yes"}, unknown=True))
    with pytest.raises(TacticalKitError, match=r"^A claim sheet cannot say “or unknown” of good\. Untick "):
        claiming.keys()


def test_a_sheet_that_cannot_be_written_or_read_stays_as_it_is(store, tmp_path):
    claiming = Claiming(store, tmp_path / "no folder" / "claims.toml")
    claiming.write(text="Usually far")
    with pytest.raises(TacticalKitError, match=r"there is no folder .*no folder; make it first\."):
        claiming.add()
    broken = Claiming(store, tmp_path / "broken.toml")
    broken.path.write_text("[[claim]\n")
    broken.write(text="Usually far")
    with pytest.raises(TacticalKitError, match=r"broken\.toml: cannot be read as TOML"):
        broken.add()
    assert broken.path.read_text() == "[[claim]\n"
    empty = Claiming(store, tmp_path / "empty.toml")
    empty.path.write_text("# nothing yet\n")
    assert empty.listed() == ()
    empty.write(text="Usually far")
    assert empty.add().number == 1 and empty.path.read_text().startswith("# nothing yet\n")


@pytest.mark.parametrize(
    "segment, words",
    [
        (None, ""),
        (((1, 0.0, 300.0),), "first half"),
        (((2, 0.0, 300.0),), "second half"),
        (((1, 0.0, 120.0),), "until 02:00"),
        (((2, 60.0, 300.0),), "from 46:00"),
        (((1, 60.0, 120.0),), "01:00-02:00"),
        (((1, 290.0, 300.0), (2, 0.0, 10.0)), "04:50-45:10"),
    ],
)
def test_time_as_a_sheet_has_it(match, segment, words):
    assert segment_words(match, Selection(segment=segment)) == words


def test_where_the_sheet_lies(tmp_path, match, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert sheet_of(match) == tmp_path / "synthetic-claims.toml"
    assert sheet_beside(tmp_path) == tmp_path / "claims.toml"
    assert sheet_beside(tmp_path / "events.toml") == tmp_path / "events-claims.toml"


def test_each_finder_keeps_the_claim_that_is_written_of_it(store, claiming):
    """Words about one finder are never judged on another's moments, and nothing written is lost."""
    claiming.write(text="They usually play it far", word="usually")
    store.show_list("possession")
    assert (claiming.draft.text, claiming.draft.word) == ("", "")
    claiming.write(text="They always lose it")
    store.show_list("toy")
    assert (claiming.draft.text, claiming.draft.word) == ("They usually play it far", "usually")
