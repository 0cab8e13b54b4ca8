"""The holes of a surface: their rims, their sizes, and lids to close them with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pricing.meshes.welding import Surface

#: With more open edges than this the rims are not told apart: the mesh is in shreds.
MOST_RIM_EDGES = 50_000


@dataclass(frozen=True, slots=True)
class Hole:
    """One rim: `edges` (count, 2) in the direction of their faces, `centre` (3), `width` across, `area` of a flat lid.

    What is missing is unknown; `doubt` is the half-ball over the hole, 2/3 · pi · (width/2)³ over a round one.
    """

    edges: np.ndarray
    centre: np.ndarray
    width: float
    area: float

    @property
    def doubt(self) -> float:
        """How much volume may hang on the hole."""
        return self.area * self.width / 3


def holes(surface: Surface, open_edges: np.ndarray) -> list[Hole]:
    """The rims that the open edges make, widest first; rims that touch at a corner are one."""
    if len(open_edges) > MOST_RIM_EDGES:
        groups = [open_edges]
    else:
        leader: dict[int, int] = {}

        def lead(vertex: int) -> int:
            while leader.setdefault(vertex, vertex) != vertex:
                leader[vertex] = leader[leader[vertex]]
                vertex = leader[vertex]
            return vertex

        for start, end in open_edges.tolist():
            leader[lead(start)] = lead(end)
        group_of = np.array([lead(start) for start in open_edges[:, 0].tolist()])
        order = np.argsort(group_of, kind="stable")
        groups = np.split(open_edges[order], np.flatnonzero(np.diff(group_of[order])) + 1)
    found = []
    for group in groups:
        rim = surface.vertices[np.unique(group)]
        centre = rim.mean(axis=0)
        start, end = surface.vertices[group[:, 0]] - centre, surface.vertices[group[:, 1]] - centre
        width = 2 * float(np.linalg.norm(rim - centre, axis=1).max())
        found.append(Hole(group, centre, width, float(np.linalg.norm(np.cross(start, end), axis=1).sum()) / 2))
    return sorted(found, key=lambda hole: -hole.width)


def lidded(surface: Surface, found: list[Hole]) -> Surface:
    """The surface with a flat fan over each hole, from its rim to the rim's middle."""
    first = len(surface.vertices)
    lids = [
        np.column_stack([hole.edges[:, ::-1], np.full(len(hole.edges), first + number)])
        for number, hole in enumerate(found)
    ]
    centres = np.array([hole.centre for hole in found])
    return Surface(np.concatenate([surface.vertices, centres]), np.concatenate([surface.faces, *lids]))
