"""A mesh file measured: volume, surface, extent, soundness."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from pricing.errors import UsageFault, did_you_mean
from pricing.meshes.cache import cache_key, keep, recall
from pricing.meshes.faults import EXTRA, MeshFault, MeshLimits, MeshSource, open_source
from pricing.meshes.figures import Figures, figures, first_bad_corner
from pricing.meshes.obj import read_obj
from pricing.meshes.ply import read_ply
from pricing.meshes.soundness import Verdict, judge, quick_findings
from pricing.meshes.soup import Soup
from pricing.meshes.stl import read_stl
from pricing.units import MILLIMETRES_PER_INCH


def read_3mf(source: MeshSource) -> Soup:
    """A 3MF's triangles; the reader and its XML parser are loaded when one is met."""
    from pricing.meshes import threemf

    return threemf.read_3mf(source)


#: Millimetres in one of each unit that a mesh may be drawn in; the first four can be stated, a 3MF may use all.
MILLIMETRES_PER = MappingProxyType(
    {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MILLIMETRES_PER_INCH, "micron": 0.001, "foot": 12 * MILLIMETRES_PER_INCH}
)
UNITS = ("mm", "cm", "m", "in")
READERS: MappingProxyType[str, Callable[[MeshSource], Soup]] = MappingProxyType(
    {".stl": read_stl, ".obj": read_obj, ".ply": read_ply, ".3mf": read_3mf}
)
#: What people call them; the rest are called as they are written.
SPOKEN = MappingProxyType({"in": "inches", "micron": "microns", "foot": "feet"})
#: Pieces whose longest side lies outside this are asked about, in mm.
LIKELY_SIZES = (4.0, 400.0)


class VolumeAndArea(NamedTuple):
    """What a casting needs of its mesh: volume in cm³, surface in cm², and how long it is along x, y and z in mm."""

    volume_cm3: float
    area_cm2: float
    extent_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Measured:
    """A mesh file measured.

    `unit` is what the file is taken to be drawn in (`unit_stated`: by the maker or the file, else mm is assumed);
    `volume_cm3`, `area_cm2`, `extent_mm` along x, y, z; `second_volume_cm3` from slices and `bodies`, None where they
    were not or could not be found. `sound` means no faults; `faults` are sentences with their mend, `remarks` are
    sentences about what is no fault. `priceable` is False where the volume may be off by more than a hundredth;
    `grave` are the (problem, mend) pairs that say why. Not `thorough`: only sums were looked at, so overlaps, hollows
    and some holes are not seen.
    """

    file: str
    unit: str
    unit_stated: bool
    triangles: int
    volume_cm3: float
    area_cm2: float
    extent_mm: tuple[float, float, float]
    faults: tuple[str, ...]
    remarks: tuple[str, ...]
    grave: tuple[tuple[str, str], ...]
    thorough: bool
    second_volume_cm3: float | None
    bodies: int | None

    @property
    def sound(self) -> bool:
        return not self.faults

    @property
    def priceable(self) -> bool:
        return not self.grave

    @property
    def extent_if_inches_mm(self) -> tuple[float, float, float]:
        """The extent in mm, had the file been drawn in inches."""
        factor = MILLIMETRES_PER_INCH / MILLIMETRES_PER[self.unit]
        x, y, z = (side * factor for side in self.extent_mm)
        return (x, y, z)

    def as_json(self) -> dict[str, Any]:
        """The seven fields that `measure --json` gives."""
        names = ("file", "unit", "volume_cm3", "area_cm2", "extent_mm", "sound", "faults")
        return {name: list(value) if isinstance(value := getattr(self, name), tuple) else value for name in names}


def measure(
    path: str | os.PathLike[str], unit: str | None = None, *, thorough: bool = True, limits: MeshLimits | None = None
) -> Measured:
    """Measure a mesh file (.stl, .obj, .ply, .3mf); an unchanged one is remembered and not worked out again.

    `unit` (mm, cm, m, in) is what it is drawn in; by default what a 3MF states, else mm. Not `thorough`: sums only,
    a million triangles of a binary STL in a fraction of a second. Errors: `UsageFault` for an unknown unit;
    `MeshFault` where the file cannot be read or what reads it is not installed. An unsound mesh is no error here.
    """
    if unit is not None and unit not in UNITS:
        raise UsageFault(f'unit: no unit "{unit}". {did_you_mean(unit, UNITS)}')
    file, kind = os.fspath(path), Path(path).suffix.lower()
    if kind not in READERS:
        known = ", ".join(READERS)
        problem = f'"{kind}" is no mesh format that is read' if kind else "its name has no ending"
        raise MeshFault(file, (problem, f"Export it as one of {known}."))
    source = open_source(Path(path), file, limits or MeshLimits())
    for depth in (True, False) if not thorough else (True,):
        if kept := recall(cache_key(source.data, kind, unit, depth)):
            return restored(file, kept)
    measured, cut = work_out(source, READERS[kind](source), unit, thorough)
    if cut:
        return measured
    kept = asdict(measured)
    del kept["file"]
    keep(cache_key(source.data, kind, unit, thorough), kept)
    return measured


def volume_and_area(path: str | os.PathLike[str], unit: str | None = None, *, thorough: bool = False) -> VolumeAndArea:
    """Volume, surface and extent of a mesh, for pricing.

    The sums alone decide where they show a closed surface; where they do not, or `thorough`, it is looked at closely.
    Errors: as `measure`, and `MeshFault` with every reason where the volume may be off by more than a hundredth.
    """
    measured = measure(path, unit, thorough=thorough)
    if not measured.priceable and not measured.thorough:
        measured = measure(path, unit, thorough=True)
    if not measured.priceable:
        raise MeshFault(measured.file, *measured.grave)
    return VolumeAndArea(measured.volume_cm3, measured.area_cm2, measured.extent_mm)


def work_out(source: MeshSource, soup: Soup, unit: str | None, thorough: bool) -> tuple[Measured, bool]:
    """Measure triangles that have been read; and whether the look was broken off, so that it may not be remembered."""
    with np.errstate(invalid="ignore", over="ignore"):
        sums = figures(soup.triangles)
    if not (math.isfinite(sums.area) and math.isfinite(sums.volume)):
        raise unreal_corner(source, soup)
    drawn_in = unit or soup.unit or "mm"
    if drawn_in not in MILLIMETRES_PER:
        raise source.fault(f'it states the unit "{drawn_in}", which is none of 3MF', "State the unit yourself.")
    factor = MILLIMETRES_PER[drawn_in]
    if not float(max(np.abs(sums.low).max(), np.abs(sums.high).max())) * factor <= source.limits.extent:
        far = f"{source.limits.extent / 1e6:,.0f} km"
        problem = f"it reaches more than {far} from the origin if drawn in {SPOKEN.get(drawn_in, drawn_in)}"
        raise source.fault(problem, "State the unit, or export it again: its numbers are wrong.")
    remarks = (*unit_remarks(sums, unit, soup.unit, drawn_in), *soup.remarks)
    volume = abs(sums.volume) * factor**3
    if thorough:
        check_reach(source, len(soup.triangles))
        verdict = judge(np.asarray(soup.triangles, dtype=float) * factor)
        # One mesh has one volume, whichever way it was looked at: only what a repair changed counts.
        volume = volume if math.isclose(volume, verdict.volume, rel_tol=1e-9) else verdict.volume
    else:
        verdict = Verdict(volume, None, None, quick_findings(sums.volume, sums.openness()))
    x, y, z = (sums.extent * factor).tolist()
    measured = Measured(
        file=source.file,
        unit=drawn_in,
        unit_stated=unit is not None or soup.unit is not None,
        triangles=len(soup.triangles),
        volume_cm3=volume / 1000,
        area_cm2=sums.area * factor**2 / 100,
        extent_mm=(x, y, z),
        faults=tuple(str(finding) for finding in verdict.findings),
        remarks=(*remarks, *verdict.remarks),
        grave=tuple((finding.problem, finding.mend) for finding in verdict.findings if finding.grave),
        thorough=thorough,
        second_volume_cm3=None if verdict.second_volume is None else verdict.second_volume / 1000,
        bodies=verdict.bodies,
    )
    return measured, verdict.cut


def check_reach(source: MeshSource, count: int) -> None:
    """Refuse a close look at more triangles than fit, or without the library that it needs."""
    if count > source.limits.triangles:
        problem = f"it holds {count:,} triangles; more than {source.limits.triangles:,} are not looked at closely"
        raise source.fault(problem, "Export it with fewer triangles.")
    try:
        import manifold3d  # noqa: F401
    except ImportError:
        problem = "its soundness is judged with manifold3d, which is not installed"
        raise source.fault(problem, EXTRA) from None


def unreal_corner(source: MeshSource, soup: Soup) -> MeshFault:
    """The error for coordinates that are no numbers or too large to be multiplied."""
    count, first = first_bad_corner(soup.triangles) if not np.isfinite(soup.triangles).all() else (0, 0)
    if not count:
        return source.fault("its coordinates are too large to measure")
    corners = "1 corner that is" if count == 1 else f"{count:,} corners that are"
    return source.fault(f"it has {corners} not a finite number, the first in triangle {first:,}")


def unit_remarks(sums: Figures, stated: str | None, own: str | None, drawn_in: str) -> tuple[str, ...]:
    """What to say about the unit: two that disagree, and a size that no small casting has."""
    remarks = []
    if stated and own and stated != own:
        said, used = SPOKEN.get(own, own), SPOKEN.get(stated, stated)
        remarks.append(f"the file says that it is drawn in {said}; {used} was used, as you stated")
    longest = float(sums.extent.max()) * MILLIMETRES_PER[drawn_in]
    if not LIKELY_SIZES[0] <= longest <= LIKELY_SIZES[1]:
        others = ", ".join(
            f"{float(sums.extent.max()) * MILLIMETRES_PER[other]:,.4g} mm if drawn in {SPOKEN.get(other, other)}"
            for other in UNITS
            if other != drawn_in
        )
        remarks.append(f"its longest side is {longest:,.4g} mm if drawn in {SPOKEN.get(drawn_in, drawn_in)}; {others}")
    return tuple(remarks)


def restored(file: str, kept: dict[str, Any]) -> Measured:
    """A measured mesh from what the cache kept."""
    tuples = {name: tuple(value) for name, value in kept.items() if isinstance(value, list)}
    tuples["grave"] = tuple(tuple(pair) for pair in kept["grave"])
    return Measured(file=file, **{**kept, **tuples})
