"""Error helpers."""

import pytest

import tactical_kit
from tactical_kit.errors import UnknownNameError, check_choice
from tactical_kit.sources.problems import InputError, Problems


def test_an_unknown_name_lists_what_is_known():
    with pytest.raises(UnknownNameError, match=r"^phase is 'zzz'; expected one of 'build-up', 'progression'\.$"):
        check_choice("phase", "zzz", ["build-up", "progression"])


def test_problems_are_reported_together_and_repeats_are_counted():
    problems = Problems(limit=2)
    for row in range(2, 7):
        problems.add("a.csv", "99", "a number from 0 to 52.5", "Give metres.", row, "x")
    problems.add("a.csv", "\x07bell", "text", "Remove it.", kind="warning")
    with pytest.raises(InputError) as error:
        problems.raise_if_any()
    assert str(error.value).splitlines() == [
        "5 problems; nothing was loaded.",
        "a.csv, row 2, column 'x': met 99; expected a number from 0 to 52.5. Give metres.",
        "a.csv, row 3, column 'x': met 99; expected a number from 0 to 52.5. Give metres.",
        "warning: a.csv: met �bell; expected text. Remove it.",
        "a.csv, column 'x': 3 more of the same (expected a number from 0 to 52.5).",
    ]
    assert len(problems) == 6 and len(problems.errors) == 2 and len(problems.warnings) == 1


def test_warnings_alone_do_not_stop():
    problems = Problems()
    problems.add("a.csv", "x", "y", "z", kind="warning")
    problems.raise_if_any()


def test_a_warning_points_at_the_line_that_asked():
    problems = Problems()
    problems.add("a.csv", "x", "y", "Mend it.", kind="warning")
    with pytest.warns(UserWarning, match=r"^a\.csv: met x; expected y\. Mend it\.$") as told:
        problems.warn()
    assert told[0].filename == __file__


def test_a_misspelt_name_of_the_kit_suggests_the_near_one():
    with pytest.raises(
        AttributeError, match=r"^module 'tactical_kit' has no attribute 'explor'\. Did you mean 'explore'\?$"
    ):
        tactical_kit.explor
