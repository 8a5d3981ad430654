"""Ways in and out: match folder, Common Data Format, mapped tables; checks on what comes in.

Names are loaded when they are used.
"""

from __future__ import annotations

import importlib
from typing import Any

_WHERE = {
    "InputError": "problems",
    "Problem": "problems",
    "Problems": "problems",
    "CheckReport": "checks",
    "Draft": "draft",
    "check_cdf": "cdf",
    "check_files": "checks",
    "check_match_folder": "match_folder",
    "convert": "read",
    "draft_mapping": "draft",
    "form_of": "read",
    "forms": "read",
    "read_cdf": "cdf",
    "read_match": "read",
    "read_match_folder": "match_folder",
    "read_table_match": "tables",
    "register_form": "read",
    "safe_csv": "tables_out",
    "write_cdf": "cdf",
    "write_events_csv": "tables_out",
    "write_match": "read",
    "write_match_folder": "match_folder",
    "write_table": "tables_out",
}
__all__ = sorted(_WHERE)


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module 'tactical_kit.sources' has no attribute {name!r}")
    value = getattr(importlib.import_module(f"tactical_kit.sources.{_WHERE[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_WHERE})
