"""Editions that are lost, put in the place of others or brought by a synced drive: every reader tells."""

from __future__ import annotations

import json
import os
import shutil
from datetime import date, timedelta

import pytest

from pricing.editions.chain import chain_faults, in_force_on, look_over, newest, numbers, read
from pricing.editions.publishing import next_number, publish
from pricing.errors import Faults, TroytagError
from pricing.kept.canonical import canonical, digest
from pricing.safe_files import machine
from tests.editions.small_editions import content, path_of, told

DAYS = ("2026-11-01", "2026-11-10", "2026-11-15", "2026-11-20")


def head_of(root) -> tuple[int, str]:
    said = json.loads((root / "editions" / "HEAD").read_bytes())
    return said["number"], said["sha256"]


def forge(root, number: int, **said) -> None:
    """An edition changed by hand and hashed anew by somebody who knows how."""
    whole = json.loads(path_of(root, number).read_bytes())["edition"] | said
    path_of(root, number).write_bytes(canonical({"edition": whole, "sha256": digest(whole)}))


# ---- HEAD


def test_head_names_the_newest(chain):
    assert head_of(chain) == (4, newest(chain).sha256)


def test_a_lost_newest_edition_is_told_and_its_number_is_not_used_again(chain):
    path_of(chain, 4).unlink()
    assert told(chain) == ["editions: edition 4 is missing, and HEAD names 4 as the newest"]
    with pytest.raises(Faults, match="edition 4 is missing"):
        newest(chain)
    before = newest(chain, over_gap=True)
    assert before.number == 3
    with pytest.raises(TroytagError, match="another 000004.json was published meanwhile"):
        publish(chain, content("2026-11-25"), before)
    assert next_number(chain, before, over_gap=True) == 5
    assert publish(chain, content("2026-11-25"), before, over_gap=True).number == 5
    assert numbers(chain) == [1, 2, 3, 5] and head_of(chain)[0] == 5


def test_a_newest_edition_that_was_changed_and_hashed_anew_is_told(chain):
    forge(chain, 4, workshop="Another")
    assert told(chain) == [
        "editions/000004.json: it is not the edition 4 that was published last on the machine that wrote HEAD"
    ]
    with pytest.raises(Faults, match="not the edition 4 that was published"):
        newest(chain)


def test_head_that_is_behind_is_fine_and_mended(chain):
    """A process that is killed between the edition and HEAD leaves it one behind."""
    behind = {"number": 3, "sha256": read(chain, 3).sha256}
    (chain / "editions" / "HEAD").write_bytes(canonical(behind))
    assert told(chain) == []
    assert newest(chain).number == 4
    assert head_of(chain) == (4, read(chain, 4).sha256)


def test_head_that_is_behind_a_newest_one_that_does_not_follow_is_not_mended(chain):
    behind = {"number": 3, "sha256": read(chain, 3).sha256}
    (chain / "editions" / "HEAD").write_bytes(canonical(behind))
    forge(chain, 4, previous="0" * 64)
    assert told(chain) == ["editions/000004.json: it does not follow on edition 3 as that one stands now"]
    with pytest.raises(Faults):
        newest(chain)
    assert head_of(chain)[0] == 3


def test_a_folder_of_an_earlier_release_has_no_head_and_reads_as_it_is(chain):
    (chain / "editions" / "HEAD").unlink()
    assert told(chain) == [] and newest(chain).number == 4
    assert not (chain / "editions" / "HEAD").exists()
    publish(chain, content("2026-11-21"), newest(chain))
    assert head_of(chain)[0] == 5


@pytest.mark.parametrize(
    "said", [b"", b"{", b"[" * 2000, b'{"number": "4"}', b'{"number": 9999999999, "sha256": ""}', b"\xff", b"3"]
)
def test_a_torn_head_is_told(chain, said):
    (chain / "editions" / "HEAD").write_bytes(said)
    assert told(chain) == ["editions/HEAD: this file is torn; it names the newest edition"]


# ---- gaps


def test_over_a_gap_nothing_is_published_unasked(chain):
    path_of(chain, 2).unlink()
    with pytest.raises(TroytagError, match="edition 2 is missing.*\n.*add --over-gap"):
        publish(chain, content("2026-11-25"), newest(chain))
    assert numbers(chain) == [1, 3, 4]
    assert publish(chain, content("2026-11-25"), newest(chain), over_gap=True).number == 5


def test_what_was_published_over_a_gap_is_noted_and_no_fault(chain):
    path_of(chain, 4).unlink()
    publish(chain, content("2026-11-25"), newest(chain, over_gap=True), over_gap=True)
    assert told(chain) == []
    assert [note.fault.problem for note in look_over(chain).notes] == [
        "edition 4 is missing; 5 was published over the gap"
    ]
    publish(chain, content("2026-11-26"), newest(chain))  # without a flag: it was said once
    assert numbers(chain) == [1, 2, 3, 5, 6]


@pytest.mark.parametrize("lost", [1, 2, 3, 4])
def test_what_was_in_force_is_told_only_where_no_lost_edition_can_have_been(chain, lost):
    """Edition `lost` of DAYS is gone: no day from its own to the next one's may be answered by the one before it."""
    days = [date.fromisoformat(day) for day in DAYS]
    path_of(chain, lost).unlink()
    day = days[0] - timedelta(days=1)
    while day <= days[-1] + timedelta(days=3):
        right = sum(each <= day for each in days)  # the number of the last edition of that day or before
        before = max((number for number in range(1, right + 1) if number != lost), default=0)
        after = next((number for number in range(right + 1, 5) if number != lost), 5)
        can_be_lost = before < lost < after
        try:
            found = in_force_on(chain, day)
        except Faults as told:
            assert can_be_lost and f"edition {lost} is missing" in str(told)
        else:
            assert not can_be_lost and (found.number if found else 0) == right
        day += timedelta(days=1)


def test_what_was_in_force_is_not_told_from_an_edition_that_is_not_the_one_that_was_published(chain):
    forge(chain, 2, workshop="Another")
    with pytest.raises(Faults, match="does not follow on edition 2"):
        in_force_on(chain, date(2026, 11, 12))
    assert in_force_on(chain, date(2026, 11, 5)).number == 1
    assert in_force_on(chain, date(2026, 11, 16)).number == 3


# ---- what a synced drive brings


@pytest.mark.parametrize(
    "name",
    [
        "000004 (conflicted copy).json",
        "000004 (Maker's conflicted copy 2026-11-26).json",
        "000004.sync-conflict-20261126-101500-ABCDEFG.json",
        "000004 2.json",
        "000004-workshop-pc.json",
        "000004.json.orig",
    ],
)
def test_two_machines_that_published_the_same_number_are_told_and_nothing_is_lost(chain, name, tmp_path_factory):
    """Both went on from edition 3 while they were apart; the drive keeps one under the name, one beside."""
    other = shutil.copytree(chain, tmp_path_factory.mktemp("other") / "workshop")
    path_of(other, 4).unlink()
    (other / "editions" / "HEAD").unlink()
    theirs = publish(other, content("2026-11-20", "of the other machine"), read(other, 3))
    (chain / "editions" / name).write_bytes(path_of(other, 4).read_bytes())
    assert told(chain) == [
        f"editions/{name}: two machines have published an edition 4: this one, of 2026-11-20, is not the one that "
        "stands"
    ]
    with pytest.raises(TroytagError, match="two machines have published an edition 4"):
        publish(chain, content("2026-11-26"), read(chain, 4))
    assert json.loads((chain / "editions" / name).read_bytes())["sha256"] == theirs.sha256
    (chain / "editions" / name).rename(chain / name)  # as the mend says
    assert told(chain) == []


def test_the_drive_keeps_the_other_machines_edition_and_our_head(chain, tmp_path_factory):
    other = shutil.copytree(chain, tmp_path_factory.mktemp("other") / "workshop")
    path_of(other, 4).unlink()
    (other / "editions" / "HEAD").unlink()
    publish(other, content("2026-11-20", "of the other machine"), read(other, 3))
    ours = path_of(chain, 4).read_bytes()
    (chain / "editions" / "000004 (conflicted copy).json").write_bytes(ours)
    path_of(chain, 4).write_bytes(path_of(other, 4).read_bytes())
    assert len(told(chain)) == 2
    with pytest.raises(Faults, match="not the edition 4 that was published last on the machine that wrote HEAD"):
        newest(chain)
    (chain / "editions" / "HEAD (conflicted copy)").write_bytes((other / "editions" / "HEAD").read_bytes())
    assert "editions/HEAD (conflicted copy): this is a copy of HEAD from another machine" in told(chain)


def test_an_edition_that_only_stands_under_another_name_is_told_with_its_number(chain):
    path_of(chain, 4).rename(chain / "editions" / "000004 (conflicted copy).json")
    assert "editions/000004 (conflicted copy).json: this is edition 4 under another name" in told(chain)


# ---- editions that no program of ours has written


DEEP = b'{\n "edition": {\n  "as_of": "2026-11-01",\n  "deep": ' + b"[" * 100_000 + b"]" * 100_000


def test_a_deep_edition_is_told(chain):
    inside = DEEP[len(b'{\n "edition": ') :] + b',\n  "form": 1,\n  "number": 1,\n  "previous": null\n }'
    from hashlib import sha256

    said = sha256(inside.replace(b"\n ", b"\n") + b"\n").hexdigest().encode()
    path_of(chain, 1).write_bytes(b'{\n "edition": ' + inside + b',\n "sha256": "' + said + b'"\n}\n')
    assert any("nested more deeply than any edition" in each for each in told(chain))
    with pytest.raises(Faults, match="nested more deeply"):
        read(chain, 1)


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ({"prices": 7}, "prices"),
        ({"prices": [{"sku": "a"}]}, r"prices\[0\].alloy"),
        ({"prices": [7]}, r"prices\[0\]"),
        ({"currency": None}, "currency"),
        ({"variants": [{"sku": "a", "alloy": "b", "unit_cost": "dear", "prices": {}}]}, r"variants\[0\].unit_cost"),
        ({"quotes": [{"date": 20261101}]}, r"quotes\[0\].date"),
        ({"formulas": {"a": 1}}, "formulas"),
        ({"inputs": []}, "inputs"),
    ],
)
def test_an_edition_of_another_form_is_told_with_the_place(chain, said, key):
    """Of the first form, which has all in words."""
    forge(chain, 4, **{**content("2026-11-20"), "form": 1, **said})
    (chain / "editions" / "HEAD").unlink()  # else that tells already
    with pytest.raises(Faults, match=f"000004.json {key}: its hash is right, and no program of ours has written this"):
        newest(chain)
    assert len(chain_faults(chain)) == 1


# ---- a drive without hard links


def test_without_hard_links_it_is_published_all_the_same_and_told(tmp_path, monkeypatch):
    def no_links(*_):
        raise OSError(1, os.strerror(1))

    monkeypatch.setattr(os, "link", no_links)
    first = publish(tmp_path, content(), None)
    (note,) = first.notes
    assert note.startswith(
        "this drive cannot link files, so edition 1 was put in place under a lock file and read back"
    )
    with pytest.raises(TroytagError, match="another 000001.json was published meanwhile"):
        publish(tmp_path, content(note="second thought"), None)
    assert publish(tmp_path, content("2026-11-21"), first).number == 2
    assert sorted(path.name for path in (tmp_path / "editions").iterdir()) == ["000001.json", "000002.json", "HEAD"]
    assert told(tmp_path) == []


def test_the_lock_of_a_living_process_is_respected(tmp_path, monkeypatch):
    def no_links(*_):
        raise OSError(1, os.strerror(1))

    monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr("pricing.safe_files._PATIENCE", 0.05)
    (tmp_path / "editions").mkdir()
    (tmp_path / "editions" / ".000001.json.placing").write_text(f"{machine()}-{os.getpid()}")
    with pytest.raises(TroytagError, match="edition 1 could not be written .*stands in the way"):
        publish(tmp_path, content(), None)
    assert numbers(tmp_path) == []
