"""The Moments table and the one function that turns a mask into runs."""

import pickle
import warnings

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tactical_kit.errors import TacticalKitError
from tactical_kit.moments import CORE_COLUMNS, Moments, runs_of

EXTRAS = {"pace_ms": "float64", "n_near": "int16", "how": "str"}


def row(start_s, **more):
    return dict(period=1, start_s=start_s, end_s=start_s + 1.5, team="a", players=("p1",), **more)


def test_no_moment_has_the_same_columns_and_types_as_some():
    none = Moments.build("press", [], EXTRAS)
    some = Moments.build("press", [row(3, pace_ms=6.5, n_near=2, how="jump")], EXTRAS)
    assert len(none) == 0 and len(some) == 1
    assert none.table.dtypes.to_dict() == some.table.dtypes.to_dict()
    assert list(none.table.columns) == [*CORE_COLUMNS, *EXTRAS]


def test_rows_are_sorted_and_numbered_and_fractions_are_kept():
    found = Moments.build(
        "press", [row(9.25, pace_ms=1.5, n_near=1, how=""), row(3.5, pace_ms=2, n_near=1, how="")], EXTRAS
    )
    assert found["moment_id"].tolist() == ["press-001", "press-002"]
    assert found["start_s"].tolist() == [3.5, 9.25]
    assert found["pace_ms"].tolist() == [2.0, 1.5]
    assert found["x"].isna().all()
    assert found.duration_s.tolist() == [1.5, 1.5]


def test_an_extra_may_not_shadow_a_core_column():
    with pytest.raises(TacticalKitError, match=r"^finder 'press': x would shadow a core column of Moments\.$"):
        Moments.build("press", [], {"x": "float64"})


def test_unknown_and_missing_columns_are_told_together():
    with pytest.raises(
        TacticalKitError,
        match=r"^finder 'press': unknown columns \['speed'\], missing columns \['team', 'pace_ms'\]\.$",
    ):
        Moments.build("press", [dict(period=1, start_s=0, end_s=1, players=(), speed=1)], {"pace_ms": "float64"})


def test_a_moment_may_not_end_before_it_starts():
    with pytest.raises(
        TacticalKitError, match=r"^finder 'press': a moment ends before it starts \(period 1, 5 to 4 s\)\.$"
    ):
        Moments.build("press", [dict(period=1, start_s=5, end_s=4, team="a", players=())])


def test_where_filters_and_keeps_the_parameters():
    found = Moments.build("press", [row(s, pace_ms=s, n_near=1, how="a" if s < 2 else "b") for s in range(4)], EXTRAS,
                          params={"reach_m": 5.0}, match_id="m")  # fmt: skip
    left = found.where(found["pace_ms"] >= 1, how=["a", "b"])
    assert left["start_s"].tolist() == [1, 2, 3] and left.params["reach_m"] == 5.0 and left.match_id == "m"
    assert len(found.where(how="b")) == 2
    with pytest.raises(TacticalKitError, match=r"have no column 'hov'.*Did you mean 'how'\?$"):
        found.where(hov="b")
    with pytest.raises(TacticalKitError, match=r"^a mask of shape \(2,\) for 4 moments\.$"):
        found.where([True, False])


def test_what_is_not_known_fits_nothing():
    """A yes-or-no column with <NA>, as a finder gives it where the data cannot tell."""
    rows = [
        dict(period=1, start_s=s, end_s=s + 1, team="a", players=(), won=w) for s, w in enumerate((True, pd.NA, False))
    ]
    found = Moments.build("demo", rows, {"won": "boolean"})
    assert found.where(won=True)["start_s"].tolist() == [0] and found.where(won=False)["start_s"].tolist() == [2]
    assert found.where(found["won"])["start_s"].tolist() == [0] and found.where(~found["won"])["start_s"].tolist() == [
        2
    ]
    assert len(found.where(won=[True, False])) == 2


def test_params_cannot_be_changed_afterwards():
    found = Moments.build("press", [], params={"a": 1})
    with pytest.raises(TypeError):
        found.params["a"] = 2  # type: ignore[index]


def test_moments_survive_pickling():
    found = Moments.build("press", [row(1, how="a", pace_ms=1, n_near=1)], EXTRAS, params={"a": 1}, match_id="m")
    again = pickle.loads(pickle.dumps(found))
    pd.testing.assert_frame_equal(again.table, found.table)
    assert dict(again.params) == {"a": 1} and again.finder == "press" and again.match_id == "m"


def test_names_are_escaped_in_the_notebook():
    found = Moments.build("press", [row(1, how="<b>=1+1</b>", pace_ms=1, n_near=1)], EXTRAS)
    assert "<b>=1+1</b>" not in found._repr_html_() and "&lt;b&gt;=1+1&lt;/b&gt;" in found._repr_html_()


@given(st.lists(st.booleans(), max_size=40), st.integers(1, 4))
def test_runs_equal_a_plain_loop(values, shortest):
    expected, start = [], None
    for i, value in enumerate([*values, False]):
        if value and start is None:
            start = i
        if not value and start is not None:
            if i - start >= shortest:
                expected.append([start, i])
            start = None
    assert runs_of(np.array(values, bool), min_frames=shortest).tolist() == expected


@pytest.mark.parametrize(
    "mask, segments, expected",
    [
        ([1, 1, 1, 1], [(0, 2), (2, 4)], [[0, 2], [2, 4]]),  # adjoining, cut by a break
        ([1, 1, 0, 0], [(0, 4)], [[0, 2]]),  # at the start
        ([0, 0, 1, 1], [(0, 4)], [[2, 4]]),  # at the end
        ([0, 1, 0, 1], [(0, 3), (3, 4)], [[1, 2], [3, 4]]),
        ([0, 0], [(0, 2)], []),
        ([], [], []),
    ],
)
def test_runs_never_cross_a_break(mask, segments, expected):
    runs = runs_of(np.array(mask, bool), tuple(slice(*s) for s in segments))
    assert runs.tolist() == expected and runs.shape[1] == 2


def test_table_copy_is_a_copy():
    found = Moments.build("press", [row(1, how="a", pace_ms=1, n_near=1)], EXTRAS)
    copy = found.to_frame()
    copy.loc[0, "how"] = "changed"
    assert found["how"].tolist() == ["a"]
    assert isinstance(copy, pd.DataFrame)


def test_a_word_misspelt_in_where_is_warned_of():
    rows = [dict(period=1, start_s=0.0, end_s=1.0, team="a", players=(), phase=p) for p in ("mid-block", "low block")]
    found = Moments.build("demo", rows, {"phase": "str"})
    with pytest.warns(UserWarning, match=r"^no moment has phase 'mid block'\. Did you mean 'mid-block'\?$"):
        assert len(found.where(phase="mid block")) == 0
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert len(found.where(phase="goal kick")) == 0  # nothing near it: none is the answer
        assert len(found.where(phase=["mid-block", "low block"])) == 2
