"""Workshop folders that tests start from."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from types import MappingProxyType

from pricing.resources import sample_catalog

#: Products of the sample with every alloy, process, kind of step and channel of it between them; no parts, no sizes.
FEW = (
    "acorn-knob-large",
    "acorn-knob",
    "beetle-pin",
    "cloak-clasp",
    "door-knocker",
    "escutcheon",
    "gilded-acorn",
    "snail-studs",
    "thimble",
)


def tin_lane() -> Path:
    """An invented workshop whose exact results are known (`tests/exact/tin_lane/expected.json`)."""
    return Path(__file__).parent / "exact" / "tin_lane"


#: Fewer, that have between them every input and quantity that `FEW` show, every alloy and every kind of step.
FEWER = ("beetle-pin", "cloak-clasp", "door-knocker", "escutcheon", "gilded-acorn", "thimble")


def small_sample(into: Path, *also: str, few: Sequence[str] = FEW) -> Path:
    """A copy of the sample with `few` of its products and those named, for tests that look at every cell of it."""
    kept = {f"{name}.toml" for name in (*few, *also)}

    def others(folder: str, names: list[str]) -> list[str]:
        return [name for name in names if name not in kept] if folder == str(sample_catalog() / "products") else []

    shutil.copytree(sample_catalog(), into, dirs_exist_ok=True, ignore=others)
    left_out = [sku for name, sku in _skus().items() if name not in kept]
    doubts = into / "doubts.toml"
    lines = doubts.read_text(encoding="utf-8").splitlines(keepends=True)
    kept_lines = [line for line in lines if not line.startswith(tuple(f'"products.{sku}.' for sku in left_out))]
    doubts.write_text("".join(kept_lines), encoding="utf-8")
    return into


@cache
def _skus() -> Mapping[str, str]:
    """The sku of each product of the sample by the name of its file."""
    files = (sample_catalog() / "products").glob("*.toml")
    return MappingProxyType({path.name: tomllib.loads(path.read_text(encoding="utf-8"))["sku"] for path in files})


def alder_wharf() -> Path:
    """An invented workshop that has everything in it that can be stated (`tests/exact/alder_wharf/expected.json`)."""
    return Path(__file__).parent / "exact" / "alder_wharf"
