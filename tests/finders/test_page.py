"""The page of all finders is what the register says."""

from pathlib import Path

import tactical_kit
from tactical_kit.finders import finder_names, get_finder
from tactical_kit.finders.page import describe_finder, finders_page


def test_the_page_is_up_to_date():
    """Mend it with `python -m tactical_kit.finders.page`."""
    page = Path(tactical_kit.__file__).parent / "finders" / "FINDERS.md"
    assert page.read_text(encoding="utf-8") == finders_page()


def test_one_finder_is_described():
    said = describe_finder(get_finder("shot"))
    assert said.startswith("## shot\n\nA shot at goal, with the seconds before it in which it was prepared.\n")
    assert "- **Call** `find_shots(match)`\n- **Needs** events" in said
    assert "Thresholds: `before_s=8.0`, `after_s=3.0`" in said
    assert all(f"## {name}\n" in finders_page() for name in finder_names())
