"""Filled cards from files and from what was typed: TOML, one card a file, or a table with a line for each product."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from pricing.batches.matching import mismatches
from pricing.batches.model import Card
from pricing.errors import Fault, Faults, Place, did_you_mean
from pricing.folder.build_models import salvaged
from pricing.folder.toml.places import Document, KeyPath, written
from pricing.folder.toml.spelling import spelled, spelled_key
from pricing.folder.toml.syntax import document
from pricing.folder.toml.text import decoded
from pricing.folder.typed_values import built, count, day_typed, figure, mass
from pricing.model.stated import Stated

#: The columns of a table of cards: those of the batch, of a flask, of the castings of one product in it.
OF_BATCH = ("day", "note")
OF_FLASK = ("alloy", "fresh_g", "returned_g", "back_g", "castings_g", "rejected_g", "lemel_g")
OF_PIECES = ("sku", "size", "started", "good", "rejected", "since", "up_to", "finished_g", "minutes")
COLUMNS = ("flask", *OF_BATCH, *OF_FLASK, *OF_PIECES)
#: Most lines of such a table.
MOST_LINES = 2000
_GRAMS = frozenset({*OF_FLASK[1:], "finished_g"})

_HEAD = """\
# A filled card. Grams as the scale shows them, another unit in quotes: fresh_g = "12.5 dwt".
# Counts are of castings, not of sets: a pair of knobs is two.
day = {day}
note = ""
"""
#: What is weighed of a flask, with what it is.
_WEIGHED = (
    ("fresh_g", "fresh metal weighed into the crucible"),
    ("returned_g", "clean sprue and buttons weighed into it"),
    ("back_g", "button and sprues that came back"),
    ("castings_g", "the good castings, cut off, as cast"),
    ("rejected_g", "spoiled castings that can be melted again"),
    ("lemel_g", "filings and dust swept up"),
)
_WIDTH = 36


@dataclass(frozen=True)
class BlankFlask:
    """What is known of a flask before it is poured: its alloy, the metal planned for it in grams, and its castings:
    sku, size ("" for none), how many, and the step at which the metal comes in."""

    alloy: str
    fresh_g: float
    returned_g: float
    pieces: tuple[tuple[str, str, int, str], ...]


def blank_card(day: date, flasks: Sequence[BlankFlask]) -> str:
    """A card to be filled in, as TOML, with what was planned on it. What is left at 0 is told when it is added."""
    steps = [step for flask in flasks for *_, step in flask.pieces]
    lines = [_HEAD.format(day=day.isoformat())]
    for place, flask in enumerate(flasks):
        planned = {"fresh_g": flask.fresh_g, "returned_g": flask.returned_g}
        lines += ["[[flasks]]", f"alloy = {spelled(flask.alloy)}"]
        for name, remark in _WEIGHED:
            said = f"{name} = {planned.get(name, 0.0):.2f}"
            lines.append(said if place else f"{said:<{_WIDTH}}# {remark}")
        lines += ["pieces = [", *(f"    {_blank_piece(*each)}," for each in flask.pieces), "]", ""]
    if steps:
        remark = "attended minutes of each step, of all castings together"
        lines += [f"{'[minutes]':<{_WIDTH}}# {remark}", f"{spelled_key(steps[0])} = 0", ""]
    return "\n".join(lines)


def _blank_piece(sku: str, size: str, started: int, step: str) -> str:
    sized = f", size = {spelled(size)}" if size else ""
    rejected = f"{{ {spelled_key(step)} = 0 }}"
    return f"{{ sku = {spelled(sku)}{sized}, started = {started}, good = 0, rejected = {rejected} }}"


def card_of_toml(file: str, content: bytes, stated: Stated) -> Card:
    """The card in this file. Raises Faults with everything that is wrong in it, each with its place."""
    text = decoded(file, content)
    found = document(file, text)
    salvage = salvaged(Card, Document(file, text, _in_grams(found.values)))
    if salvage.model is None or salvage.faults:
        raise Faults(salvage.faults)
    return fitting(salvage.model, stated, lambda path: found.place(path))


def _in_grams(values: Any) -> Any:
    """What a card says with its masses in grams, where one stands in quotes with its unit: `fresh_g = "12.5 dwt"`."""
    if isinstance(values, list):
        return [_in_grams(each) for each in values]
    if not isinstance(values, dict):
        return values
    return {
        name: mass(said) if name in _GRAMS and isinstance(said, str) and isinstance(figure(said), str) else
        _in_grams(said)
        for name, said in values.items()
    }  # fmt: skip


def card_of_csv(file: str, content: bytes, stated: Stated) -> Card:
    """The card in this table: a line for each product in a flask; lines of one flask have the same number.

    What is said of a flask or of the batch need stand only on its first line. Raises Faults as `card_of_toml`.
    """
    lines = _lines(file, decoded(file, content))
    values: dict[str, Any] = {"flasks": []}
    numbers: dict[str, int] = {}
    rows: dict[KeyPath, int] = {}
    faults: list[Fault] = []
    for number, line in lines:
        for name in OF_BATCH:
            if line[name]:
                values.setdefault(name, day_typed(line[name]) if name == "day" else line[name])
        place = numbers.setdefault(line["flask"], len(numbers))
        if place == len(values["flasks"]):
            values["flasks"].append({"pieces": []})
            rows["flasks", place] = number
        flask = values["flasks"][place]
        for name in OF_FLASK:
            said = _value(name, line[name])
            if said is not None and flask.setdefault(name, said) != said:
                problem = f"{said} stands here, and {flask[name]} on the first line of this flask"
                faults.append(Fault(Place(file, number), name, problem, "Say it once, or the same."))
        if line["sku"]:
            rows["flasks", place, "pieces", len(flask["pieces"])] = number
            flask["pieces"].append(_pieces(line))
    if faults:
        raise Faults(faults)

    def at(path: KeyPath) -> Place:
        nearest = next((rows[path[:length]] for length in range(len(path), 0, -1) if path[:length] in rows), None)
        return Place(file, nearest)

    try:
        card = built(Card, values)
    except Faults as refused:
        raise Faults(Fault(Place(file), fault.key, fault.problem, fault.mend) for fault in refused.faults) from None
    return fitting(card, stated, at)


def fitting(card: Card, stated: Stated, at: Callable[[KeyPath], Place]) -> Card:
    """The card, where the folder knows everything in it. Raises Faults, each `at` its place, where it does not."""
    wrong = list(mismatches(card, stated))
    if wrong:
        raise Faults(Fault(at(each.path), written(each.path), each.problem, each.mend) for each in wrong)
    return card


def shares(text: str) -> dict[str, Any]:
    """`pour=2; fit=1` as what it says by step; what is no number stays text, and the model says so."""
    found: dict[str, Any] = {}
    for each in filter(None, (part.strip() for part in text.split(";"))):
        step, _, number = each.rpartition("=")
        found[step.strip() or each] = _number(number) if step else ""
    return found


def shared(said: Mapping[str, float]) -> str:
    """The same the other way: what is told by step, as it is typed. What is 0 is left out."""
    return "; ".join(f"{step}={number:.15g}" for step, number in said.items() if number)


def _number(text: str) -> int | float | str | None:
    whole = count(text)
    number = figure(text) if isinstance(whole, str) else whole
    return float(number) if isinstance(number, Decimal) else number


def _lines(file: str, text: str) -> Sequence[tuple[int, Mapping[str, str]]]:
    """The lines that say something, with their numbers; every column is in them."""
    reader = csv.reader(io.StringIO(text, newline=""))
    try:
        read = [(reader.line_num, [field.strip() for field in row]) for row in _first(reader) if any(row)]
    except csv.Error as wrong:
        raise Faults(
            [Fault(Place(file, reader.line_num), "", f"this is no table ({wrong})", "Save it as CSV.")]
        ) from None
    if not read:
        raise Faults([Fault(Place(file), "", "nothing stands in it", f"Begin with {','.join(COLUMNS[:6])},…")])
    heads = read[0][1]
    unknown = [head for head in heads if head not in COLUMNS]
    if unknown:
        mend = did_you_mean(unknown[0], COLUMNS, most=len(COLUMNS))
        raise Faults([Fault(Place(file, read[0][0]), "", f'no column is called "{unknown[0]}"', mend)])
    blank = dict.fromkeys(COLUMNS, "")
    return [(number, {**blank, **dict(zip(heads, row, strict=False))}) for number, row in read[1:]]


def _first(rows: Iterable[list[str]]) -> Iterable[list[str]]:
    for place, row in enumerate(rows):
        if place > MOST_LINES:
            raise csv.Error(f"more than {MOST_LINES} lines")
        yield row


def _pieces(line: Mapping[str, str]) -> dict[str, Any]:
    found = {name: _value(name, line[name]) for name in OF_PIECES}
    return {name: value for name, value in found.items() if value is not None}


def _value(name: str, text: str) -> Any:
    if name in ("rejected", "minutes"):
        said = shares(text)
        return {step: float(each) if name == "minutes" and isinstance(each, int) else each
                for step, each in said.items()}  # fmt: skip
    if name in _GRAMS:
        return mass(text)
    return count(text) if name in ("started", "good") else text or None
