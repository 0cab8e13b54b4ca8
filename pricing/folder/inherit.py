"""`like` and the figures of one alloy: from what was stated to what holds.

Whatever a product does not state is taken from the product that it is `like`: tables key by key, lists and
policies whole; its sku, its name and its scale are its own. What was not stated is None in the models.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple, TypeAlias, TypeVar

from pricing.errors import Fault, Faults, Place, did_you_mean
from pricing.folder.files import PRODUCTS_FOLDER
from pricing.folder.kept import Kept
from pricing.model.alloy import Alloy
from pricing.model.base import StatedModel
from pricing.model.process import Step, StepFigures
from pricing.model.product import Finding, Product
from pricing.model.sizes import Sizes

Model = TypeVar("Model", bound=StatedModel)
#: Products with `like` applied, by the identity of the two that each was put together from, which are held along.
Over: TypeAlias = Kept[tuple[int, int], tuple[Product, Product, Product]]


def inherited(products: Mapping[str, Product], over: Over | None = None) -> dict[str, Product]:
    """Every product with `like` applied, in the order given, by sku.

    A product without `like` is the very same object, and so is one of which `over` knows what it comes to. Raises
    Faults for a `like` that names no product and for one that leads back to where it began; their place is the folder
    `products` as a whole.
    """
    faults = [
        Fault(
            Place(PRODUCTS_FOLDER), f"{sku}.like", f'no product "{product.like}"', did_you_mean(product.like, products)
        )
        for sku, product in products.items()
        if product.like is not None and product.like not in products
    ]
    for circle in circles(products):
        faults.append(Fault(Place(PRODUCTS_FOLDER), f"{circle[0]}.like", *circle_fault(circle)))
    if faults:
        raise Faults(faults)
    over = Kept() if over is None else over
    whole: dict[str, Product] = {}
    for sku in products:
        chain = []
        here: str | None = sku
        while here is not None and here not in whole:
            chain.append(here)
            here = products[here].like
        for name in reversed(chain):
            product = products[name]
            whole[name] = product if product.like is None else _known_over(over, product, whole[product.like])
    return {sku: whole[sku] for sku in products}


def _known_over(over: Over, own: Product, taken: Product) -> Product:
    held = over.get((id(own), id(taken)))
    return (held or over.put((id(own), id(taken)), (_over(own, taken), own, taken)))[0]


def circles(products: Mapping[str, Product]) -> list[tuple[str, ...]]:
    """Every chain of `like` that leads back to where it began, once: a, b, a."""
    found: list[tuple[str, ...]] = []
    done: set[str] = set()
    for sku in products:
        chain: list[str] = []
        here: str | None = sku
        while here is not None and here in products and here not in done:
            if here in chain:
                found.append((*chain[chain.index(here) :], here))
                break
            chain.append(here)
            here = products[here].like
        done.update(chain)
    return found


def circle_fault(circle: Sequence[str]) -> tuple[str, str]:
    """A circle of names as problem and mend."""
    return f"it goes in a circle: {' -> '.join(circle)}", "Let one of them state everything itself."


def figures_of(product: Product, alloy: str) -> Product:
    """The product with its own figures in this alloy applied; the very same object where it has none."""
    own = product.for_alloy.get(alloy)
    return product if own is None else _over(own, product)


def step_with(step: Step, *figures: StepFigures | None) -> Step:
    """The step with these figures in place of its own, the last that states one counting."""
    stated: dict[str, Any] = {}
    for some in figures:
        if some is not None:
            held = some.__dict__
            stated.update((key, held[key]) for key in some.model_fields_set if held[key] is not None)
            for key, other in (("alloys", "holding"), ("holding", "alloys")):  # one way takes the place of the other
                if getattr(some, key) is not None and getattr(some, other) is None:
                    stated[other] = None
    if not stated:
        return step
    made = step.having(stated)  # every value has been checked already, but not what binds them
    return made if next(made.senses(), None) is None else Step.model_validate({**step.__dict__, **stated})


def steps_of(process: Sequence[Step], product: Product, alloy: str, alloys: Mapping[str, Alloy]) -> tuple[Step, ...]:
    """The steps of this product in this alloy: its own figures applied, then those in the alloy.

    Steps that this alloy does not have are left out. `alloys` says which elements each holds. Raises pydantic's
    ValidationError where a step makes no sense with its own figures.
    """
    return _done_in(alloy, alloys.get(alloy), with_figures(process, product, alloy))


def with_figures(
    process: Sequence[Step], product: Product, alloy: str, put: Callable[..., Step] = step_with
) -> Sequence[Step]:
    """All steps of a process, with a product's own figures and those in an alloy in place of theirs.

    A step for which nothing is stated is the very same object; figures for a step that the process does not have
    count nothing (a cousin may have taken them along to another process). `put` is `step_with`, or one that remembers.
    """
    own = product.for_alloy.get(alloy)
    in_alloy: Mapping[str, StepFigures] = own.steps if own else {}
    if not product.steps and not in_alloy:
        return process
    stated = {*product.steps, *in_alloy}
    return [
        put(step, product.steps.get(step.name), in_alloy.get(step.name)) if step.name in stated else step
        for step in process
    ]


def _done_in(alloy: str, made_of: Alloy | None, steps: Sequence[Step]) -> tuple[Step, ...]:
    return _without_undone(steps, _limited(steps), alloy, made_of)


def _limited(steps: Sequence[Step]) -> tuple[Step, ...]:
    """The steps that not every alloy has; few are."""
    return tuple(step for step in steps if step.alloys is not None or step.holding is not None)


def _without_undone(
    steps: Sequence[Step], limited: Iterable[Step], alloy: str, made_of: Alloy | None
) -> tuple[Step, ...]:
    """The steps but those of the limited ones that this alloy does not have."""
    composition = made_of.composition if made_of else ()
    undone = [id(step) for step in limited if not step.is_done_in(alloy, composition)]
    return tuple(step for step in steps if id(step) not in undone) if undone else tuple(steps)


def findings_of(product: Product, alloy: str) -> list[Finding]:
    """The bought findings that go on this product in this alloy."""
    return [finding for finding in _used(product, alloy) if finding.product is None]


def parts_of(product: Product, alloy: str) -> list[Finding]:
    """The findings of this product in this alloy that are pieces of the maker's own."""
    return [finding for finding in _used(product, alloy) if finding.product is not None]


def _used(product: Product, alloy: str) -> list[Finding]:
    return [finding for finding in product.findings or () if finding.alloys is None or alloy in finding.alloys]


class Piece(NamedTuple):
    """What goes by a name of its own: a product, or one size of a product whose sizes are each priced."""

    product: Product
    size: str | None = None

    @property
    def sku(self) -> str:
        return self.product.sku if self.size is None else f"{self.product.sku}-{self.size}"


def pieces(products: Mapping[str, Product]) -> dict[str, Piece]:
    """Everything that a part may be, by the name that a finding calls it by; `products` have `like` applied."""
    return {piece.sku: piece for product in products.values() for piece in pieces_of(product)}


def goods(products: Mapping[str, Product]) -> dict[str, Product]:
    """Everything by the name that it is sold under, with `like` applied: products, and sizes that are each priced.

    A size is its product under a sku and a name of its own.
    """
    return with_sizes(inherited(products))


def with_sizes(whole: dict[str, Product]) -> dict[str, Product]:
    """The same of products that have `like` applied already."""
    sized = {
        piece.sku: piece.product.model_copy(update={"sku": piece.sku, "name": f"{piece.product.name}, {piece.size}"})
        for product in whole.values()
        for piece in pieces_of(product)
        if piece.size is not None
    }
    return {**whole, **sized}


def pieces_of(product: Product) -> list[Piece]:
    """A product, or each of its sizes where they are each priced."""
    sizes = product.sizes
    return [Piece(product, size) for size in sizes.made] if sizes and sizes.each_priced else [Piece(product)]


class Applied:
    """What stands once figures are applied, each put together once; it belongs to the folder that was read.

    It goes by the identity of what is put together, which is held along, so that nothing else comes to have it.
    """

    def __init__(self) -> None:
        self._products: Kept[tuple[int, str], tuple[Product, Product]] = Kept()
        self._steps: Kept[tuple[int, int, str], tuple[Sequence[Step], Any]] = Kept()
        self._done: Kept[tuple[int, str, int], tuple[tuple[Step, ...], Any]] = Kept()
        self._alike: Kept[tuple[int, ...], tuple[tuple[Step, ...], Any]] = Kept()
        self._own: Kept[tuple[int, int], tuple[Step, Any]] = Kept()
        self._limited: Kept[int, tuple[tuple[Step, ...], Any]] = Kept()

    def turn(self) -> None:
        """Another reading begins: what is not asked for until the next but one is forgotten."""
        for kept in (self._products, self._steps, self._done, self._alike, self._own, self._limited):
            kept.turn()

    def figures_of(self, product: Product, alloy: str) -> Product:
        """As the function of this name."""
        if alloy not in product.for_alloy:
            return product
        held = self._products.get((id(product), alloy))
        if held is None:
            held = self._products.put((id(product), alloy), (figures_of(product, alloy), product))
        return held[0]

    def with_figures(self, process: Sequence[Step], product: Product, alloy: str) -> Sequence[Step]:
        """As the function of this name."""
        if not product.steps and alloy not in product.for_alloy:
            return process
        key = (id(process), id(product), alloy if alloy in product.for_alloy else "")
        held = self._steps.get(key)
        if held is None:
            held = self._steps.put(key, (with_figures(process, product, alloy, self._step_with), (process, product)))
        return held[0]

    def _step_with(self, step: Step, own: StepFigures | None, in_alloy: StepFigures | None) -> Step:
        """As `step_with`: one step for all alloys, and all products like this one, that state no figures besides."""
        if in_alloy is not None:
            return step_with(step, own, in_alloy)
        held = self._own.get((id(step), id(own)))
        if held is None:
            held = self._own.put((id(step), id(own)), (step_with(step, own), (step, own)))
        return held[0]

    def steps_of(
        self, process: Sequence[Step], product: Product, alloy: str, alloys: Mapping[str, Alloy]
    ) -> tuple[Step, ...]:
        """As the function of this name."""
        steps, made_of = self.with_figures(process, product, alloy), alloys.get(alloy)
        held = self._done.get((id(steps), alloy, id(made_of)))
        if held is None:
            limited = self._limited.get(id(steps)) or self._limited.put(id(steps), (_limited(steps), steps))
            done = _without_undone(steps, limited[0], alloy, made_of)
            same = (id(steps), *map(id, done))  # one for all alloys of the same steps
            done = (self._alike.get(same) or self._alike.put(same, (done, steps)))[0]
            held = self._done.put((id(steps), alloy, id(made_of)), (done, (steps, made_of)))
        return held[0]


def _over(own: StatedModel, taken: Model) -> Model:
    """`taken` with everything that `own` states in its place; `own` may know fewer keys.

    All values have been checked, so that they are put together without checking them again.
    """
    held, values = taken.__dict__, dict[str, Any]()
    for key, value in own.__dict__.items():
        if isinstance(value, Sizes) and held[key] is not None:
            values[key] = sizes_over(value, held[key])
        elif value is not None:
            values[key] = _tables_over(value, held[key]) if isinstance(value, dict) else value
    return taken.having(values, own.model_fields_set)


def sizes_over(own: Sizes, taken: Sizes) -> Sizes:
    """Sizes with what is stated of them in place of what was taken; one way of naming them replaces the other."""
    if own.lengths is not None:
        taken = taken.model_copy(update={"standard": None, "band_mm": None})
    if own.standard is not None:
        taken = taken.model_copy(update={"lengths": None})
    return _over(own, taken)


def _tables_over(own: dict[str, Any], taken: dict[str, Any]) -> dict[str, Any]:
    if not own or not taken:
        return own or taken
    return {
        **taken,
        **{
            key: _over(value, taken[key]) if key in taken and isinstance(value, StatedModel) else value
            for key, value in own.items()
        },
    }
