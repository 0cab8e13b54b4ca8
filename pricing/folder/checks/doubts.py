"""Whether each doubt is about a figure: its path must lead to a number that the files state.

A path is the keys from the top of a file down to the figure, with points between them: `overhead.productive_hours`
(`workshop.overhead.productive_hours` means the same), `alloys.sterling.melt_loss`, `processes.cast.pour.good`,
`channels.shop.fees.card.rate`, `products.acorn-knob.steps.fit.minutes`. What stands in a list is named by its own
name or material. Names may have points and blanks in them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from pydantic import BaseModel, ValidationError

from pricing.errors import Fault, did_you_mean
from pricing.folder.expected_keys import keys_of
from pricing.folder.files import CHANNELS_FILE, DOUBTS_FILE, FILE_OF, PRODUCTS_FOLDER, WORKSHOP_FILE
from pricing.folder.gathered import Parts
from pricing.folder.inherit import step_with
from pricing.folder.refused_values import MOST_KEYS
from pricing.folder.stated_at import DEFINED

#: Which kind of thing stands below these beginnings of a path; everything else is the workshop's.
_KINDS: Mapping[str, str] = MappingProxyType(
    {
        part: kind
        for part, defined in FILE_OF.items()
        for kind, (file, path) in {**DEFINED, "product": FILE_OF[PRODUCTS_FOLDER]}.items()
        if (file, path) == defined
    }
)

_GONE = "If it is gone, take this line out."
_PUT_RIGHT = "A doubt is about one number, by the keys that lead to it."


def doubt_faults(parts: Parts) -> Iterator[Fault]:
    """Doubts about what is not there, or is no number; nothing where nobody can say, as a file could not be read."""
    for path in parts.doubts:
        told = problem_of(parts, path)
        if told is not None:
            yield parts.documents.fault(DOUBTS_FILE, (path,), *told, at="key")


def doubt_warnings(parts: Parts) -> Iterator[Fault]:
    """Figures that are stated outside of the range in which they are doubted: one of the two was changed since.

    What the batch log has taught may well lie elsewhere than what is stated, and is no slip.
    """
    for path, doubt in parts.doubts.items():
        value = figure_of(parts, path) if doubt.batch is None else None
        if value is not None and not doubt.low <= value <= doubt.high:
            range_ = f"from {doubt.low:.10g} to {doubt.high:.10g}"
            problem = f"it is stated as {value:.10g}, and here it is doubted {range_}"
            mend = "Take the doubt out if you have measured it, or doubt it around what is stated."
            yield parts.documents.fault(DOUBTS_FILE, (path,), problem, mend, at="key")


def figure_of(parts: Parts, path: str) -> float | None:
    """The figure that a path leads to; None where it leads to none."""
    head, _, rest = path.partition(".")
    if head == PRODUCTS_FOLDER:
        found = (_figure(_inside_product(parts, sku), rest[len(sku) + 1 :]) for sku in fitting(parts.whole, rest))
        return next((value for value in found if value is not None), None)
    if head in _KINDS:
        return _figure(getattr(parts, head), rest)
    if head == "ladder":
        return _figure(inside(parts.ladder), rest)
    return _figure(inside(parts.workshop), rest if head == "workshop" else path)


def _figure(within: Mapping[str, Any], path: str) -> float | None:
    for name in fitting(within, path):
        here, rest = within[name], path[len(name) + 1 :]
        if rest and (found := _figure(inside(here), rest)) is not None:
            return found
        if not rest and isinstance(here, (int, float)) and not isinstance(here, bool):
            return float(here)
    return None


def problem_of(parts: Parts, path: str) -> tuple[str, str] | None:
    """Why a path leads to no figure, as problem and mend; None where it does, or where nobody can say."""
    head, _, rest = path.partition(".")
    if head in _KINDS and rest:
        return _problem_of_a_kind(parts, head, rest)
    if head == "ladder" and rest:
        written = _written(parts, CHANNELS_FILE)
        return None if written is None else _walked(inside(parts.ladder), written.get("ladder"), rest, head)
    if parts.workshop is None:
        return None
    written = _written(parts, WORKSHOP_FILE)
    workshop = inside(parts.workshop)
    if head == "workshop" and rest:
        return _walked(workshop, written, rest, head)
    if head in (*_KINDS, "ladder", "workshop"):
        return f"{head} is no number", _PUT_RIGHT
    if head not in workshop:
        return f'no figure "{path}"', did_you_mean(head, (*workshop, *_KINDS, "ladder"), most=MOST_KEYS)
    return _walked(workshop, written, path, "")


def _problem_of_a_kind(parts: Parts, head: str, rest: str) -> tuple[str, str] | None:
    """A path that begins with a kind of thing that has a name."""
    known = parts.names.get(_KINDS[head])
    if known is None or head == PRODUCTS_FOLDER and not parts.all_products_read:
        return None
    names = fitting(known, rest)
    if not names:
        name = rest.partition(".")[0]
        return f'no {_KINDS[head]} "{name}"', f"{did_you_mean(name, known)} {_GONE}"
    if head == PRODUCTS_FOLDER:
        told = [_problem_of_a_product(parts, sku, rest[len(sku) + 1 :]) for sku in names]
        return None if None in told else told[-1]
    file, _ = DEFINED[_KINDS[head]]
    return _walked(getattr(parts, head), (_written(parts, file) or {}).get(head), rest, head)


def _problem_of_a_product(parts: Parts, sku: str, rest: str) -> tuple[str, str] | None:
    """A product's figures are those that hold once `like` is applied, its steps those of its process with its own."""
    seen = f"products.{sku}"
    if sku not in parts.whole or rest.partition(".")[0] in parts.unsure(sku):
        return None
    if not rest:
        return f"{seen} is no number", _PUT_RIGHT
    written = _written(parts, parts.documents.product_files[sku])
    return _walked(_inside_product(parts, sku), written, rest, seen)


def _inside_product(parts: Parts, sku: str) -> Mapping[str, Any]:
    """What stands in a product, its steps those of its process with its own figures."""
    product = parts.whole[sku]
    steps = {}
    for step in parts.processes.get(product.process or "", ()):
        try:
            steps[step.name] = step_with(step, product.steps.get(step.name))
        except ValidationError:  # told where the product's own figures are looked at
            steps[step.name] = step
    return {**inside(product), "steps": steps or product.steps}


def _written(parts: Parts, file: str) -> dict[str, Any] | None:
    """What stands in a file, whether it is right or not; None where the file could not be read."""
    document = parts.documents.by_file.get(file)
    return document.values if document else None


def _walked(within: Mapping[str, Any], written: Any, path: str, seen: str) -> tuple[str, str] | None:
    """What is wrong with `path` below what was `seen`, as problem and mend; None where it leads to a number.

    `written` is what stands in the file there: where the path leads to something that was refused, that is told
    already.
    """
    names = fitting(within, path)
    in_file = inside(written)
    if not names and fitting(in_file, path):
        return None
    if not names:
        name = path.partition(".")[0]
        where = f" in {seen}" if seen else ""
        return f'no figure "{name}"{where}', did_you_mean(name, within, most=MOST_KEYS)
    told = [
        _arrived(within[name], in_file.get(name), path[len(name) + 1 :], f"{seen}.{name}".lstrip(".")) for name in names
    ]
    return None if None in told else told[-1]


def fitting(names: Collection[str], path: str) -> list[str]:
    """The names with which a path may begin; names have points in them, too."""
    parts = path.split(".")
    found = [begun for end in range(1, len(parts) + 1) if (begun := ".".join(parts[:end])) in names]
    return found if len(found) < 2 else [name for name in names if name in found]


def _arrived(here: Any, written: Any, rest: str, seen: str) -> tuple[str, str] | None:
    if here is None:
        not_stated = f"{seen} is not stated, so that there is nothing to doubt"
        return (not_stated, "State it, or take the doubt out.") if written is None else None
    if rest and isinstance(here, (BaseModel, Mapping, tuple)):
        return _walked(inside(here), written, rest, seen)
    if isinstance(here, (int, float)) and not isinstance(here, bool):
        return (f"{seen} is a number, and has no {rest}", f"Write the path as {seen}.") if rest else None
    return f"{seen} is no number", _PUT_RIGHT


def inside(here: Any) -> Mapping[str, Any]:
    """What stands in a table by its keys, or in a list of tables by their names."""
    if isinstance(here, dict):
        return here
    if isinstance(here, BaseModel):
        return _Keys(here)
    if isinstance(here, Mapping):
        return here
    named: dict[str, Any] = {}
    for item in here if isinstance(here, (tuple, list)) else ():
        name = _name_of(item)
        if isinstance(name, str):
            named.setdefault(name, item)
    return named


def _name_of(item: Any) -> Any:
    """What an item of a list is called by: its name, or its material where it has none."""
    if isinstance(item, dict):
        return item.get("name", item.get("material"))
    names = _names_of(type(item)) if isinstance(item, BaseModel) else {}
    key = names.get("name", names.get("material"))
    return None if key is None else getattr(item, key)


class _Keys(Mapping[str, Any]):
    """What stands in a stated table by the keys of its file, looked at only where it is asked for."""

    def __init__(self, table: BaseModel):
        self._table, self._names = table, _names_of(type(table))

    def __getitem__(self, key: str) -> Any:
        return getattr(self._table, self._names[key])

    def __contains__(self, key: object) -> bool:
        return key in self._names

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


@cache
def _names_of(model: type[BaseModel]) -> Mapping[str, str]:
    """The names of a model's fields by their keys in the file."""
    fields = zip(keys_of(model), model.model_fields, strict=True)
    return MappingProxyType({key: name for key, name in fields if key != "schema"})
