"""Figures of products, of steps and of what is asked in channels: which figure a row speaks of."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from pricing.folder.files import CHANNELS_FILE, PROCESSES_FILE
from pricing.folder.inherit import figures_of
from pricing.folder.toml.places import KeyPath
from pricing.formulas.tables import INPUTS
from pricing.model.process import USE_KEYS
from pricing.model.rows import VariantRow
from pricing.workbook.back.family import Family, Question, at, is_by_alloy, plain
from pricing.workbook.back.layered import Shared, Variant
from pricing.workbook.back.matching import Typed


def figure_questions(family: Family, typed: Iterable[Typed]) -> list[Question]:
    """What is asked of these figures, a question for each of them."""
    questions: dict[KeyPath, Question] = {}
    for each in typed:
        if each.table in ("step", "use", "price") or is_by_alloy(each):
            _ask(family, questions, each)
    return list(questions.values())


def _ask(family: Family, questions: dict[KeyPath, Question], typed: Typed) -> None:
    variant, name = family.variant(typed), typed.name
    value: Any = typed.value
    path: KeyPath
    if typed.table == "variant":
        path = INPUTS[name].path or ()
    elif typed.table in ("step", "use"):
        step = family.variants[variant].steps[typed.row.index[1]].name
        key = "uses" if typed.table == "use" else INPUTS[name].key
        path = ("steps", step, key)
        value = INPUTS[name].written(value)
    elif name == "sold":
        path = ("sold_in",)
    elif name == "own_sets_per_order":
        path = ("in_channel", typed.row.row.channel, "units_per_order")
    else:
        path = ("in_channel", typed.row.row.channel, INPUTS[name].first_key)
    question = questions.get(path)
    if question is None:
        question = questions[path] = question_of(family, path)
    if path[-1] in ("uses", "policy") or name == "sold":
        value = _with(question.wanted.get(variant, question.now.get(variant)), family, typed, variant)
    question.ask(variant, value, typed.cell)


def _with(value: Any, family: Family, typed: Typed, variant: Variant) -> Any:
    """A list or table with the typed figure in it."""
    if typed.name == "sold":
        channels = [channel.name for channel in family.costing.computed.resolved.channels]
        name = typed.row.row.channel
        return [each for each in channels if (bool(typed.value) if each == name else each in value)]
    key = INPUTS[typed.name].key
    if typed.table == "use":
        index = typed.row.index[2]
        is_way = key in USE_KEYS  # one way to say how much takes the place of another; what stands beside it does not
        use = {name: item for name, item in value[index].items() if not is_way or name not in USE_KEYS or name == key}
        return [*value[:index], {**use, key: typed.value}, *value[index + 1 :]]
    return {**value, key: typed.value}


def question_of(family: Family, path: KeyPath) -> Question:
    """What each variant holds of the figure at this path of a product, and where it stands if no product states it."""
    if path[0] == "steps":
        return _step_question(family, path)
    if path[0] == "in_channel":
        return _channel_question(family, path)
    if path == ("sold_in",):
        now: dict[Variant, Any] = {variant: list(row.sold_in) for variant, row in family.variants.items()}
        return Question(path, now)
    name = next(known.name for known in VariantRow.inputs.values() if known.path == path)
    return Question(path, {variant: getattr(row, name) for variant, row in family.variants.items()})


def _step_question(family: Family, path: KeyPath) -> Question:
    _, name, key = path
    processes = family.costing.folder.stated.processes
    now: dict[Variant, Any] = {}
    shared: dict[str, Shared] = {}
    for variant in family.variants:
        product = family.products[variant.sku]
        assert product.process is not None  # each has one once `like` is applied
        process = processes[product.process]
        step = family.steps(variant).get(str(name))
        if step is None:
            continue
        now[variant] = plain(getattr(step, str(key)))
        index = next(index for index, each in enumerate(process) if each.name == name)
        shared[variant.sku] = Shared(PROCESSES_FILE, ("processes", product.process, index, key))
    return Question(path, now, shared)


def _channel_question(family: Family, path: KeyPath) -> Question:
    """A channel's policy or least price. Rows of what is not sold there bind nobody, unless they were changed."""
    _, name, key = path
    channel = family.costing.folder.stated.channels[str(name)]
    now: dict[Variant, Any] = {}
    for variant in family.variants:
        figures = figures_of(family.products[variant.sku], variant.alloy)
        own = at(figures, path)
        now[variant] = plain(own if own is not None or key == "units_per_order" else getattr(channel, str(key)))
    if key == "units_per_order":  # the channel's own stands with the channel
        return Question(path, now)
    place = Shared(CHANNELS_FILE, ("channels", name, key))
    return Question(path, now, dict.fromkeys(family.products, place))
