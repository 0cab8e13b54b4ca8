"""Start: a folder that is not there yet is begun in the browser, by the questions of the terminal."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from pricing.folder.read import read_folder
from pricing.starting.answers import of_an_evening
from tests.meshes.boxes import box, stl
from tests.page.served import Served


@pytest.fixture
def nothing(tmp_path) -> Iterator[Served]:
    """The page of a folder that is not there."""
    with Served(tmp_path / "hill forge") as page:
        yield page


#: What a browser sends of a form in which the metals, ways and channels are as they were ticked.
TICKS = (("ticked", "metals"), ("ticked", "ways"), ("ticked", "channels"), ("metals", "sterling"),
         ("ways", "castings-bought"), ("channels", "shop"))  # fmt: skip


def test_every_way_in_leads_to_the_questions(nothing):
    for path in ("/", "/design", "/metal", "/edit", "/add/alloy"):
        answer = nothing.get(path)
        assert (answer.status, answer.headers["location"]) == (303, "/start"), path
    assert not nothing.root.exists()  # asking makes nothing


def test_at_most_six_fields_are_typed_until_the_first_price():
    """All else is ticked, dropped or folded away; and each of the six may stay empty, too."""
    short = [each for each in of_an_evening({}) if each.short and each.kind not in ("many", "mesh")]
    assert len(short) <= 6


def test_what_is_shown_is_what_the_terminal_asks(nothing):
    shown = nothing.get("/start")
    assert shown.status == 200
    for question in of_an_evening({}):
        assert f'name="{question.key}"' in shown.text, question.key
        assert question.words in shown.words
    assert "Usual: 22 to 45 GBP per ozt. If you don't know: 30." in shown.words
    for name in re.findall(r'aria-describedby="([^" ]+)"', shown.text):
        assert f'id="{name}"' in shown.text


def test_a_mesh_that_is_ticked_is_none_that_came(nothing):
    shown = nothing.post("/start/form", (("ticked", "piece-upload"), ("piece-upload", "one"), ("piece-upload", "two")))
    assert shown.status == 200 and 'name="piece-file"' in shown.text


def test_a_folder_of_nothing_but_ticks(nothing):
    done = nothing.post("/start", TICKS)
    assert (done.status, done.headers["location"]) == (303, "/")
    home = nothing.get("/")
    assert home.status == 200 and "First piece" in home.words and "The workshop is begun." in home.words
    stated = read_folder(nothing.root).stated
    assert stated.workshop.name == "Hill Forge"
    assert (list(stated.alloys), list(stated.channels)) == (["sterling"], ["shop"])
    assert nothing.get("/start").headers["location"] == "/"  # it is begun
    assert nothing.post("/start", TICKS).status == 409


def test_a_slip_stands_beside_its_field_and_nothing_typed_is_lost(nothing):
    refused = nothing.post("/start", (*TICKS, ("pay", "18,50"), ("piece", 'Ring "A"'), ("price-Ag", "31")))
    assert refused.status == 422
    assert "is no number. Write 18.50." in refused.words
    assert refused.value_of("pay") == "18,50" and refused.value_of("piece") == 'Ring "A"'
    assert 'aria-invalid="true"' in refused.text
    assert not (nothing.root / "workshop.toml").exists()
    none = nothing.post("/start", [*TICKS[:3], ("ways", "castings-bought"), ("channels", "shop")])
    assert none.status == 422 and "nothing is named" in none.words


def test_an_answer_brings_further_questions(nothing):
    ticked = [("metals", "gold-9ct-yellow"), ("channels", "abroad"), ("tax", "0.2"), ("currency", "EUR")]
    again = nothing.post("/start/form", (*TICKS, *ticked))
    assert again.status == 200 and "<html" not in again.text
    for key in ("price-Au", "price-Ag", "abroad", "rate", "registered"):
        assert f'name="{key}"' in again.text
    assert 'name="flask"' not in again.text  # castings are bought
    assert "EUR per ozt" in again.words
    assert "is no number" not in nothing.post("/start/form", (*TICKS, ("pay", "18,"))).words  # not while somebody types


def test_a_mesh_that_is_dropped(nothing, tmp_path):
    mesh = stl(tmp_path, box(10.0), name="Cube 1.stl")
    edge = "edge"
    fields = "".join(
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{text}\r\n'
        for name, text in (*TICKS, ("piece", "Cube"))
    )
    head = f'--{edge}\r\nContent-Disposition: form-data; name="piece-file"; filename="Cube 1.stl"\r\n\r\n'
    body = fields.encode() + head.encode() + mesh.read_bytes() + f"\r\n--{edge}--\r\n".encode()
    kind = {"Origin": nothing.origin, "Content-Type": f"multipart/form-data; boundary={edge}"}
    done = nothing.ask("POST", "/start", kind, body)
    assert (done.status, done.headers.get("location")) == (303, "/"), done.words
    (casting,) = read_folder(nothing.root).stated.products["cube"].castings
    assert casting.mesh == "meshes/cube.stl"
    assert (nothing.root / casting.mesh).read_bytes() == mesh.read_bytes()


def test_machines_that_are_there_and_what_they_cost(nothing):
    ways = [each for each in TICKS if each != ("ways", "castings-bought")]
    machines = [("ways", "printed-and-cast"), ("ticked", "machines"), ("machines", "kiln"), ("costs:kiln", "700"),
                ("costs:tumbler", "90")]  # fmt: skip
    assert nothing.post("/start", (*ways, *machines)).status == 303
    found = read_folder(nothing.root).stated.workshop.machines
    assert (found["kiln"].purchase, "tumbler" in found) == (700, False)  # what is not ticked is not there


def test_one_thing_more(nothing):
    nothing.post("/start", (*TICKS, ("currency", "NOK")))
    asked = nothing.get("/add/alloy")
    assert asked.status == 200 and "One more alloy" in asked.words and "Sterling silver (there already)" in asked.words
    done = nothing.post("/add/alloy", [("ticked", "metals"), ("metals", "copper")])
    assert (done.status, done.headers["location"]) == (303, "/edit/alloys.toml")
    assert "copper" in read_folder(nothing.root).stated.alloys
    refused = nothing.post("/add/alloy", [("ticked", "metals"), ("metals", "copper")])
    assert refused.status == 422 and 'has "copper" already, and nothing was changed' in refused.words
    done = nothing.post(
        "/add/product", [("piece", "Stud"), ("piece-metal", "2"), ("ticked", "metals"), ("metals", "sterling")]
    )
    assert (done.status, done.headers["location"]) == (303, "/design?sku=stud")
    assert nothing.get("/add/thing").status == 404
    # in the folder's money, 13.5 to the pound: 0.10 to 15 pounds are 1.35 to 202.5, to two figures
    assert "Usual: 1.40 to 200 NOK." in nothing.get("/add/product").words
    assert nothing.post("/add/channel/form", [("ticked", "channels"), ("channels", "abroad")]).status == 200
