"""What stands in `products/` and is no product, and a `products` that cannot be looked into."""

from __future__ import annotations

import os

import pytest

from pricing.folder.read import read_folder
from tests.folder.workshops import FILES, changed, faults_of, write

WITHOUT_PRODUCTS = {file: text for file, text in FILES.items() if not file.startswith("products/")}


def told(root) -> list[str]:
    return [fault.headline() for fault in faults_of(root)]


def noted(root) -> list[str]:
    return [warning.headline() for warning in read_folder(root).warnings]


@pytest.mark.parametrize("leads_to", ["nowhere", "products"])
def test_a_link_that_leads_to_no_folder(tmp_path, leads_to):
    write(tmp_path, WITHOUT_PRODUCTS)
    (tmp_path / "products").symlink_to(leads_to)
    assert told(tmp_path) == [
        {
            "nowhere": "products it is a link that leads nowhere. Put the folder of the products here.",
            "products": "products this folder cannot be read (Too many levels of symbolic links). "
            "See what stands there, and whether the disk is there.",
        }[leads_to]
    ]


def test_a_folder_that_may_not_be_read(tmp_path, monkeypatch):
    """The operating system's refusal is put in its mouth; a test that runs as root could not take its leave away."""
    listdir = os.listdir

    def refusing(path):
        if os.path.basename(path) == "products":
            raise PermissionError(13, "Permission denied")
        return listdir(path)

    monkeypatch.setattr(os, "listdir", refusing)
    write(tmp_path, changed())
    assert told(tmp_path) == ["products this folder may not be read. Give yourself leave to read it."]


@pytest.mark.parametrize(
    ("file", "note"),
    [
        ("products/knob.toml.txt", "products/knob.toml.txt this file is not read as a product. Name it knob.toml."),
        ("products/knob.TOML", "products/knob.TOML this file is not read as a product. Name it knob.toml."),
        ("products/old/knob.toml", "products/old products in a folder of their own are not read (knob.toml). "
         "Put them into products itself, if you sell them."),
    ],
)  # fmt: skip
def test_what_looks_like_a_product_and_is_not_read(tmp_path, file, note):
    assert noted(write(tmp_path, {**changed(), file: "%"})) == [note]


def test_a_folder_in_it_that_may_not_be_looked_into(tmp_path, monkeypatch):
    listdir = os.listdir

    def refusing(path):
        if os.path.basename(path) == "old":
            raise PermissionError(13, "Permission denied")
        return listdir(path)

    monkeypatch.setattr(os, "listdir", refusing)
    assert noted(write(tmp_path, {**changed(), "products/old/knob.toml": "%"})) == []


def test_no_product_yet(tmp_path):
    note = ["products there is no product yet. Add a file for one, such as products/acorn-knob.toml."]
    assert noted(write(tmp_path, WITHOUT_PRODUCTS)) == note
    (tmp_path / "products").mkdir()
    assert noted(tmp_path) == note


def test_signs_that_steer_a_terminal_in_a_file_name(tmp_path):
    text = FILES["products/large-knob.toml"].replace("scale = 1.25", "scale = 0")
    files = {**changed(), "products/large-knob.toml": "", "products/\x1b[31m.toml": text}
    del files["products/large-knob.toml"]
    (fault,) = faults_of(write(tmp_path, files))
    assert fault.headline() == (
        r"products/\x1b[31m.toml:4:9 scale: 0 is not above 0. State a number above 0."
    )  # fmt: skip
    assert "\x1b" not in str(fault)
