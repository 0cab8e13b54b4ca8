"""Rows of the variants: each product in each of its alloys, with its castings, findings, steps and policies.

Behind them come those that are computed along with them: each piece of the maker's own as it goes into a whole, and
each size of what has one price for all of its sizes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path
from sys import intern
from typing import Any

from pricing.errors import Fault, Faults, TroytagError
from pricing.folder.inherit import Piece, findings_of, parts_of, pieces
from pricing.folder.rows.resolving import Bench
from pricing.model.channel import Channel
from pricing.model.given import row_of
from pricing.model.process import Step, Use
from pricing.model.product import Casting, Finding, OwnInChannel, Product
from pricing.model.rows import (
    CastingRow,
    FindingRow,
    LinkRow,
    PartRow,
    PriceRow,
    SizeRow,
    StepRow,
    UseRow,
    VariantRow,
)

#: Most pieces in pieces of one product: more is a slip, and would take longer than anybody waits.
MOST_PIECES = 2000


@dataclass(frozen=True)
class VariantRows:
    """The rows of variants, those that are computed along with them, and the alloys that they are valued by."""

    listed: tuple[VariantRow, ...]
    hidden: tuple[VariantRow, ...]
    alloys: tuple[str, ...]


@dataclass(frozen=True)
class ProductRows:
    """The rows of one product, and all that they came of: while that stands they do.

    `around` are the tables that all products use, `joined` the pieces that go into it, by the names that findings call
    them by, `measured` the volume and surface of each mesh.
    """

    listed: tuple[VariantRow, ...]
    hidden: tuple[VariantRow, ...]
    alloys_listed: tuple[str, ...]
    alloys_hidden: tuple[str, ...]
    product: Product
    around: tuple[Any, ...]
    joined: tuple[tuple[str, Piece], ...]
    measured: tuple[tuple[Path, tuple[float, float]], ...]

    def stand(self, bench: Bench, product: Product, around: tuple[Any, ...], pieces: Mapping[str, Piece]) -> bool:
        """Whether they are what would be made now."""
        if self.product is not product or not all(map(_is, self.around, around)):
            return False
        if not all(_is_same(pieces.get(name), piece) for name, piece in self.joined):
            return False
        try:
            return all(bench.measured(path) == found for path, found in self.measured)
        except TroytagError:  # told where the rows are made
            return False


def _is(some: Any, other: Any) -> bool:
    return some is other


def _is_same(some: Piece | None, other: Piece) -> bool:
    return some is not None and some.product is other.product and some.size == other.size


def _alloys_of(rows: list[VariantRow]) -> tuple[str, ...]:
    """The alloys that some rows are valued by, in their order; steps that many share are looked at once."""
    named: dict[str, None] = {}
    looked_at: set[int] = set()
    for row in rows:
        named.setdefault(row.alloy)
        if row.findings:
            named.update(dict.fromkeys(_paid_by_weight(row)))
        if id(row.steps) not in looked_at:
            looked_at.add(id(row.steps))
            named.update(dict.fromkeys(_plated(row)))
    return tuple(named)


def alloys_in(row: VariantRow) -> list[str]:
    """The alloys that a variant is valued by: its own, those of findings paid by weight, and what is plated on it."""
    return list(dict.fromkeys([row.alloy, *_paid_by_weight(row), *_plated(row)]))


def _paid_by_weight(row: VariantRow) -> Iterator[str]:
    return (each.finding_alloy for each in row.findings if each.finding_metal_g and each.finding_alloy)


def _plated(row: VariantRow) -> Iterator[str]:
    return (use.plating_alloy for step in row.steps if step.uses for use in step.uses if use.plating_alloy)


@dataclass(frozen=True)
class Standing:
    """Where a variant stands: by itself, or as a part of the whole `of`, down a path of findings."""

    of: str = ""
    path: tuple[str, ...] = ()
    links: tuple[LinkRow, ...] = ()
    size: str | None = None  # as if every set were of this size

    def below(self, whole: str, step: str, *links: LinkRow) -> Standing:
        """The place one step further down, behind these further links."""
        return replace(self, of=self.of or whole, path=(*(self.path or (whole,)), step), links=(*self.links, *links))


#: Where a variant stands that is sold by itself.
BY_ITSELF = Standing()


def variant_rows(bench: Bench) -> VariantRows:
    """The rows of all products, in their order; meshes that cannot be priced become faults."""
    products = bench.folder.products
    stated, known, named = bench.folder.stated, bench.memory.rows, pieces(products)
    around = stated.processes, stated.alloys, stated.channels, intern(stated.workshop.currency)
    made: list[ProductRows] = []
    for sku, product in products.items():
        held: ProductRows | None = known.get(sku)
        if held is None or not held.stand(bench, product, around, named):
            making = _Making(bench, named)
            held = making.of_product(product, around)
            if not making.lacks:
                known.put(sku, held)
        made.append(held)
    return VariantRows(
        tuple(row for each in made for row in each.listed),
        tuple(row for each in made for row in each.hidden),
        tuple(dict.fromkeys(chain(*(each.alloys_listed for each in made), *(each.alloys_hidden for each in made)))),
    )


@dataclass
class _Making:
    """Makes the rows of a product's variants, of their parts, and of those parts' parts; notes what they come of.

    It `lacks` something where a mesh could not be priced.
    """

    bench: Bench
    pieces: Mapping[str, Piece]
    joined: dict[str, Piece] = field(default_factory=dict)
    measured: dict[Path, tuple[float, float]] = field(default_factory=dict)
    lacks: bool = False
    # Rows of castings and sizes by the identity of the product, which `pieces` holds: all of its alloys have the same.
    _castings: dict[int, tuple[CastingRow, ...]] = field(default_factory=dict)
    _sizes: dict[tuple[int, str | None], tuple[SizeRow, ...]] = field(default_factory=dict)

    def of_product(self, product: Product, around: tuple[Any, ...]) -> ProductRows:
        """The rows of one product, in the order of its sizes that are each priced and of its alloys."""
        listed: list[VariantRow] = []
        hidden: list[VariantRow] = []
        sizes = product.sizes
        each_priced = sizes is not None and sizes.each_priced
        for size in sizes.made if sizes is not None and each_priced else (None,):
            for alloy in product.alloys or ():
                piece = Piece(product, size)
                own: list[VariantRow] = []
                row = self.row(piece, alloy, BY_ITSELF, own)
                listed.append(row)
                hidden += own
                for each in sizes.made if sizes and not each_priced else ():
                    size_alone = self.sizes(product, each)
                    path = BY_ITSELF.below(row.called, f"size {each}")
                    hidden.append(
                        row.model_copy(update={"size": each, "sizes": size_alone, "of": path.of, "path": path.path})
                    )
        return ProductRows(
            listed=tuple(listed),
            hidden=tuple(hidden),
            alloys_listed=_alloys_of(listed),
            alloys_hidden=_alloys_of(hidden),
            product=product,
            around=around,
            joined=tuple(self.joined.items()),
            measured=tuple(self.measured.items()),
        )

    def row(self, piece: Piece, alloy: str, place: Standing, hidden: list[VariantRow]) -> VariantRow:
        """The row of a piece in an alloy; the rows of what is joined to it are added to `hidden`."""
        bench, product = self.bench, piece.product
        figures, sizes = bench.folder.applied.figures_of(product, alloy), product.sizes
        assert product.process is not None  # each has one once `like` is applied
        process = bench.folder.stated.processes[product.process]
        takes, steps = self.steps(bench.folder.applied.steps_of(process, product, alloy, bench.alloys), bool(place.of))
        castings = self.castings(product)
        row = row_of(
            VariantRow,
            figures,
            sku=piece.sku,
            size=piece.size,
            of=place.of,
            path=place.path,
            alloy=alloy,
            is_cut=takes == "cut",
            is_bought=takes == "bought",
            sprue_ratio=figures.sprue_ratio or 0.0,
            master_inner_mm=(sizes.inner_mm(sizes.master) or 0.0) if sizes and sizes.master else 0.0,
            sizes=self.sizes(product, piece.size),
            links=place.links,
            parts=(),
            castings=castings,
            findings=tuple(self.finding(finding) for finding in findings_of(product, alloy)),
            steps=steps,
            prices=() if place.of else _prices(bench, figures),
        )
        parts = tuple(self.parts(row, product, alloy, place, hidden))
        return row.model_copy(update={"parts": parts}) if parts else row

    def parts(
        self, row: VariantRow, product: Product, alloy: str, place: Standing, hidden: list[VariantRow]
    ) -> Iterator[PartRow]:
        """Everything of the maker's own that is joined to a piece, at any depth."""
        for index, finding in enumerate(parts_of(product, alloy)):
            if len(hidden) > MOST_PIECES:
                raise Faults([self.too_many(place.path[0] if place.path else row.called)])
            assert finding.product is not None  # that is what makes it one of these
            link = row_of(LinkRow, finding, name=finding.product)
            below = place.below(row.called, f"{index}: {finding.product}", link)
            piece = self.joined[finding.product] = self.pieces[finding.product]
            joined = self.row(piece, finding.alloy or alloy, below, hidden)
            hidden.append(joined)
            yield PartRow(name=joined.sku, piece=joined.called, is_joined=True, depth=1)
            for part in joined.parts:
                yield part.model_copy(update={"depth": part.depth + 1})

    def too_many(self, whole: str) -> Fault:
        """Told where a piece is joined of more pieces than anybody means."""
        sku = whole.split("\n")[0]
        file = self.bench.folder.product_file(self.pieces[sku].product.sku)
        problem = f"it is joined of more than {MOST_PIECES:,} pieces of your own, counting pieces of pieces"
        mend = "State a quantity in place of the same piece again and again."
        return Fault(self.bench.folder.place(file, ("findings",)), sku, problem, mend)

    def castings(self, product: Product) -> tuple[CastingRow, ...]:
        known = self._castings.get(id(product))
        if known is None:
            rows = [self.casting(product, index, casting) for index, casting in enumerate(product.castings or ())]
            known = self._castings[id(product)] = tuple(row for row in rows if row is not None)
        return known

    def casting(self, product: Product, index: int, casting: Casting) -> CastingRow | None:
        """The row of a casting; None where its mesh cannot be priced, which is told once, where the mesh is named."""
        bench, kept = self.bench, self.bench.memory.castings
        volume, area = casting.volume_cm3, casting.area_cm2
        if id(casting) in bench.lacking:
            self.lacks = True
            return None
        if casting.mesh is not None:
            path = bench.path_of(casting.mesh)
            try:
                volume, mesh_area = self.measured[path] = bench.measured(path)
                area = area if area is not None else mesh_area
            except Faults as found:
                self.lacks = True
                file = bench.folder.product_file(product.sku)
                for fault in found.faults:
                    bench.fault(file, ("castings", index, "mesh"), f"{casting.mesh}: {fault.problem}", fault.mend)
                bench.lacking[id(casting)] = casting
                return None
        key = (id(casting), volume, area)
        held = kept.get(key)
        if held is None:
            held = kept.put(key, (casting, row_of(CastingRow, casting, volume_cm3=volume, area_cm2=area or 0.0)))
        return held[1]

    def finding(self, finding: Finding) -> FindingRow:
        kept = self.bench.memory.findings
        held = kept.get(id(finding)) or kept.put(id(finding), (finding, row_of(FindingRow, finding)))
        return held[1]

    def steps(self, done: tuple[Step, ...], as_part: bool) -> tuple[str | None, tuple[StepRow, ...]]:
        """How the metal comes in, and the rows of the steps that are done: one list for all that do the same."""
        kept = self.bench.memory.step_lists
        held = kept.get((id(done), as_part))
        if held is None:
            steps = tuple(step for step in done if not as_part or step.as_part or step.takes_metal)
            metal_step = next((index for index, step in enumerate(steps) if step.takes_metal), len(steps))
            takes = steps[metal_step].takes_metal if metal_step < len(steps) else None
            rows = (
                *(self.step(step, False) for step in steps[:metal_step]),
                *(self.step(step, True) for step in steps[metal_step:]),
            )
            held = kept.put((id(done), as_part), (done, takes, rows))
        return held[1], held[2]

    def step(self, step: Step, from_metal: bool) -> StepRow:
        kept = self.bench.memory.steps
        held = kept.get((id(step), from_metal))
        if held is None:
            row = row_of(StepRow, step, is_from_metal=from_metal, uses=self.uses(step.uses))
            held = kept.put((id(step), from_metal), (step, row))
        return held[1]

    def uses(self, uses: tuple[Use, ...]) -> tuple[UseRow, ...]:
        """What a step uses up; a step with a product's own figures mostly uses what that of its process does."""
        kept = self.bench.memory.uses
        held = kept.get(id(uses)) or kept.put(id(uses), (uses, tuple(row_of(UseRow, use) for use in uses)))
        return held[1]

    def sizes(self, product: Product, size: str | None) -> tuple[SizeRow, ...]:
        """The size alone, or all of a product's sizes with how much of each is sold: the same in all of its alloys."""
        known = self._sizes.get((id(product), size))
        if known is None:
            known = self._sizes[id(product), size] = _size_rows(product, size)
        return known


def _size_rows(product: Product, size: str | None) -> tuple[SizeRow, ...]:
    sizes = product.sizes
    if sizes is None:
        return ()
    made = sizes.made if size is None else (size,)
    rows = []
    for each in made:
        inner_mm = sizes.inner_mm(each)
        assert inner_mm is not None  # what is no size is refused when the folder is read
        rows.append(SizeRow(name=each, inner_mm=inner_mm, size_sales=sizes.weight(each) if size is None else 1.0))
    return tuple(rows)


def _prices(bench: Bench, product: Product) -> tuple[PriceRow, ...]:
    """What a product asks in every channel: one list for all that ask the same, sold in the same."""
    own = product.in_channel
    key = (id(own) if own else 0, product.sold_in)
    known = bench.price_lists.get(key)
    if known is None:
        known = bench.price_lists[key] = (tuple(_price_rows(bench, product)), own)
    return known[0]


def _price_rows(bench: Bench, product: Product) -> Iterator[PriceRow]:
    """A row for every channel; products that ask there what the channel asks share one, and alloys of one product."""
    home, kept = bench.folder.stated.workshop.currency, bench.memory.prices
    for name, channel in bench.folder.stated.channels.items():
        own = product.in_channel.get(name)
        sold = product.sold_in is None or name in product.sold_in
        key = (id(channel), 0 if own is None else id(own), name, home, sold)
        held = kept.get(key)
        if held is None:
            stated = channel if own is None else _over(own, channel)
            kind = stated.policy.kind
            solving = kind in ("margin", "markup", "earn")
            row = row_of(
                PriceRow,
                stated,
                channel=name,
                currency=channel.currency or home,
                policy_kind=kind,
                sold=sold,
                asks_solving=solving,
                own_sets_per_order=own.units_per_order if own else None,
            )
            held = kept.put(key, ((channel, own), row))
        yield held[1]


def _over(own: OwnInChannel, channel: Channel) -> Channel:
    """The channel with a product's own figures in place of its."""
    return channel.having({key: value for key, value in own.__dict__.items() if value is not None})
