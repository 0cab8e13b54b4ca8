"""Rows of the variants: each product in each of its alloys, with its castings, findings, steps and policies."""

from __future__ import annotations

from collections.abc import Iterator

from pricing.errors import Faults
from pricing.folder.inherit import figures_of, findings_of, steps_of
from pricing.folder.rows.resolving import Bench
from pricing.model.channel import Channel
from pricing.model.given import row_of
from pricing.model.process import Step
from pricing.model.product import Casting, OwnInChannel, Product
from pricing.model.rows import CastingRow, FindingRow, PriceRow, StepRow, VariantRow


def variant_rows(bench: Bench, product: Product) -> Iterator[VariantRow]:
    """The rows of one product, in the order of its alloys; meshes that cannot be priced become faults."""
    process = bench.folder.stated.processes[product.process]
    castings = tuple(_casting_row(bench, product, index, casting) for index, casting in enumerate(product.castings))
    if bench.faults:
        castings = tuple(casting for casting in castings if casting is not None)
    for alloy in product.alloys:
        figures = figures_of(product, alloy)
        steps = steps_of(process, product, alloy)
        metal_step = next(index for index, step in enumerate(steps) if step.takes_metal)
        yield row_of(
            VariantRow,
            figures,
            alloy=alloy,
            is_cut=steps[metal_step].takes_metal == "cut",
            castings=castings,
            findings=tuple(row_of(FindingRow, finding) for finding in findings_of(product, alloy)),
            steps=tuple(_step_row(bench, step, index >= metal_step) for index, step in enumerate(steps)),
            prices=tuple(_price_rows(bench, figures)),
        )


def _casting_row(bench: Bench, product: Product, index: int, casting: Casting) -> CastingRow | None:
    """The row of a casting; None where its mesh cannot be priced, which is told once, where the mesh is named."""
    held = bench.castings.get(id(casting))
    if held is not None:
        return held[1]
    volume, area = casting.volume_cm3, casting.area_cm2
    if casting.mesh is not None:
        try:
            volume, mesh_area = bench.measure_mesh(bench.folder.root / casting.mesh)
            area = area if area is not None else mesh_area
        except Faults as found:
            file = bench.folder.product_file(product.sku)
            for fault in found.faults:
                bench.fault(file, ("castings", index, "mesh"), f"{casting.mesh}: {fault.problem}", fault.mend)
            bench.castings[id(casting)] = casting, None
            return None
    row = row_of(CastingRow, casting, volume_cm3=volume, area_cm2=area or 0.0)
    bench.castings[id(casting)] = casting, row
    return row


def _step_row(bench: Bench, step: Step, from_metal: bool) -> StepRow:
    held = bench.steps.get((id(step), from_metal))
    if held is not None:
        return held[1]
    row = row_of(StepRow, step, is_from_metal=from_metal)
    bench.steps[id(step), from_metal] = step, row
    return row


def _price_rows(bench: Bench, product: Product) -> Iterator[PriceRow]:
    """A row for every channel; products that ask there what the channel asks share one."""
    for name, channel in bench.folder.stated.channels.items():
        own = product.in_channel.get(name)
        sold = product.sold_in is None or name in product.sold_in
        row = bench.prices.get((name, sold)) if own is None else None
        if row is None:
            stated = channel if own is None else _over(own, channel)
            kind = stated.policy.kind
            solving = kind in ("margin", "markup", "earn")
            row = row_of(PriceRow, stated, channel=name, policy_kind=kind, sold=sold, asks_solving=solving)
        if own is None:
            bench.prices[name, sold] = row
        yield row


def _over(own: OwnInChannel, channel: Channel) -> Channel:
    """The channel with a product's own figures in place of its."""
    return channel.model_copy(update={key: value for key, value in own if value is not None})
