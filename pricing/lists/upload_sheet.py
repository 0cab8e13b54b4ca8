"""The upload sheet: one row a variant and channel, in the columns that a shop system wants (CSV as in RFC 4180)."""

from __future__ import annotations

import csv
import math
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from io import StringIO
from pathlib import Path
from types import MappingProxyType

from pricing.costing import Costing
from pricing.csv_tables import no_formula
from pricing.errors import Fault, Faults, Place, UsageFault, did_you_mean
from pricing.folder.inherit import goods
from pricing.folder.toml.text import MOST_IN_TABLE, MOST_IN_TOML
from pricing.lists.catalogue import code_of, metals_named
from pricing.model.currency import minor_unit_digits
from pricing.reading import NotRead, read_file
from pricing.records import ALLOY_QUANTITIES, COST_QUANTITIES, MASS_QUANTITIES, PRICE_QUANTITIES, flat_records
from pricing.resources import templates
from pricing.studies.prices_out import PricesOut

#: Words that a column may hold.
WORDS = (
    "id", "sku", "alloy", "channel", "name", "collection", "sold_as", "alloy_name", "mark", "metals", "size",
    "currency", "photo", "binds",
)  # fmt: skip
#: Figures that are no quantities of the cost model.
OTHER_FIGURES = ("tax_rate",)
FIGURES = frozenset((*ALLOY_QUANTITIES, *MASS_QUANTITIES, *COST_QUANTITIES, *PRICE_QUANTITIES, *OTHER_FIGURES)) - {
    "binds"
}
#: Prices, written with the currency's decimals.
PRICES = frozenset(("price", "ex_tax_price", "required_price"))
_FIELD = re.compile(r"\{([^{}]*)\}")


def columns_from(path: Path | None) -> Mapping[str, str]:
    """Heads and what goes under them, from a file or the ones built in.

    Raises Faults with everything wrong in the file, UsageFault where it cannot be read.
    """
    path = path or templates() / "upload_columns.toml"
    try:
        stated = tomllib.loads(read_file(path, MOST_IN_TOML).decode("utf-8"))
    except NotRead as fault:
        raise UsageFault(f"{path} cannot be read: {fault.problem}.") from None
    except UnicodeDecodeError:
        raise UsageFault(f"{path} cannot be read: it is no UTF-8 text.") from None
    except tomllib.TOMLDecodeError as fault:
        raise Faults(
            [Fault(Place(path.name), "", str(fault), "Correct it; the built-in one shows the form.")]
        ) from None
    faults = [
        Fault(Place(path.name), key, "no such table", "Put every column in [columns].")
        for key in stated
        if key != "columns"
    ]
    columns = stated.get("columns")
    if not isinstance(columns, dict) or not columns:
        faults.append(
            Fault(Place(path.name), "columns", "there is no column", 'Add [columns] with "Head" = "{price}".')
        )
        raise Faults(faults)
    for head, form in columns.items():
        if not isinstance(form, str):
            faults.append(Fault(Place(path.name), f"columns.{head}", "it is no text", 'Write it as "{price}".'))
            continue
        for field in _FIELD.findall(form):
            if field not in WORDS and field not in FIGURES:
                mend = did_you_mean(field, (*WORDS, *FIGURES))
                faults.append(Fault(Place(path.name), f"columns.{head}", f'there is no "{field}"', mend))
        if "{" in (rest := _FIELD.sub("", form)) or "}" in rest:
            faults.append(Fault(Place(path.name), f"columns.{head}", "a brace is left alone", 'Write it as "{price}".'))
    if faults:
        raise Faults(faults)
    return MappingProxyType(columns)


def upload_sheet(
    out: PricesOut,
    rows: Sequence[int],
    channels: Iterable[str],
    columns: Mapping[str, str],
    since: int | Path | None = None,
) -> bytes:
    """The sheet of the prices that go out, in UTF-8, lines ending in CR LF.

    `since`: only what an edition later than that one set, or only lines that an earlier sheet, a file, does not have.
    Raises UsageFault where nothing is sold in these channels, or the earlier sheet cannot be read.
    """
    written = StringIO()
    writer = csv.writer(written)  # its own dialect is that of RFC 4180
    writer.writerow([no_formula(head) for head in columns])
    records = _records(out.costing, rows, channels)
    if not records:
        raise UsageFault("none of these products is sold in these channels.")
    if isinstance(since, int):
        records = [record for record in records if _set_in(out, record) > since]
    lines = [[_cell(form, record) for form in columns.values()] for record in records]
    if isinstance(since, Path):
        known = _lines_of(since)
        lines = [line for line in lines if tuple(line) not in known]
    writer.writerows(lines)
    return written.getvalue().encode()


def _set_in(out: PricesOut, record: Mapping[str, str]) -> float:
    """The edition that set this price; without an edition every price is newer than any."""
    found = out.published.get((record["sku"], record["alloy"], record["channel"]))
    return found.set_in if found else math.inf


def _lines_of(sheet: Path) -> set[tuple[str, ...]]:
    """The lines of an earlier sheet, its head among them."""
    try:
        content = read_file(sheet, MOST_IN_TABLE).decode("utf-8-sig")
        return {tuple(line) for line in csv.reader(StringIO(content))}
    except (NotRead, UnicodeDecodeError, csv.Error) as fault:
        reason = getattr(fault, "problem", None) or "it is no CSV in UTF-8"
        raise UsageFault(f"{sheet} cannot be read ({reason}). Name an upload sheet that was written before.") from None


def _cell(form: str, record: Mapping[str, str]) -> str:
    field = _FIELD.fullmatch(form)
    if field and field[1] in FIGURES:
        return record[field[1]]  # our own number: -1.5 is no formula
    return no_formula(_FIELD.sub(lambda found: record[found[1]], form))


def _records(costing: Costing, rows: Sequence[int], channels: Iterable[str]) -> list[dict[str, str]]:
    stated = costing.folder.stated
    products = goods(stated.products)
    places = {(variant.sku, variant.alloy): row for row, variant in enumerate(costing.computed.resolved.variants)}
    records = []
    for figures in flat_records(costing.computed, rows, channels):
        product, row = products[figures["sku"]], places[figures["sku"], figures["alloy"]]
        named = metals_named(costing, row)
        channel = stated.channels[figures["channel"]]
        currency = channel.currency or stated.workshop.currency
        digits = minor_unit_digits(currency)
        record = {"size": ""} | {name: _written(name, value, digits) for name, value in figures.items()}
        record |= {
            "id": f"{code_of(costing, row)}:{figures['channel']}",
            "name": product.name,
            "collection": product.collection or "",
            "sold_as": product.sold_as or "each",
            "alloy_name": " and ".join(dict.fromkeys(each.name for each in named)),
            "mark": named[0].mark if len(named) == 1 else "",  # a mark of one metal is none of the whole
            "metals": ", ".join(f"{each.name} {each.grams:.2f} g" for each in named if each.grams),
            "currency": currency,
            "photo": product.photo or "",
            "tax_rate": repr(channel.tax.rate),
        }
        records.append(record)
    return records


def _written(name: str, value: str | float | None, digits: int) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if name in PRICES:
        return f"{round(value, digits) + 0.0:.{digits}f}"
    return f"{value:.2f}" if name in ("finished_g", "total_g") else repr(value)
