"""Checks of exercises: right answers pass, stubs are "not done yet", wrong ones say why and give nothing away.

Common practice, no source: the rules are those that the notebooks promise their readers.
"""

import numpy as np
import pandas as pd
import pytest

from tactical_kit.teaching import check_function, check_members, check_number, check_table, untouched


def lines(verdict):
    return (verdict.status, *verdict.hints)


STUB = ("not done yet", "replace the `...` in the cell above with your answer and run both cells")


@pytest.mark.parametrize("stub", [..., None, (..., ...), [...], {"a": ..., "b": None}, ((...,), ...)])
def test_a_stub_is_not_done_yet_for_every_kind_of_check(stub):
    assert untouched(stub)
    assert lines(check_number("n", stub, 3)) == STUB
    assert lines(check_members("n", stub, ["a"])) == STUB
    assert lines(check_table("n", stub, pd.DataFrame({"a": [1]}), ["a"])) == STUB


@pytest.mark.parametrize("answer", [0, 0.0, False, "", [], (), {}, [..., 1], np.nan])
def test_an_answer_of_nothing_is_an_answer(answer):
    assert not untouched(answer)


@pytest.mark.parametrize("answer", [0.62, 0.625, 0.615, np.float32(0.62), pd.Series([0.62]).iloc[0], np.array(0.62)])
def test_a_right_number_passes_up_to_the_tolerance(answer):
    assert lines(check_number("share", answer, 0.62, tolerance=0.0050001)) == ("right",)


@pytest.mark.parametrize(
    ("answer", "hint"),
    [
        (0.63, "too high, by a little"),
        (0.60, "too low, by about a tenth"),
        (0.75, "too high, by about a quarter"),
        (0.31, "too low, by about a half"),
        (3.0, "too high, by far"),
        (62, "a hundred times off: per cent asked for as a share from 0 to 1, or the reverse? The unit is share."),
        (0.0062, "a hundred times off: per cent asked for as a share from 0 to 1, or the reverse? The unit is share."),
        (-0.62, "right but for its sign: which way does the side attack?"),
        (float("inf"), "inf is no finite number: is something divided by zero or missing?"),
        (float("nan"), "nan is no finite number: is something divided by zero or missing?"),
        ("0.62", "expected a number, met str"),
        (True, "expected a number, met bool"),
    ],
)
def test_a_wrong_number_says_which_way_and_roughly_how_far(answer, hint):
    verdict = check_number("share", answer, 0.62, unit="share")
    assert lines(verdict) == ("not right yet", hint)
    assert not verdict.ok


def test_just_past_the_tolerance_is_wrong():
    assert check_number("n", 10.5, 10, tolerance=0.5).ok
    assert lines(check_number("n", 10.51, 10, tolerance=0.5)) == ("not right yet", "too high, by about a tenth")


def test_where_nothing_is_right_nothing_is_divided():
    assert lines(check_number("n", 4, 0)) == ("not right yet", "too high")
    assert check_number("n", np.nan, np.nan).ok
    assert lines(check_number("n", 0.5, np.nan)) == (
        "not right yet",
        "a number, where there is nothing to tell it from",
    )


@pytest.mark.parametrize("answer", [["b", "a"], ("a", "b"), {"a", "b"}, pd.Series(["a", "b"]), pd.Index(["b", "a"])])
def test_members_may_come_in_any_form_and_order(answer):
    assert check_members("zones", answer, ["a", "b"]).ok


@pytest.mark.parametrize(
    ("answer", "hints"),
    [
        (["a"], ("1 missing",)),
        ([], ("2 missing",)),
        ("a", ("1 missing",)),
        (["a", "b", "c", "d"], ("2 that do not belong",)),
        (["a", "c"], ("1 missing", "1 that does not belong")),
        (["a", "b", "b"], ("3 given, some of them more than once",)),
    ],
)
def test_wrong_members_are_counted_and_not_named(answer, hints):
    assert lines(check_members("zones", answer, ["a", "b"])) == ("not right yet", *hints)


def test_order_counts_where_it_is_asked_for():
    assert check_members("pair", ("a", "b"), ("a", "b"), ordered=True).ok
    assert lines(check_members("pair", ("b", "a"), ("a", "b"), ordered=True)) == (
        "not right yet",
        "the right members in another order, from place 1 on",
    )


TABLE = pd.DataFrame({"player": ["p1", "p2"], "passes": [10, 4], "share": [0.71, 0.29]})


@pytest.mark.parametrize(
    "answer",
    [TABLE, TABLE[::-1], TABLE.set_index("player"), TABLE.assign(own="x")[["own", "share", "passes", "player"]]],
)
def test_a_right_table_passes_in_any_order_and_with_further_columns(answer):
    assert lines(check_table("passes", answer, TABLE, ["player"])) == ("right",)


@pytest.mark.parametrize(
    ("answer", "hints"),
    [
        (TABLE.drop(columns="share"), ("column 'share' is missing",)),
        (TABLE.head(1), ("rows: 1 missing",)),
        (TABLE.assign(passes=[10, 5]), ("column 'passes': 1 of 2 rows differ",)),
        (TABLE.assign(share=["a", "b"]), ("column 'share': 2 of 2 rows differ",)),
        (pd.concat([TABLE, TABLE]), ("rows: 4 given, some of them more than once",)),
        ([1, 2], ("expected a DataFrame, met list",)),
    ],
)
def test_a_wrong_table_says_where(answer, hints):
    assert lines(check_table("passes", answer, TABLE, ["player"])) == ("not right yet", *hints)


# Do two spans overlap?  The edge case, spans that only touch, is where the plausible answer fails.
SPANS = [
    ("two spans apart", ((0, 5), (6, 9)), False),
    ("two spans that touch", ((0, 5), (5, 9)), False),
    ("two spans that overlap", ((0, 5), (4, 9)), True),
]


def test_any_right_function_passes():
    assert check_function("overlap", lambda a, b: a[0] < b[1] and b[0] < a[1], SPANS).ok
    assert check_function("overlap", lambda a, b: bool(set(range(*a)) & set(range(*b))), SPANS).ok


def test_a_wrong_function_is_told_the_case():
    assert lines(check_function("overlap", lambda a, b: a[0] <= b[1] and b[0] <= a[1], SPANS)) == (
        "not right yet",
        "two spans that touch: another bool expected",
    )
    assert lines(check_function("sum", lambda a, b: a, [("one and two", (1, 2), 3)])) == (
        "not right yet",
        "one and two: too low, by about a half",
    )


def test_a_function_that_stops_is_a_hint_and_no_traceback():
    assert lines(check_function("first", lambda a: a[0], [("nothing", ([],), 1), ("one", ([1],), 1)])) == (
        "not right yet",
        "nothing: it stops with IndexError: list index out of range",
    )


def stub_that_raises(a, b):
    raise NotImplementedError


@pytest.mark.parametrize("stub", [..., lambda a, b: ..., lambda a, b: None, stub_that_raises])
def test_a_stub_of_a_function_is_not_done_yet(stub):
    assert lines(check_function("overlap", stub, SPANS)) == STUB


def test_what_is_no_function_is_told_so():
    assert lines(check_function("overlap", 3, SPANS)) == ("not right yet", "expected a function, met int")


def test_a_verdict_in_a_notebook_is_escaped():
    html = check_number("<b>share</b>", "x", 1)._repr_html_()
    assert html == (
        "<div><b>✗ &lt;b&gt;share&lt;/b&gt;: not right yet</b><ul><li>expected a number, met str</li></ul></div>"
    )
