"""What was measured is remembered by content; nothing about it may fail a command."""

import json
import os
from pathlib import Path

import pytest

from pricing import remembered
from pricing.meshes import cache, measure, measuring, volume_and_area
from tests.meshes.boxes import box, stl


@pytest.fixture
def kept(tmp_path, monkeypatch):
    """The folder where figures are kept in this test."""
    monkeypatch.setenv("TROYTAG_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache" / "meshes"


@pytest.fixture
def worked_out(monkeypatch):
    """The names of the files that were really worked out, in order."""
    names = []
    really = measuring.work_out

    def counted(source, *others):
        names.append(os.path.basename(source.file))
        return really(source, *others)

    monkeypatch.setattr(measuring, "work_out", counted)
    return names


@pytest.fixture
def workshop(tmp_path):
    folder = tmp_path / "workshop"
    folder.mkdir()
    return folder


def test_an_unchanged_mesh_is_not_worked_out_again(kept, worked_out, workshop):
    path = stl(workshop, box(10))
    first = measure(path)
    path.touch()
    assert measure(path) == first
    assert worked_out == ["piece.stl"]
    assert [entry.name for entry in workshop.iterdir()] == ["piece.stl"]


def test_neither_is_a_copy_by_another_name(kept, worked_out, workshop):
    measured = measure(stl(workshop, box(10)))
    copy = stl(workshop, box(10), name="copy.stl")
    again = measure(copy)
    assert worked_out == ["piece.stl"]
    assert (again.file, again.volume_cm3) == (str(copy), measured.volume_cm3)


def test_a_changed_mesh_another_unit_and_a_closer_look_are(kept, worked_out, workshop):
    path = stl(workshop, box(10))
    assert volume_and_area(path).volume_cm3 == pytest.approx(1)
    assert volume_and_area(path, "cm").volume_cm3 == pytest.approx(1000)
    measure(path)
    assert len(worked_out) == 3
    path = stl(workshop, box(20))
    assert volume_and_area(path).volume_cm3 == pytest.approx(8)
    assert len(worked_out) == 4


def test_a_closer_look_serves_where_less_is_asked(kept, worked_out, workshop):
    path = stl(workshop, box(10), box(10, at=(5, 0, 0)))
    measure(path)
    assert not measure(path, thorough=False).priceable
    assert len(worked_out) == 1


def test_everything_comes_back(kept, worked_out, workshop):
    """Faults, grave ones, remarks and tuples too."""
    path = stl(workshop, box(1)[2:])
    first = measure(path)
    assert first.faults and first.grave and first.remarks
    assert measure(path) == first
    assert len(worked_out) == 1


def test_another_version_of_the_method_starts_afresh(kept, worked_out, workshop, monkeypatch):
    path = stl(workshop, box(10))
    measure(path)
    monkeypatch.setattr(cache, "METHOD", cache.METHOD + 1)
    measure(path)
    assert len(worked_out) == 2


def cut(text):
    return text[: len(text) // 2]


def edited(text):
    entry = json.loads(text[64:])  # behind its hash
    entry["volume_cm3"] = 99.0
    return text[:64] + json.dumps(entry)


def without_a_field(text):
    entry = json.loads(text[64:])
    del entry["volume_cm3"]
    return text[:64] + json.dumps(entry)


@pytest.mark.parametrize(
    "damage",
    [
        cut,
        edited,
        without_a_field,
        lambda text: "",
        lambda text: "[]",
        lambda text: "\x00\xff",
        lambda text: "[" * 9999,
    ],
)
def test_a_damaged_entry_is_ignored_and_replaced(kept, worked_out, workshop, damage):
    path = stl(workshop, box(10))
    first = measure(path)
    (entry,) = kept.iterdir()
    entry.write_text(damage(entry.read_text()), encoding="latin-1")
    assert measure(path) == first
    assert measure(path) == first
    assert len(worked_out) == 2


def test_an_entry_under_another_name_is_not_believed(kept, worked_out, workshop):
    measure(stl(workshop, box(10)))
    (entry,) = kept.iterdir()
    whole = entry.read_bytes()
    entry.unlink()
    measured = measure(stl(workshop, box(20), name="other.stl"))
    (entry,) = kept.iterdir()
    entry.write_bytes(whole)
    assert measure(workshop / "other.stl") == measured
    assert len(worked_out) == 3


def test_a_folder_that_cannot_be_made_is_no_fault(tmp_path, monkeypatch, workshop):
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a folder")
    monkeypatch.setenv("TROYTAG_CACHE", str(in_the_way))
    assert measure(stl(workshop, box(10))).sound
    assert in_the_way.read_text() == "not a folder"


def test_a_full_disk_is_no_fault_and_leaves_nothing(kept, workshop, monkeypatch):
    def full(*_paths):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    assert measure(stl(workshop, box(10))).sound
    assert list(kept.iterdir()) == []


def test_no_home_is_no_fault(workshop, monkeypatch):
    """The user's cache folder is then a relative path: nothing is kept, least of all in the folder at hand."""
    monkeypatch.delenv("TROYTAG_CACHE")
    monkeypatch.setattr("platformdirs.user_cache_path", lambda name, appauthor: Path("~") / ".cache" / name)
    monkeypatch.chdir(workshop)
    assert measure(stl(workshop, box(10))).sound
    assert [entry.name for entry in workshop.iterdir()] == ["piece.stl"]


def test_it_lies_in_the_users_cache_folder_by_default(tmp_path, monkeypatch):
    monkeypatch.delenv("TROYTAG_CACHE")
    monkeypatch.setattr("platformdirs.user_cache_path", lambda name, appauthor: tmp_path / name)
    assert remembered.cache_folder("meshes") == tmp_path / "troytag" / "meshes"


def test_off_keeps_nothing(worked_out, workshop):
    path = stl(workshop, box(10))
    measure(path)
    measure(path)
    assert len(worked_out) == 2
