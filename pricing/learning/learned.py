"""What the log says against the files, figure by figure: one stands in one place and may hold for many products."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from importlib.util import find_spec
from types import MappingProxyType

from pricing.batches.model import Batch
from pricing.costing import Costing
from pricing.extras import missing
from pricing.folder.files import ALLOYS_FILE, PROCESSES_FILE
from pricing.folder.toml.places import KeyPath
from pricing.learning.effects import effect_of
from pricing.learning.estimating import FigurePlace, Group
from pricing.learning.evidence import GOOD, MELT_LOSS, MINUTES, SPRUE_RATIO, Figure, Seen, evidence
from pricing.learning.fading import HALF_LIFE, weights
from pricing.learning.rows import Effect, Learned, Learning
from pricing.model.doubt import Doubt
from pricing.workbook.back.family import Family
from pricing.workbook.back.layered import Shared, Slot, Variant, slot_of
from pricing.workbook.back.product_figures import question_of

#: What each key of a figure is, in words.
_CALLED = MappingProxyType(
    {
        GOOD: "good of what was started",
        MINUTES: "minutes each time",
        SPRUE_RATIO: "sprues to a gram of castings",
        MELT_LOSS: "lost of a charge in melting",
    }
)


def learn(
    costing: Costing, batches: Sequence[Batch], as_of: date | None = None, half_life: float = HALF_LIFE
) -> Learning:
    """What these batches say of the figures of a folder, as of a day (default: the day of the costing).

    Raises TroytagError where scipy is not installed.
    """
    if find_spec("scipy") is None:
        raise missing("Learning from the log", "scipy", "studies")
    as_of = as_of or costing.asked.as_of
    found = evidence(costing, batches)
    figures = _Figures(costing, found.seen, as_of, half_life, {batch.number: batch.day for batch in batches})
    rows = figures.rows()
    computed = costing.computed
    with_effects = tuple(replace(row, effect=effect_of(computed, [row])) if row.changes else row for row in rows)
    late = sum(batch.day > as_of for batch in batches)
    said = f"{late} {'batch is' if late == 1 else 'batches are'} of a later day than {as_of}: not counted yet"
    notes = (*found.notes, *([said] if late else ()))
    counted = [batch.number for batch in batches if batch.day <= as_of]
    newest = max(counted, default=0)
    return Learning(costing, as_of, half_life, len(counted), newest, with_effects, figures.known_already, notes)


def together(learning: Learning, rows: Sequence[Learned]) -> Effect:
    """What the figures of some of its rows change, all of them together."""
    return effect_of(learning.costing.computed, rows)


@dataclass
class _Figures:
    costing: Costing
    seen: Sequence[Seen]
    as_of: date
    half_life: float
    days: Mapping[int, date]
    known_already: int = 0
    family: Family = field(init=False)

    def __post_init__(self) -> None:
        self.family = Family(self.costing)

    def rows(self) -> list[Learned]:
        by_figure: dict[Figure, list[Seen]] = {}
        for each in self.seen:
            by_figure.setdefault(each.figure, []).append(each)
        steps = [step.name for steps in self.costing.folder.stated.processes.values() for step in steps]
        keys = (GOOD, MINUTES, SPRUE_RATIO, MELT_LOSS)
        order = sorted(by_figure, key=lambda each: (keys.index(each.key), each.step and steps.index(each.step)))
        return [row for figure in order for row in self.of_figure(figure, by_figure[figure])]

    def of_figure(self, figure: Figure, seen: Sequence[Seen]) -> Iterator[Learned]:
        """The rows of a figure: one for each place in which it stands, and of products apart."""
        places, held = self.places(figure)
        speaking = {places[Variant(each.sku, each.alloy)] for each in seen}
        for place in dict.fromkeys(each for each in places.values() if each in speaking):
            takers = [variant for variant, at in places.items() if at == place]
            doubt = self.costing.folder.stated.doubts.get(place.name)
            own = [each for each in seen if places[Variant(each.sku, each.alloy)] == place]
            if doubt is not None and doubt.batch is not None:
                own = [each for each in own if each.batch > doubt.batch]
            if not own:
                self.known_already += 1
                continue
            faded = weights([each.on for each in own], self.as_of, self.half_life)
            group = Group(
                figure,
                place,
                takers,
                float(held[takers[0]]),
                (doubt.low, doubt.high) if doubt else None,
                self.kept_of(doubt),
                tuple(zip(own, faded.tolist(), strict=True)),
                lambda slot: self.in_slot(slot, figure),
            )
            if not group.is_silent:
                yield from group.rows()

    def kept_of(self, doubt: Doubt | None) -> float:
        """How much of what was learned before still counts: it fades as the batches do that it was learned from."""
        day = self.days.get(doubt.batch) if doubt is not None and doubt.batch is not None else None
        return 1.0 if day is None else float(weights([day], self.as_of, self.half_life)[0])

    def places(self, figure: Figure) -> tuple[dict[Variant, FigurePlace], Mapping[Variant, float]]:
        """Where each product in each alloy takes this figure from, and what it is."""
        family = self.family
        if figure.key == MELT_LOSS:
            alloys = self.costing.folder.stated.alloys
            place = {
                name: FigurePlace(ALLOYS_FILE, f"alloys.{name}.{MELT_LOSS}", _words(alloy.name, figure))
                for name, alloy in alloys.items()
            }
            return (
                {variant: place[variant.alloy] for variant in family.variants},
                {variant: alloys[variant.alloy].melt_loss for variant in family.variants},
            )
        path = path_of(figure)
        question, slots = question_of(family, path), family.slots(path)
        found = {}
        for variant in question.now:
            slot = slot_of(variant, slots, family.chain)
            where = slot or question.shared.get(variant.sku) or Slot(variant.sku, None)
            found[variant] = self.shared(where, figure) if isinstance(where, Shared) else self.in_slot(where, figure)
        return found, question.now

    @staticmethod
    def shared(shared: Shared, figure: Figure) -> FigurePlace:
        process = str(shared.path[1])
        name = f"processes.{process}.{figure.step}.{figure.key}"
        return FigurePlace(PROCESSES_FILE, name, _words(process.replace("-", " "), figure))

    def in_slot(self, slot: Slot, figure: Figure) -> FigurePlace:
        stated = self.costing.folder.stated
        in_alloy = ("for_alloy", slot.alloy) if slot.alloy else ()
        name = ".".join(str(part) for part in ("products", slot.sku, *in_alloy, *path_of(figure)))
        called = product.name if (product := stated.products.get(slot.sku)) else slot.sku
        called += f" in {stated.alloys[slot.alloy].name}" if slot.alloy else ""
        return FigurePlace(self.costing.folder.product_file(slot.sku), name, _words(called, figure))


def _words(whose: str, figure: Figure) -> str:
    """What people call a figure: `wax and cast, pour: good of what was started`."""
    return f"{whose}{f', {figure.step}' if figure.step else ''}: {_CALLED[figure.key]}"


def path_of(figure: Figure) -> KeyPath:
    """Where a product states a figure of its own."""
    return ("steps", figure.step, figure.key) if figure.step else (figure.key,)
