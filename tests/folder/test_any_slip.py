"""Whatever is put in place of whatever: a folder is read or its faults are told, and never in a library's jargon."""

from __future__ import annotations

import tempfile
import tomllib
from datetime import date
from pathlib import Path

import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from tests.folder.workshops import FILES, changed, faults_of, write

TOML_FILES = [file for file in FILES if file.endswith(".toml")]
JUNK = st.one_of(
    st.integers(-(10**20), 10**20),
    st.floats(),
    st.booleans(),
    st.text(max_size=5),
    st.dates(date(1, 1, 1)),
    st.just([]),
    st.just({}),
    st.lists(st.integers(), min_size=1, max_size=2),
    st.dictionaries(st.sampled_from(["name", "minutes", "of"]), st.integers(), min_size=1),
)
#: Words of the library, and the sentence that is kept for what it might refuse in a way not known yet.
JARGON = ("Input should", "instance of", "pydantic", "does not belong here")


def slots(value, path=()):
    """Every place in these values, as the path of its container and the key or index in it."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for part, inner in pairs:
        yield path, part
        yield from slots(inner, (*path, part))


@st.composite
def slipped_files(draw) -> dict[str, str]:
    """The folder with one to three places taken out, filled with something else, or given a key too many."""
    files = changed()
    for file in draw(st.lists(st.sampled_from(TOML_FILES), min_size=1, max_size=3, unique=True)):
        values = tomllib.loads(files[file])
        path, part = draw(st.sampled_from(sorted(slots(values), key=str)))
        inside = values
        for step in path:
            inside = inside[step]
        kind = draw(st.sampled_from(["replaced", "taken out", "one more"]))
        if kind == "replaced":
            inside[part] = draw(JUNK)
        elif kind == "taken out" or isinstance(inside, list):
            del inside[part]
        else:
            inside[draw(st.text(min_size=1, max_size=8))] = draw(JUNK)
        files[file] = tomlkit.dumps(values)
    return files


@given(slipped_files())
def test_a_slip_in_a_table(files):
    with tempfile.TemporaryDirectory() as root:
        for fault in faults_of(write(Path(root), files)):
            assert fault.place.file in files
            assert fault.place.line is not None or not files[fault.place.file].strip()
            assert fault.problem and fault.mend.endswith((".", "?"))
            assert not any(word in fault.headline() for word in JARGON)


@given(st.sampled_from(TOML_FILES), st.integers(0, 2000), st.integers(0, 3), st.text(max_size=3))
def test_a_slip_of_the_keyboard(file, position, length, typed):
    """A few signs of a file exchanged for a few others."""
    text = FILES[file]
    files = {**changed(), file: text[: position % len(text)] + typed + text[position % len(text) + length :]}
    with tempfile.TemporaryDirectory() as root:
        path = write(Path(root), {})
        for name, content in files.items():
            (path / name).parent.mkdir(exist_ok=True)
            (path / name).write_bytes(content.encode("utf-8", errors="surrogatepass"))
        for fault in faults_of(path):
            assert fault.problem and "not TOML" not in fault.problem
            assert str(fault).startswith(str(fault.place))


@given(st.text(max_size=60))
def test_anything_in_the_price_history(text):
    with tempfile.TemporaryDirectory() as root:
        for fault in faults_of(write(Path(root), {**changed(), "metal_prices.csv": FILES["metal_prices.csv"] + text})):
            assert fault.place.file in ("metal_prices.csv", "alloys.toml")
            assert fault.problem and fault.mend
