"""`troytag reprice`, `editions` and `study`: what is asked wrongly, and the forms of what is printed."""

from __future__ import annotations

import csv
import io
import json
import shutil
from datetime import date, timedelta

import pytest

from pricing.cli.screens import reprice_records
from pricing.costing import asked_for, cost
from pricing.editions.chain import newest
from pricing.studies.causes.of_repricing import changes
from pricing.studies.repricing.reprice import reprice
from tests.folders import tin_lane
from tests.published.small_workshop import material, written

DAY = ("--as-of", "2026-11-20")


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return shutil.copytree(tin_lane(), tmp_path / "tin-lane").relative_to(tmp_path)


@pytest.fixture
def published(folder, troytag):
    assert troytag("reprice", folder, *DAY, "--publish").code == 0
    return folder


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("reprice", "tin-lane", "--hold", "reed-pin:silver"), 'Did you mean "reed-pin:silver-925"?'),
        (("reprice", "tin-lane", "--accept", "reed-pin"), "--accept reed-pin: there is no such price"),
        (("reprice", "tin-lane", "--interactive"), "--interactive needs a terminal. Decide with --accept and --hold"),
        (("reprice", "nowhere"), "nowhere: there is no such folder"),
        (("editions", "nowhere"), "nowhere: there is no such folder"),
        (
            ("editions", "tin-lane", "show"),
            "no edition is published yet. To publish the first: troytag reprice tin-lane",
        ),
        (
            ("editions", "tin-lane", "show", "7"),
            "there is no edition 7. Publish one: troytag reprice tin-lane --publish.",
        ),
        (("editions", "tin-lane", "on", "2026-01-01"), "no edition was in force on 2026-01-01. None is published yet."),
        (("editions", "tin-lane", "on", "someday"), '"someday" is no date'),
        (("study", "tin-lane", "band", "--column", "gold"), "--column gold: write a metal and its column, as Au=gold."),
        (("study", "tin-lane", "band", "--history", "none.csv"), "none.csv: there is no such file."),
        (("study", "tin-lane", "breakeven", "--sku", "reed"), 'no product "reed". Did you mean "reed-pin"?'),
    ],
)
def test_what_is_asked_wrongly_is_told(folder, troytag, words, told):
    ran = troytag(*words, *(() if words[0] == "editions" else DAY)) if words[1] != "nowhere" else troytag(*words)
    assert (ran.code, ran.out) == (2, "")
    assert told in ran.err


def test_nothing_is_published_unasked(folder, troytag):
    ran = troytag("reprice", folder, *DAY)
    assert "Nothing is published yet. To do it: troytag reprice tin-lane --publish" in ran.out
    assert not (folder / "editions").exists()


def test_all_prices_are_shown_when_asked_for(published, troytag):
    brief, whole = troytag("reprice", published, *DAY), troytag("reprice", published, *DAY, "--all")
    assert "reed-pin" not in brief.out and "reed-pin" in whole.out
    assert "as asked" in whole.out
    assert "Nothing moves: edition 1 stays in force." in troytag("reprice", published, *DAY, "--publish").out
    assert sorted(path.name for path in (published / "editions").iterdir()) == ["000001.json", "HEAD"]


def test_no_line_is_wider_than_80_columns(published, troytag):
    for words in (
        ("reprice", published, *DAY, "--all"),
        ("editions", published),
        ("editions", published, "show"),
        ("editions", published, "show", "1", "--sku", "reed-pin"),
        ("editions", published, "compare", "1", "1"),
        ("study", published, "breakeven", *DAY),
        ("study", published, "breakeven", *DAY, "--sku", "reed-pin"),
    ):
        ran = troytag(*words)
        assert ran.code == 0, ran.err
        assert [line for line in ran.out.splitlines() if len(line.rstrip()) > 80] == []


def test_csv_has_a_line_for_every_price(published, troytag):
    shown = list(csv.DictReader(io.StringIO(troytag("reprice", published, *DAY, "--csv").out)))
    kept = list(csv.DictReader(io.StringIO(troytag("editions", published, "show", "--csv").out)))
    assert [(row["sku"], row["alloy"], row["channel"]) for row in shown] == [
        (row["sku"], row["alloy"], row["channel"]) for row in kept
    ]
    assert all(float(row["in_force"]) == float(row["price"]) for row in shown)
    listed = list(csv.DictReader(io.StringIO(troytag("editions", published, "list", "--csv").out)))
    assert [(row["number"], row["as_of"], row["prices"]) for row in listed] == [("1", "2026-11-20", str(len(kept)))]


def test_a_spoilt_edition_does_not_hide_the_others(published, troytag):
    (published / "editions" / "000002.json").write_text("{")
    ran = troytag("editions", published)
    assert ran.out.splitlines()[1].split()[:2] == ["1", "2026-11-20"]
    assert "editions/000002.json this edition is torn or is none." in " ".join(ran.err.split())


def test_the_back_test_is_told_on_the_screen_in_json_and_as_a_picture(folder, troytag):
    days = "\n".join(
        f"{year}-{month:02d}-{day:02d},{20 + month + day / 9 + (year - 2023)}"
        for year in (2023, 2024)
        for month in range(1, 13)
        for day in range(1, 23, 2)
    )
    (folder.parent / "silver.csv").write_text("day,Ag\n" + days + "\n")
    words = ("study", folder, "band", *DAY, "--history", "silver.csv")
    ran = troytag(*words, "--plot", "picture")
    assert "Recommended" in ran.out and "keep_within = " in ran.out
    assert (folder.parent / "picture.svg").stat().st_size > 5000 and (folder.parent / "picture.png").exists()
    again = troytag(*words, "--plot", "picture")
    assert again.code == 2 and "picture.svg stands already" in again.err
    told = json.loads(troytag(*words, "--json").out)
    assert (told["first"], told["last"], len(told["policies"])) == ("2023-01-01", "2024-12-21", 100)
    assert told["recommended"]["interval"] >= 7


def test_a_history_of_two_days_recommends_nothing(folder, troytag):
    """It is chance: what there is and what is lacking are told."""
    (folder.parent / "silver.csv").write_text("day,Ag\n2026-11-19,38\n2026-11-20,39\n")
    for words in (("--history", "silver.csv"), ()):
        ran = troytag("study", folder, "band", *DAY, *words)
        assert ran.code == 2 and "Recommended" not in ran.out
    ran = troytag("study", folder, "band", *DAY, "--history", "silver.csv")
    assert "the history has 2 prices from 2026-11-19 to 2026-11-20" in " ".join(ran.err.split())
    assert "250 prices and two years are the least" in " ".join(ran.err.split())


def test_a_price_history_in_the_folder_s_own_form_is_read_as_one(folder, troytag):
    lines = ["date,metal,price,per,currency,source"]
    for number in range(140):
        day = date(2024, 1, 5) + timedelta(days=7 * number)
        lines += [f"{day},Ag,{30 + number % 9},ozt,USD,x", f"{day},USD,0.79,unit,GBP,x"]
    (folder.parent / "kept.csv").write_text("\n".join(lines) + "\n")
    ran = troytag("study", folder, "band", *DAY, "--history", "kept.csv", "--json")
    spoken = " ".join(ran.err.split())
    assert ran.code == 0, spoken
    assert json.loads(ran.out)["days"] == 140
    (folder.parent / "kept.csv").write_text("\n".join(lines).replace(",30,", ",thirty,", 1))
    ran = troytag("study", folder, "band", *DAY, "--history", "kept.csv")
    assert ran.code == 1 and "kept.csv:2" in ran.err


def test_a_rate_that_alone_moves_a_price_is_named_and_so_is_a_fixed_price_that_leaps(tmp_path, troytag):
    """10.00 of material in pounds: nothing of the cost hangs on the dollar. At 0.80 abroad asks 12.50, at 0.50 20.00.
    The stall's own price goes from 20.00 to 26.00, by 30 %, where its largest step is 15 %."""
    rules = {"keep_within": 0.05, "falling": 0.1, "largest_step": 0.15, "days_between": 0}

    def stated(rate: float, price: float) -> None:
        channels = {"abroad": {"currency": "USD", "reprice": rules}, "stall": {"policy": {"fixed": price}}}
        channels["stall"]["reprice"] = rules
        written(tmp_path, channels=channels, quotes=[("USD", rate, "unit", "GBP")], **material(10.0))

    stated(0.8, 20.0)
    assert troytag("reprice", tmp_path, *DAY, "--publish").code == 0
    quiet = troytag("reprice", tmp_path, *DAY)
    assert "largest_step" not in quiet.err and "asked in USD" not in quiet.err
    stated(0.5, 26.0)
    ran = troytag("reprice", tmp_path, *DAY, "--all")
    said = " ".join(ran.err.split())
    assert "abroad: asked in USD, and 1 USD is 0.5 GBP, 0.8 on 2026-11-20: what is asked there moves with it" in said
    warnings = json.loads(troytag("reprice", tmp_path, *DAY, "--json").out)["warnings"]
    assert [each for each in warnings if each.startswith("abroad: asked in USD, and 1 USD is 0.5 GBP, 0.8 on")]
    assert "in stall the fixed price of piece in metal moves further than largest_step, 15 %" in said
    assert "20.00" in ran.out and "26.00" in ran.out


def test_each_row_tells_what_its_changes_come_of(published):
    prices = published / "metal_prices.csv"
    prices.write_text(prices.read_text(encoding="utf-8").replace("USD,0.8641,", "USD,0.9000,"), encoding="utf-8")
    repricing = reprice(cost(published, asked_for(date(2026, 11, 20))), newest(published))
    found = changes(published, repricing, repricing.rows, of_prices=True)
    told = list(map(json.loads, reprice_records.document(repricing, repricing.rows, found, None)["rows"].items))
    assert len(told) == len(repricing.rows) > 2
    for record, row in zip(told, repricing.rows, strict=True):
        assert (record["sku"], record["in_force"], record["owing"]) == (row.sku, row.held, row.owing)
        for name, change in (("unit_cost", found.of_cost(row)), ("asked_since", found.of_price(row))):
            assert record[name] == {
                "since": "2026-11-20",
                "edition": 1,
                "before": change.before,
                "after": change.after,
                "because": [
                    {"group": "exchange", "name": "USD", "label": "USD rate", "amount": amount}
                    for _, amount in change.parts
                ],
            }
    assert any(record["unit_cost"]["because"] for record in told)
