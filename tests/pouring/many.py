"""A workshop of many designs in three alloys and three flasks, drawn with a seed, and something wanted of each."""

from __future__ import annotations

from pathlib import Path
from random import Random

import tomlkit

from pricing.pouring.wants import Want
from tests.published.small_workshop import WORTHLESS, written

FLASKS = {"small": (75.0, 100.0, 20), "medium": (100.0, 150.0, 45), "tall": (100.0, 180.0, 60)}
STEPS = [
    {"name": "print", "per": "piece", "good": 0.96},
    {"name": "burn out", "per": "flask", "together": 4, "machine": "kiln", "machine_minutes": 600},
    {"name": "pour", "per": "flask", "takes_metal": "pour", "machine": "furnace", "good": 0.94},
    {"name": "file", "per": "piece", "good": 0.98, "metal_loss": 0.03},
    {"name": "check", "per": "set", "good": 0.99},
]
ALLOYS = {
    name: {**WORTHLESS, "density": density, "melt_loss": 0.02}
    for name, density in (("brass", 8.5), ("silver", 10.4), ("bronze", 8.8))
}


def many_designs(folder: Path, designs: int, seed: int = 20261120) -> list[Want]:
    """Writes the folder and returns the wants: two to thirty of each design, pairs among them."""
    random, wants = Random(seed), []
    flask = {"material": "powder", "water_per_100": 40.0, "slurry_density": 1.75, "button_cm3": 3.0}
    workshop = {
        "materials": {"powder": {"pack_price": 1.0, "pack_size": 1000.0, "unit": "g"}},
        "flasks": {
            name: {**flask, "diameter_mm": across, "height_mm": high} for name, (across, high, _) in FLASKS.items()
        },
        "energy": {"price_per_kwh": 0.3},
        "machines": {
            "kiln": {"purchase": 1000.0, "life_hours": 5000.0, "power_kw": 2.4},
            "furnace": {"purchase": 500.0, "life_hours": 1500.0, "crucible_cm3": 120.0},
        },
    }
    written(folder, workshop=workshop, steps=STEPS, alloys=ALLOYS, product={"flask": "small", "pieces_per_flask": 9.0})
    for number in range(designs):
        name = random.choice(list(FLASKS))
        product = {
            "sku": f"design-{number}",
            "name": f"Design {number}",
            "alloys": [random.choice(list(ALLOYS))],
            "process": "work",
            "sprue_ratio": round(random.uniform(0.3, 0.7), 2),
            "flask": name,
            "pieces_per_flask": random.randint(FLASKS[name][2] // 3, FLASKS[name][2]),
            "castings": [
                {"name": "piece", "count": random.choice([1, 1, 2]), "volume_cm3": round(random.uniform(0.3, 1.6), 2)}
            ],
        }
        (folder / f"products/design-{number}.toml").write_text(tomlkit.dumps(product), encoding="utf-8")
        wants.append(Want(f"design-{number}", "", "", random.randint(2, 30)))
    return wants
