"""A folder read with the memory of the reading before is the folder as it is read anew, whatever was edited between.

`python -m tests.folder.edited` compares as many edits as wanted.
"""

from __future__ import annotations

import os
import random
import shutil
from datetime import date
from pathlib import Path

import pytest

from pricing.costing import Asked, cost_folder
from pricing.errors import Faults
from pricing.folder import kept
from pricing.folder.gathered import Documents
from pricing.folder.kept import Kept, marks_of
from pricing.folder.memory import Memory
from pricing.folder.read import read_folder
from pricing.resources import sample_catalog
from tests.folder.edited import Edited, compare, of_drawn

ASKED = Asked(date(2026, 11, 20))


@pytest.mark.parametrize("number", range(5))
def test_edits_of_drawn_workshops(number: int) -> None:
    assert len(list(of_drawn(5, number, 9))) == 9


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Edited:
    """The sample, read once with a memory; each test leaves it as it was."""
    root = tmp_path_factory.mktemp("memory") / "sample"
    shutil.copytree(sample_catalog(), root)
    edited = Edited(root, random.Random(1), ASKED)
    assert compare(edited)
    return edited


def test_what_has_not_changed_is_the_very_same(sample: Edited) -> None:
    before = sample.memory.figures
    path = sample.root / "products" / "acorn-knob.toml"
    text = path.read_text(encoding="utf-8")
    sample.put(path, text.replace("expected_sales", "# read anew\nexpected_sales", 1).encode())
    assert compare(sample)
    rows = zip(before.resolved.all_variants, sample.memory.figures.resolved.all_variants, strict=True)
    anew = {new.sku for old, new in rows if new is not old}
    assert "acorn-knob" in anew
    assert anew < {row.sku for row in before.resolved.all_variants}
    sample.put(path, text.encode())
    assert compare(sample)


def test_a_mesh_that_changes_or_goes(sample: Edited) -> None:
    mesh, *others = sorted((sample.root / "meshes").glob("*.stl"))
    content, other = mesh.read_bytes(), others[0].read_bytes()
    volume = sample.memory.figures.resolved.all_variants
    sample.put(mesh, other)
    assert compare(sample)
    assert sample.memory.figures.resolved.all_variants != volume
    mesh.unlink()
    assert not compare(sample)
    sample.put(mesh, b"solid nothing\nendsolid nothing\n")
    assert not compare(sample)
    sample.put(mesh, content)
    assert compare(sample)


def test_a_file_is_not_opened_while_its_marks_stand(sample: Edited, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "SETTLES_AFTER_NS", -(10**12))
    memory = Memory()
    read_folder(sample.root, memory=memory)
    opened: list[str] = []
    monkeypatch.setattr("pricing.folder.read.read_content", lambda root, file: opened.append(file) or b"")
    with pytest.raises(Faults):
        path = sample.root / "products" / "thimble.toml"
        content = path.read_bytes()
        sample.put(path, content + b"\n")
        read_folder(sample.root, memory=memory)
    assert opened == ["products/thimble.toml"]
    sample.put(path, content)


def test_a_file_that_was_written_just_now_or_is_a_link_has_no_marks(tmp_path: Path) -> None:
    path = tmp_path / "here"
    path.write_text("1")
    os.utime(path, (1, 1))  # it looks old, but was touched just now
    (tmp_path / "link").symlink_to(path)
    assert marks_of(path) is None
    assert marks_of(tmp_path / "link") is None
    assert marks_of(tmp_path / "nowhere") is None


def test_a_name_is_plain_only_where_its_file_lies_in_the_folder(tmp_path: Path) -> None:
    root, outside = tmp_path / "here", tmp_path / "outside"
    for folder in (root / "meshes", outside):
        folder.mkdir(parents=True)
        (folder / "knob.stl").write_text("solid")
    (root / "away").symlink_to(outside)
    (root / "link.stl").symlink_to(outside / "knob.stl")
    documents = Documents(root)
    assert documents.is_plainly_there("meshes/knob.stl")
    for name in ("away/knob.stl", "link.stl", "meshes", "../outside/knob.stl", "meshes//knob.stl", "./meshes/knob.stl",
                 "meshes\\knob.stl", str(root / "meshes/knob.stl"), "meshes/none.stl", ""):  # fmt: skip
        assert not documents.is_plainly_there(name), name


def test_what_nobody_asks_for_is_forgotten() -> None:
    values: Kept[str, int] = Kept()
    values.put("asked", 1)
    values.put("left", 2)
    values.turn()
    assert values.get("asked") == 1
    values.turn()
    assert (values.get("asked"), values.get("left")) == (1, None)


def test_memory_serves_another_day_and_a_run(sample: Edited) -> None:
    """What is asked does not hang on the memory: a year before, the same metal cost less, as it does without."""
    for asked in (Asked(date(2026, 3, 1)), Asked(date(2026, 11, 20), 12.0, True), ASKED):
        folder = read_folder(sample.root, memory=sample.memory)
        by_memory = cost_folder(folder, asked, memory=sample.memory)
        anew = cost_folder(read_folder(sample.root), asked)
        assert repr(by_memory.computed.resolved) == repr(anew.computed.resolved)
        assert by_memory.computed["price"].tobytes() == anew.computed["price"].tobytes()
