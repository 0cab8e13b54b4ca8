"""A module imports only from the floors below its own, and nothing at module level can be changed."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

import pytest

import pricing

PACKAGE = Path(pricing.__file__).parent
#: What stands on each floor: a module, or a whole package.
FLOORS: tuple[tuple[str, ...], ...] = (
    ("errors", "units", "words", "extremes", "collecting", "json_texts"),
    ("quantities", "model", "resources", "extras", "safe_files", "reading", "days", "csv_tables"),
    ("formulas", "shown", "several_files", "remembered", "record_forms"),
    ("meshes", "folder", "what_if", "weighing", "made_of", "kept"),
    ("records", "starting"),
    ("advice", "costing", "editions", "metal"),
    ("drawer",),
    ("batches",),
    ("studies", "pouring"),
    ("parcels", "many"),
    ("workbook", "lists"),
    ("learning",),
    ("questions",),
    ("page", "notebook"),
    ("cli",),
)
#: What may be imported from the same floor; never in a circle.
BESIDE: Mapping[str, tuple[str, ...]] = MappingProxyType({"formulas": ("remembered",)})
#: Floors inside the big rooms, from the lowest up: a module or package of one imports only from those below.
ROOMS: Mapping[str, tuple[tuple[str, ...], ...]] = MappingProxyType(
    {
        "folder": (
            ("files", "kept"),
            ("as_it_lies",),
            ("toml", "inherit", "schema"),
            ("expected_keys", "whole_files", "stated_at"),
            ("keys_in_words", "shapes", "memory"),
            ("refused_values",),
            ("build_models", "typed_values"),
            ("prices",),
            ("gathered",),
            ("product_files",),
            ("checks",),
            ("read",),
            ("rows", "write"),
        ),
        "pouring": (
            ("wants", "formulas", "packing", "chances", "cautions"),
            ("model", "designs"),
            ("figures", "rooms"),
            ("spreading", "kiln", "scale", "mixing"),
            ("plan",),
            ("records", "told"),
        ),
        "studies": (
            ("pictures", "metal_history", "month", "break_even", "stall", "actual"),
            ("repricing",),
            ("prices_out", "causes", "band", "sizes", "year"),
            ("publishing", "alloys", "mix", "quantity", "sale", "week"),
            ("map",),
            ("doubt",),
        ),
        "many": (
            ("schema",),
            ("checking", "exchange", "files", "joining", "write"),
            ("tables",),
            ("workshop",),
            ("variants", "pricing_batch"),
            ("summary",),
            ("stream",),
            ("here",),
            ("run",),
            ("cluster",),
        ),
        "questions": (
            ("option",),
            ("subject",),
            ("model", "history"),
            ("alloy", "band", "doubt", "map", "mix", "quantity", "sale", "week", "year"),
            ("every",),
        ),
        "workbook": (("sheets",), ("back",), ("template",), ("incoming",)),
        "page": (
            ("labels", "plot", "scratch", "stamps"),
            ("rendering", "workspace"),
            ("forms", "framing"),
            ("views",),
            ("server",),
        ),
        "cli": (("options",), ("screens",), ("commands", "again"), ("main",)),
    }
)
#: Packages whose modules do not import each other.
APART = frozenset({"quantities"})

FLOOR_OF = {unit: number for number, units in enumerate(FLOORS) for unit in units}
MODULES = sorted(PACKAGE.rglob("*.py"))
#: Each module is parsed once; nobody changes the tree.
parsed = cache(ast.parse)
CHANGEABLE = ("dict", "list", "set", "bytearray", "defaultdict", "OrderedDict", "Counter", "deque")


def name_of(file: Path) -> str:
    """`pricing.folder.read` of `pricing/folder/read.py`."""
    parts = file.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(module: str, text: str, is_package: bool = False) -> Iterator[tuple[int, str]]:
    """Line and full name of everything of this project that is imported, at the top or inside a function."""
    for node in ast.walk(parsed(text)):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            above = module.split(".")[: len(module.split(".")) - node.level + is_package] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            names = [f"{base}.{alias.name}" for alias in node.names]
        else:
            continue
        yield from ((node.lineno, name) for name in names if re.match(r"pricing(\.(?!__)|$)", name))


def trespasses(module: str, text: str, is_package: bool = False) -> list[str]:
    """Imports of a module that go up, or sideways where that is not agreed."""
    own, found = unit_of(module), []
    if own not in FLOOR_OF:
        return [f"{module} stands on no floor: add it to FLOORS in tests/test_floors.py and to the map of the house"]
    for line, name in imports(module, text, is_package):
        other = unit_of(name)
        if other == own:
            found += trespasses_inside(own, module, line, name)
        elif other not in FLOOR_OF:
            found.append(f"{module}:{line} imports {name}, which stands on no floor")
        elif FLOOR_OF[other] >= FLOOR_OF[own] and other not in BESIDE.get(own, ()):
            found.append(
                f"{module}:{line} on floor {FLOOR_OF[own]} imports {name}, which stands on floor {FLOOR_OF[other]}"
            )
    return found


def trespasses_inside(room: str, module: str, line: int, name: str) -> list[str]:
    """What an import within one room does wrong."""
    if room in APART:
        return [f"{module}:{line} imports {name}: the modules of {room} do not import each other"]
    own, other = ((each.split(".") + ["", ""])[2] for each in (module, name))
    floor_of = {unit: number for number, units in enumerate(ROOMS.get(room, ())) for unit in units}
    if room not in ROOMS or own == other or not own:
        return []
    if own not in floor_of or other not in floor_of:
        missing = own if own not in floor_of else other
        return [f"{module}:{line} imports {name}: {room}.{missing} stands on no floor of ROOMS in tests/test_floors.py"]
    if floor_of[other] >= floor_of[own]:
        return [f"{module}:{line} imports {name}: in {room}, {other} does not stand below {own}"]
    return []


def unit_of(module: str) -> str:
    """What stands on a floor: the first part of the name below `pricing`."""
    return module.split(".")[1] if "." in module else ""


def changeable(module: str, text: str) -> list[str]:
    """Names at module level that hold a dict, a list or a set, which anyone could change."""
    found = []
    for node in parsed(text).body:
        targets = (
            node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
        )
        for target in targets:
            if isinstance(target, ast.Name) and target.id != "__all__" and is_changeable(node.value):
                found.append(
                    f"{module}:{node.lineno} {target.id} can be changed: wrap it in MappingProxyType, "
                    "or make it a tuple or a frozenset"
                )
    return found


def is_changeable(value: ast.expr | None) -> bool:
    if isinstance(value, ast.Call):
        return re.split(r"\W", ast.unparse(value.func))[-1] in CHANGEABLE
    return isinstance(value, ast.Dict | ast.List | ast.Set | ast.DictComp | ast.ListComp | ast.SetComp)


# ---- the house as it stands


def test_no_module_imports_from_above():
    found = []
    for file in MODULES:
        if name_of(file) != "pricing":
            text = file.read_text(encoding="utf-8")
            found += trespasses(name_of(file), text, is_package=file.name == "__init__.py")
    assert found == []


def test_every_floor_holds_something_that_is_there():
    names = {name_of(file).removeprefix("pricing.") for file in MODULES}
    floors = [unit for units in FLOORS for unit in units]
    rooms = [f"{room}.{unit}" for room, units in ROOMS.items() for each in units for unit in each]
    assert [unit for unit in (*floors, *rooms) if unit not in names] == []


def test_the_package_itself_imports_nothing_by_being_imported():
    """It is imported with every module, so what it imported would be below them all. What it offers comes when it is
    asked for, or is told to a type checker alone."""
    text = (PACKAGE / "__init__.py").read_text(encoding="utf-8")
    assert list(imports("pricing", at_import_time(text), is_package=True)) == []


def at_import_time(text: str) -> str:
    """A module without the bodies of its functions and without what only a type checker sees."""
    module = ast.parse(text)
    module.body = [
        node
        for node in module.body
        if not isinstance(node, ast.FunctionDef)
        and not (isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING")
    ]
    return ast.unparse(module)


def test_nothing_at_module_level_can_be_changed():
    found = []
    for file in MODULES:
        found += changeable(name_of(file), file.read_text(encoding="utf-8"))
    assert found == []


def test_neighbours_import_each_other_in_no_circle():
    """And each stands on the floor of the other, else no leave is needed."""
    for own, others in BESIDE.items():
        for other in others:
            assert FLOOR_OF[own] == FLOOR_OF[other]
            assert own not in BESIDE.get(other, ())


def test_no_module_imports_the_option_parser_that_typer_hides():
    for file in MODULES:
        for node in ast.walk(parsed(file.read_text(encoding="utf-8"))):
            names = [alias.name for alias in getattr(node, "names", ())] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert "click" not in {name.split(".")[0] for name in names}, name_of(file)


# ---- that these checks can fail


def test_what_is_imported_at_once_is_seen():
    late = "if TYPE_CHECKING:\n    from pricing import costing\ndef later():\n    import pricing.costing\n"
    assert list(imports("pricing", at_import_time(late), is_package=True)) == []
    at_once = "try:\n    import pricing.costing\nexcept ImportError:\n    pass\n"
    assert [name for _, name in imports("pricing", at_import_time(late + at_once))] == ["pricing.costing"]


@pytest.mark.parametrize(
    ("module", "text", "problems"),
    [
        ("pricing.formulas.engine", "from pricing.formulas.tables import TABLES\n", []),
        ("pricing.folder.read", "from pricing.folder.toml.text import lines\n", []),
        (
            "pricing.formulas.engine",
            "import numpy\nfrom pricing.costing import cost\n",
            ["pricing.formulas.engine:2 on floor 2 imports pricing.costing.cost, which stands on floor 5"],
        ),
        (
            "pricing.words",
            "def late():\n    import pricing.cli.main\n",
            [f"pricing.words:2 on floor 0 imports pricing.cli.main, which stands on floor {FLOOR_OF['cli']}"],
        ),
        (
            "pricing.model.base",
            "from .. import costing\nfrom ..formulas import graph\nfrom .alloy import Alloy\n",
            [
                f"pricing.model.base:1 on floor 1 imports pricing.costing, which stands on floor {FLOOR_OF['costing']}",
                "pricing.model.base:2 on floor 1 imports pricing.formulas.graph, which stands on floor 2",
            ],
        ),
        (
            "pricing.quantities.selling",
            "from pricing.quantities.process import times\n",
            [
                "pricing.quantities.selling:1 imports pricing.quantities.process.times: "
                "the modules of quantities do not import each other"
            ],
        ),
        (
            "pricing.folder.toml.places",
            "from pricing.folder.read import Folder\n",
            [
                "pricing.folder.toml.places:1 imports pricing.folder.read.Folder: "
                "in folder, read does not stand below toml"
            ],
        ),
        (
            "pricing.page.views.metal",
            "from pricing.page.ledger import Ledger\n",
            [
                "pricing.page.views.metal:1 imports pricing.page.ledger.Ledger: "
                "page.ledger stands on no floor of ROOMS in tests/test_floors.py"
            ],
        ),
        (
            "pricing.hoist",
            "",
            ["pricing.hoist stands on no floor: add it to FLOORS in tests/test_floors.py and to the map of the house"],
        ),
        (
            "pricing.formulas.engine",
            "from pricing import hoist\n",
            ["pricing.formulas.engine:1 imports pricing.hoist, which stands on no floor"],
        ),
    ],
)
def test_an_import_from_above_is_told(module, text, problems):
    assert trespasses(module, text) == problems


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("KINDS = {'a': 1}\n", ["KINDS"]),
        ("KINDS: dict = {}\nnames = [1]\n", ["KINDS", "names"]),
        ("_SEEN = set()\nROWS = collections.defaultdict(list)\n", ["_SEEN", "ROWS"]),
        ("SQUARES = {number: number * number for number in range(3)}\n", ["SQUARES"]),
        ("__all__ = ['a']\nKINDS = ('a', 'b')\nNAMES = frozenset({'a'})\nFACTORS = MappingProxyType({'a': 1})\n", []),
        ("def inside():\n    found = []\n", []),
    ],
)
def test_what_can_be_changed_is_told(text, names):
    assert [problem.split()[1] for problem in changeable("pricing.tiny", text)] == names
