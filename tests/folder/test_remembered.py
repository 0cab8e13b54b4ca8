"""What a folder came to is remembered by what stands in it; that may change no answer and fail no command."""

from __future__ import annotations

import json
import os
import re
import shutil
import time
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from pricing import costing, remembered
from pricing.costing import Costing, asked_for
from pricing.errors import Faults
from pricing.folder import product_files, read
from pricing.folder.checks import remembered as checks_remembered
from pricing.folder.files import PRICES_FILE
from pricing.folder.rows import remembered as rows_remembered
from tests.folders import tin_lane
from tests.meshes.boxes import box, stl

ASKED = asked_for(date(2026, 11, 20))


@pytest.fixture
def kept(tmp_path, monkeypatch):
    """The cache in this test, in which small workshops are kept too."""
    monkeypatch.setenv("TROYTAG_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(product_files, "LEAST_REMEMBERED", 0)
    return tmp_path / "cache"


def with_a_mesh(root: Path) -> Path:
    """A small workshop with a casting by its mesh, and a quote of a day to come, which is doubted until then."""
    shutil.copytree(tin_lane(), root)
    product = next(path for path in sorted((root / "products").iterdir()) if "volume_cm3" in path.read_text())
    product.write_text(re.sub("volume_cm3 = [0-9.]+", 'mesh = "bar.stl"', product.read_text(), count=1))
    stl(root, box(10.0), name="bar.stl")
    with open(root / PRICES_FILE, "a") as prices:
        prices.write("2131-01-01,Ag,30,ozt,USD,a slip\n")
    return root


@pytest.fixture
def workshop(tmp_path):
    return with_a_mesh(tmp_path / "workshop")


@pytest.fixture
def done(monkeypatch):
    """What was really done, in order."""
    found: list[str] = []
    rows, faults = rows_remembered.variant_rows, read.sense.faults
    monkeypatch.setattr(rows_remembered, "variant_rows", lambda bench: (found.append("resolved"), rows(bench))[1])
    monkeypatch.setattr(read.sense, "faults", lambda parts: (found.append("checked"), faults(parts))[1])
    return found


def same(one: Costing, other: Costing) -> bool:
    """Whether two costings say the same, to the last bit."""
    values, others = one.computed.values, other.computed.values
    return (
        one.computed.resolved == other.computed.resolved
        and one.warnings == other.warnings
        and list(values) == list(others)
        and all(np.array_equal(values[name], others[name], equal_nan=True) for name in values)
    )


def entry_of(kept: Path, kind: str) -> Path:
    (entry,) = (kept / kind).iterdir()
    return entry


def test_what_did_not_change_is_neither_checked_nor_resolved_again(kept, workshop, done):
    first = costing.cost(workshop, ASKED)
    assert done == ["checked", "resolved"] and first.warnings
    assert same(costing.cost(workshop, ASKED), first)
    assert done == ["checked", "resolved"]
    assert not [path for path in workshop.rglob("*") if path.suffix == ".kept"]


def test_rows_that_were_one_are_one_again(kept, workshop, done):
    """Columns are read from each row once: the steps of a process that many products share."""
    first, again = (costing.cost(workshop, ASKED).computed.resolved.all_variants for _ in range(2))
    assert done == ["checked", "resolved"]
    kinds = [len({id(step) for each in rows for step in each.steps}) for rows in (first, again)]
    assert kinds[0] == kinds[1] < sum(len(each.steps) for each in first)


def test_on_the_day_and_the_run_no_rows_hang(kept, workshop, done, monkeypatch):
    costing.cost(workshop, ASKED)
    done.clear()
    for asked in (asked_for(date(2026, 11, 19)), asked_for(ASKED.as_of, run=3), asked_for(ASKED.as_of, 3, True)):
        again = costing.cost(workshop, asked)
        monkeypatch.setenv("TROYTAG_CACHE", "off")
        assert same(again, costing.cost(workshop, asked)) and done == ["checked", "resolved"]
        done.clear()
        monkeypatch.setenv("TROYTAG_CACHE", str(kept))


def test_another_program_takes_nothing(kept, workshop, done, monkeypatch):
    costing.cost(workshop, ASKED)
    done.clear()
    monkeypatch.setattr(checks_remembered, "program", lambda: "another")
    costing.cost(workshop, ASKED)
    assert done == ["checked", "resolved"]
    done.clear()
    monkeypatch.setattr(checks_remembered, "program", lambda: None)  # nobody can say: it was written to meanwhile
    for _ in range(2):
        costing.cost(workshop, ASKED)
    assert done == ["checked", "resolved"] * 2


def test_a_changed_file_changes_the_answer(kept, workshop, done):
    first = costing.cost(workshop, ASKED)
    labour = workshop / "workshop.toml"
    content = labour.read_text()
    labour.write_text(re.sub(r"rate = [0-9.]+", "rate = 77", content, count=1))
    assert not same(costing.cost(workshop, ASKED), first)
    labour.write_text(content)
    os.utime(labour, (0, 0))
    assert same(costing.cost(workshop, ASKED), first)
    assert done == ["checked", "resolved"] * 3


def test_a_price_that_moved_changes_no_row_and_every_figure_that_hangs_on_it(kept, workshop, done, monkeypatch):
    """What hangs on quotes is looked at each time: prices, what is doubted about them, and what they lack."""
    first = costing.cost(workshop, ASKED)
    prices, day = workshop / PRICES_FILE, date(2026, 11, 19)
    content = prices.read_text()
    header, *lines = content.splitlines()
    for moved in (
        f"{content}{day},Ag,31,ozt,USD,today\n",
        f"{content}{day},Ag,3100000,ozt,USD,a slip\n",
        "\n".join([header, *(line for line in lines if ",Ag," not in line)]),
    ):
        prices.write_text(moved)
        done.clear()
        again = told_of(workshop)
        assert done == []
        monkeypatch.setenv("TROYTAG_CACHE", "off")
        assert again == told_of(workshop) != told(first)
        monkeypatch.setenv("TROYTAG_CACHE", str(kept))


def told_of(workshop: Path) -> object:
    """What a workshop comes to, or what stands in the way."""
    try:
        return told(costing.cost(workshop, ASKED))
    except Faults as found:
        return found.faults


def told(found: Costing) -> object:
    values = {name: value.tolist() for name, value in found.computed.values.items()}
    return found.computed.resolved, found.warnings, repr(values)


def test_a_mesh_that_measures_otherwise_is_priced_anew(kept, workshop, done):
    first = costing.cost(workshop, ASKED)
    stl(workshop, box(20.0), name="bar.stl")
    again = costing.cost(workshop, ASKED)
    assert done == ["checked", "resolved", "resolved"] and not same(first, again)
    volumes = [
        {row.volume_cm3 for each in found.computed.resolved.variants for row in each.castings}
        for found in (first, again)
    ]
    assert 1.0 in volumes[0] and 8.0 in volumes[1]  # a cube of 1 cm, and one of 2


def test_what_lies_beside_is_looked_at_each_time(kept, workshop, done):
    before = costing.cost(workshop, ASKED)
    (workshop / "alloys (1).toml").write_text("")
    (workshop / "products" / "knob.TOML.txt").write_text("")
    told = {warning.place.file for warning in costing.cost(workshop, ASKED).warnings}
    assert told - {warning.place.file for warning in before.warnings} == {"alloys (1).toml", "products/knob.TOML.txt"}
    assert done == ["checked", "resolved"]
    (workshop / "bar.stl").unlink()
    with pytest.raises(Faults, match="there is no file"):
        costing.cost(workshop, ASKED)
    assert done == ["checked", "resolved"]


def put(kind, change):
    """Changes an entry and gives it a right hash, as this user's own programs could."""

    def spoil(entry: Path) -> None:
        inside = json.loads(entry.read_bytes()[64:])
        change(inside)
        remembered.keep(kind, entry.name, json.dumps(inside).encode())

    return spoil


def said(kind, content):
    return lambda entry: remembered.keep(kind, entry.name, content)


SPOILS = {
    "torn": lambda entry: entry.write_bytes(entry.read_bytes()[:-7]),
    "empty": lambda entry: entry.write_bytes(b""),
    "another number": lambda entry: entry.write_bytes(entry.read_bytes().replace(b"0", b"1", 9)),
    "anybody's": lambda entry: entry.chmod(0o666),
    "a folder": lambda entry: (entry.unlink(), entry.mkdir()),
    "a link": lambda entry: (entry.rename(entry.with_name("other")), entry.symlink_to("other")),
}
NONSENSE = (b"7", b"[]", b"{}", b"null", b'{"of": 1}', b"[" * 5000, b'{"of": "\xff"}')


@pytest.mark.parametrize(
    ("kind", "spoil"),
    [
        *((kind, spoil) for kind in ("checked", "resolved") for spoil in SPOILS.values()),
        *((kind, said(kind, content)) for kind in ("checked", "resolved") for content in NONSENSE),
        *(
            ("checked", put("checked", lambda inside, warnings=warnings: inside.update(warnings=warnings)))
            for warnings in (7, [7], [{}], [{"place": {"file": 1, "line": None, "column": None, "text": None}}])
        ),
        *(
            ("resolved", put("resolved", change))
            for change in (
                lambda inside: inside["variants"].pop("lists"),
                lambda inside: inside["variants"].update(columns=[]),
                lambda inside: inside["variants"]["of_parents"]["step"].pop(),
                lambda inside: inside["variants"]["of_parents"].update(step=[-1]),
                lambda inside: inside["variants"]["of_parents"]["step"].__setitem__(0, True),
                lambda inside: inside["variants"]["of_parents"]["step"].__setitem__(0, 10**9),
                lambda inside: inside["variants"]["lists"]["step"].__setitem__(0, [-1]),
                lambda inside: inside["variants"]["columns"].pop("price"),
                lambda inside: inside["variants"]["columns"]["step"].pop("good"),
                lambda inside: inside["variants"]["columns"]["step"].update(better=[]),
                lambda inside: inside["variants"]["columns"]["step"]["good"].pop(),
                lambda inside: inside["variants"]["columns"]["variant"]["sku"].__setitem__(0, 7),
                lambda inside: inside.update(listed=10**9),
                lambda inside: inside.update(listed=True),
                lambda inside: inside.update(alloys=["gone"]),
                lambda inside: inside.update(alloys=7),
                lambda inside: inside.update(measured={"meshes/nothing.stl": [1.0, 2.0]}),
                lambda inside: inside.update(measured={"../../../etc/passwd": [1.0, 2.0]}),
                lambda inside: inside.update(measured=7),
                lambda inside: inside.update(measured={name: [1.0, 1.0] for name in inside["measured"]}),
            )
        ),
    ],
)
def test_an_entry_that_is_not_to_be_believed_is_none(made, kind, spoil, monkeypatch):
    """Torn, anybody's, or nonsense with a right hash: it is worked out anew."""
    kept, workshop, first, entries = made
    monkeypatch.setenv("TROYTAG_CACHE", str(kept))
    monkeypatch.setattr(product_files, "LEAST_REMEMBERED", 0)
    for each, content in entries.items():
        shutil.rmtree(kept / each)
        (kept / each).mkdir(0o700)
        (kept / each / remembered.name_for(workshop)).write_bytes(content)
        (kept / each / remembered.name_for(workshop)).chmod(0o600)
    found: list[str] = []
    rows, faults = rows_remembered.variant_rows, read.sense.faults
    monkeypatch.setattr(rows_remembered, "variant_rows", lambda bench: (found.append("resolved"), rows(bench))[1])
    monkeypatch.setattr(read.sense, "faults", lambda parts: (found.append("checked"), faults(parts))[1])
    spoil(entry_of(kept, kind))
    assert same(costing.cost(workshop, ASKED), first)
    assert found == [kind]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A cache, a workshop, what it comes to without any cache, and the entries that are right."""
    kept, workshop = tmp_path_factory.mktemp("cache"), tmp_path_factory.mktemp("made") / "workshop"
    with_a_mesh(workshop)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TROYTAG_CACHE", str(kept))
        first = costing.cost(workshop, ASKED)
        patch.setattr(product_files, "LEAST_REMEMBERED", 0)
        costing.cost(workshop, ASKED)
    entries = {kind: entry_of(kept, kind).read_bytes() for kind in ("checked", "resolved")}
    return kept, workshop, first, entries


def test_a_cache_that_cannot_be_written_is_no_fault(tmp_path, kept, workshop, monkeypatch):
    first = costing.cost(workshop, ASKED)
    for path in sorted(kept.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    kept.rmdir()
    kept.write_text("not a folder")
    assert same(costing.cost(workshop, ASKED), first)
    kept.unlink()
    monkeypatch.setattr("os.replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    assert same(costing.cost(workshop, ASKED), first)
    monkeypatch.setenv("TROYTAG_CACHE", "off")
    assert same(costing.cost(workshop, ASKED), first)


@pytest.fixture
def sources(tmp_path, monkeypatch):
    """A program of two files, which began a while after they were written."""
    monkeypatch.setattr(remembered, "__file__", str(tmp_path / "remembered.py"))
    monkeypatch.setattr(remembered, "_BEGUN", time.time() + 60)
    (tmp_path / "inner").mkdir()
    for name in ("remembered.py", "inner/two.py"):
        (tmp_path / name).write_text("a = 1")
    return tmp_path


def test_another_content_is_another_program_though_it_looks_nearly_the_same(sources):
    program, inner = remembered.program.__wrapped__, sources / "inner" / "two.py"
    by, marks = program(), inner.stat()
    assert by and len(by) == 64 and by == program()
    (sources / "notes.txt").write_text("no source")
    assert program() == by
    time.sleep(0.02)  # two steps of the clock
    inner.write_text("a = 2")
    os.utime(inner, ns=(marks.st_atime_ns, marks.st_mtime_ns))
    assert len({by, program()}) == 2
    (sources / "inner" / "three.py").write_text("")
    inner.rename(sources / "two.py")
    assert len({by, program()}) == 2


def test_sources_that_are_newer_than_the_program_are_another_program(sources, monkeypatch):
    program = remembered.program.__wrapped__
    written = (sources / "inner" / "two.py").stat().st_ctime
    for begun, is_told in ((written + 1, True), (written + remembered.SETTLES_AFTER / 2, False), (written - 1, False)):
        monkeypatch.setattr(remembered, "_BEGUN", begun)
        assert (program() is not None) == is_told
    monkeypatch.setattr(remembered, "__file__", str(sources / "nowhere" / "remembered.py"))
    assert program() is None
