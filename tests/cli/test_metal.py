"""`troytag metal`: typed, looked at, pulled."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, timedelta
from pathlib import Path

import pytest

from pricing.cli.screens.plots import columns, sparkline
from tests.folder.workshops import FILES, changed, write
from tests.metal.servers import body, nobody, serving

PRICES = FILES["metal_prices.csv"]
AS_OF = ("--as-of", "2026-11-20")


@pytest.fixture
def shop(tmp_path, monkeypatch) -> Path:
    """A workshop whose silver is 38.40 USD per ozt, brass 9.80 GBP per kg, the dollar 0.79 GBP, of 2026-11-20."""
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "shop", changed())
    return Path("shop")


def history(root: Path) -> str:
    return (root / "metal_prices.csv").read_text()


# ---- add


@pytest.mark.parametrize(
    ("words", "line", "said"),
    [
        (
            ("Ag", "39.10", "--date", "2026-11-21", "--source", "morning fix"),
            "2026-11-21,Ag,39.10,ozt,USD,morning fix",  # in what the last one was told in, with its digits
            # 39.10 / 38.40 = 1.01823
            "Silver (Ag): 39.10 USD per ozt on 2026-11-21 is in metal_prices.csv.\n"
            "It was 38.40 USD per ozt on 2026-11-20: +1.8 %.",
        ),
        (
            ("Ag", "1234.5", "--per", "kg", "--currency", "USD", "--date", "2026-11-21"),
            "2026-11-21,Ag,1234.5,kg,USD,",
            # 1234.5 USD/kg × 0.0311034768 kg/ozt = 38.39724…, / 38.40 = 0.99993
            "Silver (Ag): 1234.5 USD per kg on 2026-11-21 is in metal_prices.csv.\n"
            "It was 38.40 USD per ozt on 2026-11-20: 0.0 %.",
        ),
        (
            ("Ag", "30.00", "--date", "2026-01-05"),
            "2026-01-05,Ag,30.00,ozt,USD,",
            "Silver (Ag): 30.00 USD per ozt on 2026-01-05 is in metal_prices.csv.\n"
            "The quote of 2026-11-20 stays in force.",
        ),
        (
            ("EUR", "0.8612", "--date", "2026-11-20"),
            "2026-11-20,EUR,0.8612,unit,GBP,",  # a currency, so in the workshop's
            "EUR: 0.8612 GBP on 2026-11-20 is in metal_prices.csv.",
        ),
        (
            ("Cu", "7.90", "--per", "kg", "--currency", "GBP", "--date", "2026-11-20", "--source", "a, b"),
            '2026-11-20,Cu,7.90,kg,GBP,"a, b"',  # never quoted, but in an alloy
            "Copper (Cu): 7.90 GBP per kg on 2026-11-20 is in metal_prices.csv.",
        ),
        (
            ("Ag", "120", "--date", "2026-11-21", "--yes"),
            "2026-11-21,Ag,120,ozt,USD,",
            # 120 / 38.40 = 3.125
            "Silver (Ag): 120 USD per ozt on 2026-11-21 is in metal_prices.csv.\n"
            "It was 38.40 USD per ozt on 2026-11-20: +212.5 %.",
        ),
        (
            ("tin-grain", "21.00", "--per", "kg", "--currency", "GBP", "--date", "2026-11-20", "--yes"),
            "2026-11-20,tin-grain,21.00,kg,GBP,",
            "tin-grain: 21.00 GBP per kg on 2026-11-20 is in metal_prices.csv.",
        ),
    ],
)  # fmt: skip
def test_a_typed_price(troytag, shop, words, line, said):
    ran = troytag("metal", shop, "add", *words)
    assert (ran.code, ran.out, ran.err) == (0, said + "\n", "")
    assert history(shop) == f"{PRICES}{line}\n"
    assert troytag("metal", shop, "list", "--as-of", "2026-12-31").code == 0


@pytest.mark.parametrize("metal", ["Pt", "As", "pewter-ingot"])
def test_the_price_of_a_metal_that_no_alloy_uses_yet_is_kept(troytag, shop, metal):
    """Though arsenic's symbol is as like that of silver as a slip of the hand would be."""
    ran = troytag("metal", shop, "add", metal, "900", "--per", "kg", "--currency", "GBP", "--date", "2026-11-21")
    assert (ran.code, ran.err) == (0, "")
    assert f"2026-11-21,{metal},900,kg,GBP," in (shop / "metal_prices.csv").read_text()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("Ag", "38,40"), 'price: "38,40" is no number. Write it with a point: 38.40.'),
        (("Ag", "nan"), 'price: "nan" is no number. Write digits and a point only.'),
        (("Ag", "0"), "price: 0 is not above 0. State a number above 0."),
        (("Ag", "-3"), "price: -3 is not above 0. State a number above 0."),
        (("Ag", "--yes", "-.5", "--per", "ozt"), "price: -0.5 is not above 0. State a number above 0."),
        (
            ("Ag", "dear", "--per", "oz", "--currency", "usd"),
            'price: "dear" is no number. Write digits and a point only.\n'
            'per: "oz" is not known here. Did you mean "ozt"?\n'
            'currency: "usd" is no currency. Did you mean "USD"?',
        ),
        (("Ag", "39", "--date", "21.11.2026"), '"21.11.2026" is no date. Write it as '),
        (
            ("Ag", "115.30"),  # 115.30 / 38.40 = 3.0026
            "115.30 USD per ozt is 3 times the last quote, 38.40 USD per ozt of 2026-11-20. "
            "If it is right, add --yes.",
        ),
        (
            ("Ag", "12.70"),  # 38.40 / 12.70 = 3.0236
            "12.70 USD per ozt is far below the last quote, 38.40 USD per ozt of 2026-11-20: 1 / 3.02 of it. "
            "If it is right, add --yes.",
        ),
        (
            ("Ag", "38.40", "--per", "g"),  # the troy ounce has 31.1 g
            "38.40 USD per g is 31.1 times the last quote, 38.40 USD per ozt of 2026-11-20. If it is right, add --yes.",
        ),
        (
            ("Agg", "39", "--per", "ozt", "--currency", "USD"),
            'no alloy is valued by "Agg", and it was never quoted. Did you mean "Ag"? If not, add --yes.',
        ),
        (
            ("bras-grain", "9.90"),
            'bras-grain has no quote yet. Did you mean "brass-grain"? '
            "Say --per and --currency too, as in --per ozt --currency GBP.",
        ),
        (("Zn", "3", "--per", "kg"), "Zn has no quote yet. Say --currency too, as in --per ozt --currency GBP."),
        (
            ("EUR", "0.86", "--currency", "USD"),
            "currency: an exchange rate is told in USD, the workshop counts in GBP. Say what one EUR costs in GBP.",
        ),
        (
            ("Ag", "39", "--per", "unit"),
            'per: "unit" is for exchange rates, and "Ag" is no currency. '
            "Write the mass that the price is for, such as ozt or kg.",
        ),
    ],
)  # fmt: skip
def test_what_looks_like_a_slip_is_not_written(troytag, shop, words, said):
    ran = troytag("metal", shop, "add", *(("--date", "2026-11-21") if "--date" not in words else ()), *words)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(said)
    assert history(shop) == PRICES


def test_the_edges_of_the_jump(troytag, shop):
    assert troytag("metal", shop, "add", "Ag", "115.20", "--date", "2026-11-20").code == 0  # 3 × 38.40
    assert troytag("metal", shop, "add", "Ag", "38.40", "--date", "2026-11-20").code == 0  # and back


def test_a_price_can_be_added_where_a_missing_price_is_the_fault(troytag, shop):
    path = shop / "metal_prices.csv"
    path.write_text(PRICES.replace("brass-grain", "tin-grain"))
    assert 'no quote "brass-grain"' in troytag("check", shop, *AS_OF).out
    words = ("brass-grain", "9.80", "--per", "kg", "--currency", "GBP", "--date", "2026-11-20")
    assert troytag("metal", shop, "add", *words).code == 0
    assert "brass-grain" not in troytag("check", shop, *AS_OF).out


def test_the_first_price_begins_the_file(troytag, shop):
    (shop / "metal_prices.csv").unlink()
    words = ("Ag", "38.40", "--per", "ozt", "--currency", "USD", "--date", "2026-11-20")
    assert troytag("metal", shop, "add", *words).code == 0
    assert history(shop) == "date,metal,price,per,currency,source\n2026-11-20,Ag,38.40,ozt,USD,\n"


def test_a_faulty_workshop_is_told_with_its_place(troytag, shop):
    path = shop / "workshop.toml"
    path.write_text(path.read_text().replace('"GBP"', '"GPB"'))
    ran = troytag("metal", shop, "add", "Ag", "39")
    assert ran.code == 1
    assert ran.err.startswith('workshop.toml:3:12 currency: "GPB" is no currency.')
    assert history(shop) == PRICES


def test_a_faulty_file_of_alloys_does_not_stand_in_the_way(troytag, shop):
    (shop / "alloys.toml").write_text("[alloys")
    assert troytag("metal", shop, "add", "Ag", "39", "--date", "2026-11-21").code == 0


def test_a_folder_that_is_not_there(troytag, tmp_path):
    for words in (("add", "Ag", "39"), ("list",), ("pull",)):
        ran = troytag("metal", tmp_path / "nowhere", *words)
        assert (ran.code, "there is no such folder" in ran.err) == (2, True)


def test_the_folder_comes_first(troytag, shop):
    for verb in ("add", "list", "pull"):
        ran = troytag("metal", verb, "Ag", "39")
        assert (ran.code, ran.err) == (2, f"The folder comes first: troytag metal FOLDER {verb} …\n")


@pytest.mark.parametrize("words", [("study", "doubt"), ("editions", "list"), ("metal", "pull"), ("export", "list")])
def test_a_folder_that_is_named_last_is_told_where_it_stands(troytag, shop, words):
    ran = troytag(*words, shop)
    assert (ran.code, ran.err) == (2, f"The folder comes first: troytag {words[0]} {shop} {words[1]} …\n")


# ---- list

OLDER = """\
2025-11-10,Ag,32.00,ozt,USD,
2026-10-15,Ag,40.00,ozt,USD,
2026-11-10,Ag,39.00,ozt,USD,
2026-11-10,brass-grain,9.60,kg,GBP,
"""


@pytest.fixture
def older(shop) -> Path:
    (shop / "metal_prices.csv").write_text(PRICES + OLDER)
    return shop


def test_what_is_in_force_and_how_it_moved(troytag, older):
    ran = troytag("metal", older, "list", *AS_OF)
    # 38.40 / 39 = 0.98462, / 40 = 0.96, / 32 = 1.2; 9.80 / 9.60 = 1.02083
    lines = ran.out.splitlines()
    assert lines[0].split() == ["price", "in", "age", "week", "%", "month", "%", "year", "%", "a", "year"]
    assert [line.split()[:7] for line in lines[1:]] == [
        ["Silver", "(Ag)", "38.40", "USD/ozt", "0", "d", "-1.5"],
        ["brass-grain", "9.80", "GBP/kg", "0", "d", "+2.1", "–"],
        ["USD", "0.7900", "GBP", "0", "d", "–", "–"],
    ]
    assert lines[1].split()[7:9] == ["-4.0", "+20.0"]
    assert (ran.code, ran.err) == (0, "")


def test_old_quotes_are_told(troytag, older):
    ran = troytag("metal", older, "list", "--as-of", "2026-12-01")
    # 20 November to 1 December are 11 days, and 7 are allowed
    said = "3 quotes in force are 11 days old on 2026-12-01: Silver (Ag), brass-grain, USD."
    assert ran.err.count("note") == 1 and said in " ".join(ran.err.split())


def test_one_metal_with_a_plot_and_its_last_quotes(troytag, older):
    ran = troytag("metal", older, "list", "Ag", *AS_OF)
    lines = [line.rstrip() for line in ran.out.splitlines()]
    assert lines[0] == "Silver (Ag): 38.40 USD per ozt, 2026-11-20 (today)"
    assert lines[1] == "-1.5 % in a week, -4.0 % in a month, +20.0 % in a year"
    assert lines[3].startswith("40.00 ") and lines[11].startswith("32.00 ")  # nine rows, from the lowest to the highest
    assert lines[12].split() == ["2025-11-20", "2026-11-20"]
    assert lines[14:] == [
        "date        price  in           source",
        "2026-11-20  38.40  USD per ozt  morning fix",
        "2026-11-10  39.00  USD per ozt",
        "2026-10-15  40.00  USD per ozt",
        "2025-11-10  32.00  USD per ozt",
    ]


def test_json_and_csv_have_the_same_figures(troytag, older):
    said = json.loads(troytag("metal", older, "list", *AS_OF, "--json").out)
    assert [each["metal"] for each in said] == ["Ag", "brass-grain", "USD"]
    assert said[0] == {
        "metal": "Ag", "price": 38.4, "per": "ozt", "currency": "USD", "date": "2026-11-20", "age_days": 0,
        "change_week": pytest.approx(38.4 / 39 - 1), "change_month": pytest.approx(38.4 / 40 - 1),
        "change_year": pytest.approx(38.4 / 32 - 1), "source": "morning fix",
    }  # fmt: skip
    assert said[2]["change_week"] is None
    lines = list(csv.DictReader(io.StringIO(troytag("metal", older, "list", *AS_OF, "--csv").out)))
    assert [(line["metal"], float(line["price"])) for line in lines] == [
        (each["metal"], each["price"]) for each in said
    ]
    assert lines[2]["change_week"] == ""
    (silver,) = json.loads(troytag("metal", older, "list", "Ag", *AS_OF, "--json").out)
    assert [each["price"] for each in silver["history"]] == [32, 40, 39, 38.4]  # by their days


def test_list_of_what_is_not_there(troytag, shop):
    ran = troytag("metal", shop, "list", "Agg", *AS_OF)
    assert (ran.code, ran.err) == (2, 'there is no quote of "Agg". Did you mean "Ag"?\n')
    ran = troytag("metal", shop, "list", "--as-of", "2020-01-01")
    assert ran.err == "there is no quote on or before that day. Add one: troytag metal FOLDER add …\n"
    (shop / "metal_prices.csv").write_text(PRICES.replace("38.40", "dear"))
    ran = troytag("metal", shop, "list")
    assert ran.code == 1
    assert ran.err.startswith('metal_prices.csv:2:15 price: "dear" is no number.')


@pytest.mark.parametrize(
    ("values", "line"),
    [
        ([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0], "▁▂▃▄▅▆▇█"),
        ([8.0, 1.0], "█▁"),
        ([None, 5.0, 5.0], " ▄▄"),
        ([None], ""),
    ],
)
def test_a_line_of_blocks(values, line):
    assert sparkline(values) == line


def test_a_plot_of_blocks():
    """Two rows have 16 eighths: the lowest is one, the highest all, the middle 1 + 7.5 → 9."""
    assert columns([0.0, 1.0, 0.5, None], 2) == [" █▁", "▁██"]


# ---- pull


def with_source(root: Path, content: bytes, **keys: str) -> None:
    """One source, `fix`, that reads a file; quotes of yesterday, so that its price is of today."""
    stated = {
        "metal": '"Ag"',
        "per": '"ozt"',
        "currency": '"USD"',
        "file": '"fix.csv"',
        "csv_column": '"price"',
        **keys,
    }
    path = root / "workshop.toml"
    path.write_text(
        path.read_text() + "[sources.fix]\n" + "".join(f"{key} = {text}\n" for key, text in stated.items() if text)
    )
    (root / "fix.csv").write_bytes(content)
    yesterday = (date.today() - timedelta(days=1)).isoformat()
    (root / "metal_prices.csv").write_text(PRICES.replace("2026-11-20", yesterday))


def test_a_pulled_price(troytag, shop):
    with_source(shop, b"price\n39.10\n")
    before = history(shop)
    dry = troytag("metal", shop, "pull", "--dry-run")
    line = f"fix: Silver (Ag) 39.10 USD per ozt, {date.today()} (+1.8 %)\n"
    assert (dry.code, dry.out, dry.err) == (0, f"{line}1 price would be added; nothing was written.\n", "")
    assert history(shop) == before
    ran = troytag("metal", shop, "pull")
    assert (ran.code, ran.out, ran.err) == (0, f"{line}1 price added to metal_prices.csv.\n", "")
    assert history(shop) == f"{before}{date.today()},Ag,39.10,ozt,USD,fix\n"
    again = troytag("metal", shop, "pull")
    there = f"fix: Silver (Ag) 39.10 USD per ozt, {date.today()} (0.0 %), is there already\n"
    assert again.out == f"{there}0 prices added to metal_prices.csv.\n"
    assert history(shop) == f"{before}{date.today()},Ag,39.10,ozt,USD,fix\n"


def test_a_refused_price_is_shown_and_nothing_is_written(troytag, shop):
    with_source(shop, b"price\n52.40\n")
    before = history(shop)
    ran = troytag("metal", shop, "pull")
    assert (ran.code, ran.out) == (1, "0 prices added to metal_prices.csv.\n")
    assert " ".join(ran.err.split()).startswith(
        "fix: 52.40 USD per ozt is 36.5 % above the last quote (38.4 USD per ozt"
    )
    assert history(shop) == before


def test_from_an_address_of_this_machine(troytag, shop):
    with serving(body(b'{"rates": {"Ag": 0.0257}}')) as server:
        address = f'"http://localhost:{server.port}/rates.json"'
        with_source(
            shop, b"", file="", csv_column="", address=address, loopback="true", json_path='"rates.Ag"', inverted="true"
        )
        ran = troytag("metal", shop, "pull", "--json")
    # 1 / 0.0257 = 38.910506
    assert json.loads(ran.out) == [
        {
            "source": "fix", "metal": "Ag", "price": 38.910506, "per": "ozt", "currency": "USD",
            "date": date.today().isoformat(), "change": pytest.approx(38.910506 / 38.4 - 1),
            "written": True, "fault": None,
        }
    ]  # fmt: skip


def test_offline(troytag, shop):
    with nobody() as server:
        address = f'"http://localhost:{server.port}/"'
        with_source(shop, b"", file="", csv_column="", address=address, loopback="true", json_path='"Ag"')
        before = history(shop)
        ran = troytag("metal", shop, "pull")
    assert (ran.code, ran.out) == (1, "0 prices added to metal_prices.csv.\n")
    assert " ".join(ran.err.split()) == (
        "fix: localhost cannot be reached. See whether this machine is online, and the address right."
    )
    assert history(shop) == before


def test_without_sources_it_says_how_to_add_one_and_what_it_says_works(troytag, shop):
    ran = troytag("metal", shop, "pull")
    assert ran.code == 2
    assert ran.err.startswith("workshop.toml names no source. Add one, for instance:\n\n[sources.silver]\n")
    example = ran.err.partition("\n\n")[2]
    (shop / "prices").mkdir()
    (shop / "prices" / "silver.csv").write_text("price\n39.10\n")
    (shop / "workshop.toml").write_text(FILES["workshop.toml"] + example)
    assert troytag("metal", shop, "pull", "--dry-run").code == 0
    assert troytag("metal", shop, "pull", "silber").err == 'no source "silber". Did you mean "silver"?\n'


def test_every_screen_fits_eighty_columns_and_has_no_colours(troytag, older):
    with_source(older, b"price\n52.40\n")
    (older / "metal_prices.csv").write_text(history(older) + OLDER.replace("brass-grain", "silicon-bronze-grain"))
    for words in (("list",), ("list", "Ag"), ("list", "silicon-bronze-grain"), ("pull",), ("-h",), ("add", "-h")):
        ran = troytag("metal", older, *words)
        for line in (ran.out + ran.err).splitlines():
            assert len(line) <= 80, line
            assert "\x1b" not in line
