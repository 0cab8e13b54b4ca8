"""Editing: forms made from the models, the text beside them, and two who change the same file."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from html import unescape
from pathlib import Path
from urllib.parse import quote

import pytest

from pricing.folder.files import TOML_FILES
from pricing.folder.read import read_folder
from pricing.folder.toml.syntax import document
from pricing.model.workshop import Machine
from pricing.page.forms.one_save import Sent, save_both
from pricing.page.forms.parts import part_at
from pricing.page.forms.worded import worded
from tests.folders import small_sample
from tests.page.fields import fields_of, with_values

FILES = ["workshop.toml", "alloys.toml", "processes.toml", "channels.toml", "doubts.toml", "products/acorn-knob.toml",
         "products/acorn-knob-large.toml"]  # fmt: skip


@pytest.fixture
def folder(tmp_path) -> Path:
    """The sample with few products: every form is saved, and each time the whole folder is read."""
    return small_sample(tmp_path / "fernhollow", "acorn-knob", "acorn-knob-large")


def addresses(served, file: str) -> list[str]:
    """Every part of a file that is there and has a form of its own."""
    found = re.findall(
        rf'href="(/edit/{re.escape(file)}\?at=[^"]*)"[^>]*>([^<]*)</a>', served.get(f"/edit/{file}").text
    )
    return [unescape(address) for address, title in found if "a further" not in title] or [f"/edit/{file}"]


def form_of(served, address: str) -> tuple[str, list[tuple[str, str]]]:
    text = served.get(address).text
    action = text.split('<form class="keys" method="post" action="')[1].split('"')[0].replace("&amp;", "&")
    return action, fields_of(text, "keys")


@pytest.mark.parametrize("file", FILES)
def test_a_form_that_is_saved_untouched_changes_not_a_byte(served, file):
    before = (served.root / file).read_bytes()
    for address in addresses(served, file):
        action, items = form_of(served, address)
        answer = served.post(action, items)
        assert answer.status == 303, (address, answer.words[-400:])
        assert (served.root / file).read_bytes() == before, address


def test_one_figure_is_changed_where_it_stands(served):
    file = served.root / "workshop.toml"
    before = file.read_text()
    address = "/edit/workshop.toml?at=" + quote('["labour", "bench"]')
    action, items = form_of(served, address)
    assert served.post(action, with_values(items, **{"labour.bench.rate": "19.50"})).status == 303
    assert file.read_text() == before.replace("rate = 18.00", "rate = 19.50")


def test_a_fault_stands_beside_its_field_and_nothing_is_written(served):
    file = served.root / "workshop.toml"
    before = file.read_bytes()
    action, items = form_of(served, "/edit/workshop.toml?at=" + quote('["labour", "bench"]'))
    answer = served.post(action, with_values(items, **{"labour.bench.rate": "heavy", "labour.bench.on_cost": "12"}))
    assert answer.status == 422
    assert 'id="trouble-labour.bench.rate"' in answer.text and 'id="trouble-labour.bench.on_cost"' in answer.text
    assert 'value="heavy"' in answer.text
    assert file.read_bytes() == before


def inputs(text: str) -> int:
    """How many fields a person sees."""
    return len(re.findall(r'<(?:input|select|textarea)(?! type="(?:hidden|checkbox)")', text))


def test_only_what_is_stated_is_shown_and_the_rest_is_offered(looking):
    """thimble.toml states 11 keys, a casting of 3, a finding of 4, and 8 figures in tables; its text is a field too."""
    page = looking.get("/edit/products/thimble.toml")
    assert inputs(page.text) == 11 + 3 + 4 + 8 + 1
    assert "<h1>Bramble thimble</h1>" in page.text
    assert 'name="tree_mm"' not in page.text and "Height of a full tree of it" in page.words
    added = looking.get("/edit/products/thimble.toml?at=%5B%5D&add=tree_mm")
    assert (
        inputs(added.text) == inputs(page.text) + 1
        and 'Height of a full tree of it <span class="unit">mm' in added.text
    )
    within = looking.get("/edit/products/thimble.toml?at=%5B%5D&add=" + quote("castings[1]"))
    assert inputs(within.text) == inputs(page.text) + 2  # a further casting needs a name and how many there are


def test_every_key_of_a_part_is_shown_or_offered(looking):
    """What the model knows and the form does not show can be added; nothing is out of reach."""
    page = looking.get("/edit/workshop.toml?at=" + quote('["machines", "kiln"]')).text
    for key in Machine.model_fields:
        name = f"machines.kiln.{key}"
        assert (f'name="{name}"' in page) != (f"add={quote(name)}" in page), key


def test_one_save_keeps_what_was_changed_on_either_side(served):
    file = served.root / "workshop.toml"
    action, items = form_of(served, "/edit/workshop.toml?at=" + quote('["labour", "bench"]'))
    text = dict(items)["text"].replace("per_month = 590.00", "per_month = 700.00")
    assert served.post(action, with_values(items, **{"labour.bench.rate": "19.50"}, text=text)).status == 303
    said = file.read_text()
    assert "per_month = 700.00" in said and "rate = 19.50" in said and "rate = 18.00" not in said


def test_a_fault_on_one_side_keeps_what_was_typed_on_both(served):
    file = served.root / "workshop.toml"
    before = file.read_bytes()
    action, items = form_of(served, "/edit/workshop.toml?at=" + quote('["labour", "bench"]'))
    text = dict(items)["text"]
    for typed, other in (("19.50", text.replace("590.00", "heavy")), ("heavy", text.replace("590.00", "700.00"))):
        answer = served.post(action, with_values(items, **{"labour.bench.rate": typed}, text=other))
        assert answer.status == 422 and file.read_bytes() == before
        again = dict(fields_of(answer.text, "keys"))
        assert again["labour.bench.rate"] == typed and again["text"] == other
        mended = {"labour.bench.rate": "19.50", "text": text.replace("590.00", "700.00")}
    assert served.post(action, again | mended).status == 303
    assert "per_month = 700.00" in file.read_text() and "rate = 19.50" in file.read_text()


def test_the_same_key_changed_on_both_sides_is_asked_about(served):
    file = served.root / "workshop.toml"
    before = file.read_bytes()
    action, items = form_of(served, "/edit/workshop.toml?at=" + quote('["labour", "bench"]'))
    text = dict(items)["text"].replace("rate = 18.00", "rate = 21.00")
    answer = served.post(action, with_values(items, **{"labour.bench.rate": "19.50"}, text=text))
    assert answer.status == 409 and "labour.bench.rate 19.50 21" in answer.words and file.read_bytes() == before
    again = dict(fields_of(answer.text, "keys"))
    assert again["labour.bench.rate"] == "19.50" and "rate = 21.00" in again["text"]


@pytest.mark.parametrize(
    ("key", "description", "said"),
    [
        ("purchase", "What it cost to buy, in the workshop's currency.", ("What it cost to buy", "GBP")),
        ("min", "Least that it counts as, in the channel's currency.", ("Least that it counts as", "USD")),
        ("fee_per_g", "Fees for filings, in currency per gram.", ("Fees for filings", "GBP/g")),
        ("duty", "Mean share of the rated power that is drawn, as a fraction.",
         ("Mean share of the rated power that is drawn", "fraction")),
        ("height_mm", "Height of the investment, in millimetres.", ("Height of the investment", "mm")),
        ("minutes", "Attended minutes each time.", ("Attended minutes each time", "")),
        ("on_cost", "On top of the rate, as a fraction.", ("On cost: on top of the rate", "fraction")),
        ("flask", "Name of the flask; required where a step is per flask.", ("Name of the flask", "")),
    ],
)  # fmt: skip
def test_a_key_is_called_by_its_description(key, description, said):
    assert worded(key, description, "GBP", "USD") == said


def test_a_further_alloy_and_its_end(served):
    action, items = form_of(served, "/edit/alloys.toml?at=" + quote('["alloys", "+"]'))
    values = {"new name of this": "fine-silver", "alloys.\"+\".name": "Fine silver", "alloys.\"+\".density": "10.49",
              "alloys.\"+\".priced_by": "content", "alloys.\"+\".melt_loss": "0.01",
              "new name of alloys.\"+\".composition": "Ag", "alloys.\"+\".composition.\"+\"": "1"}  # fmt: skip
    answer = served.post(action, with_values(items, **values))
    assert answer.status == 303, answer.words[-600:]
    alloy = read_folder(served.root).stated.alloys["fine-silver"]
    assert (alloy.density, alloy.composition) == (10.49, {"Ag": 1.0})
    action, items = form_of(served, "/edit/alloys.toml?at=" + quote('["alloys", "fine-silver"]'))
    assert "Silver (Ag)" in served.get("/edit/alloys.toml?at=" + quote('["alloys", "fine-silver"]')).words
    assert served.post(action, [*items, ("remove this", "yes")]).status == 303
    assert "fine-silver" not in read_folder(served.root).stated.alloys


def test_a_step_goes_in_at_the_end_and_out_again(served):
    steps = read_folder(served.root).stated.processes["saw-from-sheet"]
    action, items = form_of(
        served, "/edit/processes.toml?at=" + quote(f'["processes", "saw-from-sheet", {len(steps)}]')
    )
    at = f"processes.saw-from-sheet[{len(steps)}]."
    assert served.post(action, with_values(items, **{at + "name": "ribbon", at + "per": "set"})).status == 303
    assert read_folder(served.root).stated.processes["saw-from-sheet"][-1].name == "ribbon"
    action, items = form_of(
        served, "/edit/processes.toml?at=" + quote(f'["processes", "saw-from-sheet", {len(steps)}]')
    )
    assert served.post(action, [*items, ("remove this", "yes")]).status == 303
    assert read_folder(served.root).stated.processes["saw-from-sheet"] == steps


def test_the_text_is_saved_as_it_was_typed(served):
    for file in (*FILES, "metal_prices.csv"):
        items = fields_of(served.get(f"/edit/{file}").text, "keys")
        before = (served.root / file).read_bytes()
        assert dict(items)["text"] == before.decode()
        sent = [(name, value.replace("\n", "\r\n")) for name, value in items]  # as browsers do
        assert served.post(f"/edit-save/{file}", sent).status == 303
        assert (served.root / file).read_bytes() == before


def test_line_ends_and_the_mark_of_windows_stay(served):
    file = served.root / "products" / "thimble.toml"
    file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes().replace(b"\n", b"\r\n"))
    before = file.read_bytes()
    items = fields_of(served.get("/edit/products/thimble.toml").text, "keys")
    assert served.post("/edit-save/products/thimble.toml", items).status == 303
    assert file.read_bytes() == before


def test_a_text_with_a_fault_is_told_and_kept_in_the_field(served):
    file = served.root / "alloys.toml"
    before = file.read_bytes()
    items = dict(fields_of(served.get("/edit/alloys.toml").text, "keys"))
    answer = served.post(
        "/edit-save/alloys.toml", items | {"text": items["text"].replace("density = 10.36", "density = heavy")}
    )
    assert answer.status == 422 and "Nothing was saved." in answer.words and "density = heavy" in answer.text
    assert file.read_bytes() == before


def test_of_two_who_change_a_file_the_later_is_told_and_nothing_is_lost(served):
    file = served.root / "workshop.toml"
    mine = dict(fields_of(served.get("/edit/workshop.toml").text, "keys"))
    file.write_text(file.read_text().replace("per_month = 590.00", "per_month = 700.00"))  # an editor, meanwhile
    answer = served.post(
        "/edit-save/workshop.toml", mine | {"text": mine["text"].replace("rate = 18.00", "rate = 21.00")}
    )
    assert answer.status == 409
    assert "this file was changed since it was read, and nothing was written" in answer.words
    assert "per_month = 700.00" in file.read_text() and "rate = 18.00" in file.read_text()
    again = dict(fields_of(answer.text, "keys"))
    assert "rate = 21.00" in again["text"]  # mine is still in the field
    assert '<span class="theirs">now   per_month = 700.00</span>' in answer.text  # and theirs is shown
    assert served.post("/edit-save/workshop.toml", again).status == 303  # having seen it, I may save


APPRENTICE = "/edit/workshop.toml?at=" + quote('["labour", "apprentice"]')


def test_two_tabs_that_change_different_keys(served):
    """One changes the rate, the other the on-cost; both are kept."""
    action, one = form_of(served, APPRENTICE)
    _, other = form_of(served, APPRENTICE)
    assert served.post(action, with_values(one, **{"labour.apprentice.rate": "14.10"})).status == 303
    assert served.post(action, with_values(other, **{"labour.apprentice.on_cost": "0.08"})).status == 303
    role = read_folder(served.root).stated.workshop.labour["apprentice"]
    assert (role.rate, role.on_cost) == (14.1, 0.08)


def test_two_tabs_that_change_the_same_key(served):
    """The later is told what differs, keeps what was typed, and may save it having seen the other."""
    action, one = form_of(served, APPRENTICE)
    _, other = form_of(served, APPRENTICE)
    assert served.post(action, with_values(one, **{"labour.apprentice.rate": "14.10"})).status == 303
    later = {"labour.apprentice.rate": "15", "labour.apprentice.on_cost": "0.08"}
    answer = served.post(action, with_values(other, **later))
    assert answer.status == 409 and "Changed by somebody else while this form was open" in answer.words
    assert "labour.apprentice.rate 15 14.1" in answer.words  # mine, and what the file says
    assert read_folder(served.root).stated.workshop.labour["apprentice"].rate == 14.1
    again = fields_of(answer.text, "keys")
    assert {name: dict(again)[name] for name in later} == later
    assert served.post(action, again).status == 303
    role = read_folder(served.root).stated.workshop.labour["apprentice"]
    assert (role.rate, role.on_cost) == (15, 0.08)


def test_of_many_saves_at_once_one_is_kept_and_the_others_are_told(folder):
    """Six type another rate at the same moment, then two another key each: nobody's word is lost unsaid."""
    part = part_at(TOML_FILES["workshop.toml"].model, ("labour", "apprentice"))

    def save(*typed: dict[str, str]) -> list:
        shown = part.shows(document("workshop.toml", (folder / "workshop.toml").read_text()))
        sent = [Sent({**shown, **fields}, shown, "", None, "", "") for fields in typed]
        with ThreadPoolExecutor(len(sent)) as pool:
            return list(pool.map(lambda each: save_both(folder, "workshop.toml", part, each), sent))

    found = save(*({"labour.apprentice.rate": f"20.{hand}5"} for hand in range(6)))
    (winner,) = (hand for hand, refused in enumerate(found) if refused is None)
    torn = [refused.torn[0][1:] for refused in found if refused is not None]
    assert torn == [(f"20.{hand}5", f"20.{winner}5") for hand in range(6) if hand != winner]
    assert save({"labour.apprentice.rate": "30"}, {"labour.apprentice.on_cost": "0.08"}) == [None, None]
    role = read_folder(folder).stated.workshop.labour["apprentice"]
    assert (role.rate, role.on_cost) == (30, 0.08)


def steps_of(served, process: str):
    return read_folder(served.root).stated.processes[process]


def test_a_step_that_went_away_meanwhile_takes_no_other_step_s_place(served):
    """The form of the second step is open; the first is taken out, so the second place is another step's."""
    at = '["processes", "saw-from-sheet", {}]'
    steps = steps_of(served, "saw-from-sheet")
    action, second = form_of(served, "/edit/processes.toml?at=" + quote(at.format(1)))
    first, gone = form_of(served, "/edit/processes.toml?at=" + quote(at.format(0)))
    assert served.post(first, [*gone, ("remove this", "yes")]).status == 303
    for change in ({"processes.saw-from-sheet[1].minutes": "77"}, {"remove this": "yes"}):
        answer = served.post(action, with_values(second, **change))
        assert answer.status == 409, answer.words[:300]
        assert steps_of(served, "saw-from-sheet") == steps[1:]
    assert "77" not in dict(fields_of(answer.text, "keys")).values()


def test_a_part_that_went_away_meanwhile_empties_no_other(served):
    """Saving into a part that is gone once emptied the first part of the file."""
    address = "/edit/workshop.toml?at=" + quote('["labour", "apprentice"]')
    action, mine = form_of(served, address)
    file = served.root / "workshop.toml"
    text = file.read_text()
    file.write_text(re.sub(r"(?ms)^\[labour\.apprentice\].*?(?=^\[)", "", text))
    before = file.read_text()
    assert before != text
    answer = served.post(action, with_values(mine, **{"labour.apprentice.rate": "14.10"}))
    assert answer.status == 409 and "this part is not there any more" in answer.words
    assert "labour.apprentice.rate 14.10" in answer.words  # what was typed is not lost
    assert file.read_text() == before


def test_a_further_one_does_not_take_the_place_of_one_that_is_there(served):
    before = (served.root / "alloys.toml").read_bytes()
    action, items = form_of(served, "/edit/alloys.toml?at=" + quote('["alloys", "+"]'))
    values = {"new name of this": "sterling", 'alloys."+".name': "Mine", 'alloys."+".density': "10.3"}
    answer = served.post(action, with_values(items, **values))
    assert answer.status == 422 and 'there is "sterling" already' in answer.words
    assert (served.root / "alloys.toml").read_bytes() == before


@pytest.mark.parametrize("shown", ["", "[", "null", "[]", '{"a": 1}', "[" * 9000, '{"a": "\\ud800"}'])
def test_a_form_that_does_not_say_what_it_showed_changes_nothing(served, shown):
    before = (served.root / "workshop.toml").read_bytes()
    action, items = form_of(served, APPRENTICE)
    answer = served.post(action, with_values(items, shown=shown, **{"labour.apprentice.rate": "14.10"}))
    assert answer.status == 400 and "Open it again" in answer.words
    assert (served.root / "workshop.toml").read_bytes() == before


def test_a_broken_file_can_be_mended_here(served):
    file = served.root / "channels.toml"
    good = file.read_text()
    file.write_text(good.replace("[channels.shop]", "[channels.shop"))
    page = served.get("/edit/channels.toml")
    assert page.status == 200 and "the header is not closed" in page.words
    items = dict(fields_of(page.text, "keys"))
    assert served.post("/edit-save/channels.toml", items | {"text": good}).status == 303
    assert file.read_text() == good


def test_one_of_several_faults_may_be_mended_first(served):
    channels, alloys = served.root / "channels.toml", served.root / "alloys.toml"
    good = channels.read_text()
    channels.write_text(good.replace("[channels.shop]", "[channels.shop"))
    alloys.write_text(alloys.read_text().replace("density = 10.36", "density = -10.36"))
    items = dict(fields_of(served.get("/edit/channels.toml").text, "keys"))
    assert served.post("/edit-save/channels.toml", items | {"text": good}).status == 303


@pytest.mark.parametrize("at", ['["alloys", "nothing"]', '["__class__"]', "[9]", "[]"])
def test_a_part_that_is_not_there_is_the_first(looking, at):
    assert looking.get("/edit/alloys.toml?at=" + quote(at)).status == 200


@pytest.mark.parametrize(
    "at", ["[", "{}", "[null]", "[true]", "[1.5]", "9" * 400, "[" * 1900, "[" * 15_000, "", "\x00", "[[]]"]
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_what_is_no_part_is_told(looking, at, method):
    if method == "GET":
        answer = looking.get("/edit/alloys.toml?at=" + quote(at))
    else:
        answer = looking.post("/edit-save/alloys.toml?at=" + quote(at), {"shown": "{}"})
    assert answer.status == 400 and "There is no such part of a file" in answer.words


@pytest.mark.parametrize("link", ["products/lent.toml", "alloys.toml", "doubts.toml"])
def test_a_link_that_leads_out_of_the_folder_is_neither_shown_nor_written(served, link):
    """A file of the folder that is a link to one elsewhere."""
    inside = served.root / ("products/acorn-knob.toml" if "products" in link else link)
    outside = served.root.parent / "elsewhere.toml"
    outside.write_bytes(inside.read_bytes().replace(b'"acorn-knob"', b'"lent"') + b"# hush\n")
    (served.root / link).unlink(missing_ok=True)
    (served.root / link).symlink_to(outside)
    before = outside.read_bytes()
    told = "is a link that leads out of the folder: it is neither shown nor changed here."
    answer = served.get(f"/edit/{link}")
    assert answer.status == 404 and told in answer.words and "hush" not in answer.text
    for path, sent in (
        (f"/edit-save/{link}", {"text": "gone", "expected": ""}),
        (f"/edit-save/{link}", {"shown": "{}", "name": "gone"}),
    ):
        answer = served.post(path, sent)
        assert answer.status == 404 and told in answer.words
    if "products" in link:
        assert "this link leads out of the folder" in served.get("/design").words  # and no price comes from it
    assert outside.read_bytes() == before


def test_the_list_of_files(looking):
    answer = looking.get("/edit?query=knob")
    assert '<a href="/edit/products/acorn-knob.toml">Acorn drawer knob</a>' in answer.text
    assert "Bramble thimble" not in answer.words
