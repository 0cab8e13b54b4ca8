"""Meshes on the page: taking one in, saying in words whether it is sound, and its triangles for the eye."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath
from urllib.parse import quote

import numpy as np
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from pricing.errors import Faults, TroytagError
from pricing.meshes import Measured, MeshLimits, measure
from pricing.meshes.faults import open_source
from pricing.meshes.measuring import LIKELY_SIZES, MILLIMETRES_PER, READERS, SPOKEN
from pricing.page.forms.sent import form_of
from pricing.page.rendering import page
from pricing.page.views.notice import missing
from pricing.page.workspace import Look, Upload, Workspace, leads_inside
from pricing.shown import Shown

#: More triangles than this are not sent to be turned.
MOST_TRIANGLES = 400_000
LONGEST_NAME = 60
_NOT_IN_NAMES = re.compile(r"[^a-z0-9.]+")


@dataclass(frozen=True)
class MeshInWords:
    """A mesh in words: whether it is sound and what it measures; `address` gives its triangles, "" where there are
    none to turn; `upload` is the key of one that is not in the folder yet; `drawn_in` words of other units with its
    volume and surface, as they are typed, were it drawn in them: none where it says its unit."""

    name: str
    verdict: str
    sound: bool
    faults: tuple[str, ...]
    remarks: tuple[str, ...]
    measures: tuple[tuple[str, str], ...]
    address: str
    upload: str
    drawn_in: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class MeshContext:
    """A mesh just taken in for the casting at `place`, or the sentence why it was not."""

    place: int
    mesh: MeshInWords | None
    sentence: str


async def take_mesh(request: Request) -> Response:
    """POST /design/mesh?place=…: take in a mesh and say what it is."""
    workspace: Workspace = request.app.state.workspace
    asked = request.query_params.get("place", "0")
    place = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 3 else 0
    async with form_of(request, most_fields=4, most_files=1) as form:
        sent = form.get("mesh")
        if sent is None or isinstance(sent, str) or not sent.filename:
            return page(request, "design_mesh.html", MeshContext(place, None, "No file came."))
        name = file_name(sent.filename)
        content = await sent.read()

    def worked() -> MeshContext:
        if Path(name).suffix not in READERS:
            known = ", ".join(READERS)
            return MeshContext(place, None, f'"{name}" is no mesh that is read here. Export it as one of {known}.')
        key = secrets.token_hex(8)
        path = workspace.scratch() / f"{key}{Path(name).suffix}"
        path.write_bytes(content)
        upload = Upload(key, path, name)
        found = mesh_of_upload(upload, _shown(workspace))
        if found is None:
            path.unlink(missing_ok=True)
            return MeshContext(place, None, "It cannot be measured.")
        if not found.address and not found.measures:
            path.unlink(missing_ok=True)
            return MeshContext(place, None, " ".join((found.verdict, *found.faults)))
        workspace.keep(upload)
        return MeshContext(place, found, "")

    answer = page(request, "design_mesh.html", await run_in_threadpool(worked))
    answer.headers["HX-Trigger-After-Settle"] = "drawn"
    return answer


def _shown(workspace: Workspace) -> Shown:
    try:
        return workspace.look().shown
    except TroytagError:
        return Shown("GBP")


def file_name(sent: str) -> str:
    """A name for a file in the folder: lower case, no path, nothing but letters, digits, points and hyphens."""
    bare = PurePosixPath(PureWindowsPath(sent).name).name.lower()
    stem, _, suffix = bare.rpartition(".")
    stem = _NOT_IN_NAMES.sub("-", stem).strip("-.")[:LONGEST_NAME] or "mesh"
    return f"{stem}.{_NOT_IN_NAMES.sub('', suffix)}"


def mesh_of_upload(upload: Upload, shown: Shown) -> MeshInWords | None:
    """An uploaded mesh in words."""
    return _mesh_in_words(upload.path, upload.name, f"/design/mesh/triangles?upload={upload.key}", upload.key, shown)


def mesh_of_file(look: Look, file: str) -> MeshInWords | None:
    """A mesh of the folder in words; None where there is no such file inside it."""
    path = _mesh_inside(look.costing.folder.root, file)
    if path is None:
        return None
    return _mesh_in_words(path, file, f"/design/mesh/triangles?file={quote(file)}", "", look.shown)


def _mesh_inside(root: Path, file: str) -> Path | None:
    """The path of a file of the folder by its name relative to it; None where it is none, or leads out."""
    try:
        return (root / file).resolve() if leads_inside(root, file) and (root / file).is_file() else None
    except OSError:  # a name that is too long
        return None


def _mesh_in_words(path: Path, name: str, address: str, upload: str, shown: Shown) -> MeshInWords:
    try:
        measured = measure(path)
    except Faults as found:
        sentences = tuple(f"{fault.problem}. {fault.mend}".strip() for fault in found.faults)
        return MeshInWords(name, "It cannot be measured:", False, sentences, (), (), "", upload)
    return MeshInWords(
        name=name,
        verdict=_verdict(measured),
        sound=measured.sound,
        faults=measured.faults,
        remarks=measured.remarks,
        measures=_measures(measured, shown),
        address=address if measured.triangles <= MOST_TRIANGLES else "",
        upload=upload,
        drawn_in=() if measured.unit_stated or not measured.priceable else tuple(_drawn_in(measured)),
    )


def _verdict(measured: Measured) -> str:
    if measured.sound:
        bodies = (
            "" if measured.bodies is None else "one body, " if measured.bodies == 1 else f"{measured.bodies} bodies, "
        )
        return f"Sound: {bodies}closed on all sides."
    if measured.priceable:
        return "It can be priced, with a reservation:"
    return "It cannot be priced as it is:"


def _drawn_in(measured: Measured) -> Iterator[tuple[str, str, str]]:
    """Inches, and metres where nobody casts so small a thing as it would be in mm."""
    units = ["in", *(["m"] if max(measured.extent_mm) < LIKELY_SIZES[0] else [])]
    for unit in units:
        times = MILLIMETRES_PER[unit] / MILLIMETRES_PER[measured.unit]
        yield SPOKEN.get(unit, "metres"), f"{measured.volume_cm3 * times**3:.6g}", f"{measured.area_cm2 * times**2:.6g}"


def _measures(measured: Measured, shown: Shown) -> tuple[tuple[str, str], ...]:
    sides = " × ".join(shown.length(side) for side in measured.extent_mm)
    in_inches = " × ".join(shown.length(side) for side in measured.extent_if_inches_mm)
    rows = [
        ("volume", f"{measured.volume_cm3:,.3f} cm³"),
        ("surface", f"{measured.area_cm2:,.2f} cm²"),
        ("size", sides),
        ("triangles", f"{measured.triangles:,}"),
    ]
    if not measured.unit_stated:
        rows.append(("were it drawn in inches", in_inches))
    return tuple(rows)


def triangles(request: Request) -> Response:
    """GET /design/mesh/triangles: corners as little-endian float32, nine a triangle, about the middle, within ±1."""
    workspace: Workspace = request.app.state.workspace
    if key := request.query_params.get("upload"):
        upload = workspace.uploads.get(key)
        path = upload.path if upload else None
    else:
        path = _mesh_inside(workspace.root, request.query_params.get("file", ""))
    if path is None or path.suffix.lower() not in READERS:
        return missing(request, "There is no such mesh.")
    try:
        source = open_source(path, path.name, MeshLimits())
        corners = np.asarray(READERS[path.suffix.lower()](source).triangles, dtype=float)
    except Faults:
        return missing(request, "This mesh cannot be read.")
    if len(corners) > MOST_TRIANGLES or not np.isfinite(corners).all():
        return missing(request, "This mesh is too fine to be turned here.")
    low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
    scaled = (corners - (low + high) / 2) / max(float((high - low).max()) / 2, 1e-12)
    return Response(scaled.astype("<f4").tobytes(), media_type="application/octet-stream")
