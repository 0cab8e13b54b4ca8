"""Whatever happens to a published edition is seen, and told with its place."""

from __future__ import annotations

import json
from datetime import date

import pytest

from pricing.editions.chain import in_force_on, newest, numbers, read
from pricing.errors import Faults, UsageFault
from pricing.kept.canonical import canonical, digest
from tests.editions.small_editions import path_of, told

DAYS = ("2026-11-01", "2026-11-10", "2026-11-10", "2026-11-20")  # two of one day


def test_a_sound_chain_has_no_faults_and_no_editions_is_sound(chain, tmp_path_factory):
    empty = tmp_path_factory.mktemp("empty")
    assert told(chain) == told(empty) == []
    assert (newest(empty), numbers(empty), in_force_on(empty, date(2026, 1, 1))) == (None, [], None)


@pytest.mark.parametrize(
    ("day", "number"),
    [
        ("2026-10-31", None),
        ("2026-11-01", 1),
        ("2026-11-09", 1),
        ("2026-11-10", 3),
        ("2026-11-19", 3),
        ("2030-01-01", 4),
    ],
)
def test_on_a_day_the_last_edition_of_that_day_or_before_is_in_force(chain, day, number):
    found = in_force_on(chain, date.fromisoformat(day))
    assert (found.number if found else None) == number


def test_every_byte_that_is_changed_is_seen(chain):
    """Each byte of an edition, one after the other, replaced by another one."""
    path = path_of(chain, 2)
    whole = path.read_bytes()
    for place in range(len(whole)):
        other = b"7" if whole[place : place + 1] != b"7" else b"3"
        path.write_bytes(whole[:place] + other + whole[place + 1 :])
        assert told(chain), place
    path.write_bytes(whole)
    assert told(chain) == []


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9])
def test_a_torn_edition_is_told(chain, share):
    path = path_of(chain, 4)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    assert told(chain) == ["editions/000004.json: this edition is torn or is none"]
    with pytest.raises(Faults, match="Put the file back from a backup"):
        newest(chain)


def test_an_edition_that_was_changed_and_hashed_anew_does_not_fit_the_next(chain):
    path = path_of(chain, 2)
    said = json.loads(path.read_bytes())["edition"]
    said["prices"]["lines"][0][3] = 1.0  # after its sku, its alloy and its channel
    path.write_bytes(canonical({"edition": said, "sha256": digest(said)}))
    assert told(chain) == ["editions/000003.json: it does not follow on edition 2 as that one stands now"]


def test_a_first_edition_that_follows_on_something_is_told(chain):
    path = path_of(chain, 1)
    said = json.loads(path.read_bytes())["edition"] | {"previous": "0" * 64}
    path.write_bytes(canonical({"edition": said, "sha256": digest(said)}))
    assert "editions/000001.json: it does not follow on edition 0 as that one stands now" in told(chain)


def test_an_edition_under_another_number_is_told(chain):
    path_of(chain, 4).rename(path_of(chain, 5))
    assert told(chain) == [
        "editions: edition 4 is missing",
        "editions/000005.json: this edition is not as it was published",
    ]


def test_missing_editions_are_told_together(chain):
    path_of(chain, 2).unlink()
    path_of(chain, 3).unlink()
    assert told(chain) == ["editions: editions 2 to 3 are missing"]


def test_a_copy_that_a_synced_drive_made_is_told(chain):
    (chain / "editions" / "000002 (copy).json").write_bytes(path_of(chain, 2).read_bytes())
    (chain / "editions" / "notes.txt").write_text("no edition, and none of ours")
    assert told(chain) == ["editions/000002 (copy).json: this is edition 2 once more, the same in every byte"]


def test_a_file_in_place_of_the_folder_is_told(tmp_path):
    (tmp_path / "editions").write_text("")
    assert told(tmp_path) == ["editions: a folder belongs here"]


def test_a_form_of_the_future_is_told(chain):
    path = path_of(chain, 4)
    said = json.loads(path.read_bytes())["edition"] | {"form": 3}
    path.write_bytes(canonical({"edition": said, "sha256": digest(said)}))
    assert told(chain) == ["editions/000004.json: it is of form 3, and this program reads 1 to 2"]


def test_an_edition_that_is_not_there_is_told_with_those_that_are(chain):
    with pytest.raises(UsageFault, match="there is no edition 7. (Known|Did)"):
        read(chain, 7)
    assert read(chain, 3).as_of == date(2026, 11, 10)
