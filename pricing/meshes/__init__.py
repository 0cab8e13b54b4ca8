"""Mesh files (STL, OBJ, PLY, 3MF): volume, surface, extent and soundness.

`measure` tells all of it, `volume_and_area` what a price needs. Only numpy is loaded until a mesh is looked at closely.
"""

from pricing.meshes.faults import MeshFault, MeshLimits
from pricing.meshes.measuring import MILLIMETRES_PER, UNITS, Measured, VolumeAndArea, measure, volume_and_area

__all__ = [
    "MILLIMETRES_PER",
    "UNITS",
    "MeshLimits",
    "Measured",
    "MeshFault",
    "VolumeAndArea",
    "measure",
    "volume_and_area",
]
