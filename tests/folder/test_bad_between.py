"""What lies between tables and between files: names, steps, likes, and what a product must have in the end.

`▶` is where the fault must point, `▷` where its second place is.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.folder.telling import check_told
from tests.folder.workshops import Change

WORKSHOP = "workshop.toml"
ALLOYS = "alloys.toml"
PROCESSES = "processes.toml"
CHANNELS = "channels.toml"
PRICES = "metal_prices.csv"
KNOB = "products/acorn-knob.toml"
LARGE = "products/large-knob.toml"
DOUBTS = "doubts.toml"


def same(file: str, text: str, mark: str = "▷") -> Change:
    """A mark before a text that stays as it is."""
    return Change(file, text, mark + text)


UNKNOWN_NAMES = [
    ((Change(KNOB, '"sterling"]', '▶"sterlin"]'), same(ALLOYS, "[alloys.sterling]")),
     'alloys: no alloy "sterlin". Did you mean "sterling"?'),
    ((Change(KNOB, '"sterling"]', '▶"gold"]'),), 'alloys: no alloy "gold". Known: "sterling", "yellow-brass".'),
    ((Change(KNOB, 'process = "cast"', 'process = ▶"csat"'), same(PROCESSES, '[[processes.cast]]\nname = "model"')),
     'process: no process "csat". Did you mean "cast"?'),
    ((Change(KNOB, 'flask = "medium"', 'flask = ▶"mediun"'), same(WORKSHOP, "[flasks.medium]")),
     'flask: no flask "mediun". Did you mean "medium"?'),
    ((Change(KNOB, '"trade"]', '▶"trad"]'), same(CHANNELS, "[channels.trade]")),
     'sold_in: no channel "trad". Did you mean "trade"?'),
    ((Change(KNOB, "volume_cm3 = 2.31", 'metal_g = 9, in_alloy = ▶"yelow-brass", weighed = "as-cast"'),
      same(ALLOYS, "[alloys.yellow-brass]")),
     'castings[0].in_alloy: no alloy "yelow-brass". Did you mean "yellow-brass"?'),
    ((Change(KNOB, "price = 0.11", 'price = 0.11, metal_g = 0.4, alloy = ▶"sterlng"'),
      same(ALLOYS, "[alloys.sterling]")),
     'findings[0].alloy: no alloy "sterlng". Did you mean "sterling"?'),
    ((Change(KNOB, "price = 0.11", 'price = 0.11, alloys = ["sterling", ▶"brass"]'),),
     'findings[0].alloys: no alloy "brass". Known: "sterling", "yellow-brass".'),
    ((Change(KNOB, "minutes = 5", 'minutes = 5\nlabour = ▶"bnech"'), same(WORKSHOP, "[labour.bench]")),
     'steps.darken.labour: no role "bnech". Did you mean "bench"?'),
    ((Change(KNOB, "[for_alloy.sterling]\n", "[for_alloy.▶silvr]\n"),),
     'for_alloy.silvr: no alloy "silvr". Known: "sterling", "yellow-brass".'),
    ((Change(KNOB, "[in_channel.shop]", "[in_channel.▶shoop]"), same(CHANNELS, "[channels.shop]")),
     'in_channel.shoop: no channel "shoop". Did you mean "shop"?'),
    ((Change(KNOB, "{ margin = 0.3 }", '{ keystone_of = ▶"trad", multiple = 2 }'), same(CHANNELS, "[channels.trade]")),
     'in_channel.shop.policy.keystone_of: no channel "trad". Did you mean "trade"?'),
    ((Change(WORKSHOP, 'material = "investment"', 'material = ▶"investmnet"'),),
     'flasks.medium.material: no material "investmnet". Did you mean "investment"?'),
    ((Change(PROCESSES, 'machine = "kiln"', 'machine = ▶"klin"'), same(WORKSHOP, "[machines.kiln]")),
     'processes.cast[1].machine: no machine "klin". Did you mean "kiln"?'),
    ((Change(PROCESSES, 'material = "patina"', 'material = ▶"patna"'), same(WORKSHOP, "[materials.patina]")),
     'processes.cast[3].uses[0].material: no material "patna". Did you mean "patina"?'),
    ((Change(PROCESSES, 'alloys = ["sterling"]', 'alloys = [▶"sterlin"]'), same(ALLOYS, "[alloys.sterling]")),
     'processes.cast[4].alloys: no alloy "sterlin". Did you mean "sterling"?'),
    ((Change(CHANNELS, 'labour = "bench"', 'labour = ▶"bnech"'), same(WORKSHOP, "[labour.bench]")),
     'channels.shop.labour: no role "bnech". Did you mean "bench"?'),
    ((Change(CHANNELS, "{ margin = 0.25 }", '{ keystone_of = ▶"trad", multiple = 2 }'),),
     'channels.shop.policy.keystone_of: no channel "trad". Did you mean "trade"?'),
    ((Change(LARGE, 'like = "acorn-knob"', 'like = ▶"acorn-nkob"'),),
     'like: no product "acorn-nkob". Did you mean "acorn-knob"?'),
    ((Change(KNOB, "[steps.darken]", "[steps.▶darkne]"), same(PROCESSES, '[[processes.cast]]\nname = "model"')),
     'steps.darkne: the process "cast" has no step "darkne". Did you mean "darken"?'),
    ((Change(KNOB, "[for_alloy.sterling.steps.pour]", "[for_alloy.sterling.steps.▶pure]"),
      same(PROCESSES, '[[processes.cast]]\nname = "model"')),
     'for_alloy.sterling.steps.pure: the process "cast" has no step "pure". Did you mean "pour"?'),
    ((Change(ALLOYS, 'quote = "brass-grain"', 'quote = ▶"brass-gran"'),
      Change(PRICES, "2026-11-20,brass-grain", "2026-11-20,▷brass-grain")),
     'alloys.yellow-brass.quote: no quote "brass-gran" in metal_prices.csv, and acorn-knob, large-knob in '
     'yellow-brass needs one. Did you mean "brass-grain"?'),
    ((Change(DOUBTS, "", '▶"products.acorn-nkob.sprue_ratio" = { low = 0.4, high = 0.6 }\n'),),
     '"products.acorn-nkob.sprue_ratio": no product "acorn-nkob". Did you mean "acorn-knob"? If it is gone, '
     'take this line out.'),
]  # fmt: skip

RULES = [
    ((Change(PROCESSES, 'name = "burn out"', 'name = ▶"model"'), same(PROCESSES, '"model"\nper = "design"')),
     'processes.cast[1].name: a step "model" is there already. '
     "Give one of them another name: products state their own figures by it."),
    ((Change(PROCESSES, 'per = "flask"\nmachine', 'per = "piece"\nmachine'), same(PROCESSES, '"flask" }]', "▶")),
     "processes.cast[1].uses[0].quantity: a flask is filled only in a step per flask, and this one is per piece. "
     'Write per = "flask", or state a number.'),
    ((Change(PROCESSES, 'takes_metal = "pour"\n', ""), same(PROCESSES, '[[processes.cast]]\nname = "model"', "▶"),
      same(KNOB, '"cast"')),
     "processes.cast: no step brings the metal in. "
     'Write takes_metal = "pour", "cut" or "bought" on the step that does.'),
    ((Change(PROCESSES, 'takes_metal = "pour"\n', 'takes_metal = "pour"\nalloys = ["sterling"]\n'),
      same(PROCESSES, '[[processes.cast]]\nname = "model"', "▶"), same(KNOB, '"cast"')),
     "processes.cast: no step brings the metal in for yellow-brass. "
     'Write takes_metal = "pour", "cut" or "bought" on the step that does.'),
    ((Change(PROCESSES, 'name = "darken"\n', 'name = "darken"\ntakes_metal = ▶"cut"\n'), same(KNOB, '"cast"')),
     'processes.cast[3].takes_metal: "pour" and "darken" both bring the metal in. Keep takes_metal on one step.'),
    ((Change(KNOB, "minutes = 5", 'minutes = 5\ntakes_metal = ▶"cut"'), same(KNOB, '"cast"')),
     'steps.darken.takes_metal: "pour" and "darken" both bring the metal in. Keep takes_metal on one step.'),
    ((Change(PROCESSES, 'name = "model"\n', 'name = "model"\nmetal_loss = ▶0.01\n'),
      same(PROCESSES, '[[processes.cast]]\nname = "pour"')),
     'processes.cast[0].metal_loss: there is no metal yet before "pour". '
     "Leave it out, or put the step behind that one."),
    ((Change(KNOB, "good = 0.95", 'good = 0.95\n[for_alloy.sterling.steps."burn out"]\nmetal_loss = ▶0.01'),
      same(PROCESSES, '[[processes.cast]]\nname = "pour"')),
     'for_alloy.sterling.steps."burn out".metal_loss: there is no metal yet before "pour" for sterling. '
     "Leave it out, or put the step behind that one."),
    ((Change(KNOB, "minutes = 5", "minutes = 5\nmachine_minutes = ▶20"),
      same(PROCESSES, '[[processes.cast]]\nname = "darken"')),
     "steps.darken.machine_minutes: machine is missing beside it. Add machine = with the name of a machine."),
    ((Change(KNOB, "pieces_per_flask = 18\n", ""), same(KNOB, 'sku = "acorn-knob"', "▶"),
      same(PROCESSES, '[[processes.cast]]\nname = "burn out"')),
     'pieces_per_flask is missing, and the step "burn out" is per flask. '
     "Add pieces_per_flask = with the castings in one flask."),
    ((Change(KNOB, ", area_cm2 = 11.4", ""), same(KNOB, '{ name = "knob"', "▶"),
      same(PROCESSES, '[[processes.cast]]\nname = "darken"')),
     'castings[0]: area_cm2 is missing, and the step "darken" goes by the surface. '
     "Add its surface in cm2, or a mesh."),
    ((Change(CHANNELS, "{ margin = 0.25 }", '{ keystone_of = ▶"shop", multiple = 2 }'),),
     "channels.shop.policy.keystone_of: a channel cannot lean on its own price. Name another channel."),
    ((Change(CHANNELS, "{ margin = 0.25 }", '{ keystone_of = ▶"trade", multiple = 2 }'),
      Change(CHANNELS, "{ metal_multiple = 1.3, work_multiple = 2.0 }", '{ keystone_of = ▷"fair", multiple = 2 }'),
      Change(CHANNELS, "[ladder]", '[channels.fair]\naudience = "retail"\npolicy = { margin = 0.1 }\n[ladder]')),
     'channels.shop.policy.keystone_of: "trade" is itself keystone_of "fair", and a chain is not followed. '
     "Name the channel at its end, with the multiples multiplied."),
    ((Change(CHANNELS, "{ margin = 0.25 }", '{ keystone_of = "trade", multiple = 2 }'),
      Change(KNOB, "[in_channel.shop]\npolicy = { margin = 0.3 }",
             '[for_alloy.sterling.in_channel.trade]\npolicy = ▶{ keystone_of = "shop", multiple = 2 }')),
     'for_alloy.sterling.in_channel.trade.policy: "shop" is keystone_of "trade", which is keystone_of "shop", '
     "and no chain is followed. Name the channel at its end, with the multiples multiplied."),
    ((Change(KNOB, 'process = "cast"', 'process = "cast"\nlike = ▶"large-knob"'), same(LARGE, '"acorn-knob"')),
     "like: it goes in a circle: acorn-knob -> large-knob -> acorn-knob. Let one of them state everything itself."),
    ((Change("products/other.toml", "", 'sku = ▶"acorn-knob"\nname = "Other"\nlike = "large-knob"\n'),
      same(KNOB, '"acorn-knob"')),
     'sku: another product has the sku "acorn-knob" already. Give one of them another sku.'),
    ((Change(KNOB, "volume_cm3 = 2.31", 'mesh = ▶"meshes/acorn.stl"'),),
     'castings[0].mesh: there is no file "meshes/acorn.stl". Add it to the folder.'),
    ((Change(KNOB, "volume_cm3 = 2.31", 'mesh = ▶"meshes/acorn.stl"'), Change("meshes/acorm.stl", "", "solid")),
     'castings[0].mesh: there is no file "meshes/acorn.stl". Did you mean "meshes/acorm.stl"?'),
    ((Change(KNOB, "volume_cm3 = 2.31", 'mesh = ▶"meshes/acorn.stl"'), Change("meshes/ACORN.obj", "", "solid")),
     'castings[0].mesh: there is no file "meshes/acorn.stl". Did you mean "meshes/ACORN.obj"?'),
    ((Change(KNOB, "volume_cm3 = 2.31", 'mesh = ▶"meshes/acorn-knob.stl"'),
      Change("meshes/oak-knob.stl", "", "solid"), Change("meshes/knight.stl", "", "solid")),
     'castings[0].mesh: there is no file "meshes/acorn-knob.stl". Add it to the folder.'),
    ((Change(KNOB, "volume_cm3 = 2.31", 'mesh = ▶"../acorn.stl"'),),
     'castings[0].mesh: "../acorn.stl" leads out of the folder. Put the file into the folder and name it from there.'),
    ((Change(KNOB, "volume_cm3 = 2.31", 'mesh = ▶"/etc/hosts"'),),
     'castings[0].mesh: "/etc/hosts" does not begin in this folder. '
     "Put the file into the folder and name it from there."),
    ((Change(KNOB, 'sold_as = "pair"', 'photo = ▶"C:/knob.jpg"'),),
     'photo: "C:/knob.jpg" does not begin in this folder. Put the file into the folder and name it from there.'),
    ((Change(KNOB, 'sold_as = "pair"', r"photo = ▶'photos\knob.jpg'"),),
     r'photo: "photos\knob.jpg" has backslashes in it. Write slashes: photos/knob.jpg.'),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "told"), UNKNOWN_NAMES + RULES)
def test_told_with_both_places(tmp_path, changes, told):
    check_told(tmp_path, changes, told)


def test_a_mesh_that_is_a_link_to_itself(tmp_path):
    (tmp_path / "acorn.stl").symlink_to("acorn.stl")
    check_told(
        tmp_path,
        (Change(KNOB, "volume_cm3 = 2.31", 'mesh = ▶"acorn.stl"'),),
        'castings[0].mesh: "acorn.stl" cannot be read (a link leads back to itself). Put the file itself there.',
    )


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (PermissionError(13, "Permission denied"), "may not be read. Give yourself leave to read it and its folder."),
        (OSError(5, "Input/output error"), "cannot be read (Input/output error). Put the file itself there."),
    ],
)
def test_meshes_that_the_system_refuses(tmp_path, monkeypatch, error, told):
    is_file = Path.is_file

    def refusing(path):
        if path.parent.name == "meshes":
            raise error
        return is_file(path)

    monkeypatch.setattr(Path, "is_file", refusing)
    check_told(
        tmp_path,
        (Change(KNOB, "volume_cm3 = 2.31", 'mesh = ▶"meshes/acorn.stl"'),),
        f'castings[0].mesh: "meshes/acorn.stl" {told}',
    )


LACKING = "and acorn-knob has none to take"


@pytest.mark.parametrize(
    ("taken_out", "own", "cousin"),
    [
        ('alloys = ["yellow-brass", "sterling"]\n',
         'alloys is missing. Add alloys = ["…"] with the alloys it is made in.',
         f'alloys is missing, {LACKING}. Add alloys = ["…"] with the alloys it is made in.'),
        ('process = "cast"\n',
         "process is missing. Add process = with the name of a process.",
         f"process is missing, {LACKING}. Add process = with the name of a process."),
        ('castings = [{ name = "knob", count = 2, volume_cm3 = 2.31, area_cm2 = 11.4 }]\n',
         'castings is missing. Add castings = [{ name = "…", count = 1, volume_cm3 = … }].',
         f'castings is missing, {LACKING}. Add castings = [{{ name = "…", count = 1, volume_cm3 = … }}].'),
        ("sprue_ratio = 0.45\n",
         "sprue_ratio is missing for yellow-brass. Add gram of sprues and runners per gram of castings.",
         f"sprue_ratio is missing for yellow-brass, {LACKING}. Add gram of sprues and runners per gram of castings."),
    ],
)  # fmt: skip
def test_what_neither_a_product_nor_its_model_states(tmp_path, taken_out, own, cousin):
    changes = (Change(KNOB, taken_out, ""), same(KNOB, "sku", "▶"), same(LARGE, "sku", "▶"))
    check_told(tmp_path, changes, own, cousin)


@pytest.mark.parametrize(
    ("taken_out", "step", "told"),
    [
        ('flask = "medium"\n', "burn out",
         'flask is missing, and the step "burn out" is per flask. Add flask = with the name of a flask.'),
        ("expected_sales = 120\n", "model",
         'expected_sales is missing, and the step "model" is per design. '
         "Add expected_sales = with the sets over the design's life."),
    ],
)  # fmt: skip
def test_what_a_step_needs_is_told_for_each_product(tmp_path, taken_out, step, told):
    both = same(PROCESSES, f'[[processes.cast]]\nname = "{step}"', "▷▷")
    check_told(
        tmp_path, (Change(KNOB, taken_out, ""), same(KNOB, "sku", "▶"), same(LARGE, "sku", "▶"), both), told, told
    )


def test_a_cousin_in_another_process_takes_figures_along_without_a_fault(tmp_path):
    """The knob's own minutes for "darken" mean nothing in the sawn process, and are not the cousin's doing."""
    check_told(tmp_path, (Change(LARGE, "scale = 1.25", 'scale = 1.25\nprocess = "sawn"'),))


def test_a_name_in_a_table_with_another_slip_is_known(tmp_path):
    """Sterling is there, though its density is wrong: nobody is told that there is no such alloy."""
    check_told(
        tmp_path,
        (Change(ALLOYS, "density = 10.36", "density = ▶-1"),),
        "alloys.sterling.density: -1 is not above 0. State a number above 0.",
    )


@pytest.mark.parametrize("file", [WORKSHOP, ALLOYS, PROCESSES, CHANNELS, KNOB])
def test_names_of_a_file_that_cannot_be_read_are_not_doubted(tmp_path, file):
    check_told(
        tmp_path,
        (Change(file, "", "▶%\n"),),
        'this is neither a key with a value nor a header. Write key = value, [table], or begin a comment with "#".',
    )
