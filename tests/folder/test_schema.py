"""The published schemas: what they take, what they refuse, and that they never refuse what reading takes."""

from __future__ import annotations

import json
import tempfile
import tomllib
from copy import deepcopy
from pathlib import Path

import pytest
from hypothesis import given
from jsonschema import Draft7Validator

from pricing.folder.schema import NAMES, editor_line, schema, schema_text
from pricing.resources import sample_catalog
from tests.folder.test_any_slip import slipped_files
from tests.folder.workshops import FILES, faults_of, write
from tests.folders import tin_lane

VALIDATORS = {name: Draft7Validator(schema(name)) for name in NAMES}


def kind_of(file: str) -> str:
    return "product" if file.startswith("products/") else file.removesuffix(".toml")


def refusals(file: str, text: str) -> list[str]:
    """Where the schema of this file refuses something, as `key.key: word of the schema`."""
    errors = VALIDATORS[kind_of(file)].iter_errors(tomllib.loads(text))
    return sorted(f"{'.'.join(map(str, error.absolute_path))}: {error.validator}" for error in errors)


@pytest.mark.parametrize("name", NAMES)
def test_each_is_a_schema_that_editors_for_toml_understand(name):
    Draft7Validator.check_schema(schema(name))
    text = schema_text(name)
    assert json.loads(text) == schema(name)
    assert '"$ref"' not in text and "null" not in text  # the one is passed over in part, the other is not in TOML


@pytest.mark.parametrize("root", [sample_catalog(), tin_lane()], ids=lambda root: root.name)
def test_folders_in_order_are_in_order(root):
    files = [*root.glob("*.toml"), *root.glob("products/*.toml")]
    assert len(files) > 5
    for path in files:
        assert refusals(path.relative_to(root).as_posix(), path.read_text(encoding="utf-8")) == [], path.name


def test_every_key_of_every_model_has_a_description_and_tables_are_closed():
    def look(node, path):
        if isinstance(node, list):
            for item in node:
                look(item, path)
        if not isinstance(node, dict):
            return
        if "properties" in node and node.get("type") == "object":
            assert node["additionalProperties"] is False, path
            for key, inner in node["properties"].items():
                assert inner.get("description"), (*path, key)
        for key, inner in node.items():
            look(inner, (*path, key))

    for name in NAMES:
        look(schema(name), (name,))


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        ("workshop.toml", "rate = 24.0", 'rate = "24.0"', ["labour.bench.rate: type"]),
        ("workshop.toml", "rate = 24.0", "rate = -1", ["labour.bench.rate: minimum"]),
        ("workshop.toml", "rate = 24.0", "rat = 24.0", [
            "labour.bench: additionalProperties",
            "labour.bench: required",
        ]),
        ("workshop.toml", '"GBP"', '"GPB"', ["currency: enum"]),
        ("workshop.toml", "schema = 1", "schema = 2", ["schema: const"]),
        ("workshop.toml", "residual = 100.0", "residual = true", ["machines.kiln.residual: type"]),
        ("workshop.toml", "water_per_100 = 40\n", "", ["flasks.medium: anyOf"]),
        ("workshop.toml", "slurry_density = 1.8\n", "powder_g = 1450\n", []),
        ("alloys.toml", "Ag = 0.925", "Silver = 0.925", ["alloys.sterling.composition: enum"]),
        ("alloys.toml", 'quote = "brass-grain"\n', "", ["alloys.yellow-brass: required"]),
        ("alloys.toml", 'priced_by = "quote"', 'priced_by = "weight"', [
            "alloys.yellow-brass.priced_by: enum",
            "alloys.yellow-brass.quote: not",
        ]),
        ("alloys.toml", "melt_loss = 0.01", "melt_loss = 1", ["alloys.sterling.melt_loss: exclusiveMaximum"]),
        ("processes.toml", 'quantity = "flask"', 'quantity = "a flask"', ["processes.cast.1.uses.0.quantity: anyOf"]),
        ("processes.toml", "per_cm2 = 0.03", "per_cm2 = 0.03, per_g = 1", ["processes.cast.3.uses.0: oneOf"]),
        ("processes.toml", 'per = "design"', 'per = "dessign"', ["processes.cast.0.per: enum"]),
        ("channels.toml", "{ margin = 0.25 }", "{ margin = 0.25, markup = 1 }", ["channels.shop.policy: oneOf"]),
        ("channels.toml", "{ margin = 0.25 }", "{}", ["channels.shop.policy: oneOf"]),
        ("channels.toml", ", work_multiple = 2.0", "", ["channels.trade.policy: oneOf"]),
        ("channels.toml", "included = true", 'included = "yes"', ["channels.shop.tax.included: type"]),
        ("products/acorn-knob.toml", "count = 2", "count = 2.5", ["castings.0.count: type"]),
        ("products/acorn-knob.toml", "volume_cm3 = 2.31", 'mesh = "a.stl", volume_cm3 = 2', ["castings.0: oneOf"]),
        ("products/acorn-knob.toml", "volume_cm3 = 2.31, ", "", ["castings.0: oneOf"]),
        ("products/acorn-knob.toml", '"sterling"]', '"sterling", "sterling"]', ["alloys: uniqueItems"]),
        ("products/acorn-knob.toml", 'sku = "acorn-knob"\n', "", [": required"]),
        ("products/acorn-knob.toml", "good = 0.95", "good = 95", ["for_alloy.sterling.steps.pour.good: maximum"]),
    ],
)  # fmt: skip
def test_a_slip_is_refused(file, old, new, told):
    assert FILES[file].count(old) == 1
    assert refusals(file, FILES[file].replace(old, new)) == told


@given(slipped_files())
def test_what_the_schema_refuses_is_refused_by_reading_too(files):
    """A false alarm in the editor would be worse than none: whatever is refused there has a fault in that file."""
    refused = {
        file for file in FILES if file.endswith(".toml") and not VALIDATORS[kind_of(file)].is_valid(values(files[file]))
    }
    if refused:
        with tempfile.TemporaryDirectory() as root:
            assert refused <= {fault.place.file for fault in faults_of(write(Path(root), files))}


def values(text: str):
    """What a TOML text says; days and times, which JSON does not have, as tables, so that no key takes them."""

    def without_days(value):
        if isinstance(value, dict):
            return {key: without_days(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [without_days(inner) for inner in value]
        return value if isinstance(value, (str, int, float, bool)) else {"day": str(value)}

    return without_days(deepcopy(tomllib.loads(text)))


@pytest.mark.parametrize(
    ("file", "line"),
    [
        ("workshop.toml", "#:schema ./.schema/workshop.json"),
        ("doubts.toml", "#:schema ./.schema/doubts.json"),
        ("products/acorn-knob.toml", "#:schema ../.schema/product.json"),
    ],
)
def test_the_line_by_which_an_editor_finds_it(file, line):
    assert editor_line(file) == line
