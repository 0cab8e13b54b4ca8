"""Parsed files are remembered by what stands in them; nothing about that may change an answer or fail a command."""

from __future__ import annotations

import json
import os
import shutil
import tomllib

import pytest

from pricing import remembered
from pricing.errors import Faults
from pricing.folder.memory import Memory
from pricing.folder.read import read_folder
from pricing.folder.toml import parsed, syntax
from pricing.folder.toml.parsed import Parsed
from tests.folders import small_sample, tin_lane


@pytest.fixture
def kept(tmp_path, monkeypatch):
    """The folder of the cache in this test, in which small workshops are kept too."""
    monkeypatch.setenv("TROYTAG_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(parsed, "LEAST_PRODUCTS", 0)
    return tmp_path / "cache" / "parsed"


@pytest.fixture
def workshop(tmp_path):
    return small_sample(tmp_path / "workshop")


@pytest.fixture
def parsed_files(monkeypatch):
    """The texts that were really parsed."""
    texts = []
    really = syntax.loads
    monkeypatch.setattr(syntax, "loads", lambda text: (texts.append(text), really(text))[1])
    return texts


def test_what_did_not_change_is_not_parsed_again(kept, workshop, parsed_files):
    first = read_folder(workshop)
    files = len(parsed_files)
    assert files == len(list(workshop.rglob("*.toml")))
    again = read_folder(workshop)
    assert len(parsed_files) == files
    assert again.stated == first.stated and again.warnings == first.warnings
    product = workshop / "products" / "thimble.toml"
    (workshop / "doubts.toml").write_text("")
    product.write_text(product.read_text().replace('sku = "thimble"', 'sku = "thimbles"'))
    os.utime(product, (0, 0))
    assert "thimbles" in read_folder(workshop).stated.products
    assert len(parsed_files) == files + 2
    read_folder(workshop)
    assert len(parsed_files) == files + 2
    assert not [path for path in workshop.rglob("*") if path.suffix == ".kept"]


def test_a_file_that_is_wrong_is_told_with_its_place_each_time(kept, workshop):
    read_folder(workshop)
    product = workshop / "products" / "thimble.toml"
    product.write_text(product.read_text() + "\nmade_of = 7\n")
    line = product.read_text().splitlines().index("made_of = 7") + 1
    for _ in range(2):
        with pytest.raises(Faults) as told:
            read_folder(workshop)
        assert [(fault.place.file, fault.place.line) for fault in told.value.faults] == [
            ("products/thimble.toml", line)
        ]
    product.write_text(product.read_text() + "[[\n")
    for _ in range(2):
        with pytest.raises(Faults, match="products/thimble.toml"):
            read_folder(workshop)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda entry: entry.write_bytes(entry.read_bytes()[:-7]),  # torn
        lambda entry: entry.write_bytes(b""),
        lambda entry: entry.write_bytes(entry.read_bytes().replace(b"yellow-brass", b"yellow-grass")),
        lambda entry: entry.chmod(0o666),  # anybody may have written it
        lambda entry: (entry.unlink(), entry.mkdir()),
        lambda entry: (entry.rename(entry.with_name("other")), entry.symlink_to("other")),
    ],
)
def test_an_entry_that_may_be_anybodys_is_not_believed(kept, workshop, parsed_files, spoil):
    first = read_folder(workshop)
    (entry,) = kept.iterdir()
    assert entry.stat().st_mode & 0o777 == 0o600 and kept.stat().st_mode & 0o777 == 0o700
    spoil(entry)
    parsed_files.clear()
    assert read_folder(workshop).stated == first.stated
    assert parsed_files


@pytest.mark.parametrize(
    "said", [b"7", b"[]", b"{}", b'{"by": 1}', b"{", b'{"by": "BY", "files": 7}', b'{"by": "BY", "files": {"HASH": 7}}']
)
def test_an_entry_that_is_nonsense_with_a_right_hash_is_none(kept, workshop, said):
    """What this user's own programs may have written there."""
    first = read_folder(workshop)
    (entry,) = kept.iterdir()
    inside = json.loads(entry.read_bytes()[64:])
    product = next(iter(inside["files"]))
    remembered.keep("parsed", entry.name, said.replace(b"BY", inside["by"].encode()).replace(b"HASH", product.encode()))
    assert read_folder(workshop).stated == first.stated


@pytest.mark.parametrize("memory", [lambda: None, Memory])
@pytest.mark.parametrize(
    "spoil",
    [
        lambda values: values.update(sku=7),  # a kind that the file does not hold there
        lambda values: values.update(colour="green"),  # a key that is in no file
        lambda values: values.update(process="none-such"),  # a name that nothing has
        lambda values: values.clear(),
    ],
)
def test_an_entry_with_a_right_hash_tells_no_fault_of_what_is_not_in_the_file(kept, workshop, spoil, memory):
    first = read_folder(workshop)
    (entry,) = kept.iterdir()
    sound = entry.read_bytes()
    inside = json.loads(sound[64:])
    spoil(next(values for values in inside["files"].values() if values.get("sku") == "thimble"))
    remembered.keep("parsed", entry.name, json.dumps(inside).encode())
    shutil.rmtree(kept.with_name("checked"))  # what was found between the very same files would be believed
    assert read_folder(workshop, memory=memory()).stated == first.stated
    assert json.loads(entry.read_bytes()[64:]) == json.loads(sound[64:])  # and the entry is mended


def test_another_release_parses_anew(kept, workshop, parsed_files, monkeypatch):
    read_folder(workshop)
    parsed_files.clear()
    monkeypatch.setattr(parsed, "FORM", 2)
    read_folder(workshop)
    assert parsed_files


def test_a_cache_that_cannot_be_written_is_no_fault(tmp_path, kept, workshop, monkeypatch):
    kept.parent.write_text("not a folder")
    assert read_folder(workshop).stated.products
    kept.parent.unlink()
    monkeypatch.setattr("os.replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    assert read_folder(workshop).stated.products
    assert list(kept.iterdir()) == []


def test_days_and_times_are_parsed_each_time(kept, tmp_path):
    known = Parsed(tmp_path)
    held = ("day = 2026-11-20", "at = 07:30:00", "in = { deep = [2026-11-20T07:30:00] }")
    for text in (*held, plain := "plain = [1, 2.0, true]"):
        known.put(text, text, tomllib.loads(text))
    known.keep()
    again = Parsed(tmp_path)
    assert [again.get(text) for text in held] == [None] * 3
    found = again.get(plain)
    assert found == {"plain": [1, 2.0, True]} and [type(each) for each in found["plain"]] == [int, float, bool]


def test_every_value_of_a_file_comes_back_as_it_was(kept, tmp_path):
    numbers = "a = 0.1\nb = 1e300\nc = 5e-324\nd = -0.0\ne = 9007199254740993\nf = -inf\n"
    values = tomllib.loads(numbers + "g = 'ü \\u0007'\n[h.i]\nj = []\nk = {}\n") | {"big": 10**30}
    known = Parsed(tmp_path)
    known.put("hash", "", values)
    known.keep()
    assert repr(Parsed(tmp_path).get("hash")) == repr(values)


def test_a_small_folder_is_not_kept(tmp_path, monkeypatch):
    monkeypatch.setenv("TROYTAG_CACHE", str(tmp_path / "cache"))
    read_folder(tin_lane())
    assert not (tmp_path / "cache").exists()


@pytest.mark.parametrize(
    "text",
    [
        "a = 1\n[b.c]\nd = 1e3\ne = [1, 2.5, 'x', { f = true }]\n[[g]]\nh = 2026-11-20\n[[g]]\ni = 07:32:00\n",
        '"k 1".m = """\nü\\u00e9 \\\n   more"""\nn = 0xff\no = inf\np = -0.0\n',
        "a = { b = 1, }",  # the next three are TOML 1.1, which makers' other programs may not read
        "a = {\n b = 1 }",
        'a = "\\e"',
        "a = 07:32",
        "a = 1\na = 2",
        "a = 1,5",
        "a = " + "[" * 150 + "]" * 150,
        "a = " + "[" * 5000 + "]" * 5000,
        "a = " + "9" * 5000,
        "a = [" + "[1], " * 300 + "]",
        "a = [ # [[[\n" + '[\'[["\', "]\'\\"["], ' * 300 + "]",
        "a = [" + "']]', \"]]\", " * 400 + "[" * 900 + "]" * 901,  # brackets in texts close nothing
        "a = [ # " + "]" * 1500 + "\n" + "[" * 900 + "]" * 901,
        'a = """\n"' + "]" * 1500 + '"""\nb = ' + "[" * 900 + "]" * 900,
        "a = '" + "[" * 300,
    ],
)
def test_the_compiled_parser_says_what_the_plain_one_does(text):
    def said(loads):
        try:
            return repr(loads(text))
        except RecursionError:  # at which of its calls it came to that hangs on who called
            return "RecursionError"
        except ValueError as wrong:
            return f"{type(wrong)}: {wrong}"

    assert said(syntax.loads) == said(tomllib.loads)


def test_many_tables_are_read_by_the_compiled_parser(monkeypatch):
    """The processes of a workshop have some two hundred brackets, of which hardly three stand in each other."""
    if syntax._compiled_parser() is None:
        pytest.skip("needs tomli compiled")
    text = "[[steps]]\nname = 'pour'\nuses = [{ material = \"wax [hard]\", quantity = 1 }]\n" * 100
    expected = tomllib.loads(text)
    monkeypatch.setattr(tomllib, "loads", lambda _: pytest.fail("asked of the slow one"))
    assert syntax.loads(text) == expected


def test_files_are_read_without_the_compiled_parser(monkeypatch, workshop):
    quick = read_folder(workshop).stated
    monkeypatch.setattr(syntax, "_compiled_parser", lambda: None)
    assert read_folder(workshop).stated == quick


def test_a_key_of_33_parts_is_too_many_and_points_on_other_lines_are_none():
    fine = ".".join("k" * 32)
    assert syntax.document("f.toml", f"{fine} = 1.5\nx = 1.5\n").values["x"] == 1.5
    with pytest.raises(Faults, match="f.toml:2:1 this key has too many parts"):
        syntax.document("f.toml", f"x = 1\n{fine}.k = 1")
