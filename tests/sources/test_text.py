"""JSON from outside: what is refused, and how it is said.  Common practice, no source; JSON itself: RFC 8259."""

import json

import pytest

from tactical_kit.sources.problems import Problems
from tactical_kit.sources.text import read_json_guarded, read_jsonl_guarded

BAD = {
    "missing": (None, "f.json: met no such file; expected a file that can be read. Check the name and the rights."),
    "empty": (b" \n", "f.json: met an empty file; expected JSON. Export the file again."),
    "bomb": (
        b'{"a":' * 41 + b"1" + b"}" * 41,
        "f.json, row 1: met brackets nested more than 40 deep; expected at most 40 levels. This is not a file of this "
        "kind; look where it comes from.",
    ),
    "endless bomb": (
        b"[" * 1_000_000,
        "f.json, row 1: met brackets nested more than 40 deep; expected at most 40 levels. This is not a file of this "
        "kind; look where it comes from.",
    ),
    "nan": (b'{"a": NaN}', "f.json: met NaN; expected a finite number or null. Write null where a value is unknown."),
    "infinity": (
        b'{"a": -Infinity}',
        "f.json: met -Infinity; expected a finite number or null. Write null where a value is unknown.",
    ),
    "overflow": (
        b'{"a": 1e400}',
        "f.json: met 1e400; expected a finite number or null. Write null where a value is unknown.",
    ),
    "gigantic": (
        b'{"a": ' + b"9" * 5000 + b"}",
        "f.json: met 99999999999999999999… (5000 digits); expected a whole number of at most 18 digits. Look where the "
        "number comes from.",
    ),
    "twice": (
        b'{"a": 1, "b": {"c": 1, "c": 2}}',
        "f.json: met the key 'c' twice in one object; expected each key once. Remove one of the two.",
    ),
    "utf-16": (
        '{"a": 1}'.encode("utf-16"),
        "f.json: met UTF-16 text; expected UTF-8 text. Save the file again with the encoding UTF-8.",
    ),
    "latin-1": (
        '{"a": 1,\n"b": "Müller"}'.encode("latin-1"),
        "f.json, row 2: met the byte 0xfc; expected UTF-8 text. Save the file again with the encoding UTF-8.",
    ),
    "cut off": (
        b'{"a": [1,\n 2',
        "f.json, row 2: met the end of the text; expected valid JSON (expecting ',' delimiter). The file is cut off or "
        "damaged here: export it again.",
    ),
    "a comment": (
        b'{"a": 1, // note\n "b": 2}',
        "f.json, row 1: met '// note\\n \"b\": 2}'; expected valid JSON (expecting property name enclosed in double "
        "quotes). The file is cut off or damaged here: export it again.",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_refused(tmp_path, case):
    raw, message = BAD[case]
    if raw is not None:
        (tmp_path / "f.json").write_bytes(raw)
    problems = Problems()
    assert read_json_guarded(tmp_path / "f.json", problems) is None
    assert problems.lines() == [message]


def test_the_edges_are_inside(tmp_path):
    value = 10**18 - 1
    for _ in range(39):
        value = [value]
    (tmp_path / "f.json").write_text(json.dumps([value]))  # 40 levels, 18 digits
    problems = Problems()
    assert read_json_guarded(tmp_path / "f.json", problems) == [value]
    assert read_json_guarded(tmp_path / "f.json", problems, max_bytes=(tmp_path / "f.json").stat().st_size) == [value]
    assert len(problems) == 0
    assert read_json_guarded(tmp_path / "f.json", problems, max_bytes=10) is None
    assert problems.lines() == [
        "f.json: met 98 bytes; expected at most 10 bytes. This is not a file of this kind; look where it comes from."
    ]


def test_brackets_in_texts_do_not_count(tmp_path):
    value = {"a": "[" * 500 + '"\\' + "{" * 500}
    (tmp_path / "f.json").write_text(json.dumps(value))
    problems = Problems()
    assert read_json_guarded(tmp_path / "f.json", problems) == value
    assert len(problems) == 0


def test_a_byte_order_mark_is_skipped_with_a_note(tmp_path):
    (tmp_path / "f.json").write_bytes(b'\xef\xbb\xbf{"a": 1}')
    problems = Problems()
    assert read_json_guarded(tmp_path / "f.json", problems) == {"a": 1}
    assert problems.lines() == [
        "warning: f.json: met a byte-order mark at the start; expected plain UTF-8. It was skipped; nothing to do."
    ]


def test_a_folder_is_no_file(tmp_path):
    problems = Problems()
    assert read_json_guarded(tmp_path, problems) is None
    assert problems.lines() == [f"{tmp_path.name}: met a folder; expected a file. Name the file in it."]


def test_lines_are_read_on_after_a_fault(tmp_path):
    (tmp_path / "f.jsonl").write_bytes(b'{"a": 1}\n\n{"a": \n{"a": 2}\r\nnull\n' + b'"' + b"x" * 200 + b'"\n')
    problems = Problems()
    assert list(read_jsonl_guarded(tmp_path / "f.jsonl", problems, max_line=100)) == [
        (1, {"a": 1}), (4, {"a": 2}), (5, None),
    ]  # fmt: skip
    assert problems.lines() == [
        "f.jsonl, row 3: met the end of the line; expected valid JSON (expecting value). The file is cut off or damaged "
        "here: export it again.",
        "f.jsonl, row 6: met a line of more than 100 bytes; expected lines of at most 100 bytes. Each line holds one "
        "event or one frame; the line breaks may be lost.",
    ]
