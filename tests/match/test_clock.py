"""The match clock in every period."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Clock, Period

FULL = Clock([
    Period(1, 45 * 60 + 130, 1), Period(2, 45 * 60 + 300, -1), Period(3, 15 * 60 + 20, -1), Period(4, 15 * 60 + 61, 1),
    Period(5, 400, 1),
])  # fmt: skip


@pytest.mark.parametrize(
    "period, time_s, label, minute",
    [
        (1, 0, "00:00", "1"),
        (1, 2699.9, "44:59", "45"),
        (1, 2700, "45+0:00", "45+1"),
        (1, 2773, "45+1:13", "45+2"),
        (2, 0, "45:00", "46"),
        (2, 1092, "63:12", "64"),
        (2, 2750, "90+0:50", "90+1"),
        (3, 61, "91:01", "92"),
        (4, 900, "120+0:00", "120+1"),
        (5, 133, "shoot-out 2:13", "shoot-out"),
    ],
)
def test_label_and_minute(period, time_s, label, minute):
    # Minutes by the Law 7 lengths: 45, 45, 15, 15; "45+2" is common practice, no source.
    assert FULL.label(period, time_s) == label
    assert FULL.minute(period, time_s) == minute
    assert FULL.parse(label) == (period, pytest.approx(int(time_s)))


@given(st.sampled_from([1, 2, 3, 4]), st.floats(0, 1))
def test_label_and_parse_go_back_and_forth(period, share):
    time_s = int(share * (FULL[period].duration_s - 1))
    assert FULL.parse(FULL.label(period, time_s)) == (period, time_s)


@given(st.floats(0, 1))
def test_time_line_goes_back_and_forth(share):
    seconds = share * FULL.total_s
    period, time_s = FULL.from_timeline(seconds)
    assert float(FULL.timeline(period, time_s)) == pytest.approx(seconds)
    assert 0 <= time_s <= FULL[int(period)].duration_s + 1e-6


def test_time_line_is_vectorised_and_clips():
    assert FULL.timeline([1, 2], [10.0, 10.0]).tolist() == [10.0, 2840.0]
    period, time_s = FULL.from_timeline([-5.0, 1e9])
    assert period.tolist() == [1, 5] and time_s.tolist() == [0.0, 400.0]


def test_what_is_no_clock_is_refused():
    for text in ("63", "63:75", "abc", "-1:00", "63:12:01"):
        with pytest.raises(
            TacticalKitError, match=r"expected minutes:seconds as '63:12', or '45\+2:13' in added time\.$"
        ):
            FULL.parse(text)
    with pytest.raises(
        TacticalKitError, match=r"^clock '45\+1:00' falls in no period of this match \(second half\)\.$"
    ):
        Clock([Period(2, 2700, 1)]).parse("45+1:00")


def test_minutes_past_the_last_period_count_only_while_they_were_played():
    halves = Clock([Period(1, 48 * 60, 1)])
    assert halves.parse("47:00") == (1, 2820)
    with pytest.raises(TacticalKitError, match=r"^clock '63:12' falls in no period of this match \(first half\)\.$"):
        halves.parse("63:12")


def test_periods_that_cannot_be():
    with pytest.raises(TacticalKitError, match=r"^period 6; expected 1 to 5\.$"):
        Period(6, 10, 1)
    with pytest.raises(TacticalKitError, match=r"^period 1 lasts nan s; expected more than 0\.$"):
        Period(1, float("nan"), 1)
    with pytest.raises(TacticalKitError, match=r"^home_attacks is 0 in period 1; expected \+1 or -1\.$"):
        Period(1, 10, 0)
    with pytest.raises(TacticalKitError, match=r"^periods \[2, 1\]; expected at least one, each once, in order\.$"):
        Clock([Period(2, 10, 1), Period(1, 10, 1)])
    with pytest.raises(TacticalKitError, match=r"^period 3 was not played; this match has 2\.$"):
        Clock([Period(2, 10, 1)])[3]
