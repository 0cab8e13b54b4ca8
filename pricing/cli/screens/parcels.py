"""What is shown of parcels: to the assay office, and to the refiner."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

from rich.padding import Padding

from pricing.cli.screens import screen
from pricing.costing import Costing
from pricing.model.metals import WORDS
from pricing.parcels.assay import Marked, Parcel
from pricing.parcels.exemption import CALLED
from pricing.parcels.refining import Settlement
from pricing.shown import Shown, percent, shown_of

#: What is said wherever a law is held against a folder.
LOCAL_LAW = (
    f"The limits are those of {CALLED}; elsewhere others hold, or none. What must be marked, and how it may be "
    "described, is for the law of the place and its assay office"
)


def show_assay(costing: Costing, found: Sequence[Marked], parcels: Sequence[Parcel]) -> None:
    """Which products are marked, and each kind of parcel with what lies ready for it."""
    console, shown = screen.out(), shown_of(costing.folder.stated)
    console.print(f"{costing.folder.stated.workshop.name}: what goes to the assay office, as of {costing.asked.as_of}.")
    told = {True: "due", False: "exempt", None: "ask"}
    lines = [
        (f"{each.sku}, {each.alloy}", f"{each.pieces:g}", shown.mass(each.piece_g), told[each.law],
         "marked" if each.is_marked else "no mark", shown.money(each.cost) if each.is_marked else "")
        for each in found
    ]  # fmt: skip
    heads = ("product", "pieces", "metal of one", "UK limits", "here", "costs a set")
    console.print()
    console.print(screen.table(heads, lines))
    for parcel in parcels:
        console.print(f"\n{parcel.step}", style="bold")
        for line in _parcel_lines(parcel, shown):
            console.print(Padding(line, (0, 0, 0, 2), expand=False))


def _parcel_lines(parcel: Parcel, shown: Shown) -> Iterable[str]:
    word = f"{parcel.per}s" if parcel.holds != 1 else parcel.per
    yield (
        f"A parcel holds {parcel.holds:g} {word} and costs {shown.money(parcel.each)}: {shown.money(parcel.when_full)} "
        f"for each {parcel.per} of a full one."
    )
    if not parcel.ready:
        yield "Say what lies ready: --have SKU:ALLOY=COUNT."
        return
    lying = ", ".join(f"{count:g} {sku} in {alloy}" for (sku, alloy), count in parcel.lying.items())
    yield f"Ready: {lying}."
    if parcel.full:
        yield f"{parcel.full} full {'parcel' if parcel.full == 1 else 'parcels'} can go."
    if parcel.left:
        now = shown.money(parcel.cost_of_each(parcel.left))
        which = f"the other {parcel.left:g}" if parcel.full else "them"
        yield f"Hold {which} back until {parcel.to_fill} more are ready; sent now, each pays {now}."


def assay_notes(found: Sequence[Marked]) -> list[str]:
    """What deserves a word: where the files and the published limits do not say the same."""
    notes = []
    for each in found:
        if each.differs:
            says = "must be marked" if each.law else "need not be marked"
            does = "marks it" if each.is_marked else "marks it not"
            notes.append(f"{each.sku} in {each.alloy}: by these limits it {says}, and its process {does}")
    if any(each.law is None for each in found):
        notes.append("ask: of several precious metals, where the law goes by the article as a whole")
    return [*notes, LOCAL_LAW]


def assay_records(found: Sequence[Marked], parcels: Sequence[Parcel]) -> dict[str, Any]:
    return {
        "products": [
            {"sku": each.sku, "alloy": each.alloy, "pieces": each.pieces, "piece_g": each.piece_g,
             "marked_by": list(each.steps), "cost": each.cost, "due_by_limits": each.law}
            for each in found
        ],
        "parcels": [
            {"step": each.step, "per": each.per, "holds": each.holds, "cost": each.each, "ready": each.ready,
             "full": each.full, "left": each.left, "to_fill": each.to_fill,
             "lying": [{"sku": sku, "alloy": alloy, "count": count} for (sku, alloy), count in each.lying.items()]}
            for each in parcels
        ],
    }  # fmt: skip


def show_lot(costing: Costing, found: Settlement, paid: float | None) -> None:
    """One lot with one refiner: metal by metal, the charges, what should be paid, and how short it came."""
    console, shown = screen.out(), shown_of(costing.folder.stated)
    console.print(f"{found.title} ({found.refiner})", style="bold")
    lines = [
        (WORDS[each.element][0], shown.mass(each.fine_g), shown.mass(each.paid_g), f"{each.price_per_g:,.4f}",
         shown.money(each.value), shown.money(each.charge))
        for each in found.metals
    ]  # fmt: skip
    if lines:
        console.print(screen.table(("", "fine", "paid for", "a gram", "brings", "refining"), lines))
    refining = sum(each.charge for each in found.metals)
    least = found.charges > found.lot_charge + refining
    charges = f"lot {shown.money(found.lot_charge)}, refining {shown.money(refining)}"
    told = [
        f"Charges {shown.money(found.charges)} ({charges}{', its least' if least else ''}).",
        f"{should_be_paid(found, shown, costing.computed.resolved.currency)}. "
        f"alloys.toml reckons {shown.money(found.reckoned)} for the same.",
    ]
    if paid is not None:
        told += _paid_lines(found, paid, shown)
    for line in told:
        for part in textwrap.wrap(line, console.width):
            console.print(part)


def should_be_paid(found: Settlement, shown: Shown, currency: str) -> str:
    """What a lot should bring, in a sentence that also says where it brings nothing or is too small to be taken."""
    small = f", and the lot is {shown.mass(least)} below the least" if (least := found.too_small_by_g) > 0 else ""
    if found.expected < 0:
        more = f"{shown.money(-found.expected)} {currency}"
        return f"Nothing should be paid: the charges are {more} more than the metal brings{small}"
    return f"Should be paid: {shown.money(found.expected)} {currency}{small}"


def _paid_lines(found: Settlement, paid: float, shown: Shown) -> list[str]:
    short = found.short_by(paid)
    if abs(short) < 0.005:
        return [f"Paid {shown.money(paid)}: as it should be."]
    way = "short" if short > 0 else "more"
    share = f" ({percent(abs(short) / found.expected, 1)})" if found.expected > 0 else ""
    lines = [f"Paid {shown.money(paid)}: {shown.money(abs(short))} {way}{share}."]
    content = found.content_paid(paid)
    if content is not None and short > 0:
        lines.append(
            f"It is what {percent(content, 1)} of the content would bring: ask for the assay report, and weigh your "
            "next lot after melting it."
        )
    return lines


def lot_notes(found: Settlement, shown: Shown) -> list[str]:
    """What deserves a word of a lot."""
    notes = []
    if found.too_small_by_g > 0:
        notes.append(f"{found.title} takes no lot so small: {shown.mass(found.too_small_by_g)} more are needed")
    for element, grams in found.unpaid.items():
        notes.append(
            f"{found.title} pays nothing for {WORDS[element][0]}, and {shown.mass(grams)} of it are in the lot"
        )
    for each in found.metals:
        if each.paid_g == 0:
            notes.append(f"{shown.mass(each.fine_g)} of {WORDS[each.element][0]} are less than {found.title} pays for")
    if not found.metals:
        notes.append(f"{found.title} pays for no metal that is in the lot")
    if found.expected < 0:
        notes.append(f"{found.title} would charge more than the lot brings: keep it until there is more")
    return notes


def lot_records(found: Sequence[Settlement], paid: float | None) -> list[dict[str, Any]]:
    return [
        {"refiner": each.refiner, "grams": each.grams, "value": each.value, "charges": each.charges,
         "expected": each.expected, "reckoned": each.reckoned, "paid": paid,
         "short_by": None if paid is None else each.short_by(paid),
         "sent": [{"alloy": some.alloy, "grams": some.grams, "lemel": some.is_lemel} for some in each.sent],
         "metals": [{"element": metal.element, "fine_g": metal.fine_g, "paid_g": metal.paid_g,
                     "price_per_g": metal.price_per_g, "value": metal.value, "charge": metal.charge}
                    for metal in each.metals]}
        for each in found
    ]  # fmt: skip
