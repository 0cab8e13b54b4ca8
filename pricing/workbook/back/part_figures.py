"""Castings, findings and the scale of a product: they are the same in every alloy, and cousins take lists whole."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

from pricing.errors import Fault
from pricing.folder.inherit import findings_of, parts_of
from pricing.formulas.tables import INPUTS
from pricing.workbook.back.family import PARTS, Family, Question, at, is_by_alloy, plain
from pricing.workbook.back.layered import Variant
from pricing.workbook.back.matching import Typed

#: Where a product says how much of each size is sold.
SALES = "sizes.sales"
#: What a maker calls the parts of a set, where the table is named otherwise.
TOLD: Mapping[str, str] = MappingProxyType({"link": "piece", "size": "sales of size"})


def part_questions(family: Family, typed: Iterable[Typed]) -> tuple[list[Question], list[Fault]]:
    """What is asked of the parts of sets; faults where rows of one part ask for different things."""
    asked: dict[tuple[str, str], dict[tuple[int, str], list[Typed]]] = {}
    for each in typed:
        if each.table in (*PARTS, "size") or each.table == "variant" and not is_by_alloy(each):
            sku = family.variant(each).sku
            inside = asked.setdefault((_key(each), sku), {})
            inside.setdefault((_index(family, each), each.name), []).append(each)
    faults: list[Fault] = []
    questions: dict[str, Question] = {}
    for (key, sku), figures in asked.items():
        question = questions.get(key) or questions.setdefault(key, _question(family, key))
        for (index, _), rows in figures.items():
            wrong = _at_odds(family, sku, key, index, rows)
            if wrong:
                faults.append(wrong)
                continue
            variant = Variant(sku, "")
            value = question.wanted.get(variant, question.now[variant])
            new = _with(family, sku, value, index, rows[0])
            for row in rows:
                question.ask(variant, new, row.cell)
    return list(questions.values()), faults


def _key(typed: Typed) -> str:
    """The key of a product that holds the figure: a list of parts, or the product's own figure for all its alloys."""
    if typed.table == "size":
        return SALES
    return PARTS.get(typed.table) or INPUTS[typed.name].first_key


def _question(family: Family, key: str) -> Question:
    empty: Any = [] if key in PARTS.values() else {} if key == SALES else None
    path = tuple(key.split("."))
    now = {Variant(sku, ""): plain(at(product, path)) or empty for sku, product in family.products.items()}
    return Question(path, now)


def _index(family: Family, typed: Typed) -> int:
    """The place of a row's part in the product's own list; 0 for a figure of the product itself."""
    if typed.table == "variant":
        return 0
    if typed.table in ("casting", "size"):
        return typed.row.index[1]
    variant = family.variant(typed)
    product = family.products[variant.sku]
    if typed.table == "link":
        used = parts_of(product, variant.alloy)[int(family.row(typed).path[-1].partition(":")[0])]
    else:
        used = findings_of(product, variant.alloy)[typed.row.index[1]]
    return next(place for place, each in enumerate(product.findings or ()) if each is used)


def _at_odds(family: Family, sku: str, key: str, index: int, rows: list[Typed]) -> Fault | None:
    """The fault of a figure that was changed in some of its rows only, or to different values."""
    product = family.products[sku]
    alloys = list(product.alloys or ())
    if key == "findings":
        finding = (product.findings or ())[index]
        alloys = [alloy for alloy in alloys if finding in (*findings_of(product, alloy), *parts_of(product, alloy))]
    said = {family.variant(each).alloy: each for each in rows}
    if set(said) == set(alloys) and len({each.value for each in rows}) == 1:
        return None
    first = rows[0]
    left = [alloy for alloy in alloys if alloy not in said or said[alloy].value != first.value]
    what = key if first.table == "variant" else f"{TOLD.get(first.table, first.table)} {first.row.row.name}"
    problem = (
        f"the {what} of {sku} is the same in every alloy, and this was typed in {family.variant(first).alloy} only"
    )
    return first.cell.fault(first.name, problem, f"Type it in {_listed(left)} too.")


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _with(family: Family, sku: str, held: Any, index: int, typed: Typed) -> Any:
    """What a product holds with a typed figure in it: of its own, of how its sizes sell, of one part of a list."""
    if typed.table == "variant":
        return typed.value
    if typed.table == "size":
        return {**held, typed.row.row.name: typed.value}
    return _with_part(family, sku, held, index, typed.name, typed.value)


def _with_part(family: Family, sku: str, parts: list[dict[str, Any]], index: int, name: str, value: Any) -> list[Any]:
    """The list with a figure of one part changed; a volume that is typed takes the place of a mesh."""
    known = INPUTS[name]
    key = known.key
    part = {**parts[index], key: known.written(value)}
    if key == "volume_cm3" and "mesh" in part:
        del part["mesh"]
        measured = next(row for variant, row in family.variants.items() if variant.sku == sku).castings[index]
        if "area_cm2" not in part and measured.area_cm2:
            part["area_cm2"] = measured.area_cm2
    return [*parts[:index], part, *parts[index + 1 :]]
