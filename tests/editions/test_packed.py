"""The form in which editions are kept now: what comes back, how long it is, and what is no such thing."""

from __future__ import annotations

import base64
import json
import math
import shutil
import zlib
from contextlib import nullcontext
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.editions.chain import newest, read
from pricing.editions.packed import Unpacked, packed
from pricing.editions.publishing import publish
from pricing.errors import Faults
from pricing.studies.publishing.new_edition import content as content_of
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice
from tests.editions.small_editions import content, path_of
from tests.editions.test_lost import forge
from tests.folders import tin_lane

KEPT = Path(__file__).parent / "kept"
BITS = [0.1 + 0.2, -0.0, 0.0, 5e-324, -1e308, math.inf, -math.inf, math.nan, 0.1 + 0.2]


def text(inside: bytes) -> str:
    return base64.b64encode(zlib.compress(inside)).decode()


def unpacked(said):
    """As it comes back from a file."""
    return Unpacked(json.loads(json.dumps(packed(said))), nullcontext)


@pytest.fixture(scope="module")
def published(tmp_path_factory):
    """A folder with an edition, and what it was to say."""
    folder = shutil.copytree(tin_lane(), tmp_path_factory.mktemp("packed") / "tin-lane")
    repricing = reprice(cost(folder, asked_for(date(2026, 11, 20))), None)
    moment = datetime.fromisoformat("2026-11-20T18:30:00+00:00")
    publish_prices(repricing, moment)
    return folder, content_of(repricing, {}, moment, 1)


@pytest.mark.parametrize("shape", [(), (9,), (3, 3), (0,), (2, 0, 3)])
def test_figures_come_back_to_their_bits(shape):
    figure = np.resize(np.array(BITS), shape) if math.prod(shape) else np.zeros(shape)
    found = unpacked(content() | {"figures": {"one": figure, "same": figure.copy(), "other": np.array(2.5)}})
    for name in ("one", "same"):
        assert found["figures"][name].shape == shape
        assert found["figures"][name].tobytes() == figure.tobytes()
    assert found["figures"]["other"] == 2.5


def test_variants_and_prices_come_back_with_their_kinds(published):
    _, said = published
    variants = [
        {"sku": "a", "alloy": "tin", "unit_cost": 1.0, "prices": {"shop": {"price": 1.0, "binds": "policy"}}},
        {"sku": "b", "alloy": "tin", "unit_cost": None, "prices": {}, "parts": [], "sizes": [{"size": 1, "on": True}]},
        {"sku": "c", "alloy": "tin", "unit_cost": -0.0, "prices": {"shop": {"price": 2, "binds": False}}},
    ]
    for each in (variants, said["variants"]):
        again = unpacked(said | {"variants": each})["variants"]
        assert json.dumps(again, sort_keys=True) == json.dumps(each, sort_keys=True)
    assert unpacked(said)["prices"] == said["prices"]


def test_what_was_published_is_what_is_read(published):
    folder, said = published
    again = newest(folder).content
    assert again["form"] == 2 and "numbers" not in again
    assert again["inputs"] == json.loads(json.dumps(said["inputs"]))
    assert again["prices"] == said["prices"]
    for name, figure in said["figures"].items():
        np.testing.assert_array_equal(again["figures"][name], figure)


def test_an_edition_of_the_first_form_says_the_same_in_this_one():
    """A kept edition of an earlier release, in words there: each figure, variant, price and input."""
    said = newest(KEPT / "tin-lane").content
    assert said["form"] == 1
    again = unpacked(said)
    assert {key: again[key] for key in ("inputs", "prices", "variants")} == {
        key: said[key] for key in ("inputs", "prices", "variants")
    }
    words = {math.inf: "inf", -math.inf: "-inf"}
    for name, listed in said["figures"].items():
        flat = again["figures"][name].reshape(-1).tolist()
        told = [None if math.isnan(each) else words.get(each, each) for each in flat]
        assert told == (list(_flat(listed)) if isinstance(listed, list) else [listed])


def _flat(listed):
    for each in listed:
        yield from _flat(each) if isinstance(each, list) else (each,)


def test_a_variant_more_of_the_same_takes_few_bytes():
    """Each number once: of a thousand variants alike each takes its line of prices and next to nothing else."""
    figure = np.arange(40.0) / 7
    sizes = []
    for count in (1, 1001):
        figures = {f"figure {number}": np.tile(figure, (count, 1)) for number in range(20)}
        sizes.append(len(json.dumps(packed(content(rows=0) | {"figures": figures}))))
    assert (sizes[1] - sizes[0]) / 1000 < 8  # 20 × 40 numbers of 8 bytes are 6,400


# ---- what no program of ours has written


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("numbers", {"numbers": {"count": 2**40, "packed": text(b"")}}),
        ("numbers", lambda: {"numbers": {"count": 2**24 + 1, "packed": text(b"\0" * (8 * 2**24 + 8))}}),  # 130 MiB
        ("numbers", {"numbers": {"count": 1, "packed": text(b"\0" * 80)}}),
        ("numbers", {"numbers": {"count": 10**6, "packed": text(b"")}}),
        ("numbers", {"numbers": {"count": 1, "packed": "£"}}),
        ("numbers", {"numbers": {"count": -1, "packed": text(b"")}}),
        ("numbers", {"numbers": {"packed": text(b"")}}),
        ("figures", {"figures": {"a": {"shape": [1], "packed": text(b"\1\0\0\0")}}}),
        ("figures", {"figures": {"a": {"shape": [1], "packed": text(b"\377\377\377\377")}}}),
        ("figures", {"figures": {"a": {"shape": [2**20, 2**20, 2**20], "packed": text(b"")}}}),
        ("figures", {"figures": {"a": {"as": "b"}}}),
        ("figures", {"figures": {"a": {"as": "a"}}}),
        ("figures", {"figures": {"a": {}}}),
        ("inputs", {"inputs": {"bytes": 2**40, "packed": text(b"{}")}}),
        ("inputs", {"inputs": {"bytes": 2, "packed": text(b" " * 2**20)}}),
        ("inputs", {"inputs": {"bytes": 2, "packed": text(b"{[")}}),
    ],
)
def test_what_is_packed_and_makes_no_sense_is_told_where_it_is_asked_for(tmp_path, key, said):
    publish(tmp_path, content() | {"variants": [{"sku": "a", "alloy": "b", "unit_cost": 1.5, "prices": {}}]}, None)
    forge(tmp_path, 1, **(said() if callable(said) else said))  # 130 MiB are made only for their own test
    (tmp_path / "editions" / "HEAD").unlink()
    edition = read(tmp_path, 1)
    asked = "variants" if key == "numbers" else key
    with pytest.raises(Faults, match=f"000001.json {asked}: its hash is right, and what it keeps does not fit"):
        edition.content[asked]


def test_figures_that_are_very_many_together_are_told_before_any_is_unpacked(tmp_path):
    """Five columns, each just short enough: 640 MiB; a file of the size that is read has room for thousands."""
    publish(tmp_path, content() | {"variants": [{"sku": "a", "alloy": "b", "unit_cost": 1.5, "prices": {}}]}, None)
    column = {"shape": [2**24], "packed": text(b"\0" * 2**26)}
    forge(tmp_path, 1, figures={str(number): column for number in range(5)})
    (tmp_path / "editions" / "HEAD").unlink()
    with pytest.raises(Faults, match=r"000001.json figures: its hash is right, and what it keeps does not fit"):
        read(tmp_path, 1).content["figures"]


@pytest.mark.parametrize(
    "said",
    [
        {"columns": []},
        {"columns": [text(b"")]},
        {"count": 7},
        {"words": []},
        {"of": text(b"\1\0\0\0")},
        {"words": [7, 7]},
    ],
)
def test_variants_that_make_no_sense_are_told(tmp_path, said):
    publish(tmp_path, content() | {"variants": [{"sku": "a", "alloy": "b", "unit_cost": 1.5, "prices": {}}]}, None)
    kept = json.loads(path_of(tmp_path, 1).read_bytes())["edition"]["variants"]
    forge(tmp_path, 1, variants={**kept, **said})
    (tmp_path / "editions" / "HEAD").unlink()
    with pytest.raises(Faults, match=r"000001.json variants"):
        read(tmp_path, 1).content["variants"]


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ({"prices": 7}, "prices"),
        ({"prices": {"channels": [], "decided": [], "lines": [["a"]]}}, "prices"),
        ({"prices": {"channels": ["shop"], "decided": [], "lines": [["a", "b", 0, 1.5, 1.5, 0]]}}, "prices"),
        ({"prices": {"channels": ["shop"], "decided": [], "lines": [["a", "b", -1, 1.5, 1.5, 0]]}}, "prices"),
        (
            {"prices": {"channels": ["shop"], "decided": [["?", 1, "new", ""]], "lines": [["a", "b", 0, 1.5, 1.5, 0]]}},
            r"prices.decided\[0\]\[0\]",
        ),
        ({"variants": {"count": 0, "of": "", "shapes": [{}], "columns": [], "words": []}}, r"variants.shapes\[0\].sku"),
        ({"figures": {"a": 7}}, "figures.a"),
        ({"currency": "QQQ"}, "currency"),
        ({"inputs": []}, "inputs"),
    ],
)
def test_a_packed_edition_of_another_form_is_told_with_the_place(tmp_path, said, key):
    publish(tmp_path, content(), None)
    forge(tmp_path, 1, **said)
    (tmp_path / "editions" / "HEAD").unlink()
    with pytest.raises(Faults, match=f"000001.json {key}: its hash is right, and no program of ours has written this"):
        read(tmp_path, 1)
