"""Makes the sample's meshes: `python -m tests.meshes.make_sample OUT_FOLDER` writes them.

What each piece looks like is drawn in `tests/meshes/sample/`; here it gets its size. Most are given by the volume that
the piece holds, so that its mass is what its product was costed with; the drawing is made larger or smaller for it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import numpy as np
from manifold3d import Manifold

from tests.meshes import shapes
from tests.meshes.sample import animals, leaves, round_pieces
from tests.meshes.sample.tools import corners_of, of_volume


@dataclass(frozen=True)
class Piece:
    """How a piece is drawn, and the volume it is made to hold; None: as drawn."""

    drawn: Callable[[], Manifold]
    cm3: float | None = None

    def made(self) -> Manifold:
        piece = self.drawn()
        return piece if self.cm3 is None else of_volume(piece, self.cm3)


#: File name in the sample → the piece it holds.
PIECES: Mapping[str, Piece] = MappingProxyType(
    {
        "acorn-charm.3mf": Piece(round_pieces.acorn_charm, 0.34),
        "acorn-knob.stl": Piece(round_pieces.acorn_knob, 2.505),
        "beetle-pin.stl": Piece(animals.stag_beetle, 0.4896),
        "button.stl": Piece(leaves.beech_button, 0.3568),
        "caddy-spoon.stl": Piece(leaves.scallop_spoon, 1.968),
        "candle-snuffer.stl": Piece(round_pieces.bluebell_snuffer, 2.467),
        "chess-knight.3mf": Piece(animals.chess_knight, 6.434),
        "cloak-clasp.stl": Piece(leaves.ivy_half, 1.214),
        "escutcheon.obj": Piece(leaves.escutcheon),
        "hare.stl": Piece(animals.leaping_hare, 0.30),
        "hare-leaf.3mf": Piece(leaves.hazel_leaf, 0.85),
        "bail.stl": Piece(animals.bail, 0.075),
        "knocker-ring.3mf": Piece(round_pieces.knocker_ring, 44.0),
        "signet-ring.stl": Piece(round_pieces.signet_ring),
        "snail-stud.stl": Piece(animals.snail_stud, 0.42),
        "thimble.stl": Piece(round_pieces.bramble_thimble, 0.6076),
        "wedding-band.stl": Piece(round_pieces.wedding_band),
    }
)


def file_of(name: str, piece: Manifold) -> bytes:
    """The file that holds a piece, in the format of its name's ending."""
    if name.endswith(".stl"):
        return shapes.binary_stl(corners_of(piece).astype(np.float32))
    mesh = piece.to_mesh64()
    vertices, faces = np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(int)
    shape = shapes.Shape(vertices, np.empty((0, 4), int), faces, piece.volume() / 1000)
    return shapes.obj(shape) if name.endswith(".obj") else shapes.threemf(shape)


def main(folder: str, *names: str) -> None:
    """Write the meshes, or only those named, into `folder`."""
    Path(folder).mkdir(parents=True, exist_ok=True)
    for name in names or PIECES:
        made = PIECES[name].made()
        content = file_of(name, made)
        (Path(folder) / name).write_bytes(content)
        low, high = np.array(made.bounding_box()).reshape(2, 3)
        size = " × ".join(f"{edge:.1f}" for edge in high - low)
        told = f"{made.volume() / 1000:8.4f} cm3 {size:>20} mm {made.num_tri():6} triangles {len(content):8} bytes"
        print(f"{name:20} {told}")


if __name__ == "__main__":
    main(*sys.argv[1:])
