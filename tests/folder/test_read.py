"""A folder that is in order: what is read of it, and where it says that things stand."""

from __future__ import annotations

import datetime

from tests.folder.workshops import Change, read

KNOB = "products/acorn-knob.toml"
LARGE = "products/large-knob.toml"


def test_everything_that_is_stated(tmp_path):
    doubt = '"products.acorn-knob.steps.darken.minutes" = { low = 4, high = 9 }\n'
    stated = read(tmp_path, Change("doubts.toml", "", doubt)).stated
    assert stated.workshop.labour["bench"].rate == 24.0
    assert stated.workshop.flasks["medium"].material == "investment"
    assert list(stated.alloys) == ["sterling", "yellow-brass"]
    assert stated.alloys["sterling"].composition == {"Ag": 0.925, "Cu": 0.075}
    assert [step.name for step in stated.processes["cast"]] == ["model", "burn out", "pour", "darken", "assay mark"]
    assert stated.processes["cast"][1].uses[0].quantity == "flask"
    assert stated.channels["shop"].policy.kind == "margin"
    assert stated.ladder is not None and stated.ladder.keystone == 2.0
    assert list(stated.products) == ["acorn-knob", "large-knob"]
    assert stated.products["large-knob"].alloys is None  # stated only: nothing is taken by `like` yet
    assert [(quote.line, quote.metal) for quote in stated.quotes] == [(2, "Ag"), (3, "brass-grain"), (4, "USD")]
    assert stated.quotes[0].date == datetime.date(2026, 11, 20)
    assert stated.doubts["products.acorn-knob.steps.darken.minutes"].high == 9


def test_places_of_a_product_lead_to_where_it_is_taken_from(tmp_path):
    folder = read(tmp_path)
    assert folder.product_file("large-knob") == LARGE
    assert str(folder.place(LARGE, ("scale",))) == f"{LARGE}:4:9"
    assert (
        str(folder.place(LARGE, ("castings", 0, "volume_cm3"))) == f"{KNOB}:10:54"
    )  # behind castings = [{ name = "knob", count = 2, volume_cm3 =, 53 letters
    assert str(folder.place(LARGE, ("steps", "darken", "minutes"))) == f"{KNOB}:14:11"
    assert str(folder.place(LARGE, ("photo",))) == f"{LARGE}:1:1"  # stands nowhere
    assert str(folder.place(KNOB, ("scale",))) == f"{KNOB}:1:1"  # taken the other way round, never
    assert str(folder.place("nowhere.toml", ("name",))) == "nowhere.toml"


def test_products_by_the_order_of_their_files(tmp_path):
    folder = read(tmp_path, Change("products/a-last.toml", "", 'sku = "z"\nname = "Z"\nlike = "large-knob"\n'))
    assert list(folder.stated.products) == ["z", "acorn-knob", "large-knob"]


def test_a_mesh_stands_for_volume_and_surface(tmp_path):
    mesh = Change(KNOB, "volume_cm3 = 2.31, area_cm2 = 11.4", 'mesh = "meshes/acorn knob.stl"')
    folder = read(tmp_path, mesh, Change("meshes/acorn knob.stl", "", "solid"))
    assert folder.stated.products["acorn-knob"].castings[0].kind == "mesh"
