"""Every example in a docstring runs, in the package that is imported: the installed one, or the checkout if
it is installed editable.  (Collecting the files of the checkout would mix the two.)"""

import doctest
import importlib
import pkgutil

import pytest

import tactical_kit

MODULES = sorted(
    m.name for m in pkgutil.walk_packages(tactical_kit.__path__, "tactical_kit.") if not m.name.endswith("__main__")
)


@pytest.mark.parametrize("name", ["tactical_kit", *MODULES])
def test_examples_in_docstrings(name):
    failed, _ = doctest.testmod(importlib.import_module(name))
    assert failed == 0


def test_a_wrong_example_would_fail():
    parser = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "wrong", None, 0)
    assert doctest.DocTestRunner(verbose=False).run(parser, out=lambda _: None).failed == 1
