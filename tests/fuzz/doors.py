"""The doors: what sound content looks like, and how it is taken in.

A door takes bytes and a folder of its own. It may refuse them by an error of ours, which is told in words; whatever
else it raises is a fault of ours.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from types import MappingProxyType

from pricing.batches.adding import write_batch
from pricing.batches.cards import card_of_csv, card_of_toml
from pricing.batches.model import Card, Flask
from pricing.batches.read import LOG
from pricing.drawer.read import STOCK
from pricing.editions.chain import chain_faults, in_force_on
from pricing.editions.publishing import publish
from pricing.errors import TroytagError
from pricing.folder.read import read_folder
from pricing.kept.chain import chain_faults as kept_faults
from pricing.meshes import measure
from pricing.metal.faults import PullFault
from pricing.metal.pick import pick
from pricing.metal.pull import _quote
from pricing.model.source import Source
from pricing.workbook.back.cells import read_workbook
from tests.batches.test_cards import CARD, TABLE
from tests.editions.small_editions import content as small_edition
from tests.folder.workshops import FILES, changed, write
from tests.meshes.boxes import OBJ, PLY_TEXT, binary_ply, box, mesh_xml, model_xml, text_stl
from tests.meshes.shapes import binary_stl
from tests.workbook.test_import_hostile import PLAIN, SHEET, sheet


@dataclass(frozen=True)
class Door:
    """`seeds`: sound content, by a name that a door may go by; `take_in` takes name, bytes and a folder."""

    seeds: Mapping[str, bytes]
    take_in: Callable[[str, bytes, Path], None]


def _files(names: Sequence[str]) -> Mapping[str, bytes]:
    """The files of a small workshop, without the marks that its tests put into them."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        write(Path(folder), changed())
        return MappingProxyType({name: (Path(folder) / name).read_bytes() for name in names})


def _folder(name: str, content: bytes, folder: Path) -> None:
    if not (folder / "workshop.toml").exists():
        write(folder, changed())
    read_folder(folder, {name: content})


def _mesh(name: str, content: bytes, folder: Path) -> None:
    (folder / name).write_bytes(content)
    measure(folder / name)


#: What a mutated part of a zip is packed as.
_MODEL = "3D/3dmodel.model"


def _packed(parts: Mapping[str, str | bytes]) -> bytes:
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w") as packed:
        for part, content in parts.items():
            packed.writestr(part, content)
    return written.getvalue()


def _model(_name: str, content: bytes, folder: Path) -> None:
    _mesh("a.3mf", _packed({_MODEL: content}), folder)


def _workbook(name: str, content: bytes, folder: Path) -> None:
    path = folder / "a.xlsx"
    path.write_bytes(content if name == "whole" else _packed({**PLAIN, SHEET: _SHEET, name: content}))
    read_workbook(path, ("Inputs",))


def _source(name: str, content: bytes, _folder: Path) -> None:
    keys = {"json_path": "rates.Ag", "json_day": "day"} if name == "json" else {"csv_column": "price", "csv_day": "day"}
    source = Source.model_validate({"metal": "Ag", "per": "ozt", "currency": "USD", "file": "a", **keys})
    _quote("a", source, pick(content, source), date(2026, 11, 26))


def _edition(_name: str, content: bytes, folder: Path) -> None:
    if not (folder / "editions").exists():
        publish(folder, small_edition(), None)
    (folder / "editions" / "000001.json").write_bytes(content)
    chain_faults(folder)
    in_force_on(folder, date(2026, 11, 26))


def _published() -> Mapping[str, bytes]:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        publish(Path(folder), small_edition(), None)
        return MappingProxyType({"first": (Path(folder) / "editions" / "000001.json").read_bytes()})


def _kept(name: str, content: bytes, folder: Path) -> None:
    series = {"batch": LOG, "entry": STOCK}[name]
    (folder / series.folder).mkdir(exist_ok=True)
    (folder / series.file_of(1)).write_bytes(content)
    kept_faults(folder, series)


def _batch_and_entry() -> Mapping[str, bytes]:
    import tempfile

    flask = Flask(alloy="sterling", fresh_g=100.0, back_g=40.0, castings_g=59.0)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_batch(folder, Card(day=date(2026, 11, 26), flasks=(flask,)), "GBP", {}, draws=True)
        files = {"batch": LOG.file_of(1), "entry": STOCK.file_of(1)}
        return MappingProxyType({each: (folder / file).read_bytes() for each, file in files.items()})


def _card(name: str, content: bytes, folder: Path) -> None:
    if not (folder / "workshop.toml").exists():
        write(folder, changed())
    read = card_of_csv if name.endswith(".csv") else card_of_toml
    read(name, content, read_folder(folder).stated)


_SHEET = sheet('<row r="2"><c r="B2" t="inlineStr"><is><t>a</t></is></c><c r="C2"><f>B2*2</f><v>7</v></c></row>')
_BOX = box(10)
_TOML = [name for name in FILES if name.endswith(".toml")]
#: Content that is refused in words is refused by one of these.
REFUSED = (TroytagError, PullFault)


def doors() -> Mapping[str, Door]:
    """Every door by its name."""
    meshes = {
        "a.stl": binary_stl(_BOX), "text.stl": text_stl(_BOX), "a.obj": OBJ.encode(), "text.ply": PLY_TEXT.encode(),
        "a.ply": binary_ply("<"),
    }  # fmt: skip
    model = model_xml(mesh_xml(), '<item objectid="1"/>').encode()
    whole = {"whole": _packed({**PLAIN, SHEET: _SHEET}), SHEET: _SHEET.encode()}
    parts = {name: text.encode() for name, text in PLAIN.items()}
    sources = {
        "json": b'{"rates": {"Ag": 38.40}, "day": "2026-11-26"}',
        "csv": b"day,price\n2026-11-25,38.10\n2026-11-26,38.40\n",
    }
    return MappingProxyType(
        {
            "toml": Door(_files(_TOML), _folder),
            "prices": Door(_files(["metal_prices.csv"]), _folder),
            "mesh": Door(MappingProxyType(meshes), _mesh),
            "3mf": Door(MappingProxyType({"model": model}), _model),
            "workbook": Door(MappingProxyType({**whole, **parts}), _workbook),
            "source": Door(MappingProxyType(sources), _source),
            "editions": Door(_published(), _edition),
            "kept": Door(_batch_and_entry(), _kept),
            "card": Door(MappingProxyType({"card.toml": CARD.encode(), "card.csv": TABLE.encode()}), _card),
        }
    )
