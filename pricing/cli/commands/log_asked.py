"""A filled card, asked line by line on a terminal; what cannot be is asked again, so that nothing typed is lost."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date as Date

import typer

from pricing.batches.matching import products_of, steps_in
from pricing.batches.model import MOST_PIECES
from pricing.days import day
from pricing.errors import UsageFault, did_you_mean
from pricing.folder.typed_values import count, figure, mass
from pricing.model.stated import Stated


@dataclass(frozen=True)
class Typed:
    """What was typed after the command, as it was typed."""

    alloy: str
    fresh: str
    returned: str
    back: str
    castings: str
    rejected: str
    lemel: str
    pieces: Sequence[str]
    rejects: Sequence[str]
    minutes: Sequence[str]
    date: str | None
    note: str

    @property
    def says_something(self) -> bool:
        return bool(self.alloy or self.fresh or self.returned or self.back or self.castings or self.pieces)


def asked(stated: Stated, on: str | None) -> Typed:
    """What somebody answers, as if it had been typed after the command; an empty answer ends a list."""
    products = products_of(stated)
    when = _until("Day of the pour", _is_day, on or Date.today().isoformat())
    alloy = _one_of("Alloy", stated.alloys)
    fresh = _grams("Fresh metal weighed in, g", "0")
    returned = _grams("Returned metal weighed in, g", "0")
    back = _grams("Button and sprues back, g")
    castings = _grams("Good castings, as cast, g")
    rejected = _grams("Spoiled castings, g", "0")
    lemel = _grams("Filings swept up, g", "0")
    pieces, rejects, minutes = [], [], []
    sizes: dict[str, list[str]] = {}
    steps: dict[str, None] = {}
    made = [sku for sku, product in products.items() if alloy in (product.alloys or ())]
    while sku := _one_of("Product on the tree (Enter: no more)", made, True):
        piece, sized = sku, products[sku].sizes
        if sized is not None and sku == products[sku].sku:
            names, may_be_none = sizes.get(sku, list(sized.made)), not sized.each_priced
            size = _one_of(f"  its size{' (Enter: none)' if may_be_none else ''}", names, may_be_none)
            sizes[sku] = [each for each in names if each != size] if size else []
            piece = f"{sku}:{size}" if size else sku
        started = left = _count("  castings begun with", 1, MOST_PIECES)
        own = [step.name for step in steps_in(stated, products[sku], alloy)]
        steps |= dict.fromkeys(own)
        while left and (step := _one_of("  spoiled at which step (Enter: no more)", own, True)):
            spoiled = _count("    how many", 0, left)
            rejects.append(f"{piece}:{step}={spoiled}")
            own, left = [each for each in own if each != step], left - spoiled
        pieces.append(f"{piece}={started}")
        if not sizes.get(sku):
            made.remove(sku)
    while step := _one_of("Minutes of which step (Enter: no more)", steps, True):
        minutes.append(f"{step}={_minutes('  minutes')}")
    return Typed(alloy, fresh, returned, back, castings, rejected, lemel, pieces, rejects, minutes, when, _ask("Note"))


def are_right(doubts: Sequence[str]) -> bool:
    """Whether what looks like a slip is right all the same."""
    for doubt in doubts:
        typer.echo(f"{doubt}.")
    return typer.confirm("Is it right?", default=False)


def _ask(question: str, default: str = "") -> str:
    return str(typer.prompt(question, default=default, show_default=bool(default))).strip()


def _until(question: str, wrong: Callable[[str], str], default: str = "") -> str:
    """The first answer of which `wrong` has nothing to say."""
    while problem := wrong(answer := _ask(question, default)):
        typer.echo(problem)
    return answer


def _one_of(question: str, known: Iterable[str], may_be_empty: bool = False) -> str:
    names = list(known)

    def wrong(answer: str) -> str:
        if answer in names or (may_be_empty and not answer):
            return ""
        return did_you_mean(answer, names, most=40)

    return _until(question, wrong)


def _grams(question: str, default: str = "") -> str:
    return _until(question, lambda answer: _no_number(mass(answer)), default)


def _minutes(question: str) -> str:
    return _until(question, lambda answer: _no_number(figure(answer)))


def _count(question: str, least: int, most: int) -> int:
    def wrong(answer: str) -> str:
        number = count(answer)
        return "" if isinstance(number, int) and least <= number <= most else f"Write a number from {least} to {most}."

    return int(_until(question, wrong))


def _no_number(value: object) -> str:
    return "Write a number, with a point." if value is None or isinstance(value, str) else ""


def _is_day(answer: str) -> str:
    try:
        day(answer)
    except UsageFault as wrong:
        return str(wrong)
    return ""
