"""Where keys, headers and values stand: against documents whose writer noted every place."""

from __future__ import annotations

import sys

import pytest
from hypothesis import given

from pricing.folder.toml.syntax import document
from tests.folder.documents import Written, documents
from tests.folder.workshops import read


@given(documents())
def test_every_path_is_placed_where_it_was_written(written: Written):
    read_back = document("file.toml", written.text)
    assert read_back.values == written.values
    lines = written.text.split("\n")
    for at, noted in (("key", written.keys), ("value", written.starts)):
        for path, (line, column) in noted.items():
            place = read_back.place(path, at)
            assert (path, at, place.line, place.column) == (path, at, line, column)
            assert place.text == lines[line - 1].removesuffix("\r")
    assert list(read_back.repeats()) == []


@given(documents())
def test_every_path_that_stands_was_noted(written: Written):
    """The notes are whole: no path of the values is without one."""

    def paths(value, path=()):
        pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        for part, inner in pairs:
            yield (*path, part)
            yield from paths(inner, (*path, part))

    stand = set(paths(written.values))
    assert stand == set(written.starts) == set(written.keys)
    read_back = document("file.toml", written.text)
    assert all(read_back.stands(path) for path in stand)


TEXT = """\
# a workshop
"näme" = "Tür"
steps."cut and grind".minutes = 5
[flasks.tall]
height_mm = 180 # inner
[[fees]]
[[fees]]
share = [
    1,  # first
    2,
]
"""


@pytest.mark.parametrize(
    ("path", "at", "place"),
    [
        (("näme",), "key", "file.toml:2:1"),
        (("näme",), "value", "file.toml:2:10"),  # six letters and signs of the key, " = ", the tenth is the quote
        (("steps",), "value", "file.toml:3:1"),
        (("steps", "cut and grind"), "key", "file.toml:3:7"),
        (("steps", "cut and grind", "minutes"), "key", "file.toml:3:23"),
        (("flasks",), "key", "file.toml:4:2"),
        (("flasks", "tall"), "key", "file.toml:4:9"),
        (("flasks", "tall"), "value", "file.toml:4:1"),
        (("fees", 0), "value", "file.toml:6:1"),
        (("fees", 1), "value", "file.toml:7:1"),
        (("fees", 1, "share", 1), "value", "file.toml:10:5"),
        (("flasks", "tall", "water_per_100"), "value", "file.toml:4:1"),  # not there: its table
        (("machines", "kiln"), "value", "file.toml:1:1"),  # nor anything around it: the file's first line
        ((), "value", "file.toml:1:1"),
    ],
)  # fmt: skip
def test_places_counted_by_hand(path, at, place):
    assert str(document("file.toml", TEXT).place(path, at)) == place


def test_an_empty_file_is_placed_as_a_whole():
    assert str(document("file.toml", "\n").place(("name",))) == "file.toml"


def test_nothing_is_placed_where_nothing_is_wrong(tmp_path):
    """The second parser is not even loaded for a folder without faults and warnings."""
    import subprocess

    read(tmp_path)
    program = (
        "import sys, pathlib; from pricing.folder.read import read_folder; "
        "read_folder(pathlib.Path(sys.argv[1])); print('tree_sitter' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program, str(tmp_path)], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"
