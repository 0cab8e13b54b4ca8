"""Whether a mesh is a solid that can be priced, told in a maker's words.

All lengths in mm, volumes in mm³. A finding is grave where the volume may be off by more than a hundredth: then the
mesh is not priced.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pricing.meshes.faults import STATE_VOLUME
from pricing.meshes.holes import Hole, holes, lidded
from pricing.meshes.solid import TELLING, BudgetSpent, Solid, look_again
from pricing.meshes.welding import Edges, Surface, edges, weld, weld_cracks

#: Largest relative difference between two volumes of one mesh that is priced.
VOLUME_TOLERANCE = 0.01
#: How a finding of bodies that face different ways ends.
INSIDE_OUT = "inside out"


@dataclass(frozen=True, slots=True)
class MeshFinding:
    """One thing wrong with a mesh: a sentence without a full stop, its mend, and whether it forbids a price."""

    problem: str
    mend: str
    grave: bool

    def __str__(self) -> str:
        return f"{self.problem}. {self.mend}"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is known of a mesh after looking at it closely: volumes in mm³, findings, and remarks that are no faults.

    `cut`: the look was broken off, so that on a faster machine more may be found.
    """

    volume: float
    second_volume: float | None
    bodies: int | None
    findings: tuple[MeshFinding, ...]
    remarks: tuple[str, ...] = ()
    cut: bool = False


def quick_findings(volume: float, openness: float) -> tuple[MeshFinding, ...]:
    """What the sums over the triangles alone show; `openness` as `Figures.openness` gives it."""
    if openness == float("inf"):
        return (flat_finding(),)
    # Rounding leaves 1e-9 or less, and a hole this small moves the volume by less than a ten-thousandth.
    if openness > 1e-4:
        return (
            MeshFinding(
                "its surface is not closed, or some faces point the wrong way, so its volume depends on where it lies",
                f"Close the holes and turn the faces outwards, {STATE_VOLUME}.",
                True,
            ),
        )
    return (inside_out_finding(),) if volume < 0 else ()


def judge(triangles: np.ndarray) -> Verdict:
    """Look closely at triangles (count, 3, 3) of float64 in mm."""
    surface, meeting, remarks = closed_as_drawn(triangles)
    if not len(surface.faces):
        return Verdict(0.0, None, 0, (flat_finding(),))
    findings = list(edge_findings(surface, meeting))
    middle = (surface.vertices.max(axis=0) + surface.vertices.min(axis=0)) / 2
    volume = float(surface.tetrahedra(middle).sum())
    if findings:
        return Verdict(abs(volume), None, None, tuple(findings))
    if len(meeting.hole):
        found = holes(surface, meeting.hole)
        lids = lidded(surface, found)
        volume = float(lids.tetrahedra(middle).sum())
        doubt = sum(hole.doubt for hole in found)
        findings.append(hole_finding(found, doubt, doubt > VOLUME_TOLERANCE * abs(volume)))
        surface = lids
    if abs(volume) <= 1e-9 * float(np.ptp(surface.vertices, axis=0).max()) ** 3:
        return Verdict(0.0, None, None, (*findings, flat_finding()))
    if findings and findings[0].grave:
        return Verdict(abs(volume), None, None, tuple(findings), remarks)
    turned = volume < 0
    if turned:
        surface, volume = Surface(surface.vertices, surface.faces[:, ::-1]), -volume
    try:
        solid = look_again(surface, volume)
    except BudgetSpent:
        return Verdict(volume, None, None, (*findings, cut_finding(len(surface.faces))), remarks, cut=True)
    if isinstance(solid, str):
        findings.append(
            MeshFinding(
                f"its volume cannot be checked a second time ({solid})",
                f"Repair the mesh in the modelling program, {STATE_VOLUME}.",
                True,
            )
        )
        return Verdict(volume, None, None, tuple(findings), remarks)
    astray = solid_findings(solid, volume, turned)
    if turned and not any(INSIDE_OUT in finding.problem for finding in astray):
        findings.append(inside_out_finding())
    findings += astray
    outward = sum(body > 0 for body in solid.bodies)
    if outward > 1:
        remarks = (*remarks, f"it has {outward} separate bodies, counted together")
    return Verdict(volume, solid.sliced_volume, outward, tuple(findings), remarks)


def closed_as_drawn(triangles: np.ndarray) -> tuple[Surface, Edges, tuple[str, ...]]:
    """The welded surface, how its edges meet, and a remark where cracks had to be welded."""
    surface = weld(triangles)
    if not len(surface.faces):
        return surface, edges(surface), ()
    meeting = edges(surface)
    if not len(meeting.hole):
        return surface, meeting, ()
    welded = weld_cracks(surface, meeting.hole)
    again = edges(welded)
    if len(welded.faces) and len(again.hole) < len(meeting.hole) and not len(again.crowded):
        return welded, again, ("cracks finer than a hair between its faces were closed",)
    return surface, meeting, ()


def edge_findings(surface: Surface, meeting: Edges) -> list[MeshFinding]:
    """What is wrong with edges, other than holes that can be closed: there the volume means nothing."""
    found = []
    if len(meeting.turned):
        found.append(
            MeshFinding(
                f"some of its faces are inside out: along {len(meeting.turned) // 2:,} edges neighbours face opposite "
                f"ways, the first near {spot(surface, meeting.turned)}, so the volume is not certain",
                "Make all normals point outwards in the modelling program, then export it again.",
                True,
            )
        )
    if len(meeting.crowded):
        found.append(
            MeshFinding(
                f"three or more faces meet at one edge (near {spot(surface, meeting.crowded)}), so inside and outside "
                "cannot be told apart",
                f"Delete the doubled or inner faces there, {STATE_VOLUME}.",
                True,
            )
        )
    if found and len(meeting.hole):
        found.append(hole_finding(holes(surface, meeting.hole), None, True))
    return found


def hole_finding(found: list[Hole], doubt: float | None, grave: bool) -> MeshFinding:
    """The finding for a surface with holes; `doubt` in mm³ is how much volume may hang on them, None: nobody knows."""
    where = f"{length(found[0].width)} wide near {place(found[0].centre)}"
    how_many = f"a hole {where}" if len(found) == 1 else f"{len(found):,} holes, the widest {where}"
    rims = sum(len(hole.edges) for hole in found)
    if doubt is None:
        matter = "its volume is not certain"
    elif grave:
        matter = f"its volume is not certain by {cubic(doubt)}"
    else:
        matter = f"its volume is certain but for {cubic(doubt)}: priced as if closed flat"
    return MeshFinding(
        f"it has {how_many} ({rims:,} open edges), and {matter}",
        f"Fill the holes in the modelling program, {STATE_VOLUME}.",
        grave,
    )


def flat_finding() -> MeshFinding:
    return MeshFinding("it encloses no volume", "Give it a thickness in the modelling program.", True)


def inside_out_finding() -> MeshFinding:
    """Grave it is not: the volume of a mesh that is inside out as a whole is certain."""
    return MeshFinding(
        "it is inside out: all its faces point inwards; measured as if turned outwards",
        "Turn the normals outwards in the modelling program.",
        False,
    )


def cut_finding(triangles: int) -> MeshFinding:
    """What is told where the second volume took too long."""
    return MeshFinding(
        f"it was not looked at to the end: {triangles:,} triangles that lie through each other take too long to be "
        "sliced; its volume is by its faces alone, which count shared space twice",
        f"Join its bodies into one (boolean union) or repair the mesh, {STATE_VOLUME}.",
        True,
    )


def solid_findings(solid: Solid, volume: float, turned: bool) -> list[MeshFinding]:
    """What the second look found, for a mesh of `volume` mm³, which was `turned` so that most of it points outwards."""
    found = []
    difference = solid.sliced_volume - volume
    inward = -sum(body for body in solid.bodies if body < 0)
    # An inward body inside another is taken away by both volumes; one outside is taken away by the first alone.
    hollow = inward - max(0.0, difference)
    if hollow > TELLING * volume:
        found.append(
            MeshFinding(
                f"it has a closed hollow of {cubic(hollow)} inside; the volume is that of the wall alone, but no "
                "investment gets into it and the metal would fill it",
                f"Delete the inner faces or open the hollow to the outside, {STATE_VOLUME}.",
                hollow > VOLUME_TOLERANCE * volume,
            )
        )
    if abs(difference) <= TELLING * volume:
        return found
    if difference > 0 and inward > 0:
        wrong = sum((body > 0) == turned for body in solid.bodies)
        told = (
            "at least one of its bodies" if hollow > TELLING * volume else f"{wrong} of its {len(solid.bodies)} bodies"
        )
        problem = f"{told} {'are' if wrong > 1 and told[0].isdigit() else 'is'} {INSIDE_OUT}"
        mend = "Make all normals point outwards, then export it again."
    elif solid.nested:
        problem = "one of its bodies lies inside another, and that space is counted twice"
        mend = f"Delete the inner body, {STATE_VOLUME}."
    elif solid.in_common is None or solid.in_common > TELLING * volume:
        by = "" if solid.in_common is None else f" by {cubic(solid.in_common)}"
        problem = f"bodies overlap{by}, and that space is counted twice"
        mend = f"Join them into one body (boolean union), {STATE_VOLUME}."
    else:
        counted = "counted twice" if difference < 0 else "taken away"
        problem = f"its surface passes through itself, and some space is {counted}"
        mend = f"Repair the mesh in the modelling program, {STATE_VOLUME}."
    figures = f"its two volumes differ: {cubic(volume)} by its faces, {cubic(solid.sliced_volume)} by its slices"
    grave = abs(difference) > VOLUME_TOLERANCE * volume
    return [*found, MeshFinding(f"{problem}; {figures}", mend, grave)]


def spot(surface: Surface, edge_ends: np.ndarray) -> str:
    """Where the first of some edges is."""
    return place(surface.vertices[edge_ends[0]].mean(axis=0))


def place(point: np.ndarray) -> str:
    x, y, z = (f"{value + 0.0:.1f}" for value in point.round(1).tolist())
    return f"x {x}, y {y}, z {z} mm"


def length(millimetres: float) -> str:
    return f"{millimetres:.1f} mm" if millimetres >= 0.1 else "under 0.1 mm"


def cubic(cubic_millimetres: float) -> str:
    """`1.234 cm³`; small ones in mm³."""
    if cubic_millimetres >= 99.5:
        return f"{cubic_millimetres / 1000:,.3f} cm³"
    return f"{cubic_millimetres:.2g} mm³"
