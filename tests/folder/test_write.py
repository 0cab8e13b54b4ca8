"""Writing back: what is changed is changed, and every other byte is as it was."""

from __future__ import annotations

import os
import sys
import threading
import time
import tomllib
from copy import deepcopy
from decimal import Decimal
from pathlib import Path
from shutil import copytree

import pytest
from hypothesis import HealthCheck, assume, given, reject, settings
from hypothesis import strategies as st

from pricing.errors import Faults, UsageFault
from pricing.folder import whole_files
from pricing.folder.inherit import inherited
from pricing.folder.read import read_folder
from pricing.folder.toml.edits import Drop, Insert, Put, changed
from pricing.folder.toml.spelling import plain, spelled
from pricing.folder.toml.syntax import document
from pricing.folder.toml.text import content_hash
from pricing.folder.write import change_file, hash_of, new_product
from tests.folder.documents import documents
from tests.folder.workshops import FILES, write
from tests.folder.workshops import changed as changed_files
from tests.folders import alder_wharf

# ---- any document, any change


def paths(value, path=()):
    """Every path in these values, with what stands there."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for part, inner in pairs:
        yield (*path, part), inner
        yield from paths(inner, (*path, part))


def at(values, path):
    for part in path:
        values = values[part]
    return values


def edited(text: str, *edits) -> str:
    return changed(document("file.toml", text), text.encode(), edits).decode()


def edited_if_safe(text: str, *edits) -> str:
    """The text with the edits; an example that is refused in words counts as none."""
    try:
        return edited(text, *edits)
    except Faults as refused:
        if all(fault.mend == "Make it by hand." for fault in refused.faults):
            reject()
        raise


SCALARS = st.one_of(
    st.integers(-(10**6), 10**6),
    st.decimals(-1000, 1000, places=2),
    st.booleans(),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=5),
)


@given(documents(), st.data())
def test_a_changed_value_leaves_every_other_byte(written, data):
    plain_places = [path for path, value in paths(written.values) if not isinstance(value, (dict, list))]
    assume(plain_places)
    path, new = data.draw(st.sampled_from(plain_places)), data.draw(SCALARS)
    text = written.text
    after = edited_if_safe(text, Put(path, new))
    line, column = written.starts[path]
    start = sum(len(each) + 1 for each in text.split("\n")[: line - 1]) + column - 1
    if after != text:
        assert after.startswith(text[:start] + spelled(new))
        behind = after[start + len(spelled(new)) :]
        assert text.endswith(behind)
        old = text[start : len(text) - len(behind)]
        assert tomllib.loads(f"old = {old}")["old"] == at(written.values, path)  # that much was the old value
    values = deepcopy(written.values)
    at(values, path[:-1])[path[-1]] = plain(new)
    assert tomllib.loads(after) == values


@pytest.mark.parametrize(
    ("line", "key", "value", "after"),
    [
        ("minutes = 4  # a guess, 2 to 8: by the clock\r", "minutes", 5, "minutes = 5  # by the clock\r"),
        ("minutes = 4  # a guess, 2 to 8", "minutes", 5, "minutes = 5"),
        ("minutes = 4  # a guess, 2 to 8: by it", "minutes", 4.0, "minutes = 4  # a guess, 2 to 8: by it"),
        ("minutes = 4  # measured: a guess, 2 to 8", "minutes", 5, "minutes = 5  # measured: a guess, 2 to 8"),
        (
            'm = { rate = 0.02, word = "# a", fixed = 0.2 } # a guess, rate 0.01 to 0.03, fixed 0.1 to 0.4: ask them',
            "rate", 0.025,
            'm = { rate = 0.025, word = "# a", fixed = 0.2 } # a guess, fixed 0.1 to 0.4: ask them',
        ),
    ],
)  # fmt: skip
def test_a_guess_that_is_typed_over_is_no_guess_any_more(line, key, value, after):
    """What stands otherwise in the remark is the maker's, and stays byte for byte; the same figure is still a guess."""
    path = ("m", key) if line.startswith("m =") else (key,)
    assert (
        edited(f"{line}\nnext = 1  # a guess, 1 to 3\n", Put(path, value)) == f"{after}\nnext = 1  # a guess, 1 to 3\n"
    )


@given(documents(), st.data())
def test_what_stands_already_changes_nothing(written, data):
    found = list(paths(written.values))
    assume(found)
    path, value = data.draw(st.sampled_from(found))
    assert edited_if_safe(written.text, Put(path, deepcopy(value))) == written.text
    assert edited_if_safe(written.text, Put((), deepcopy(written.values))) == written.text


@given(documents(), st.data())
def test_taking_out_only_takes_out(written, data):
    """The rest stands in its order, and says what it said."""
    found = list(paths(written.values))
    assume(found)
    path, _ = data.draw(st.sampled_from(found))
    after = edited_if_safe(written.text, Drop(path))
    assert is_part_in_order(after, written.text)
    values = deepcopy(written.values)
    del at(values, path[:-1])[path[-1]]
    assert without_empty(tomllib.loads(after)) == without_empty(values)


@given(documents(), st.data())
def test_taking_out_a_line_takes_out_that_line(written, data):
    """A key with a value on one line, below no braces and no list: the comments around it stay."""
    lines = written.text.split("\n")

    def opens_braces(path) -> bool:
        line, column = written.starts[path]
        return lines[line - 1][column - 1] == "{"

    on_lines = [
        path
        for path, value in paths(written.values)
        if not isinstance(value, (dict, list)) and not (isinstance(value, str) and lines_of(written, path))
        if all(isinstance(part, str) for part in path)
        if not any(opens_braces(path[:length]) for length in range(1, len(path)))
    ]
    assume(on_lines)
    path = data.draw(st.sampled_from(on_lines))
    number = written.keys[path][0]
    assert edited_if_safe(written.text, Drop(path)) == "\n".join(lines[: number - 1] + lines[number:])


def lines_of(written, path) -> bool:
    """Whether the text at this path is written over several lines."""
    line, column = written.starts[path]
    return written.text.split("\n")[line - 1][column - 1 :].startswith("'''")


@given(documents(), st.data())
def test_putting_in_only_puts_in(written, data):
    tables = [((), written.values)] + [(path, value) for path, value in paths(written.values) if type(value) is dict]
    path, table = data.draw(st.sampled_from(tables))
    name = data.draw(st.sampled_from(["minutes", "cut and grind", "a.b"]).filter(lambda name: name not in table))
    new = data.draw(st.one_of(SCALARS, st.just({"rate": Decimal("24.00")}), st.lists(SCALARS, max_size=2)))
    after = edited_if_safe(written.text, Put((*path, name), new))
    assert is_part_in_order(written.text, after)
    values = deepcopy(written.values)
    at(values, path)[name] = plain(new)
    assert tomllib.loads(after) == values


@given(documents(), st.data())
def test_an_item_put_into_a_list_only_puts_in(written, data):
    lists = [(path, value) for path, value in paths(written.values) if type(value) is list]
    assume(lists)
    path, items = data.draw(st.sampled_from(lists))
    new = {"name": "pour"} if items and type(items[0]) is dict else 5
    index = data.draw(st.integers(0, len(items)))
    after = edited_if_safe(written.text, Insert((*path, index), new))
    assert is_part_in_order(written.text, after)
    values = deepcopy(written.values)
    at(values, path).insert(index, new)
    assert tomllib.loads(after) == values


def is_part_in_order(part: str, whole: str) -> bool:
    """Whether `part` is `whole` with some of its letters taken out."""
    letters = iter(whole)
    return all(letter in letters for letter in part)


def without_empty(value):
    """A table that only longer names made is gone with the last of them."""
    if isinstance(value, dict):
        kept = {key: without_empty(inner) for key, inner in value.items()}
        return {key: inner for key, inner in kept.items() if inner not in ({}, [])}
    return [without_empty(inner) for inner in value] if isinstance(value, list) else value


@given(st.recursive(SCALARS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner)))
def test_whatever_is_spelled_is_read_back(value):
    try:
        said = tomllib.loads(f"value = {spelled(value)}")["value"]
    except UnicodeEncodeError:
        assume(False)
    assert said == plain(value)


# ---- changes of one sort, on one screen

TEXT = """\
# a workshop
name = "Fernhollow"   # of the invented sort
[labour.bench]
rate = 24.00          # an hour
on_cost = 0.10

# what goes into moulds
[materials.wax]
pack_price = 9.80
findings = [
    { name = "stud", quantity = 2 },   # steel
    { name = "nut", quantity = 2 },    # brass
]
alloys = ["sterling", "yellow-brass"]
tax = { rate = 0.2, included = true }
[[processes.cast]]
name = "model"

# comes second
[[processes.cast]]
name = "pour"
"""


def difference(*edits) -> list[str]:
    """Lines taken out and put in, in a line each, as `-old` and `+new`."""
    import difflib

    compared = difflib.unified_diff(TEXT.splitlines(), edited(TEXT, *edits).splitlines(), n=0, lineterm="")
    return [line for line in list(compared)[2:] if not line.startswith("@@")]


@pytest.mark.parametrize(
    ("edits", "lines"),
    [
        (
            [Put(("labour", "bench", "rate"), Decimal("26.50"))],
            ["-rate = 24.00          # an hour", "+rate = 26.50          # an hour"],
        ),
        ([Put(("labour", "bench", "rate"), 24)], []),  # the same number: its digits stay
        (
            [Put(("labour", "bench", "rate"), True)],
            ["-rate = 24.00          # an hour", "+rate = true          # an hour"],
        ),
        ([Put(("labour", "bench", "days"), 3)], ["+days = 3"]),
        ([Put(("labour", "apprentice"), {"rate": Decimal("12.00")})], ["+[labour.apprentice]", "+rate = 12.00"]),
        ([Put(("machines", "kiln", "power_kw"), 2.4)], ["+", "+[machines.kiln]", "+power_kw = 2.4"]),
        ([Put(("schema",), 1)], ["+schema = 1"]),
        ([Drop(("labour", "bench", "on_cost"))], ["-on_cost = 0.10"]),
        ([Drop(("labour",))], ["-[labour.bench]", "-rate = 24.00          # an hour", "-on_cost = 0.10"]),
        (
            [Drop(("materials", "wax", "findings", 0))],
            ['-    { name = "stud", quantity = 2 },   # steel'],
        ),
        (
            [Put(("materials", "wax", "findings", 1, "quantity"), 4)],
            ['-    { name = "nut", quantity = 2 },    # brass', '+    { name = "nut", quantity = 4 },    # brass'],
        ),
        (
            [Insert(("materials", "wax", "findings", 2), {"name": "pin", "price": Decimal("0.30")})],
            ['+    { name = "pin", price = 0.30 },'],
        ),
        (
            [Insert(("materials", "wax", "findings", 0), {"name": "pin"})],
            ['+    { name = "pin" },'],
        ),
        (
            [Put(("materials", "wax", "alloys"), ["sterling", "gold-9ct", "yellow-brass"])],
            ['-alloys = ["sterling", "yellow-brass"]', '+alloys = ["sterling", "gold-9ct", "yellow-brass"]'],
        ),
        (
            [Drop(("materials", "wax", "alloys", 1))],
            ['-alloys = ["sterling", "yellow-brass"]', '+alloys = ["sterling"]'],
        ),
        (
            [Put(("materials", "wax", "tax"), {"rate": Decimal("0.25"), "included": True})],
            ["-tax = { rate = 0.2, included = true }", "+tax = { rate = 0.25, included = true }"],
        ),
        (
            [Put(("materials", "wax", "tax"), {"included": True, "name": "VAT"})],
            ["-tax = { rate = 0.2, included = true }", '+tax = { included = true, name = "VAT" }'],
        ),
        ([Put(("materials", "wax", "policy"), {"margin": Decimal("0.30")})], ["+policy = { margin = 0.30 }"]),
        (
            [Insert(("processes", "cast", 2), {"name": "pack", "uses": [{"material": "wax"}]})],
            ["+", "+[[processes.cast]]", '+name = "pack"', '+uses = [{ material = "wax" }]'],
        ),
        (
            [Insert(("processes", "cast", 1), {"name": "wax"})],
            ["+", "+[[processes.cast]]", '+name = "wax"'],
        ),
        ([Drop(("processes", "cast", 1))], ["-[[processes.cast]]", '-name = "pour"']),
        (  # a list as a whole: what is alike at both ends stays, with its remarks
            [Put(("materials", "wax", "findings"), [{"name": "pin"}, {"name": "nut", "quantity": 2}])],
            ['-    { name = "stud", quantity = 2 },   # steel', '+    { name = "pin" },   # steel'],
        ),
        (
            [Put(("materials", "wax", "findings"), [{"name": "nut", "quantity": 2}])],
            ['-    { name = "stud", quantity = 2 },   # steel'],
        ),
        (
            [
                Put(
                    ("materials", "wax", "findings"),
                    [{"name": "stud", "quantity": 2}, {"name": "pin"}, {"name": "nut", "quantity": 2}],
                )
            ],
            ['+    { name = "pin" },'],
        ),
        (  # a table under a header of its own becomes a figure
            [Put(("labour",), 3)],
            ["-[labour.bench]", "-rate = 24.00          # an hour", "-on_cost = 0.10", "+labour = 3"],
        ),
        (
            [Put(("processes", "sawn"), [{"name": "saw"}, {"name": "file"}])],
            ["+", "+[[processes.sawn]]", '+name = "saw"', "+[[processes.sawn]]", '+name = "file"'],
        ),
    ],
)  # fmt: skip
def test_a_change_and_its_lines(edits, lines):
    assert sorted(difference(*edits)) == sorted(lines)


def test_line_ends_of_the_file_and_its_byte_order_mark_stay(tmp_path):
    files = changed_files()
    files["workshop.toml"] = files["workshop.toml"].replace("\n", "\r\n")
    root = write(tmp_path, files)
    path = root / "workshop.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    before = path.read_bytes()
    change_file(root, "workshop.toml", [Put(("show", "mass"), "ozt")], content_hash(before))
    assert path.read_bytes() == before + b'\r\n[show]\r\nmass = "ozt"\r\n'


def test_a_file_without_a_last_line_end(tmp_path):
    assert edited("a = 1", Put(("b",), 2)) == "a = 1\nb = 2\n"
    assert edited("a = 1", Put(("b", "c", "d"), 2)) == "a = 1\n\n[b.c]\nd = 2\n"
    assert edited("", Put(("b", "c"), 2)) == "b = { c = 2 }\n"
    assert edited("[a]\nb = 1", Put(("a", "c"), 2), Drop(("a", "b"))) == "[a]\nc = 2\n"


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (
            Drop(("labour", "bench", "rat")),
            "file.toml:3:1 there is no labour.bench.rat to change. Read the file again.",
        ),
        (Put(("name", "x"), 1), "file.toml:2:8 name is no table to put something into. Change it by hand."),
        (Put(("labour", 0), 1), "file.toml:3:2 labour is no list to put something into. Change it by hand."),
        (
            Insert(("materials", "wax", "alloys", 3), "x"),
            "file.toml:14:10 there is no materials.wax.alloys[3] to change. Read the file again.",
        ),
        (
            Put(("machines", 0), 1),
            "file.toml:1:1 there is no list machines to put something into. Put the list as a whole.",
        ),
        (
            Put(("materials", "wax", "alloys", "x"), 1),
            "file.toml:14:10 materials.wax.alloys is no table to put something into. Change it by hand.",
        ),
        (
            Put(("processes", "cast", 0), "x"),
            "file.toml:16:1 processes.cast[0]: this change cannot be made in the way that the file is written. "
            "Make it by hand.",
        ),
    ],
)
def test_a_change_that_has_nothing_to_work_on(edit, told):
    with pytest.raises(Faults) as caught:
        edited(TEXT, edit)
    assert [fault.headline() for fault in caught.value.faults] == [told]


# ---- files


@pytest.fixture
def root(tmp_path) -> Path:
    return write(tmp_path, changed_files())


def everything(root: Path) -> dict[str, bytes]:
    return {str(path.relative_to(root)): path.read_bytes() for path in sorted(root.rglob("*")) if path.is_file()}


def test_a_change_is_read_back_and_its_hash_is_given(root):
    folder = read_folder(root)
    new = change_file(
        root, "workshop.toml", [Put(("labour", "bench", "rate"), Decimal("25.10"))], folder.hashes["workshop.toml"]
    )
    assert (root / "workshop.toml").read_text() == FILES["workshop.toml"].replace("rate = 24.0", "rate = 25.10")
    assert new == hash_of(root, "workshop.toml") == read_folder(root).hashes["workshop.toml"]
    assert sorted(everything(root)) == sorted(FILES)  # nothing is left beside it


def test_a_doubt_goes_with_the_figure_that_it_was_about(root):
    doubts = root / "doubts.toml"
    kept = '"labour.bench.rate" = { low = 20, high = 30 }   # mine\n'
    path = ("alloys", "sterling", "max_return_share")
    change_file(root, "alloys.toml", [Put(path, 0.4)], hash_of(root, "alloys.toml"))
    doubts.write_text(kept + '"alloys.sterling.max_return_share" = { low = 0.3, high = 0.5 }\n')
    change_file(root, "alloys.toml", [Put(path, 0.45)], hash_of(root, "alloys.toml"))
    assert "max_return_share" in doubts.read_text()  # it is still stated, and still doubted
    change_file(root, "alloys.toml", [Drop(path)], hash_of(root, "alloys.toml"))
    assert doubts.read_text() == kept
    read_folder(root)


def test_the_second_of_two_writers_is_told(root):
    read = read_folder(root).hashes["alloys.toml"]
    change_file(root, "alloys.toml", [Put(("alloys", "sterling", "melt_loss"), Decimal("0.02"))], read)
    before = everything(root)
    with pytest.raises(Faults) as caught:
        change_file(root, "alloys.toml", [Put(("alloys", "sterling", "density"), Decimal("10.40"))], read)
    assert str(caught.value) == (
        "alloys.toml this file was changed since it was read, and nothing was written. "
        "Look at it again, then repeat the change."
    )
    assert everything(root) == before


def test_many_writers_at_once_lose_nothing(root):
    """Each repeats its change until it is the one that gets it in; in the end all are there."""
    told = []

    def add(number: int) -> None:
        while True:
            try:
                edit = Put(("materials", f"wax-{number}"), {"pack_price": 1, "pack_size": 1, "unit": "g"})
                change_file(root, "workshop.toml", [edit], hash_of(root, "workshop.toml"))
                return
            except Faults as fault:
                told.append(str(fault))

    threads = [threading.Thread(target=add, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(read_folder(root).stated.workshop.materials) == {"investment", "patina", *(f"wax-{n}" for n in range(6))}
    assert all("changed since it was read" in each for each in told)


@pytest.mark.parametrize(
    ("file", "edit", "told"),
    [
        (
            "workshop.toml",
            Put(("labour", "bench", "rate"), -1),
            "workshop.toml:5:8 labour.bench.rate: -1 is below 0. State 0 or more.",
        ),
        (
            "workshop.toml",
            Put(("labour", "bench", "rate"), "24"),
            'workshop.toml:5:8 labour.bench.rate: the text "24" stands where a number belongs. '
            "Write it without the quotes: 24.",
        ),
        (
            "workshop.toml",
            Put(("labour", "bench", "rat"), 2),
            'workshop.toml:6:1 labour.bench.rat: unknown key "rat". Did you mean "rate"?',
        ),
        (
            "alloys.toml",
            Drop(("alloys", "sterling", "density")),
            "alloys.toml:1:1 alloys.sterling: density is missing. Add it: density as cast, in g/cm3.",
        ),
        (
            "products/acorn-knob.toml",
            Put(("flask",), "medum"),
            'products/acorn-knob.toml:6:9 flask: no flask "medum". Did you mean "medium"?',
        ),
        (
            "workshop.toml",
            Put(("labour", "bench", "rate"), Decimal("NaN")),
            "workshop.toml:5:8 labour.bench.rate: nan is no number to count with. Write a finite number.",
        ),
    ],
)  # fmt: skip
def test_what_would_not_be_read_again_is_not_written(root, file, edit, told):
    before = everything(root)
    with pytest.raises(Faults) as caught:
        change_file(root, file, [edit], hash_of(root, file))
    assert [fault.headline() for fault in caught.value.faults] == [told]
    assert everything(root) == before


def test_a_folder_with_faults_can_be_mended_one_by_one(root):
    path = root / "alloys.toml"
    path.write_text(path.read_text().replace("10.36", "-10.36").replace("8.47", "-8.47"))
    change_file(root, "alloys.toml", [Put(("alloys", "sterling", "density"), 10.36)], hash_of(root, "alloys.toml"))
    change_file(root, "alloys.toml", [Put(("alloys", "yellow-brass", "density"), 8.47)], hash_of(root, "alloys.toml"))
    assert read_folder(root).stated.alloys["sterling"].density == 10.36


@pytest.mark.parametrize(
    "file", ["metal_prices.csv", "../workshop.toml", "products/../x.toml", "products/.x.toml", "x"]
)
def test_only_toml_files_of_the_folder_are_written(root, file):
    before = everything(root)
    with pytest.raises(Faults, match="this is no TOML file of a workshop folder"):
        change_file(root, file, [Put(("a",), 1)], hash_of(root, file))
    assert everything(root) == before


def test_a_file_that_is_not_there_yet(root):
    edit = Put(("products.acorn-knob.expected_sales",), {"low": 40, "high": 200})
    change_file(root, "doubts.toml", [edit], None)
    assert (root / "doubts.toml").read_text() == '"products.acorn-knob.expected_sales" = { low = 40, high = 200 }\n'
    with pytest.raises(Faults, match="changed since it was read"):
        change_file(root, "doubts.toml", [edit], None)


def test_a_full_disk_changes_nothing(root, monkeypatch):
    def full(handle):
        raise OSError(28, "No space left on device")

    before = everything(root)
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Faults) as caught:
        change_file(root, "workshop.toml", [Put(("name",), "Fern")], hash_of(root, "workshop.toml"))
    assert str(caught.value) == (
        "workshop.toml this file cannot be written (No space left on device); nothing was changed. "
        "See whether the disk is full or the folder may not be written to."
    )
    assert everything(root) == before


def test_somebody_who_saves_while_the_change_is_made_is_noticed(root, monkeypatch):
    """An editor knows no lock: its file is found when the new one is to take its place."""
    path, fsync = root / "workshop.toml", os.fsync

    def meanwhile(handle):
        path.write_text(path.read_text() + "# typed meanwhile\n")
        fsync(handle)

    expected = hash_of(root, "workshop.toml")
    monkeypatch.setattr(os, "fsync", meanwhile)
    with pytest.raises(Faults, match="changed since it was read"):
        change_file(root, "workshop.toml", [Put(("name",), "Fern")], expected)
    assert path.read_text() == FILES["workshop.toml"] + "# typed meanwhile\n"


def test_rights_and_links_stay(root, tmp_path_factory):
    real = tmp_path_factory.mktemp("elsewhere") / "workshop.toml"
    path = root / "workshop.toml"
    real.write_bytes(path.read_bytes())
    real.chmod(0o640)
    path.unlink()
    path.symlink_to(real)
    change_file(root, "workshop.toml", [Put(("name",), "Fern")], hash_of(root, "workshop.toml"))
    assert path.is_symlink() and 'name = "Fern"' in real.read_text()
    assert real.stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize("missing", ["locks", "links"])
def test_on_a_system_without_locks_or_hard_links(root, monkeypatch, missing):
    def no_links(beside, path):
        raise OSError(95, "Operation not supported")

    if missing == "locks":
        monkeypatch.setitem(sys.modules, "fcntl", None)
    else:
        monkeypatch.setattr(os, "link", no_links)
    change_file(root, "doubts.toml", [Put(("products.acorn-knob.scale",), {"low": 1, "high": 2})], None)
    assert (root / "doubts.toml").read_text() == '"products.acorn-knob.scale" = { low = 1, high = 2 }\n'
    assert sorted(everything(root)) == sorted([*FILES, "doubts.toml"])


def test_a_file_that_comes_into_being_meanwhile_stays(root, monkeypatch):
    link = os.link

    def meanwhile(beside, path):
        path.write_text("# somebody else's\n")
        link(beside, path)

    monkeypatch.setattr(os, "link", meanwhile)
    with pytest.raises(Faults, match="changed since it was read"):
        change_file(root, "doubts.toml", [Put(("products.acorn-knob.scale",), {"low": 1, "high": 2})], None)
    assert (root / "doubts.toml").read_text() == "# somebody else's\n"


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(UsageFault, match="there is no such folder"):
        change_file(tmp_path / "nowhere", "workshop.toml", [], None)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the lock is of systems that can fork")
def test_a_writer_waits_for_the_one_before_it(root):
    order = []

    def second() -> None:
        with whole_files.held(root):
            order.append("second")

    with whole_files.held(root):
        thread = threading.Thread(target=second)
        thread.start()
        time.sleep(0.05)
        order.append("first")
    thread.join()
    assert order == ["first", "second"]


# ---- products


def test_a_new_product(root):
    file = new_product(
        root,
        {
            "castings": [{"name": "latch", "count": 1, "volume_cm3": Decimal("2.10"), "area_cm2": 9}],
            "name": 'Gate "latch"',
            "sku": "gate latch",
            "alloys": ["sterling"],
            "process": "cast",
            "flask": "medium",
            "pieces_per_flask": 12,
            "sprue_ratio": Decimal("0.50"),
            "expected_sales": 60,
            "for_alloy": {"sterling": {"steps": {"pour": {"good": Decimal("0.90")}}}},
            "in_channel": {"shop": {"policy": {"margin": Decimal("0.30")}}},
        },
    )
    assert file == "products/gate-latch.toml"
    assert (root / file).read_text() == (
        'sku = "gate latch"\n'
        'name = "Gate \\"latch\\""\n'
        'alloys = ["sterling"]\n'
        'process = "cast"\n'
        'flask = "medium"\n'
        "pieces_per_flask = 12\n"
        "sprue_ratio = 0.50\n"
        "expected_sales = 60\n"
        'castings = [{ name = "latch", count = 1, volume_cm3 = 2.10, area_cm2 = 9 }]\n'
        "\n"
        "[for_alloy.sterling.steps.pour]\n"
        "good = 0.90\n"
        "\n"
        "[in_channel.shop]\n"
        "policy = { margin = 0.30 }\n"
    )
    assert read_folder(root).stated.products["gate latch"].name == 'Gate "latch"'


def test_a_product_that_was_read_is_written_and_read_again_as_it_was(root):
    stated = read_folder(root).stated.products["acorn-knob"]
    copy = stated.model_copy(update={"sku": "oak-knob"})
    new_product(root, copy)
    again = read_folder(root).stated.products
    assert again["oak-knob"].model_dump(exclude={"sku"}) == stated.model_dump(exclude={"sku"})
    assert inherited(again)["large-knob"].process == "cast"


def test_everything_that_a_product_can_state_is_written_and_read_again_as_it_was(tmp_path):
    """Parts, chains, stones, effort, sizes of each kind: each product again under another name, not a key lost."""
    root = Path(copytree(alder_wharf(), tmp_path / "wharf"))
    stated = read_folder(root).stated.products
    for sku, product in stated.items():
        new_product(root, product.model_copy(update={"sku": f"{sku}-again"}))
    again = read_folder(root).stated.products
    for sku, product in stated.items():
        assert again[f"{sku}-again"].model_dump(exclude={"sku"}) == product.model_dump(exclude={"sku"}), sku


def test_a_new_product_with_a_fault_or_a_taken_name_is_not_written(root):
    before = everything(root)
    with pytest.raises(Faults) as caught:
        new_product(root, {"sku": "x", "name": "X", "like": "acorn-nob"})
    assert [fault.headline() for fault in caught.value.faults] == [
        'products/x.toml:3:8 like: no product "acorn-nob". Did you mean "acorn-knob"?'
    ]
    with pytest.raises(Faults, match=r"products/acorn-knob\.toml this file stands already"):
        new_product(root, {"sku": "acorn-knob", "name": "X", "like": "large-knob"})
    with pytest.raises(Faults, match='another product has the sku "acorn-knob" already'):
        (root / "products/acorn-knob.toml").rename(root / "products/a.toml")
        new_product(root, {"sku": "acorn-knob", "name": "X", "like": "large-knob"})
    (root / "products/a.toml").rename(root / "products/acorn-knob.toml")
    assert everything(root) == before


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], max_examples=20)
@given(sku=st.text(min_size=1, max_size=12))
def test_no_sku_leads_out_of_the_folder(tmp_path, sku):
    root = write(tmp_path, changed_files())
    before = set(everything(root))
    try:
        file = new_product(root, {"sku": sku, "name": "X", "like": "acorn-knob"})
    except (Faults, UnicodeEncodeError):
        assert set(everything(root)) == before
    else:
        assert set(everything(root)) == before | {file}
        (root / file).unlink()
