"""Figures of products: which row asks for what, and in which file it ends up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Any

from pricing.costing import Costing
from pricing.errors import Fault
from pricing.folder.inherit import figures_of, inherited, steps_of
from pricing.folder.places import Path
from pricing.model.product import Product
from pricing.model.resolved import VariantRow
from pricing.publish.incoming.cells import Cell
from pricing.publish.incoming.changes import Change, differences, once
from pricing.publish.incoming.layered import Settled, Shared, Slot, Variant, settle
from pricing.publish.incoming.matching import Typed
from pricing.publish.workbook.bounds import STATED_FIELDS
from pricing.publish.workbook.editable import POLICY_FIGURES

#: Figures of a product that may differ from alloy to alloy.
BY_ALLOY = frozenset({"sprue_ratio", "pieces_per_flask", "expected_sales", "shrinkage"})
POLICY_NAMES = frozenset(name for names in POLICY_FIGURES.values() for name in names)


@dataclass
class Family:
    """The products of a folder: what each states, what each takes from whom, and their variants' rows."""

    costing: Costing

    @cached_property
    def products(self) -> Mapping[str, Product]:
        """With `like` applied."""
        return inherited(self.stated)

    @property
    def stated(self) -> Mapping[str, Product]:
        return self.costing.folder.stated.products

    @cached_property
    def variants(self) -> Mapping[Variant, VariantRow]:
        rows = self.costing.computed.resolved.variants
        return {Variant(row.sku, row.alloy): row for row in rows}

    def variant(self, typed: Typed) -> Variant:
        """The variant that a row is, or belongs to."""
        row = self.costing.computed.resolved.variants[typed.row.index[0]]
        return Variant(row.sku, row.alloy)

    def chain(self, sku: str) -> tuple[str, ...]:
        """A product, the one that it is like, and so on."""
        found = [sku]
        while (like := self.stated[found[-1]].like) is not None:
            found.append(like)
        return tuple(found)

    def slots(self, path: Path) -> dict[Slot, Any]:
        """Where products state something at this path, and what."""
        found: dict[Slot, Any] = {}
        for sku, product in self.stated.items():
            for alloy, own in ((None, product), *product.for_alloy.items()):
                value = plain(at(own, path))
                if value is not None:
                    found[Slot(sku, alloy)] = value
        return found


@dataclass
class Question:
    """What rows ask of one figure of products: what each variant holds, what it shall hold, and which cells say so."""

    path: Path
    now: dict[Variant, Any]
    shared: Mapping[str, Shared] = field(default_factory=dict)
    wanted: dict[Variant, Any] = field(default_factory=dict)
    cells: dict[Variant, list[Cell]] = field(default_factory=dict)

    def ask(self, variant: Variant, value: Any, cell: Cell) -> None:
        self.wanted[variant] = value
        self.cells.setdefault(variant, []).append(cell)


def at(model: Any, path: Path) -> Any:
    """What stands at a path of a stated model; None where nothing does."""
    for part in path:
        if model is None:
            return None
        model = model.get(part) if isinstance(model, dict) else getattr(model, str(part), None)
    return model


def plain(value: Any) -> Any:
    """A stated value as its file has it: models as tables of what was stated, tuples as lists."""
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    return value.model_dump(exclude_unset=True) if hasattr(value, "model_dump") else value


def product_changes(costing: Costing, typed: Iterable[Typed]) -> tuple[list[Change], list[Fault]]:
    """The changes to products, to the steps of processes and to what channels ask, and what cannot be stated."""
    from pricing.publish.incoming.parts_of_sets import part_questions

    family = Family(costing)
    typed = list(typed)
    questions: dict[Path, Question] = {}
    for each in typed:
        _ask(family, questions, each)
    more, faults = part_questions(family, typed)
    changes: list[Change] = []
    for question in (*questions.values(), *more):
        changes += _changes(family, question)
    return changes, faults


def _ask(family: Family, questions: dict[Path, Question], typed: Typed) -> None:
    variant, name = family.variant(typed) if typed.table in ("variant", "step", "use", "price") else None, typed.name
    if variant is None:
        return
    value: Any = typed.value
    path: Path
    if typed.table == "variant":
        if name not in BY_ALLOY:
            return
        path = (name,)
    elif typed.table in ("step", "use"):
        step = family.variants[variant].steps[typed.row.index[1]].name
        key = "uses" if typed.table == "use" else "shared" if name == "shared" else STATED_FIELDS[name][1]
        path = ("steps", step, key)
        value = bool(value) if name == "shared" else value
    elif name == "sold":
        path = ("sold_in",)
    else:
        path = ("in_channel", typed.row.row.channel, "policy" if name in POLICY_NAMES else "least_price")
    question = questions.get(path)
    if question is None:
        question = questions[path] = _question(family, path)
    if path[-1] in ("uses", "policy") or name == "sold":
        value = _with(question.wanted.get(variant, question.now.get(variant)), family, typed, variant)
    question.ask(variant, value, typed.cell)


def _with(value: Any, family: Family, typed: Typed, variant: Variant) -> Any:
    """A list or table with the typed figure in it."""
    if typed.name == "sold":
        channels = [channel.name for channel in family.costing.computed.resolved.channels]
        name = typed.row.row.channel
        return [each for each in channels if (bool(typed.value) if each == name else each in value)]
    key = STATED_FIELDS[typed.name][1]
    if typed.table == "use":
        ways = ("quantity", "per_cm3", "per_cm2", "per_g")
        index = typed.row.index[2]
        use = {name: item for name, item in value[index].items() if name not in ways or name == key}
        return [*value[:index], {**use, key: typed.value}, *value[index + 1 :]]
    return {**value, key: typed.value}


def _question(family: Family, path: Path) -> Question:
    if path[0] == "steps":
        return _step_question(family, path)
    if path[0] == "in_channel":
        return _channel_question(family, path)
    if path == ("sold_in",):
        now: dict[Variant, Any] = {
            variant: [price.channel for price in row.prices if price.sold] for variant, row in family.variants.items()
        }
        return Question(path, now)
    return Question(path, {variant: getattr(row, path[0]) for variant, row in family.variants.items()})


def _step_question(family: Family, path: Path) -> Question:
    _, name, key = path
    processes = family.costing.folder.stated.processes
    now: dict[Variant, Any] = {}
    shared: dict[str, Shared] = {}
    for variant in family.variants:
        product = family.products[variant.sku]
        process = processes[product.process]
        step = next((step for step in steps_of(process, product, variant.alloy) if step.name == name), None)
        if step is None:
            continue
        now[variant] = plain(getattr(step, str(key)))
        index = next(index for index, each in enumerate(process) if each.name == name)
        shared_path = ("processes", product.process, index, key)
        shared[variant.sku] = Shared("processes.toml", shared_path, _key(plain(getattr(process[index], str(key)))))
    return Question(path, now, shared)


def _channel_question(family: Family, path: Path) -> Question:
    """A channel's policy or least price. Rows of what is not sold there bind nobody, unless they were changed."""
    _, name, key = path
    channel = family.costing.folder.stated.channels[str(name)]
    now: dict[Variant, Any] = {}
    for variant in family.variants:
        figures = figures_of(family.products[variant.sku], variant.alloy)
        own = at(figures, path)
        now[variant] = plain(own if own is not None else getattr(channel, str(key)))
    place = Shared("channels.toml", ("channels", name, key), _key(plain(getattr(channel, str(key)))))
    return Question(path, now, dict.fromkeys(family.products, place))


def _key(value: Any) -> Any:
    """A value that can be told apart from others as a part of a key."""
    return repr(value)


def is_bound(row: VariantRow, channel: str) -> bool:
    """Whether what a variant asks in a channel has an effect: it is sold there, or another price follows it."""
    prices = [price for price in row.prices if price.sold]
    return any(channel in (price.channel, price.followed) for price in prices)


def _changes(family: Family, question: Question) -> Iterator[Change]:
    now = question.now
    if question.path[0] == "in_channel":
        channel = str(question.path[1])
        now = {
            variant: value
            for variant, value in now.items()
            if variant in question.wanted or is_bound(family.variants[variant], channel)
        }
    slots = family.slots(question.path)
    if question.path == ("sold_in",):
        channels = [channel.name for channel in family.costing.computed.resolved.channels]
        slots = {slot: [name for name in channels if name in value] for slot, value in slots.items()}
    wanted = {**now, **question.wanted}
    for settled in settle(wanted, now, slots, family.chain, question.shared.get):
        yield from _told(family, question, slots, settled)


def _told(family: Family, question: Question, slots: Mapping[Slot, Any], settled: Settled) -> Iterator[Change]:
    where, first = settled.where, settled.moved[0]
    old = question.now[first]
    cells = once([cell for variant in settled.moved for cell in question.cells.get(variant, ())])
    if isinstance(where, Shared):
        skus = dict.fromkeys(variant.sku for variant in settled.moved)
        count = f"{len(skus)} products" if len(skus) > 1 else f"{first.sku}, the only product"
        yield from _apart(where.file, where.path, old, settled.value, cells, f"for {count} that take it from here")
        return
    file = family.costing.folder.product_file(where.sku)
    path = question.path if where.alloy is None else ("for_alloy", where.alloy, *question.path)
    if where in slots:
        yield from _apart(file, path, old, settled.value, cells, "")
        return
    before = _taken_from(family, question, slots, first)
    in_alloy = f" in {where.alloy}" if where.alloy else ""
    why = f"its own figure{in_alloy} from now on; so far {before}"
    if settled.kept:
        why = f"stays what it was, as its row says: {why}"
    yield Change(file, path, old, settled.value, cells, why)


def _taken_from(family: Family, question: Question, slots: Mapping[Slot, Any], variant: Variant) -> str:
    """Where a variant took its figure from so far."""
    skus = family.chain(variant.sku)
    for slot in (*(Slot(sku, variant.alloy) for sku in skus), *(Slot(sku, None) for sku in skus)):
        if slot in slots:
            return f"that of {slot.sku}" if slot.sku != variant.sku else "one for all its alloys"
    shared = question.shared.get(variant.sku)
    if shared is None:
        return "none was stated"
    return f"that of the {'process' if shared.path[0] == 'processes' else 'channel'} {shared.path[1]}"


def _apart(file: str, path: Path, old: Any, new: Any, cells: tuple[Cell, ...], why: str) -> Iterator[Change]:
    """A change of a table or a list in its place, as changes of what differs in it."""
    for inner, before, after in differences(old, new):
        yield Change(file, (*path, *inner), before, after, cells, why)


#: Names under which the parts of a set are stated.
PARTS: Mapping[str, str] = MappingProxyType({"casting": "castings", "finding": "findings"})
