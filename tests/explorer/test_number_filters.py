"""Filters on a finder's own columns, compared with plain pandas.  The text is the kit's own form, no outside source."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tactical_kit.errors import TacticalKitError
from tactical_kit.explorer.number_filters import ColumnFilter, choices_of, facets_of, own_columns, parse_filters

NAME = st.text(st.characters(codec="utf-8"), min_size=1, max_size=8)
LIMIT = st.none() | st.floats(-1e6, 1e6, allow_nan=False) | st.integers(-1000, 1000).map(float)


@settings(max_examples=80, deadline=None)
@given(column=NAME, low=LIMIT, high=LIMIT, values=st.frozensets(NAME, max_size=3), unknown=st.booleans())
def test_every_filter_survives_the_text(column, low, high, values, unknown):
    if low is not None and high is not None and low > high:
        low, high = high, low
    made = ColumnFilter(column, low, high, frozenset() if low is not None or high is not None else values, unknown)
    if not made.asks:
        return
    text = made.to_text()
    assert not set(text) & set(" ;+=\n")
    assert ColumnFilter.from_text(text) == made
    assert parse_filters(text) == (made,)


def test_a_range_holds_its_limits_and_no_unknown_number():
    values = pd.Series([1.0, 2.0, np.nan, 3.0, 4.0])
    assert ColumnFilter("v", 2, 3).mask(values).tolist() == [False, True, False, True, False]
    assert ColumnFilter("v", 2, 3, unknown=True).mask(values).tolist() == [False, True, True, True, False]
    assert ColumnFilter("v", high=1).mask(values).tolist() == [True, False, False, False, False]
    whole = pd.Series([1, pd.NA, 3], dtype="Int64")
    assert ColumnFilter("v", low=3).mask(whole).tolist() == [False, False, True]


def test_words_yes_and_no_and_several():
    words = pd.Series(["lost", "", "goal"], dtype="str")
    assert ColumnFilter("v", values={"lost"}).mask(words).tolist() == [True, False, False]
    assert ColumnFilter("v", values={"lost"}, unknown=True).mask(words).tolist() == [True, True, False]
    said = pd.Series([True, pd.NA, False], dtype="boolean")
    assert ColumnFilter("v", values={"no"}).mask(said).tolist() == [False, False, True]
    assert ColumnFilter("v", unknown=True).mask(said).tolist() == [False, True, False]
    several = pd.Series([("a", "b"), (), ("c",)], dtype="object")
    assert ColumnFilter("v", values={"b", "c"}).mask(several).tolist() == [True, False, True]
    assert choices_of(pd.Series([True, False])) == [("yes",), ("no",)]


@pytest.mark.parametrize(
    "text, fault",
    [
        ("length_m", "'length_m' is no filter of a column; expected column:low..high or column:word,word"),
        ("length_m:", "'length_m:' is no filter of a column; expected column:low..high or column:word,word"),
        ("length_m:a..3", "'length_m:a..3' has a limit that is no number; expected column:low..high"),
        ("length_m:..", "'length_m:..' is no range; expected column:low..high"),
        ("length_m:1..2,lost", "'length_m:1..2,lost' is no range; expected column:low..high"),
        ("length_m:5..2", "length_m from 5 to 2: the lower limit lies above the upper one."),
        ("length_m:nan..", "a limit of length_m is nan; expected a number."),
    ],
)
def test_text_that_is_no_filter_is_refused(text, fault):
    with pytest.raises(TacticalKitError) as caught:
        ColumnFilter.from_text(text)
    assert str(caught.value).startswith(fault)


def test_a_column_stands_once():
    with pytest.raises(TacticalKitError, match=r"^a stands twice$"):
        parse_filters("a:1..+b:x+a:y")


def test_columns_of_a_finder_that_says_nothing_are_read_from_their_names():
    table = pd.DataFrame({"gap_m": [1.5], "n_for": [3], "shift_ms": [2.0], "outcome": ["lost"]})
    told = [(c.label, c.unit, c.kind, c.whole) for c in own_columns("no finder", table)]
    assert told == [
        ("gap", "m", "number", False), ("n for", "", "number", True), ("shift", "m/s", "number", True),
        ("outcome", "", "word", False),
    ]  # fmt: skip


def test_what_an_answer_would_leave_leaves_its_own_filter_out():
    table = pd.DataFrame({"a_m": [0.0, 1.0, 2.0, np.nan], "w": ["x", "x", "y", "y"]})
    columns = own_columns("no finder", table)
    asked = [ColumnFilter("a_m", 1, None), ColumnFilter("w", values={"y"})]
    words = {"w": choices_of(table["w"])}
    a, w = facets_of(table, columns, asked, np.ones(4, bool), words)
    assert (a.low, a.high, sum(a.counts), a.unknown) == (0.0, 2.0, 1, 1)  # of y: 2.0 and the unknown one
    assert dict(w.choices) == {"x": 1, "y": 1} and w.unknown == 0  # of at least 1 m
    base = np.array([False, True, True, True])
    a, w = facets_of(table, columns, [], base, words)
    assert sum(a.counts) == 2 and a.unknown == 1 and dict(w.choices) == {"y": 2, "x": 1}
    assert a.tells and w.tells
    same = facets_of(table[:1], columns, [], np.ones(1, bool), {"w": [("x",)]})
    assert [f.tells for f in same] == [False, False]
    (nothing,) = facets_of(pd.DataFrame({"a_m": [np.nan]}), columns[:1], [], np.ones(1, bool), {})
    assert nothing.unknown == 1 and math.isnan(nothing.low) and not nothing.tells


def test_whole_numbers_have_a_step_each():
    table = pd.DataFrame({"n": [1, 1, 3]})
    (facet,) = facets_of(table, own_columns("no finder", table), [], np.ones(3, bool), {})
    assert facet.counts == (2, 0, 1)
