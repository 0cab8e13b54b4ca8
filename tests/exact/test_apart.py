"""The exact calculation is a second opinion: it never learns from the package where a figure is stated.

Two `at` exchanged in the row classes read wrongly and write back wrongly, so that no round trip shows it; only a
calculation that knows the files by itself does.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

HERE = Path(__file__).parent
#: What compares, and is not what is exact.
COMPARES = frozenset({"against_engine.py"})
#: What the comparison itself may take from the package: the costing whose figures it compares, those who compute them,
#: and its offers.
MAY_IMPORT = frozenset(
    {
        "pricing.costing",
        "pricing.errors",
        "pricing.formulas.engine",
        "pricing.formulas.kernel.run",
        "pricing.records",
        "pricing.studies.quantity.quoting",
    }
)


@pytest.mark.parametrize("path", sorted(HERE.rglob("*.py")), ids=lambda path: path.name)
def test_nothing_here_reads_where_an_input_is_stated(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module}
    found |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    of_package = {name for name in found if name.split(".")[0] == "pricing"}
    assert of_package <= MAY_IMPORT
    if not path.name.startswith("test_") and path.name not in COMPARES:
        assert not of_package, "what is exact is worked out without the package"


def test_the_guard_sees_an_import(tmp_path):
    path = tmp_path / "recompute.py"
    path.write_text("from pricing.model.rows import RoleRow\n")
    with pytest.raises(AssertionError):
        test_nothing_here_reads_where_an_input_is_stated(path)
