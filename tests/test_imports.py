"""What a command loads is what its user waits for: nothing outside these lists, measured in a fresh interpreter."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.waiting import LONG

CHECKOUT = Path(__file__).parent.parent
TIN_LANE = CHECKOUT / "tests" / "exact" / "tin_lane"
#: Top-level packages that come with a library of ours.
TYPER = frozenset({"typer", "annotated_doc", "shellingham"})
PYDANTIC = frozenset({"pydantic", "pydantic_core", "annotated_types", "typing_extensions", "typing_inspection"})
COSTING = PYDANTIC | {"numpy", "iso4217"}
#: Where the user's cache lies, for what is remembered.
KEEPING = frozenset({"platformdirs"})
SCREEN = frozenset({"rich", "pygments", "markdown_it", "mdurl"})
#: None of these is ever needed to cost a folder whose TOML is in order; together they take seconds to load.
HEAVY = frozenset(
    {"pandas", "trimesh", "openpyxl", "xlsxwriter", "pint", "httpx", "scipy", "lxml", "hypothesis", "tree_sitter"}
)

CALL_COST = """
from datetime import date
from pathlib import Path
from pricing.costing import asked_for, cost
costing = cost(Path(arguments[0]), asked_for(date(2026, 11, 20)))
assert costing.computed["unit_cost"].shape == (7,)
"""
CALL_COMMAND = """
from pricing.cli.main import main
sys.argv = ["troytag", *arguments]
try:
    main()
except SystemExit as left:
    assert not left.code, left.code
"""
FRAME = """
import json, sys
before, arguments = set(sys.modules), sys.argv[1:]
{call}
print(json.dumps(sorted(set(sys.modules) - before)), file=sys.stderr)
"""


def loaded(call: str, *arguments: str) -> set[str]:
    """Top-level packages, not of the standard library, that are loaded once `call` has run."""
    ended = subprocess.run(
        [sys.executable, "-c", FRAME.format(call=call), *arguments],
        cwd=CHECKOUT,
        env={**os.environ, "PYTHONPATH": str(CHECKOUT)},
        capture_output=True,
        text=True,
        timeout=LONG,
    )
    assert ended.returncode == 0, ended.stderr
    names = {name.split(".")[0] for name in json.loads(ended.stderr.splitlines()[-1])}
    compiled = {name: "__mypyc" for name in names if name.endswith("__mypyc")}  # behind a hash of what it belongs to
    return {compiled.get(name, name) for name in names - sys.stdlib_module_names if not name.startswith("_")} - {
        "pricing"
    }


@pytest.mark.parametrize(
    ("call", "arguments", "allowed"),
    [
        pytest.param(CALL_COMMAND, ("--help",), TYPER, id="--help"),
        # Typer itself loads pydantic as soon as a command has arguments.
        pytest.param(CALL_COMMAND, ("cost", "--help"), TYPER | PYDANTIC, id="cost --help"),
        pytest.param(CALL_COST, (str(TIN_LANE),), COSTING, id="the function cost"),
        pytest.param(
            CALL_COMMAND,
            ("check", str(TIN_LANE), "--as-of", "2026-11-20"),
            TYPER | COSTING | SCREEN | KEEPING,
            id="check",
        ),
        pytest.param(
            CALL_COMMAND,
            ("cost", str(TIN_LANE), "--as-of", "2026-11-20"),
            TYPER | COSTING | SCREEN | KEEPING,
            id="cost",
        ),
        pytest.param(CALL_COMMAND, ("words", "unit_cost"), TYPER | COSTING | SCREEN | KEEPING, id="words"),
        pytest.param(CALL_COMMAND, ("words", "unit_cost"), TYPER | PYDANTIC | KEEPING, id="words again"),
    ],
)
def test_a_command_loads_nothing_outside_its_list(call, arguments, allowed):
    assert not allowed & HEAVY
    assert loaded(call, *arguments) - allowed == set()


def test_what_is_loaded_is_seen():
    """The check itself: a heavy library below a function would be found."""
    assert loaded("import openpyxl.utils") >= {"openpyxl"}
    assert "numpy" in loaded(CALL_COST, str(TIN_LANE))


def test_an_answer_that_is_remembered_is_told_without_what_computes(tmp_path, monkeypatch):
    monkeypatch.setenv("TROYTAG_CACHE", str(tmp_path))
    words = ("cost", str(TIN_LANE), "--as-of", "2026-11-20")
    assert "numpy" in loaded(CALL_COMMAND, *words)
    assert loaded(CALL_COMMAND, *words) - TYPER - PYDANTIC == set()
