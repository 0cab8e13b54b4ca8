"""How a filled card comes to the log on the command line: read from a file, from options, or asked."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import date as Date
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pricing.batches.adding import computed_on, prepared, write_batch
from pricing.batches.cards import BlankFlask, blank_card, card_of_csv, card_of_toml, fitting
from pricing.batches.matching import products_of, steps_in
from pricing.batches.model import Card
from pricing.cli.commands.log_asked import Typed, are_right, asked
from pricing.cli.options import day
from pricing.cli.screens import log as screens
from pricing.cli.screens.stock import understood
from pricing.costing import asked_for
from pricing.errors import Place, UsageFault
from pricing.folder.read import Folder, read_folder
from pricing.folder.typed_values import built, count, figure, mass
from pricing.reading import read_file
from pricing.shown import shown_of

if TYPE_CHECKING:
    from pricing.model.stated import Stated
    from pricing.pouring.designs import Design
    from pricing.pouring.wants import Want

#: Most bytes of a file with a card.
MOST_BYTES = 2**20
#: Under which options the weights of the one flask are typed.
_GRAMS = MappingProxyType(
    {
        "fresh_g": "--fresh", "returned_g": "--returned", "back_g": "--back",
        "castings_g": "--castings", "rejected_g": "--rejected", "lemel_g": "--lemel",
    }
)  # fmt: skip
_OPTIONS = MappingProxyType({"flasks[0].alloy": "--alloy", **{f"flasks[0].{key}": to for key, to in _GRAMS.items()}})


def add(
    root: Path, file: Path | None, typed: Typed, corrects: int | None, draws: bool, yes: bool, over_gap: bool
) -> str:
    """Write a card down; gives what to tell. Raises what is wrong with it, UsageFault for what looks like a slip."""
    folder, is_asked = read_folder(root), False
    if file is not None and typed.says_something:
        raise UsageFault("a file and options for a flask: say it in one of the two.")
    if file is not None:
        card = _of_file(file, folder)
    elif typed.says_something:
        card = understood(lambda: _of_options(typed, folder), _OPTIONS)
    elif is_asked := sys.stdin.isatty() and sys.stdout.isatty():
        card = understood(lambda: _of_options(asked(folder.stated, typed.date), folder), _OPTIONS)
    else:
        raise UsageFault(f"name a filled card, or say --alloy, --fresh … An empty card: troytag log {root} blank")
    if corrects is not None:
        card = card.model_copy(update={"corrects": corrects})
    ready = prepared(folder, card, draws, Date.today(), computed_on(folder, card.day))
    if ready.doubts and not yes and not (is_asked and are_right(ready.doubts)):
        told = [f"{each}. If it is right, add --yes." for each in ready.doubts]
        told += ["To leave the drawer alone, add --no-stock."] if ready.draws else []
        raise UsageFault("\n".join(told))
    currency = folder.stated.workshop.currency
    batch, entry = write_batch(root, card, currency, ready.metal, ready.draws, over_gap)
    return screens.added(batch, entry, shown_of(folder.stated))


def blank(root: Path, wants: Sequence[Want]) -> str:
    """An empty card with names of this folder in it, or one for each flask that is planned for what is wanted."""
    folder = read_folder(root)
    stated = folder.stated
    if wants:
        from pricing.costing import cost_folder
        from pricing.drawer.on_hand import on_hand
        from pricing.pouring.plan import plan

        costing = cost_folder(folder, asked_for())
        flasks = plan(costing, wants, stock=on_hand(root, costing.asked.as_of) or None).flasks
        planned = [
            BlankFlask(
                flask.alloy,
                flask.fresh_g,
                flask.returned_g,
                tuple((each.design.sku, _size(stated, each.design), each.castings, _pour(stated, each.design))
                      for each in flask.holds),
            )
            for flask in flasks
        ]  # fmt: skip
        return blank_card(Date.today(), planned)
    poured = [
        (product.sku, alloy, step.name)
        for product in products_of(stated).values()
        for alloy in product.alloys or ()
        for step in steps_in(stated, product, alloy)
        if step.takes_metal == "pour"
    ]
    sku, alloy, step = poured[0] if poured else ("sku", "alloy", "pour")
    return blank_card(Date.today(), [BlankFlask(alloy, 0.0, 0.0, ((sku, "", 0, step),))])


def _size(stated: Stated, design: Design) -> str:
    """The size of a design, where its sku does not say it."""
    return design.size if design.sku in stated.products else ""


def _pour(stated: Stated, design: Design) -> str:
    """The step of a design at which the metal comes in."""
    steps = steps_in(stated, products_of(stated)[design.sku], design.alloy)
    return next(step.name for step in steps if step.takes_metal)


def _of_file(file: Path, folder: Folder) -> Card:
    content = read_file(file, MOST_BYTES)
    read = card_of_csv if file.suffix.lower() == ".csv" else card_of_toml
    return read(str(file), content, folder.stated)


def _of_options(typed: Typed, folder: Folder) -> Card:
    flask: dict[str, Any] = {"alloy": typed.alloy, "pieces": _pieces(typed)}
    amounts: dict[str, str] = {key: getattr(typed, option.removeprefix("--")) for key, option in _GRAMS.items()}
    flask |= {name: mass(text) for name, text in amounts.items() if text.strip()}
    minutes = {step: _float(text) for step, text in (_parted(each, "--minutes", "STEP=N") for each in typed.minutes)}
    values = {"day": day(typed.date) or Date.today(), "flasks": [flask], "minutes": minutes, "note": typed.note}
    return fitting(built(Card, values), folder.stated, lambda path: Place("what was typed"))


def _pieces(typed: Typed) -> list[dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for each in typed.pieces:
        what, started = _parted(each, "--piece", "SKU[:SIZE]=N")
        sku, _, size = (part.strip() for part in what.partition(":"))
        sized = {"size": size} if size else {}
        found[what] = {"sku": sku, **sized, "started": count(started), "good": count(started), "rejected": {}}
    for each in typed.rejects:
        what, number = _parted(each, "--reject", "SKU[:SIZE]:STEP=N")
        piece = max((piece for piece in found if what.startswith(f"{piece}:")), key=len, default="")
        step = what.removeprefix(f"{piece}:").strip()
        if not piece or not step:
            raise UsageFault(f'--reject "{each}": write it as SKU:STEP=N, of a product as --piece names it.')
        rejected = count(number)
        found[piece]["rejected"][step] = rejected
        if isinstance(rejected, int) and isinstance(found[piece]["good"], int):
            found[piece]["good"] -= rejected
    return list(found.values())


def _parted(text: str, option: str, form: str) -> tuple[str, str]:
    name, equals, number = text.rpartition("=")
    if not equals or not name.strip():
        raise UsageFault(f'{option} "{text}": write it as {form}.')
    return name.strip(), number.strip()


def _float(text: str) -> float | str | None:
    number = figure(text)
    return number if number is None or isinstance(number, str) else float(number)
