"""What is cast for what is wanted: each design in its alloy, parts of mixed pieces too, and what a plan asks of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from math import ceil

from pricing.costing import Costing
from pricing.errors import UsageFault, did_you_mean
from pricing.folder.inherit import figures_of
from pricing.formulas.engine import Computed
from pricing.model.product import Product
from pricing.model.rows import StepRow, VariantRow
from pricing.pouring.chances import Chain
from pricing.pouring.wants import Want

#: What float64 products of quantities may be off by.
HAIR = 1e-9


@dataclass(frozen=True)
class Burnout:
    """The longest run of a machine that a flask goes through before the pour."""

    step: str
    machine: str
    minutes: float
    together: float


@dataclass(frozen=True)
class Design:
    """One design in one alloy, and what of it the plan asks; the figures are those of one unit (see `chances`).

    `quantity` is the good sets wanted (of a part: in all wholes), `of` the product that it becomes a part of ("" for
    none), `place` its row among all computed ones. `tree_mm` is the height of a full tree (0: not stated), `share` what
    a unit takes of one (of what is poured at once, where there is no flask), `pour` the machine that melts.
    `first_starts` and `tree_starts` are the cost model's `starts`, with what is spoiled when a part is joined.
    """

    sku: str
    name: str
    alloy: str
    size: str
    of: str
    quantity: int
    place: int
    castings: tuple[tuple[str, int], ...]
    chain: Chain
    casting_names: str
    takes: str
    flask: str
    share: float
    tree_mm: float
    unit_g: float
    unit_cm3: float
    sprue_ratio: float
    melt_loss: float
    return_limit: float
    grain_price: float
    first_starts: float
    tree_starts: float
    burnout: Burnout | None
    pour: str
    sure_share: float = 1.0

    @property
    def titled(self) -> str:
        """`thimble`, `band M`, `hare for gift-set`."""
        size = f" {self.size}" if self.size and not self.sku.endswith(f"-{self.size}") else ""
        return f"{self.sku}{size}{self.casting_names}{f' for {self.of}' if self.of else ''}"


def designs_of(costing: Costing, wants: Iterable[Want]) -> tuple[Design, ...]:
    """Everything that is cast for the wants, what is wanted twice taken together.

    Raises UsageFault for what is unknown.
    """
    computed = costing.computed
    products = costing.folder.goods
    found: dict[tuple[str, ...], Design] = {}
    for want in wants:
        cast = list(_places(costing, want))
        if not cast:
            raise UsageFault(f'"{want.named}": nothing of it is cast: it is joined of what is bought.')
        for place, quantity, of, joined in cast:
            for design in _read(computed, place, quantity, of, joined, products):
                key = (design.sku, design.alloy, design.size, design.of, design.casting_names)
                before = found.get(key)
                found[key] = replace(design, quantity=design.quantity + (before.quantity if before else 0))
    return tuple(found.values())


def _places(costing: Costing, want: Want) -> Iterator[tuple[int, int, str, float]]:
    """The rows of a want and of its parts: with the sets of each, the whole that it is a part of, and how many are
    taken for each that is well joined."""
    computed = costing.computed
    row, place = row_of(costing, want)
    variant = computed.resolved.variants[row]
    if variant.castings:
        yield place, want.quantity, "", 1.0
    places = computed.hidden_places
    for part in variant.parts:
        hidden = places[part.piece]
        if computed.resolved.all_variants[hidden].castings:
            there, taken = (float(computed.values[name][hidden]) for name in ("set_count", "run_share"))
            yield hidden, ceil(want.quantity * there - HAIR), variant.sku, taken / there


def row_of(costing: Costing, want: Want) -> tuple[int, int]:
    """The row of the variant that is wanted, and of the size of it where one is named."""
    resolved = costing.computed.resolved
    known = [each.sku for each in resolved.variants]
    if want.sku not in known and f"{want.sku}-{want.size}" not in known:
        by_product = {each.product for each in resolved.variants}
        if want.sku in by_product:
            problem = f'no size "{want.size}"' if want.size else "say which size"
            made_in = {each.size or "" for each in resolved.variants if each.product == want.sku}
            raise UsageFault(f'"{want.named}": {problem}. {did_you_mean(want.size, made_in)}')
        raise UsageFault(f'"{want.named}": no product "{want.sku}". {did_you_mean(want.sku, {*known, *by_product})}')
    rows = [row for row, each in enumerate(resolved.variants) if _is(each, want)]
    made = [resolved.variants[row].alloy for row in rows]
    if want.alloy and want.alloy not in made:
        raise UsageFault(f'"{want.named}": it is not made in "{want.alloy}". {did_you_mean(want.alloy, made)}')
    if not want.alloy and len(made) > 1:
        raise UsageFault(f'"{want.named}": say in which alloy: {", ".join(made)}.')
    row = rows[made.index(want.alloy) if want.alloy else 0]
    variant = resolved.variants[row]
    if not want.size or variant.size == want.size:
        return row, row
    sizes = {
        each.size: place
        for place, each in enumerate(resolved.hidden, len(resolved.variants))
        if each.of == variant.called and not each.links
    }
    if want.size not in sizes:
        mend = did_you_mean(want.size, [each or "" for each in sizes]) if sizes else "It is not made in sizes."
        raise UsageFault(f'"{want.named}": no size "{want.size}". {mend}')
    return row, sizes[want.size]


def _is(variant: VariantRow, want: Want) -> bool:
    if variant.sku == want.sku:
        return True
    return bool(want.size) and variant.product == want.sku and variant.size == want.size


def _read(
    computed: Computed, place: int, quantity: int, of: str, joined: float, products: Mapping[str, Product]
) -> Iterator[Design]:
    """A row as what is cast of it: one design, or one for each casting where a whole set does not go on a tree."""
    values, variant = computed.values, computed.resolved.all_variants[place]
    steps, kinds = variant.steps, tuple(int(each.casting_count) for each in variant.castings)
    metal = next(index for index, step in enumerate(steps) if step.is_metal_step)
    tree = next((index for index, step in enumerate(steps) if step.is_flask), metal)
    first = next((index for index, step in enumerate(steps) if not step.is_design), metal)
    room = _room(steps[metal], variant, sum(kinds))
    volumes = [float(values["casting_metal_cm3"][place, index]) for index in range(len(kinds))]
    patterns = [float(values["casting_pattern_cm3"][place, index]) for index in range(len(kinds))]
    whole = sum(count * volume for count, volume in zip(kinds, volumes, strict=True))
    drawn = sum(count * volume for count, volume in zip(kinds, patterns, strict=True))
    as_cast, in_pattern = float(values["as_cast_g"][place]), float(values["pattern_cm3"][place])
    starts = values["starts"][place]
    alone = len(kinds) > 1 and sum(kinds) > room + HAIR
    groups = [(index,) for index in range(len(kinds))] if alone else [tuple(range(len(kinds)))]
    alloy, product = variant.alloy, products[variant.product]
    for group in groups:
        chain = _chain(steps, tree, metal, tuple(kinds[index] for index in group))
        chain = replace(chain, sets=chain.sets / joined)  # what is spoiled when it is joined
        sets = chain.per_set  # units in a set
        part = sum(kinds[index] * volumes[index] for index in group) / whole if whole else 0.0
        part_drawn = sum(kinds[index] * patterns[index] for index in group) / drawn if drawn else 0.0
        yield Design(
            sku=variant.sku,
            name=product.name,
            alloy=alloy,
            size=variant.size or "",
            of=of,
            quantity=quantity,
            place=place,
            castings=tuple((variant.castings[index].name, kinds[index]) for index in group),
            chain=chain,
            casting_names=f" ({variant.castings[group[0]].name})" if alone else "",
            takes=variant.takes,
            flask=variant.flask or "" if any(step.is_flask for step in steps) else "",
            share=chain.castings / max(room, chain.castings),
            tree_mm=figures_of(product, alloy).tree_mm or 0.0,
            unit_g=as_cast * part / sets,
            unit_cm3=in_pattern * part_drawn / sets,
            sprue_ratio=variant.sprue_ratio,
            melt_loss=float(values["melt_loss_in_force"][place]),
            return_limit=float(values["return_limit"][place]),
            grain_price=float(values["buy_price_per_g"][place]),
            first_starts=float(starts[first]) * joined,
            tree_starts=float(starts[tree]) * joined,
            burnout=_burnout(steps, metal),
            pour=steps[metal].machine or "",
            sure_share=1 / len(groups),
        )


def _room(metal: StepRow, variant: VariantRow, castings: int) -> float:
    """Castings that are poured at once: those of a tree, or what is done together."""
    if any(step.is_flask for step in variant.steps):
        return variant.pieces_per_flask
    return metal.together if metal.is_piece else metal.together * castings


def _chain(steps: tuple[StepRow, ...], tree: int, metal: int, kinds: tuple[int, ...]) -> Chain:
    """The fractions good of the steps, multiplied for each fate. Those of a design itself are no fate of a piece."""
    before = flask = after = sets = 1.0
    for index, step in enumerate(steps):
        if step.is_design:
            continue
        if step.is_flask:
            flask *= step.good
        elif index < tree:
            before *= step.good
        elif step.is_piece:
            after *= step.good
        else:
            sets *= step.good
    return Chain(before, flask, after, sets, kinds)


def _burnout(steps: tuple[StepRow, ...], metal: int) -> Burnout | None:
    """The step per flask before the pour whose machine runs longest."""
    runs = [step for step in steps[:metal] if step.is_flask and step.machine and step.machine_minutes]
    if not runs:
        return None
    longest = max(runs, key=lambda step: step.machine_minutes)
    return Burnout(longest.name, longest.machine or "", longest.machine_minutes, longest.together)
