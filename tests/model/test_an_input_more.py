"""An input takes two lines and its formula: then every reader has it.

Three inputs are added to a copy of the package, one of a machine, one of a step and one of a product by alloy; each
as a key of its stated model and a `given` line of its row. Nothing else is told of them.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import pricing
from tests.model.reading_more_inputs import MORE

PACKAGE = Path(pricing.__file__).parent


@pytest.fixture(scope="module")
def said(tmp_path_factory):
    """What the readers of the copy say; see reading_more_inputs.py."""
    home = tmp_path_factory.mktemp("more")
    shutil.copytree(PACKAGE, home / "pricing", ignore=shutil.ignore_patterns("__pycache__"))
    for folder in ("templates", "sample_catalog"):
        (home / folder).symlink_to(PACKAGE.parent / folder)
    for file, added in MORE.items():
        path = home / "pricing" / file
        text = path.read_text(encoding="utf-8")
        for after, line in added:
            assert text.count(after) == 1, (file, after)
            text = text.replace(after, after + line if after.endswith("\n") else line)
        path.write_text(text, encoding="utf-8")
    paths = os.pathsep.join([str(home), str(PACKAGE.parent)])
    done = subprocess.run(
        [sys.executable, "-m", "tests.model.reading_more_inputs", str(home)],
        cwd=home,
        env={**os.environ, "PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1", "PYTHONSAFEPATH": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_resolving_reads_it_or_what_holds_where_it_is_not_stated(said):
    """Not stated: the stated default 0.5 of the machine, 0 of the step, idle of the product; then 2, 90 and 1.2."""
    assert said["resolved"] == [[0.5, 0, 0], [2, 90, 1.2]]


def test_a_formula_takes_it(said):
    assert said["cost of the kiln's hour"] == pytest.approx(2 - 0.5, abs=1e-12)


def test_a_sheet_takes_what_the_folder_takes(said):
    """NotNegative and Positive of the stated keys."""
    assert said["bounds"] == {
        "insurance": "a number from 0",
        "cooling": "a number from 0",
        "gauge": "a number above 0",
    }


def test_what_is_typed_into_a_workbook_lands_where_it_is_stated(said):
    """The step's and the product's in the narrowest place: one row of several was typed over.

    The large knob is like the acorn knob and was not touched: it keeps what its row says.
    """
    assert sorted((file, *path, old, new) for file, path, old, new in said["changes"]) == [
        ("products/acorn-knob.toml", "for_alloy", "sterling", "gauge_mm", 1.2, 1.5),
        ("products/acorn-knob.toml", "for_alloy", "sterling", "steps", "burn out", "cooling_minutes", 90, 60),
        ("products/large-knob.toml", "for_alloy", "sterling", "gauge_mm", 1.2, 1.2),
        ("products/large-knob.toml", "for_alloy", "sterling", "steps", "burn out", "cooling_minutes", 90, 90),
        ("workshop.toml", "machines", "kiln", "insurance_per_hour", 2, 3.5),
    ]


def test_forms_have_its_field(said):
    assert said["form"] == [
        ["machines.kiln.insurance_per_hour", "2", "from 0; 0.5 if left empty"],
        ['steps."burn out".cooling_minutes', "", "from 0"],
    ]


def test_the_makers_sheet_and_the_form_of_a_design_have_its_field(said):
    assert said["sheet"] == [["gauge_mm", "number", "mm"], ["gauge_mm", "", ""]]


def test_it_may_be_doubted_by_its_path(said):
    """The right path was taken where the folder was read; a slip is told with the key that is near."""
    (told,) = said["doubts"]
    assert 'no figure "insurance_per_hours" in machines.kiln' in told
    assert 'Did you mean "insurance_per_hour"?' in told


def test_a_change_of_it_has_a_cause(said):
    """Only the kiln's insurance moves a cost: no formula takes the other two."""
    assert said["causes"] == {"moved": ["machines"], "insurance": "machines", "cooling": "design"}


def test_the_glossary_tells_it_and_its_keys(said):
    assert said["words"] == [
        ["cur/h", "Insurance of an hour run.", "machine_rate"],
        ["workshop.toml", "machine"],
        ["processes.toml", "step"],
        ["products/*.toml", "step figures"],
        ["products/*.toml", "product"],
        ["products/*.toml", "own in alloy"],
    ]


def test_an_edition_without_it_has_the_stated_default(said):
    assert said["thawed"] == [0.5, 0, 0]
