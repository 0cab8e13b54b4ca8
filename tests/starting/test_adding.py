"""One more thing for a folder that stands: nothing that was written is lost, and all of it comes or nothing."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from pricing.costing import asked_for, cost
from pricing.errors import Faults, UsageFault
from pricing.folder.read import read_folder
from pricing.starting import start_folder
from pricing.starting.adding import Adding, add, known_what, put
from pricing.starting.answers import answered, read_answers
from pricing.starting.in_words import usual

DAY = date(2026, 11, 20)
MINE = "\n# my own remark, behind everything"


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    """The silversmith's folder, with a remark of the maker's in every file."""
    root = tmp_path_factory.mktemp("adding") / "silver"
    start_folder(root, read_answers(Path(__file__).parent / "answers" / "silversmith.toml"), DAY)
    for file in root.glob("*.toml"):
        file.write_text(file.read_text(encoding="utf-8") + MINE, encoding="utf-8")  # without an end of its line
    return root


@pytest.fixture
def silver(begun, tmp_path):
    return shutil.copytree(begun, tmp_path / "silver")


def bytes_of(root: Path) -> dict[str, bytes]:
    return {path.relative_to(root).as_posix(): path.read_bytes() for path in root.rglob("*") if path.is_file()}


def test_an_alloy_comes_with_its_price_and_its_doubts(silver):
    before = bytes_of(silver)
    added = add(silver, "alloy", {"metals": ["gold-9ct-yellow"], "price-Au": 2500}, DAY)
    assert added.files == ("alloys.toml", "metal_prices.csv", "doubts.toml")
    after = bytes_of(silver)
    for file in added.files:
        assert after[file].startswith(before[file].rstrip(b"\n")), file  # all that stood there stands there still
    assert {file for file in after if after[file] != before.get(file)} == set(added.files)
    folder = read_folder(silver)
    assert not folder.warnings
    assert folder.stated.doubts["alloys.gold-9ct-yellow.premium"].high == 0.1
    quotes = {quote.metal: quote for quote in folder.stated.quotes}
    assert (quotes["Au"].price, quotes["Au"].source) == (2500, "as told")
    assert len([quote for quote in folder.stated.quotes if quote.metal == "Ag"]) == 1  # silver has a price already


def test_a_silver_comes_into_the_lists_of_its_assay(silver):
    add(silver, "alloy", {"metals": ["britannia-silver"]}, DAY)
    steps = read_folder(silver).stated.processes["castings-bought"]
    lists = {step.name: step.alloys for step in steps if step.alloys}
    assert lists == dict.fromkeys(
        ("hallmark, silver", "assay parcel, silver"), ("sterling", "fine-silver", "britannia-silver")
    )


def test_a_process_comes_with_what_the_workshop_lacks(silver):
    add(silver, "process", {"ways": ["carved-and-cast"], "machines": {"kiln": 800, "melting-furnace": None}}, DAY)
    workshop = read_folder(silver).stated.workshop
    assert workshop.machines["kiln"].purchase == 800
    assert set(workshop.machines) == {"tumbler", "polishing-motor", "kiln", "melting-furnace"}
    assert {"carving-wax", "investment", "crucible"} <= set(workshop.materials)
    assert list(workshop.flasks) == ["medium"]


def test_a_channel_abroad_comes_with_its_rate(silver):
    add(silver, "channel", {"channels": ["abroad"], "abroad": "EUR", "rate": 0.87}, DAY)
    folder = read_folder(silver)
    assert folder.stated.channels["abroad"].currency == "EUR"
    assert [(quote.price, quote.per) for quote in folder.stated.quotes if quote.metal == "EUR"] == [(0.87, "unit")]
    assert not Adding(folder, "channel").asking({"channels": ("abroad",), "abroad": "EUR"})[2:]  # it is asked once


def test_a_product_is_costed_at_once(silver):
    typed = {"piece": "Stud", "piece-way": "sheet-and-wire", "metals": ["sterling"], "piece-metal": 2}
    assert add(silver, "product", typed, DAY).files == ("products/stud.toml", "doubts.toml")
    costing = cost(silver, asked_for(DAY))
    assert not costing.warnings
    row = next(row for row, each in enumerate(costing.computed.resolved.variants) if each.sku == "stud")
    assert costing.computed["finished_g"][row] == pytest.approx(2)  # the piece was weighed finished


def test_by_the_surface_where_a_step_goes_by_it(silver):
    """A guess of 9 × V^(2/3): 10.36 g of sterling are 1 cm3 and lose some in finishing."""
    file = silver / "processes.toml"
    text = file.read_text(encoding="utf-8").replace(
        'uses = [{ material = "saw-blades", quantity = 0.7 }]', 'uses = [{ material = "saw-blades", per_cm2 = 0.1 }]'
    )
    text = "\n".join(line.split("#")[0].rstrip() if "saw-blades" in line else line for line in text.split("\n"))
    file.write_text(text, encoding="utf-8")
    doubts = silver / "doubts.toml"
    kept = [line for line in doubts.read_text(encoding="utf-8").split("\n") if "uses.saw-blades" not in line]
    doubts.write_text("\n".join(kept), encoding="utf-8")
    typed = {"piece": "Disc", "piece-way": "sheet-and-wire", "metals": ["sterling"], "piece-metal": 10.36}
    add(silver, "product", typed, DAY)
    (casting,) = read_folder(silver).stated.products["disc"].castings
    assert casting.area_cm2 == 9


@pytest.mark.parametrize(
    ("what", "typed", "called", "said"),
    [
        ("alloy", {"metals": ["sterling"]}, None, 'alloys.toml has "sterling" already, and nothing was changed'),
        ("alloy", {"metals": ["copper", "sterling"]}, None, 'alloys.toml has "sterling" already'),
        ("alloy", {"metals": ["sterlin"]}, None, 'there is no "sterlin" here. Did you mean "sterling"?'),
        ("alloy", {"metals": ["copper"]}, "sterling", 'alloys.toml has "sterling" already'),
        ("alloy", {"metals": ["copper"]}, "my copper", "--as gives one thing a name of lower-case letters"),
        ("product", {"piece": "Disc"}, "disc-two", "--as names alloys, processes and channels."),
        ("process", {"ways": ["sheet-and-wire"]}, None, 'processes.toml has "sheet-and-wire" already'),
        ("channel", {"channels": ["shop"]}, None, 'channels.toml has "shop" already'),
        ("product", {"piece": "Plain band ring"}, None, 'products/plain-band-ring.toml has "plain-band-ring" already'),
    ],
)
def test_what_is_refused_changes_nothing(silver, what, typed, called, said):
    before = bytes_of(silver)
    with pytest.raises(UsageFault) as told:
        add(silver, what, typed, DAY, called)
    assert str(told.value).startswith(said)
    assert bytes_of(silver) == before


def test_the_library_s_own_under_another_name(silver):
    add(silver, "alloy", {"metals": ["sterling"]}, DAY, "sterling-recycled")
    folder = read_folder(silver)
    assert folder.stated.alloys["sterling-recycled"].density == 10.36
    assert "alloys.sterling-recycled.premium" in folder.stated.doubts


def test_a_file_that_cannot_be_added_to_is_told_and_nothing_is_written(silver):
    """A table in braces takes no further header: TOML says it stands there already."""
    file = silver / "channels.toml"
    file.write_text('channels = { shop = { audience = "retail", policy = { margin = 0.3 } } }\n', encoding="utf-8")
    (silver / "doubts.toml").unlink()
    before = bytes_of(silver)
    with pytest.raises(Faults, match=r"channels\.toml"):
        add(silver, "channel", {"channels": ["stall"]}, DAY)
    assert bytes_of(silver) == before


def test_a_disk_that_is_full_undoes_all_of_it(silver, monkeypatch):
    before, written = bytes_of(silver), []

    def full(handle):
        written.append(handle)
        if len(written) == 2:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(Faults, match="No space left"):
        add(silver, "alloy", {"metals": ["copper"]}, DAY)
    monkeypatch.undo()
    read_folder(silver)
    assert bytes_of(silver) == before


def test_line_ends_stay_those_of_the_file(silver):
    file = silver / "alloys.toml"
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    add(silver, "alloy", {"metals": ["copper"]}, DAY)
    content = file.read_bytes()
    assert content.count(b"\n") == content.count(b"\r\n") and b"[alloys.copper]" in content


def test_what_is_asked_for_one_more(silver):
    folder = read_folder(silver)
    alloy = Adding(folder, "alloy")
    asked = answered({}, alloy.asking).asked
    assert [each.key for each in asked] == ["metals", "price-brass-grain"]  # the first that is not there yet
    assert dict(asked[0].choices)["sterling"] == "Sterling silver (there already)"
    keys = [each.key for each in answered({"ways": ["printed-and-cast"]}, Adding(folder, "process").asking).asked]
    assert keys == ["ways", "assay", "flask", "machines"]
    (ways, *_) = answered({}, Adding(folder, "process").asking).asked
    assert dict(ways.choices)["sheet-and-wire"] == "Sheet and wire (there already)"
    keys = [each.key for each in answered({}, Adding(folder, "product").asking).asked]
    (piece, *more) = answered({}, Adding(folder, "product").asking).asked
    assert piece.guess == f"Piece {len(folder.stated.products) + 1}"  # the first has its name
    assert {each.part for each in (piece, *more)} == {"The piece"}
    assert keys[:3] == ["piece", "metals", "piece-way"] and "finishing" in keys and "piece-area" not in keys


def test_the_usual_is_told_in_the_folder_s_own_money(tmp_path):
    start_folder(tmp_path / "tide", answered({"currency": "NOK", "metals": ["pewter"]}), DAY)
    folder = read_folder(tmp_path / "tide")
    product, alloy = Adding(folder, "product"), Adding(folder, "alloy")
    asked = {each.key: each for each in answered({}, product.asking).asked}
    # a crown is written 13.5 times as often as a pound: 0.10 to 15 pounds are 1.35 to 202.5, to two figures
    assert usual(asked["parts"], product.library({})) == "1.40 to 200 NOK"
    silver = next(each for each in answered({"metals": ["sterling"]}, alloy.asking).asked if each.key == "price-Ag")
    assert usual(silver, alloy.library({})) == "300 to 610 NOK per ozt"  # 22 to 45 pounds


def test_ways_are_told_in_words_and_others_by_their_name(silver):
    file = silver / "processes.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(f'{text}\n[[processes.mine]]\nname = "cut"\nper = "piece"\ntakes_metal = "cut"\n', encoding="utf-8")
    asked = {each.key: each for each in answered({}, Adding(read_folder(silver), "product").asking).asked}
    ways = dict(asked["piece-way"].choices)
    assert ways["sheet-and-wire"].startswith("Sheet and wire: ") and ways["mine"] == "mine"


def test_what_others_added_meanwhile_stays(silver):
    ours = Adding(read_folder(silver), "channel")
    found = answered({"channels": ["trade"]}, ours.asking)
    add(silver, "alloy", {"metals": ["copper"]}, DAY)
    put(ours.again(), found, DAY)
    stated = read_folder(silver).stated
    assert "trade" in stated.channels and "copper" in stated.alloys
    with pytest.raises(UsageFault, match='channels.toml has "trade" already, and nothing was changed'):
        put(ours.again(), found, DAY)


def test_what_can_be_added():
    assert known_what("alloy") == "alloy"
    with pytest.raises(UsageFault, match='"aloy" is nothing that can be added. Did you mean "alloy"?'):
        known_what("aloy")
