"""What differs between two editions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from rich.padding import Padding
from rich.text import Text

from pricing.cli.screens import screen
from pricing.editions.chain import Edition
from pricing.editions.figures import sensible
from pricing.editions.inputs import inputs_of
from pricing.errors import UsageFault
from pricing.shown import NOTHING, Shown
from pricing.studies.causes import causes_of_cost
from pricing.studies.changes import shown_parts


def records(before: Edition, after: Edition) -> dict[str, Any]:
    """Every variant of either edition whose cost or prices differ, as one JSON object.

    Raises UsageFault where they are in different currencies.
    """
    if before.currency != after.currency:
        raise UsageFault(
            f"edition {before.number} is in {before.currency} and edition {after.number} in {after.currency}."
        )
    old, new = (_variants(edition) for edition in (before, after))
    prices = [_prices(edition) for edition in (before, after)]
    published = {key: record["unit_cost"] for key, record in old.items()}
    inputs_before, inputs_after = inputs_of(before), inputs_of(after)
    with sensible(before, "inputs"):
        causes = causes_of_cost(inputs_before, inputs_after, published)
    found = []
    for key in {**old, **new}:
        then, now = (each[key]["unit_cost"] if key in each else None for each in (old, new))
        names = {name: None for each in prices for name in each if name[:2] == key}
        moved = [{"channel": name[2], "before": prices[0].get(name), "after": prices[1].get(name)} for name in names]
        place = causes.places.get(key)
        shares = [] if place is None else [(group, float(share[place])) for group, share in causes.shares.items()]
        because = [
            {"group": group.kind, "name": group.name or None, "label": group.label, "amount": part}
            for group, part in shares
            if part
        ]
        costs_differ = then is None or now is None or abs(now - then) > 1e-9
        if costs_differ or any(each["before"] != each["after"] for each in moved):
            record = {"sku": key[0], "alloy": key[1], "unit_cost_before": then, "unit_cost_after": now}
            found.append({**record, "because": because, "prices": moved})
    heads = [{"number": edition.number, "as_of": edition.content["as_of"]} for edition in (before, after)]
    return {"before": heads[0], "after": heads[1], "currency": after.currency, "variants": found}


def _variants(edition: Edition) -> dict[tuple[str, str], dict[str, Any]]:
    return {(record["sku"], record["alloy"]): record for record in edition.content["variants"]}


def _prices(edition: Edition) -> dict[tuple[str, str, str], float]:
    return {(price["sku"], price["alloy"], price["channel"]): price["price"] for price in edition.content["prices"]}


def flat(compared: dict[str, Any]) -> list[dict[str, Any]]:
    """One record a variant and channel."""
    return [
        {
            "sku": record["sku"],
            "alloy": record["alloy"],
            "channel": price["channel"],
            "price_before": price["before"],
            "price_after": price["after"],
            "unit_cost_before": record["unit_cost_before"],
            "unit_cost_after": record["unit_cost_after"],
            **{f"cost of {part['label']}": part["amount"] for part in record["because"]},
        }
        for record in compared["variants"]
        for price in record["prices"]
    ]


def show(compared: dict[str, Any], currencies: Mapping[str, str]) -> None:
    """The prices that differ, and why costs do."""
    console, shown = screen.out(), Shown(compared["currency"], currencies=currencies)
    before, after = compared["before"], compared["after"]
    both = " and ".join(f"edition {each['number']} of {each['as_of']}" for each in (before, after))
    console.print(f"From {both}, {shown.currency}".replace(" and ", " to ", 1))
    quiet = 0
    for record in compared["variants"]:
        moved = [price for price in record["prices"] if price["before"] != price["after"]]
        if not moved:
            quiet += 1
            continue
        console.print()
        console.print(Text.assemble((record["sku"], "bold"), f"  {record['alloy']}"))
        console.print(Padding(Text(_cost_line(shown, record)), (0, 0, 0, 2), expand=False))
        table = screen.table(("", "before", "after", "more"), list(_lines(shown, moved)))
        console.print(Padding(table, (0, 0, 0, 2), expand=False))
    console.print()
    if quiet:
        console.print(f"Of {quiet} more variants the cost changed and no price did.")
    if not compared["variants"]:
        console.print("Nothing differs.")


def _cost_line(shown: Shown, record: dict[str, Any]) -> str:
    then, now = record["unit_cost_before"], record["unit_cost_after"]
    if then is None or now is None:
        return "only in the later edition" if then is None else "only in the earlier edition"
    from pricing.studies.groups import Group

    parts = tuple((Group(part["group"], part["name"] or ""), part["amount"]) for part in record["because"])
    shares = shown_parts(parts, (then, now), shown.currency)
    told = [f"{group.label} {shown.money(part, signed=True)}" for group, part in shares]
    return f"costs {shown.money(now)}, before {shown.money(then)}" + (f": {', '.join(told)}" if told else "")


def _lines(shown: Shown, moved: list[dict[str, Any]]) -> Iterator[tuple[str, str, str, str]]:
    for price in moved:
        both = price["before"] is not None and price["after"] is not None
        more = shown.price(price["channel"], price["after"] - price["before"], signed=True) if both else NOTHING
        name = price["channel"]
        yield shown.channel(name), shown.price(name, price["before"]), shown.price(name, price["after"]), more
