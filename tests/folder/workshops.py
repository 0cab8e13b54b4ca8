"""A small workshop folder without faults, and what becomes of it when something in it is changed.

A change replaces a piece of a file by another, in which `▶` marks where the fault is expected to point,
and `▷` where its second place is. The marks are no part of the file.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pricing.errors import Fault, Faults
from pricing.folder.read import Folder, read_folder

MARK, OTHER_MARK = "▶", "▷"

FILES = {
    "workshop.toml": """\
schema = 1
name = "Fernhollow Castings"
currency = "GBP"
[labour.bench]
rate = 24.0
[overhead]
per_month = 640.0
productive_hours = 110
[energy]
price_per_kwh = 0.28
[machines.kiln]
purchase = 1450.0
residual = 100.0
life_hours = 6000
power_kw = 2.4
[materials.investment]
pack_price = 46.0
pack_size = 22700
unit = "g"
[materials.patina]
pack_price = 18.0
pack_size = 250
unit = "ml"
[flasks.medium]
diameter_mm = 100
height_mm = 150
material = "investment"
water_per_100 = 40
slurry_density = 1.8
""",
    "alloys.toml": """\
[alloys.sterling]
name = "Sterling silver"
density = 10.36
composition = { Ag = 0.925, Cu = 0.075 }
priced_by = "content"
melt_loss = 0.01
mark = "925"
solidus_c = 802
liquidus_c = 899
pour_c = 960
[alloys.yellow-brass]
name = "Yellow brass"
density = 8.47
composition = { Cu = 0.63, Zn = 0.37 }
priced_by = "quote"
quote = "brass-grain"
melt_loss = 0.03
""",
    "processes.toml": """\
[[processes.cast]]
name = "model"
per = "design"
labour = "bench"
minutes = 300
[[processes.cast]]
name = "burn out"
per = "flask"
machine = "kiln"
machine_minutes = 480
uses = [{ material = "investment", quantity = "flask" }]
[[processes.cast]]
name = "pour"
per = "flask"
takes_metal = "pour"
labour = "bench"
minutes = 12
[[processes.cast]]
name = "darken"
per = "piece"
labour = "bench"
minutes = 3
metal_loss = 0.002
uses = [{ material = "patina", per_cm2 = 0.03 }]
[[processes.cast]]
name = "assay mark"
per = "set"
fee = 28.0
alloys = ["sterling"]
from_g = 7.78
[[processes.sawn]]
name = "pierce"
per = "piece"
takes_metal = "cut"
labour = "bench"
minutes = 9
""",
    "channels.toml": """\
[channels.shop]
audience = "retail"
tax = { rate = 0.2, included = true }
minutes = 6
labour = "bench"
fees = [{ name = "card", rate = 0.015, min = 0.2, max = 2.0 }]
policy = { margin = 0.25 }
rounding = { step = 1.0, steps_by_price = [{ below = 20, step = 0.5 }] }
[channels.trade]
audience = "wholesale"
policy = { metal_multiple = 1.3, work_multiple = 2.0 }
[ladder]
keystone = 2.0
""",
    "metal_prices.csv": """\
date,metal,price,per,currency,source
2026-11-20,Ag,38.40,ozt,USD,morning fix
2026-11-20,brass-grain,9.80,kg,GBP,supplier list
2026-11-20,USD,0.79,unit,GBP,bank
""",
    "products/acorn-knob.toml": """\
sku = "acorn-knob"
name = "Acorn drawer knob"
sold_as = "pair"
alloys = ["yellow-brass", "sterling"]
process = "cast"
flask = "medium"
pieces_per_flask = 18
sprue_ratio = 0.45
expected_sales = 120
castings = [{ name = "knob", count = 2, volume_cm3 = 2.31, area_cm2 = 11.4 }]
findings = [{ name = "M4 stud", quantity = 2, price = 0.11 }]
sold_in = ["shop", "trade"]
[steps.darken]
minutes = 5
[for_alloy.sterling]
sprue_ratio = 0.6
[for_alloy.sterling.steps.pour]
good = 0.95
[in_channel.shop]
policy = { margin = 0.3 }
""",
    "products/large-knob.toml": """\
sku = "large-knob"
name = "Acorn drawer knob, large"
like = "acorn-knob"
scale = 1.25
pieces_per_flask = 10
""",
}


@dataclass(frozen=True)
class Change:
    """In `file`, `old` becomes `new`; `old` stands there exactly once. An empty `old` replaces the whole file."""

    file: str
    old: str
    new: str


def changed(*changes: Change) -> dict[str, str]:
    """The files with these changes, the marks still in them."""
    files = dict(FILES)
    for change in changes:
        text = files.get(change.file, "")
        assert not change.old or text.count(change.old) == 1, f"{change.old!r} is {text.count(change.old)} times there"
        files[change.file] = text.replace(change.old, change.new) if change.old else change.new
    return files


def write(root: Path, files: dict[str, str]) -> Path:
    """Write the files below `root`, without marks."""
    for file, text in files.items():
        path = root / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.replace(MARK, "").replace(OTHER_MARK, "").encode())
    return root


def marks(files: dict[str, str], mark: str) -> list[str]:
    """Where this mark stands, as `file:line:column`, in the order of files and lines."""
    found = []
    for file, text in sorted(files.items()):
        for number, line in enumerate(text.split("\n"), start=1):
            here = line.replace(OTHER_MARK if mark == MARK else MARK, "")
            parts = here.split(mark)[:-1]
            found += [f"{file}:{number}:{sum(map(len, parts[: index + 1])) + 1}" for index in range(len(parts))]
    return found


def faults_of(root: Path) -> tuple[Fault, ...]:
    """Every fault of the folder; none where it can be read."""
    try:
        read_folder(root)
    except Faults as wrong:
        return wrong.faults
    return ()


def read(root: Path, *changes: Change) -> Folder:
    """The folder with these changes, written below `root` and read."""
    return read_folder(write(root, changed(*changes)))
