"""One design in several alloys side by side, line by line, and how far each lies from the first."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pricing.formulas.engine import Computed
from pricing.made_of import NO_METAL, contents_of
from pricing.model.stated import Stated
from pricing.page.rendering import minus
from pricing.records import COST_LINES, with_one_pour
from pricing.shown import NOTHING, Shown, apart, apart_said, percent
from pricing.studies.alloys.side_by_side import compared, cost_lines_of
from pricing.studies.sizes import size_lines, surcharge, surcharge_words


@dataclass(frozen=True)
class ComparedFigure:
    """One figure: `more` is how far it lies from the first alloy's, "" in the first column and where it is the same.

    `quantity`, `alloy`, `size` and `channel` ask for its work; `marked` that it is the line's largest difference.
    """

    shown: str
    more: str
    marked: bool
    quantity: str
    alloy: str
    channel: str
    size: str


@dataclass(frozen=True)
class CompareLine:
    """One line of the comparison; `kind` is "mass", "cost", "whole", "price" or "detail"."""

    word: str
    kind: str
    bar: str
    figures: tuple[ComparedFigure, ...]


@dataclass(frozen=True)
class SizesInWords:
    """The sizes that one alloy has at one price: `heads` of the channels, a line of texts for each size, and what a
    surcharge would have to be, in words."""

    alloy: str
    heads: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]
    surcharges: tuple[str, ...]


@dataclass(frozen=True)
class Comparison:
    """The columns by alloy name, the lines of each block by its head, and what sizes there are at one price."""

    alloys: tuple[tuple[str, str], ...]
    blocks: tuple[tuple[str, tuple[CompareLine, ...]], ...]
    sizes: tuple[SizesInWords, ...]


Write = Callable[..., str]


def comparison(computed: Computed, stated: Stated, shown: Shown) -> Comparison:
    """All variants of one product beside each other."""
    rows = range(len(computed.resolved.variants))
    records = with_one_pour(computed, rows)
    titles = {name: alloy.name for name, alloy in stated.alloys.items()}
    alloys = tuple((record["alloy"], _title(titles, record)) for record in records)
    blocks = tuple((head, tuple(lines)) for head, lines in _blocks(computed, records, titles, shown) if lines)
    sizes = tuple(_sizes(computed, row, _title(titles, records[row]), shown) for row in rows if "sizes" in records[row])
    return Comparison(alloys, blocks, sizes)


def _title(titles: Mapping[str, str], record: Mapping[str, Any]) -> str:
    title = titles[record["alloy"]]
    return f"{title}, {record['size']}" if "size" in record else title


def _sizes(computed: Computed, row: int, title: str, shown: Shown) -> SizesInWords:
    channels = [computed.resolved.channels[place] for place in computed.resolved.variants[row].sold_places]
    heads = tuple(f"{each.name}: {what}" for each in channels for what in ("margin", f"lacks, {each.currency}"))
    sizes, lines = size_lines(computed, row), []
    for line in sizes:
        told = [line.size, shown.length(line.length_mm), shown.mass(line.finished_g), shown.money(line.unit_cost)]
        for channel in channels:
            lacking = line.lacking[channel.name]
            told += [
                minus(percent(line.margins[channel.name])),
                shown.in_currency(lacking, channel.currency) if lacking else "",
            ]
        lines.append(tuple(told))
    surcharges = tuple(
        surcharge_words(found, channel.name, channel.currency, shown)
        for channel in channels
        if (found := surcharge(sizes, channel.name))
    )
    return SizesInWords(title, heads, tuple(lines), surcharges)


def _blocks(
    computed: Computed, records: list[dict[str, Any]], titles: Mapping[str, str], shown: Shown
) -> Iterator[tuple[str, list[CompareLine]]]:
    def money(value: float | None) -> str:
        return minus(shown.money(value))

    def mass(value: float | None) -> str:
        return minus(shown.mass(value, unit=False))

    def minutes(value: float | None) -> str:
        return NOTHING if value is None else minus(f"{value * 60:.1f}")

    def share(value: float | None) -> str:
        return minus(percent(value))

    def one(word: str, kind: str, name: str, write: Write, channel: str = "") -> CompareLine:
        line = compared(records, name, channel)
        texts = [write(value) for value in line.values]
        gaps = [apart(text, texts[0]) for text in texts]
        largest = max(abs(gap) for gap in gaps if gap is not None) if any(gaps) else None
        figures = []
        for place, (value, gap, sold) in enumerate(zip(line.values, gaps, line.sold, strict=True)):
            figures.append(
                ComparedFigure(
                    texts[place] if sold else "not sold",
                    minus(apart_said(texts[place], texts[0])) if gap else "",
                    bool(gap) and gap is not None and abs(gap) == largest,
                    name if sold and value is not None else "",
                    records[place]["alloy"],
                    channel,
                    records[place].get("size", ""),
                )
            )
        return CompareLine(word, kind, name if name in COST_LINES else "", tuple(figures))

    def figures_as_text(word: str, texts: list[str]) -> CompareLine:
        figures = (
            ComparedFigure(text, "", False, "", record["alloy"], "", "")
            for text, record in zip(texts, records, strict=True)
        )
        return CompareLine(word, "detail", "", tuple(figures))

    unit = shown.show.mass
    variants = computed.resolved.variants
    ways = {each.takes for each in variants}
    takes = f"as {ways.pop()}" if len(ways) == 1 else "as cast"
    own = [("finished_g", "finished"), ("as_cast_g", takes), ("charge_g", "melted for one, failed pours in it")]
    if takes != "as cast":
        own[2] = ("charge_g", "taken for one")
    own.append(("one_pour_charge_g", "charge of one full pour"))
    lines = [one(f"{word}, {unit}", "mass", name, mass) for name, word in own if any(each[name] for each in records)]
    contents = [contents_of(computed, row) for row in range(len(records))]
    in_it = list(dict.fromkeys(metal.alloy for each in contents for metal in each.metals))
    if any(len(each.metals) > 1 or each.all_metals_g > record["finished_g"] + NO_METAL
           for each, record in zip(contents, records, strict=True)):  # fmt: skip
        for alloy in in_it:
            grams = [next((metal.grams for metal in each.metals if metal.alloy == alloy), None) for each in contents]
            lines.append(figures_as_text(f"{titles[alloy]} in it, {unit}", [mass(each) for each in grams]))
    if any(abs(record["total_g"] - record["finished_g"]) > NO_METAL for record in records):
        lines.append(one(f"with all that is in it, {unit}", "mass", "total_g", mass))
    yield "Metal", lines
    lines = [one(COST_LINES[name], "cost", name, money) for name in cost_lines_of(records)]
    lines += [one("in all", "whole", "unit_cost", money), one("minutes of hands", "detail", "labour_hours", minutes)]
    if any(record["own_labour_hours"] != record["labour_hours"] for record in records):
        lines.append(one("of them yours", "detail", "own_labour_hours", minutes))
    yield f"What one costs, {shown.currency}", lines
    yield f"Pieces of your own in it, what one costs, {shown.currency}", _parts(records, titles, money, figures_as_text)
    hour = "an hour brings" if all(role.is_own for role in computed.resolved.roles) else "an hour of yours brings"
    for channel in computed.resolved.channels:
        if any(channel.name in record["prices"] for record in records):
            abroad = Shown(channel.currency, shown.show)

            def price(value: float | None, abroad: Shown = abroad) -> str:
                return minus(abroad.money(value))

            foreign = channel.currency != shown.currency
            yield (
                f"{channel.name}, {channel.currency}" if foreign else channel.name,
                [
                    one("price", "price", "price", price, channel.name),
                    one("margin", "detail", "margin", share, channel.name),
                    one(hour, "detail", "earned_per_hour", money, channel.name),
                    one(
                        f"left over{f', {shown.currency}' if foreign else ''}", "detail", "profit", money, channel.name
                    ),
                ],
            )


def _parts(
    records: list[dict[str, Any]], titles: Mapping[str, str], money: Write, as_text: Callable[..., CompareLine]
) -> list[CompareLine]:
    """What each piece of the maker's own costs as a part, wherever it goes in."""
    costs: dict[str, list[str]] = {}
    for place, record in enumerate(records):
        for part in record.get("parts", ()):
            word = f"{part['quantity']:g} × {part['sku']}, {titles[part['alloy']]}"
            costs.setdefault(word, [NOTHING] * len(records))[place] = money(part["unit_cost"])
    return [as_text(word, texts) for word, texts in costs.items()]
