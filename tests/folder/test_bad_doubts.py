"""Doubts that are about no figure; `▶` is where the fault must point."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from pricing.model.alloy import Alloy
from pricing.model.workshop import Workshop
from tests.folder.telling import check_told
from tests.folder.workshops import MARK, Change, changed, faults_of, marks, read, write


def quoted(keys: Iterable[str]) -> str:
    """Keys as they are listed in what is told."""
    return ", ".join(f'"{key}"' for key in keys)


DOUBTS = "doubts.toml"
KNOB = "products/acorn-knob.toml"
WORKSHOP = "workshop.toml"
GONE = "If it is gone, take this line out."
ABOUT = "A doubt is about one number, by the keys that lead to it."


def doubt(path: str) -> str:
    return f'"{path}" = {{ low = 1, high = 2 }}\n'


@pytest.mark.parametrize(
    ("path", "told"),
    [
        ("labour.bench.ratee", 'no figure "ratee" in labour.bench. Did you mean "rate"?'),
        ("workshop.labour.bench.ratee", 'no figure "ratee" in workshop.labour.bench. Did you mean "rate"?'),
        ("labour.banch.rate", 'no figure "banch" in labour. Did you mean "bench"?'),
        ("labour.bench", f"labour.bench is no number. {ABOUT}"),
        ("name", f"name is no number. {ABOUT}"),
        ("labour.bench.rate.high", "labour.bench.rate is a number, and has no high. "
         "Write the path as labour.bench.rate."),
        ("flasks.medium.powder_g", "flasks.medium.powder_g is not stated, so that there is nothing to doubt. "
         "State it, or take the doubt out."),
        ("alloys.sterling.nonsense", f'no figure "nonsense" in alloys.sterling. Known: {quoted(Alloy.model_fields)}.'),
        ("alloys.sterling", f"alloys.sterling is no number. {ABOUT}"),
        ("products.acorn-knob", f"products.acorn-knob is no number. {ABOUT}"),
        ("alloys", f"alloys is no number. {ABOUT}"),
        ("alloys.silver.density", f'no alloy "silver". Known: "sterling", "yellow-brass". {GONE}'),
        ("products.acorn-knobs.expected_sales", f'no product "acorn-knobs". Did you mean "acorn-knob"? {GONE}'),
        ("processes.cast.burnout.machine_minutes",
         'no figure "burnout" in processes.cast. Did you mean "burn out"?'),
        ("processes.cast.burn out.machine", f"processes.cast.burn out.machine is no number. {ABOUT}"),
        ("channels.shop.fees.crad.rate", 'no figure "crad" in channels.shop.fees. Did you mean "card"?'),
        ("products.acorn-knob.steps.darken.minute",
         'no figure "minute" in products.acorn-knob.steps.darken. Did you mean "minutes"?'),
        ("products.acorn-knob.steps.polish.minutes", 'no figure "polish" in products.acorn-knob.steps. '
         'Known: "model", "burn out", "pour", "darken", "assay mark".'),
        ("products.acorn-knob.in_channel.shop.least_price",
         "products.acorn-knob.in_channel.shop.least_price is not stated, so that there is nothing to doubt. "
         "State it, or take the doubt out."),
        ("ladder.keystoned", 'no figure "keystoned" in ladder. Did you mean "keystone"?'),
    ],
)  # fmt: skip
def test_a_doubt_about_no_figure(tmp_path, path, told):
    key = f'"{path}"' if "." in path else path
    check_told(tmp_path, (Change(DOUBTS, "", "▶" + doubt(path)),), f"{key}: {told}")


def test_a_word_that_is_no_path_at_all(tmp_path):
    of_the_workshop = [key for key in Workshop.model_fields if key != "schema_version"]
    beside = ("alloys", "processes", "products", "channels", "ladder")
    told = f'x: no figure "x". Known: {quoted([*of_the_workshop, *beside])}.'
    check_told(tmp_path, (Change(DOUBTS, "", "▶" + doubt("x")),), told)


@pytest.mark.parametrize(
    "path",
    [
        "overhead.productive_hours", "workshop.overhead.productive_hours", "stale_after_days",
        "machines.kiln.life_hours", "alloys.sterling.composition.Ag", "alloys.sterling.premium",
        "processes.cast.burn out.machine_minutes", "processes.cast.darken.uses.patina.per_cm2",
        "channels.shop.fees.card.rate", "channels.shop.policy.margin", "ladder.keystone",
        "products.acorn-knob.expected_sales", "products.acorn-knob.castings.knob.volume_cm3",
        "products.acorn-knob.steps.darken.minutes",  # its own figure
        "products.acorn-knob.steps.pour.minutes",  # the figure of its process
        "products.large-knob.findings.M4 stud.price",  # taken along from the knob
        "products.acorn-knob.for_alloy.sterling.steps.pour.good",
    ],
)  # fmt: skip
def test_a_doubt_about_a_figure(tmp_path, path):
    assert list(read(tmp_path, Change(DOUBTS, "", doubt(path))).stated.doubts) == [path]


def test_names_with_points_in_them(tmp_path):
    machine = '[machines."kiln no. 2"]\npurchase = 1\nlife_hours = 1\n[materials.investment]'
    change = Change(WORKSHOP, "[materials.investment]", machine)
    assert read(tmp_path, change, Change(DOUBTS, "", doubt("machines.kiln no. 2.life_hours"))).stated.doubts


NOT_ABOVE = "-1 is not above 0. State a number above 0."


@pytest.mark.parametrize(
    ("file", "old", "new", "paths", "told"),
    [
        ("alloys.toml", "density = 10.36", "density = ▶-1", ["alloys.sterling.x"],
         f"alloys.sterling.density: {NOT_ABOVE}"),
        (WORKSHOP, "slurry_density = 1.8", "slurry_density = 1.8\npowder_g = ▶-1", ["flasks.medium.powder_g"],
         f"flasks.medium.powder_g: {NOT_ABOVE}"),
        (WORKSHOP, "rate = 24.0", "rate = ▶-1", ["labour.bench.rate"],
         "labour.bench.rate: -1 is below 0. State 0 or more."),
        (WORKSHOP, "per_month = 640.0", "per_month = ▶-1", ["overhead.per_month", "x"],
         "overhead.per_month: -1 is below 0. State 0 or more."),
        (WORKSHOP, "= 24.0", "= ▶", ["labour.bench.rate"],
         "the value is missing. Write one after the equals sign, or take the key out."),
        ("channels.toml", "keystone = 2.0", "keystone = ▶-1", ["ladder.keystone"], f"ladder.keystone: {NOT_ABOVE}"),
        ("channels.toml", "keystone = 2.0", "keystone = ▶", ["ladder.keystone", "channels.x.y"],
         "the value is missing. Write one after the equals sign, or take the key out."),
        (KNOB, "expected_sales = 120", "expected_sales = ▶-1",
         ["products.acorn-knob.expected_sales", "products.large-knob.expected_sales"], f"expected_sales: {NOT_ABOVE}"),
        (KNOB, "expected_sales = 120", "expected_sales = ▶", ["products.x.expected_sales"],
         "the value is missing. Write one after the equals sign, or take the key out."),
    ],
)  # fmt: skip
def test_nothing_is_said_of_what_is_refused_already(tmp_path, file, old, new, paths, told):
    """Whether such a doubt has a figure is seen when that is mended."""
    files = changed(Change(file, old, new), Change(DOUBTS, "", "".join(map(doubt, paths))))
    (place,) = marks(files, MARK)
    found = [fault.headline() for fault in faults_of(write(tmp_path, files)) if fault.place.file in (file, DOUBTS)]
    assert found == [f"{place} {told}"]


def test_a_ladder_that_there_is_not(tmp_path):
    check_told(
        tmp_path,
        (Change("channels.toml", "[ladder]\nkeystone = 2.0\n", ""), Change(DOUBTS, "", "▶" + doubt("ladder.keystone"))),
        '"ladder.keystone": no figure "keystone" in ladder. There is none yet.',
    )


def test_a_step_that_makes_no_sense_with_the_own_figures_of_a_product(tmp_path):
    """Its machine is missing, which is told; the doubt about its minutes is about a figure all the same."""
    check_told(
        tmp_path,
        (
            Change(KNOB, "minutes = 5", "minutes = 5\nmachine_minutes = ▶20"),
            Change("processes.toml", '[[processes.cast]]\nname = "darken"', '▷[[processes.cast]]\nname = "darken"'),
            Change(DOUBTS, "", doubt("products.acorn-knob.steps.darken.minutes")),
        ),
        "steps.darken.machine_minutes: machine is missing beside it. Add machine = with the name of a machine.",
    )
