"""The picture of a product: its photo, else a shaded drawing of its mesh in the colour of an alloy, else nothing.

Pictures are small, without any of the data that cameras put in: JPEGs on white for paper, WebP without a ground for
the screen, where what lies behind may be dark. What was made once is kept in the user's
cache folder by the content of the file it was made from.
"""

from __future__ import annotations

import base64
import hashlib
import warnings
from io import BytesIO
from pathlib import Path
from typing import Any

from pricing.errors import Faults, TroytagError
from pricing.extras import missing
from pricing.lists.tints import Colour, tint_of
from pricing.meshes.cache import keep, recall
from pricing.meshes.faults import MeshLimits
from pricing.model.alloy import Alloy
from pricing.model.product import Product
from pricing.reading import NotRead, read_file

#: Raise it whenever a picture may come out otherwise than before.
METHOD = 3
#: Longest edge, in pixels: 21 mm at 300 dots an inch.
EDGE = 256
QUALITY = 86
#: The colour of a drawing of no alloy, in linear light.
METAL: Colour = (0.96, 0.945, 0.92)


class Pictures:
    """Pictures of a folder's products, each made once; `notes` says which could not be made, and why."""

    def __init__(self, root: Path, edge: int = EDGE, on_white: bool = True):
        self.root = root
        self.edge = edge
        self.on_white = on_white
        self.notes: list[str] = []
        self._made: dict[tuple[str, Colour | None], bytes | None] = {}
        self._light: tuple[str, Any] | None = None  # on the last mesh: the same in all its alloys

    def of(self, product: Product, alloy: Alloy | None = None) -> bytes | None:
        """The picture of a product (`like` applied), or None where it has neither photo nor mesh that can be shown.

        A drawing has the colour of the alloy; a photo is as it was taken.
        """
        mesh = next((casting.mesh for casting in product.castings or () if casting.mesh), None)
        tint = tint_of(alloy) if alloy else METAL
        for file, colour in ((product.photo, None), (mesh, tint)):
            if file is None:
                continue
            if (file, colour) not in self._made:
                self._made[file, colour] = self._make(file, colour)
            if self._made[file, colour] is not None:
                return self._made[file, colour]
        return None

    def _make(self, file: str, colour: Colour | None) -> bytes | None:
        path = self.root / file
        try:
            content = hashlib.sha256(read_file(path, MeshLimits().file_bytes)).hexdigest()
            what = f"picture {METHOD} {colour} {self.edge} {self.on_white} {content}"
            key = hashlib.sha256(what.encode()).hexdigest()
            kept = recall(key)
            if kept is not None:
                return base64.b64decode(kept["picture"])
            image = self._drawing(path, content, colour) if colour else _photo(path, self.edge)
            made = _jpeg(image) if self.on_white else _webp(image)
        except NotRead as fault:
            self._note(f"{file}: {fault.problem}")
            return None
        except Faults as found:
            self._note(f"{file}: {found.faults[0].problem}")
            return None
        except TroytagError as fault:
            self._note(str(fault))
            return None
        keep(key, {"picture": base64.b64encode(made).decode()})
        return made

    def _drawing(self, path: Path, content: str, colour: Colour) -> Any:
        from pricing.lists.shading import coloured, light_on

        try:
            from PIL import Image
        except ImportError:
            raise missing("A picture", "pillow", "lists") from None
        if self._light is None or self._light[0] != content:
            self._light = content, light_on(path, self.edge)
        return Image.fromarray(coloured(self._light[1], colour))

    def _note(self, note: str) -> None:
        if note not in self.notes:
            self.notes.append(note)


def _photo(path: Path, edge: int) -> Any:
    try:
        from PIL import Image, ImageOps, UnidentifiedImageError
    except ImportError:
        raise missing("A picture", "pillow", "lists") from None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(path) as opened:
                opened.draft("RGB", (edge * 2, edge * 2))  # a JPEG is read no larger than needed
                image = ImageOps.exif_transpose(opened).convert("RGBA")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
        raise TroytagError(f"{path.name} is no picture that can be read. Save it again as JPEG or PNG") from None
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise TroytagError(f"{path.name} has too many pixels. Save it at 4,000 pixels a side or fewer") from None
    image.thumbnail((edge, edge), Image.Resampling.LANCZOS)
    return image


def _webp(image: Any) -> bytes:
    written = BytesIO()
    image.save(written, "WEBP", quality=QUALITY, method=4, exif=b"", xmp=b"", icc_profile=b"")
    return written.getvalue()


def _jpeg(image: Any) -> bytes:
    from PIL import Image

    paper = Image.new("RGB", image.size, "white")
    paper.paste(image, mask=image)
    written = BytesIO()
    paper.save(written, "JPEG", quality=QUALITY, subsampling=0, optimize=True)
    return written.getvalue()
