"""What somebody types about metal that was weighed, as an entry: for the command line and the page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pricing.drawer.model import WHATS, Entry
from pricing.drawer.worth import prices_per_g
from pricing.errors import Fault, Faults, Place, did_you_mean
from pricing.folder.prices.in_force import in_force
from pricing.folder.typed_values import built, count, day_typed, figure, mass, word
from pricing.formulas.engine import Computed
from pricing.model.stated import Stated

#: The fields of one line, by name, in the order in which they are typed.
FIELDS = ("what", "alloy", "form", "grams", "money", "currency", "day", "note", "batch", "corrects")
_PLACE = Place("what was typed")


def typed_entry(texts: Mapping[str, str], stated: Stated, computed: Computed | None = None) -> Entry:
    """The entry that these texts say, by the names of `FIELDS`; what is left out is filled in as a maker would mean it.

    Metal that was swept up counts as having cost what a refiner would pay for it, where nothing else is said and
    `computed` knows that. Raises Faults whose keys are the names of the fields.
    """
    said = {name: texts.get(name, "").strip() for name in FIELDS}
    known = WHATS.get(said["what"])  # type: ignore[call-overload]  # the model tells what is none
    line: dict[str, Any] = {
        "what": said["what"],
        "alloy": said["alloy"],
        "form": said["form"] or (known[1][0] if known else "fresh"),
        "grams": mass(said["grams"]),
        "money": _float(said["money"]),
    }
    if line["alloy"] and line["alloy"] not in stated.alloys:
        mend = did_you_mean(line["alloy"], stated.alloys)
        raise Faults([Fault(_PLACE, "alloy", f'no alloy "{line["alloy"]}"', mend)])
    home = stated.workshop.currency
    if said["what"] == "swept" and line["money"] is None and computed and isinstance(line["grams"], float):
        price = prices_per_g(computed).get(line["alloy"], {}).get("lemel")
        line["money"] = None if price is None else price * line["grams"]
    day = day_typed(said["day"])
    values = {
        "day": day,
        "lines": [{name: value for name, value in line.items() if value is not None}],
        "currency": said["currency"].upper() or home,
        "note": said["note"],
        "batch": count(said["batch"]),
        "corrects": count(said["corrects"]),
    }
    try:
        entry = built(Entry, {name: value for name, value in values.items() if value is not None})
    except Faults as refused:
        raise Faults(
            Fault(_PLACE, fault.key.rpartition(".")[2] or "grams", fault.problem, fault.mend)
            for fault in refused.faults
        ) from None
    return entry if entry.currency == home else entry.model_copy(update={"rate": _rate(entry, stated)})


def _rate(entry: Entry, stated: Stated) -> float:
    """What one of the entry's currency was in the workshop's on its day."""
    if entry.currency in (found := in_force(stated.quotes, entry.day).exchange):
        return found[entry.currency].price
    home = stated.workshop.currency
    problem = f"there is no exchange rate of {entry.currency} on or before {entry.day}"
    mend = f"Say it in {home}, or add one: troytag metal FOLDER add {entry.currency} PRICE --date {entry.day}"
    raise Faults([Fault(_PLACE, "currency", problem, mend)])


def _float(text: str) -> float | str | None:
    number = figure(text)
    return number if number is None or isinstance(number, str) else float(number)


def said_of(entry: Entry) -> dict[str, str]:
    """The same as texts again, of an entry of one line: what a form shows that corrects it."""
    line = entry.lines[0]
    money = "" if line.money is None else f"{line.money:.15g}"
    told = {"what": line.what, "alloy": line.alloy, "form": line.form, "grams": f"{line.grams:.15g}", "money": money}
    return {**told, "currency": entry.currency, "day": entry.day.isoformat(), "note": word(entry.note) or ""}
