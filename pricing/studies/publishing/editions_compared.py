"""What differs between two editions: prices, costs and why."""

from __future__ import annotations

from typing import Any

from pricing.editions.chain import Edition, sensible
from pricing.editions.inputs import inputs_of
from pricing.errors import UsageFault
from pricing.shown import Shown
from pricing.studies.causes.groups import Group
from pricing.studies.causes.of_change import causes_of_cost
from pricing.studies.causes.of_repricing import shown_parts


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
    with sensible(before.number, "inputs"):
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


def cost_words(shown: Shown, record: dict[str, Any]) -> str:
    """`costs 12.30, before 11.80: silver +0.50`, or in which of the two it stands alone."""
    then, now = record["unit_cost_before"], record["unit_cost_after"]
    if then is None or now is None:
        return "only in the later edition" if then is None else "only in the earlier edition"
    parts = tuple((Group(part["group"], part["name"] or ""), part["amount"]) for part in record["because"])
    shares = shown_parts(parts, (then, now), shown.currency)
    told = [f"{group.label} {shown.money(part, signed=True)}" for group, part in shares]
    return f"costs {shown.money(now)}, before {shown.money(then)}" + (f": {', '.join(told)}" if told else "")
