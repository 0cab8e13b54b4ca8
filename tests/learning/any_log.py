"""Logs of all sorts, drawn: flasks shared and lost, steps begun late or left off, minutes of one or of all."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import timedelta

from pricing.batches.model import Batch, Card, Flask, Pieces
from pricing.costing import Costing
from pricing.model.rows import VariantRow
from tests.learning.harbour import numbered


def any_log(costing: Costing, seed: int) -> list[Batch]:
    """Up to forty batches of what a folder pours, over two years."""
    draw = random.Random(seed)
    variants = [row for row in costing.computed.resolved.variants if row.castings]
    return [numbered(number, _card(costing, variants, draw)) for number in range(1, draw.randint(2, 40))]


def _card(costing: Costing, variants: list[VariantRow], draw: random.Random) -> Card:
    alloy = draw.choice(variants).alloy
    alike = [row for row in variants if row.alloy == alloy]
    flasks = tuple(_flask(alike, alloy, draw) for _ in range(draw.choice([1, 1, 2])))
    steps = sorted({step.name for row in alike for step in row.steps})
    return Card(
        day=costing.asked.as_of - timedelta(days=draw.randint(0, 800)),
        flasks=flasks,
        minutes={name: draw.random() * 100 for name in steps if draw.random() < 0.2},
    )


def _flask(alike: list[VariantRow], alloy: str, draw: random.Random) -> Flask:
    back, castings, rejected = draw.uniform(0, 300), draw.uniform(0, 300), draw.choice([0.0, 0.0, 5.0])
    pieces = {}
    for row in draw.sample(alike, min(len(alike), draw.choice([1, 1, 2]))):
        pieces[row.product, row.size] = _pieces(row, draw)
    charge = (back + castings + rejected) * draw.uniform(0.99, 1.08)
    return Flask(alloy=alloy, fresh_g=charge, back_g=back, castings_g=castings, rejected_g=rejected,
                 pieces=tuple(pieces.values()))  # fmt: skip


def _pieces(row: VariantRow, draw: random.Random) -> Pieces:
    started = left = draw.randint(1, 40)
    rejected = {}
    for name, spoiled in _spoiled(row, draw):
        if lost := min(left, spoiled):
            rejected[name], left = lost, left - lost
    minutes = {step.name: draw.random() * 100 for step in row.steps if draw.random() < 0.2}
    return Pieces(sku=row.product, size=row.size, started=started, good=left, rejected=rejected, minutes=minutes)


def _spoiled(row: VariantRow, draw: random.Random) -> Iterator[tuple[str, int]]:
    metal = next((place for place, step in enumerate(row.steps) if step.is_metal_step), 0)
    for step in row.steps[metal:]:
        if draw.random() < 0.25:
            yield step.name, draw.randint(0, 40) if draw.random() < 0.1 else draw.randint(0, 2)
