"""Rows of the variants: each product in each of its alloys, with its castings, findings, steps and policies."""

from __future__ import annotations

from collections.abc import Iterator

from pricing.errors import Faults
from pricing.folder.bench import Bench
from pricing.folder.inherit import figures_of, findings_of, steps_of
from pricing.model.process import Step
from pricing.model.product import Casting, Product
from pricing.model.resolved import CastingRow, FindingRow, PriceRow, StepRow, UseRow, VariantRow


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
        yield VariantRow(
            sku=product.sku,
            alloy=alloy,
            flask=figures.flask,
            is_cut=steps[metal_step].takes_metal == "cut",
            sprue_ratio=figures.sprue_ratio,
            pieces_per_flask=figures.pieces_per_flask or 1.0,
            expected_sales=figures.expected_sales or 1.0,
            shrinkage=figures.shrinkage or 0.0,
            scale=product.scale,
            castings=castings,
            findings=tuple(
                FindingRow(
                    name=finding.name,
                    finding_alloy=finding.alloy,
                    finding_quantity=finding.quantity,
                    finding_price=finding.price,
                    finding_metal_g=finding.metal_g,
                    spoil=finding.spoil,
                )
                for finding in findings_of(product, alloy)
            ),
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
    row = CastingRow(
        name=casting.name,
        in_alloy=casting.in_alloy,
        casting_count=float(casting.count),
        volume_cm3=volume,
        model_g=casting.model_g,
        model_density=casting.model_density or 1.0,
        metal_g=casting.metal_g,
        weighed_finished=casting.weighed == "finished",
        area_cm2=area or 0.0,
    )
    bench.castings[id(casting)] = casting, row
    return row


def _step_row(bench: Bench, step: Step, from_metal: bool) -> StepRow:
    held = bench.steps.get((id(step), from_metal))
    if held is not None:
        return held[1]
    row = StepRow(
        name=step.name,
        role=step.labour,
        machine=step.machine,
        is_piece=step.per == "piece",
        is_flask=step.per == "flask",
        is_design=step.per == "design",
        is_metal_step=step.takes_metal is not None,
        is_from_metal=from_metal,
        together=step.together,
        shared=step.shared,
        step_minutes=step.minutes,
        rework=step.rework,
        rework_minutes=step.rework_minutes,
        machine_minutes=step.machine_minutes,
        good=step.good,
        metal_loss=step.metal_loss,
        caught=step.caught,
        goes_to_refiner=step.rejects == "refiner",
        is_lost=step.rejects == "lost",
        step_fee=step.fee,
        from_g=step.from_g,
        uses=tuple(
            UseRow(
                material=use.material,
                use_quantity=0.0 if use.quantity in (None, "flask") else use.quantity,
                takes_flask_powder=use.quantity == "flask",
                per_cm3=use.per_cm3 or 0.0,
                per_cm2=use.per_cm2 or 0.0,
                per_g=use.per_g or 0.0,
            )
            for use in step.uses
        ),
    )
    bench.steps[id(step), from_metal] = step, row
    return row


def _price_rows(bench: Bench, product: Product) -> Iterator[PriceRow]:
    channels = bench.folder.stated.channels
    for name, channel in channels.items():
        own = product.in_channel.get(name)
        policy = own.policy if own and own.policy is not None else channel.policy
        yield PriceRow(
            channel=name,
            followed=policy.keystone_of,
            policy_kind=policy.kind,
            sold=product.sold_in is None or name in product.sold_in,
            is_fixed=policy.kind == "fixed",
            fixed_price=policy.fixed or 0.0,
            asks_solving=policy.kind in ("margin", "markup", "earn"),
            asked_margin=policy.margin or 0.0,
            asked_markup=policy.markup or 0.0,
            asks_earnings=policy.kind == "earn",
            asked_earnings=policy.earn or 0.0,
            unit_multiple=policy.multiple or 0.0 if policy.kind == "multiple" else 0.0,
            metal_multiple=policy.metal_multiple or 0.0,
            work_multiple=policy.work_multiple or 0.0,
            follows=policy.kind == "keystone_of",
            follow_multiple=policy.multiple or 0.0 if policy.kind == "keystone_of" else 0.0,
            least_price=own.least_price if own and own.least_price is not None else channel.least_price,
        )
