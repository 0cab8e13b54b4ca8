"""Pictures: a photo small, upright and without its camera's data; a mesh lit from above; nothing that fails a list."""

from __future__ import annotations

import re
import sys
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from pricing.folder.inherit import inherited
from pricing.lists import shading
from pricing.lists.pictures import EDGE, Pictures
from pricing.lists.price_list import ListAsked, price_list
from pricing.lists.shading import shaded
from pricing.studies.prices_out import prices_out
from tests.lists.fernhollow import british, changed_folder, costing_of, everything

#: Pixels of an edge where it is not the size that is looked at.
SMALL = 120


def opened(jpeg: bytes) -> np.ndarray:
    return np.asarray(Image.open(BytesIO(jpeg)).convert("RGB")).astype(int)


def with_photo(tmp_path, image: Image.Image | bytes, name="thimble.jpg", **how):
    """The sample with a photo of the thimble."""
    root = changed_folder(
        tmp_path, {"products/thimble.toml": {'sku = "thimble"': f'sku = "thimble"\nphoto = "{name}"'}}
    )
    if isinstance(image, bytes):
        (root / name).write_bytes(image)
    else:
        image.save(root / name, **how)
    return root


def product_of(root, sku="thimble"):
    return inherited(costing_of(root).folder.stated.products)[sku]


@pytest.mark.parametrize("on_white", [True, False])
def test_a_photo_is_made_small_and_upright_and_says_nothing_of_its_place(tmp_path, on_white):
    """Red on the left of the sensor, turned by EXIF 6 (rotate 90° clockwise): red is then on top."""
    image = Image.new("RGB", (1200, 900), "blue")
    image.paste("red", (0, 0, 600, 900))
    camera = Image.Exif()
    camera[0x0112] = 6  # orientation
    camera[0x010F] = "A camera"
    camera.get_ifd(0x8825)[1] = "N"  # GPS
    root = with_photo(tmp_path, image, exif=camera)
    pictures = Pictures(root, on_white=on_white)
    jpeg = pictures.of(product_of(root))
    made = Image.open(BytesIO(jpeg))
    assert made.size == (EDGE * 3 // 4, EDGE)
    assert not made.getexif() and b"camera" not in jpeg and b"Exif" not in jpeg
    top, bottom = opened(jpeg)[10, 50], opened(jpeg)[-10, 50]
    assert top[0] > 200 > top[2] + 100 and bottom[2] > 200 > bottom[0] + 100
    assert pictures.notes == []


def test_what_is_transparent_becomes_paper(tmp_path):
    root = with_photo(tmp_path, Image.new("RGBA", (40, 40), (255, 0, 0, 0)), "thimble.png")
    assert opened(Pictures(root, SMALL).of(product_of(root))).min() >= 250


@pytest.mark.parametrize("content", [b"", b"not a picture", b"\xff\xd8\xff\xe0 torn"])
def test_a_broken_photo_is_noted_and_the_mesh_takes_its_place(tmp_path, content):
    root = with_photo(tmp_path, content)
    pictures = Pictures(root, SMALL)
    assert pictures.of(product_of(root)) is not None
    assert pictures.notes == ["thimble.jpg is no picture that can be read. Save it again as JPEG or PNG"]


def test_a_torn_photo_too(tmp_path):
    whole = BytesIO()
    Image.effect_noise((600, 600), 80).convert("RGB").save(whole, "JPEG")
    root = with_photo(tmp_path, whole.getvalue()[:2000])
    pictures = Pictures(root, SMALL)
    pictures.of(product_of(root))
    assert len(pictures.notes) == 1


def test_a_photo_of_too_many_pixels_is_refused_before_it_fills_the_memory(tmp_path, monkeypatch):
    root = with_photo(tmp_path, Image.new("RGB", (200, 200)))
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 10_000)
    pictures = Pictures(root, SMALL)
    assert pictures.of(product_of(root)) is not None  # the mesh
    assert "too many pixels" in pictures.notes[0]


def box(path, size=(20.0, 20.0, 20.0)):
    """A box as a text STL, facing outwards."""
    x, y, z = size
    corners = [(a, b, c) for c in (0, z) for b in (0, y) for a in (0, x)]
    faces = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    lines = ["solid box"]
    for a, b, c, d in faces:
        for triangle in ((a, b, c), (a, c, d)):
            lines += ["facet normal 0 0 0", "outer loop"]
            lines += [f"vertex {corners[corner][0]} {corners[corner][1]} {corners[corner][2]}" for corner in triangle]
            lines += ["endloop", "endfacet"]
    path.write_text("\n".join([*lines, "endsolid box"]))
    return path


def test_a_box_is_lit_from_above_without_a_ground(tmp_path):
    """Seen from the front and above, its top is the brightest of three faces, each evenly lit."""
    picture = shaded(box(tmp_path / "box.stl"), 120).astype(int)
    assert picture.shape == (120, 120, 4)
    assert (picture[[0, 0, -1, -1], [0, -1, 0, -1], 3] == 0).all()
    column = picture[:, :, 1]
    piece = picture[:, :, 3] == 255
    assert 0.3 < piece.mean() < 0.8
    rows, columns = np.nonzero(piece)
    middle = (columns.min() + columns.max()) // 2
    top = column[rows.min() + 8, middle]
    front = column[(rows.min() + rows.max()) * 2 // 3, columns.min() + 8]
    assert top > front + 20


def test_on_paper_a_drawing_stands_on_white_and_on_the_screen_on_nothing(sample):
    product = product_of(sample.folder.root)
    paper, screen = (Pictures(sample.folder.root, SMALL, on_white).of(product) for on_white in (True, False))
    assert opened(paper)[0, 0].tolist() == [255, 255, 255] and Image.open(BytesIO(paper)).format == "JPEG"
    clear = np.asarray(Image.open(BytesIO(screen)))
    assert clear.shape == (SMALL, SMALL, 4) and clear[0, 0, 3] == 0 and clear[SMALL // 2, SMALL // 2, 3] == 255


def test_the_same_mesh_gives_the_same_picture(tmp_path):
    mesh = box(tmp_path / "box.stl")
    assert np.array_equal(shaded(mesh, 64), shaded(mesh, 64))


def test_a_hollow_is_darker_than_the_open(tmp_path, sample):
    """Light that a piece keeps from itself: the neck of the acorn knob against its crown."""
    whole = shaded(sample.folder.root / "meshes/acorn-knob.stl", 120).astype(int)
    rows = np.nonzero(whole[:, :, 3].any(axis=1))[0]
    height = rows.max() - rows.min()
    picture = np.where(whole[:, :, 3] == 255, whole[:, :, 1], 255)
    darkest = [picture[rows.min() + round(height * share)].min() for share in (0.25, 0.78)]
    assert darkest[1] < darkest[0]


def test_a_torn_mesh_is_noted_once(tmp_path):
    root = changed_folder(tmp_path, {})
    product = product_of(root)
    (root / "meshes/thimble.stl").write_bytes(b"solid torn")
    pictures = Pictures(root, SMALL)
    assert pictures.of(product) is None and pictures.of(product) is None
    assert len(pictures.notes) == 1 and pictures.notes[0].startswith("meshes/thimble.stl: ")


@pytest.mark.parametrize("absent", ["embreex.mesh_construction", "trimesh", "PIL"])
def test_without_the_library_there_is_a_list_and_one_note(sample, monkeypatch, absent):
    monkeypatch.setenv("TROYTAG_CACHE", "off")
    monkeypatch.setitem(sys.modules, absent, None)
    monkeypatch.delitem(sys.modules, "pricing.lists.shading", raising=False)
    pictures = Pictures(sample.folder.root, SMALL)
    sheet = price_list(prices_out(sample), ListAsked("shops", *everything(sample)), british(sample), pictures)
    assert sheet.pictures == {} and b"Bluebell candle snuffer" in sheet.laid_out(".html")
    (note,) = pictures.notes
    assert 'Install it with: pip install "troytag[lists]"' in note


def test_without_photo_and_mesh_nothing_stands_there(sample):
    pictures = Pictures(sample.folder.root, SMALL)
    assert pictures.of(product_of(sample.folder.root, "hawthorn-charm")) is None
    asked = ListAsked("buyers", ("hawthorn-charm", "thimble"), everything(sample)[1])
    page = price_list(prices_out(sample), asked, british(sample), pictures).laid_out(".html").decode()
    cells = re.findall(r'<td class="picture"[^>]*>(.*?)</td>', page)
    assert "<img" in cells.pop() and set(cells) == {""}  # heads, then the charm, then the thimble
    assert page.count("data:image/jpeg") == 1


def test_a_picture_is_drawn_once_and_kept(tmp_path, monkeypatch):
    monkeypatch.setenv("TROYTAG_CACHE", str(tmp_path / "cache"))
    root = changed_folder(tmp_path / "folder", {})
    first = Pictures(root, SMALL).of(product_of(root))
    monkeypatch.setattr(shading, "light_on", _refuse)
    assert Pictures(root, SMALL).of(product_of(root)) == first
    (root / "meshes/thimble.stl").write_bytes((root / "meshes/caddy-spoon.stl").read_bytes())
    with pytest.raises(AssertionError, match="drawn again"):  # another mesh under the same name
        Pictures(root, SMALL).of(product_of(root))


def _refuse(path, edge):
    raise AssertionError("drawn again")


def test_the_same_design_is_drawn_in_the_colour_of_each_alloy(sample):
    """Brass is yellower than silver: the share of blue in what is not paper tells."""
    stated, pictures = sample.folder.stated, Pictures(sample.folder.root, SMALL)
    product = product_of(sample.folder.root)

    def yellow(alloy) -> float:
        pixels = np.asarray(Image.open(BytesIO(pictures.of(product, alloy))).convert("RGB"), dtype=float)
        metal = pixels[pixels.sum(axis=2) < 720]
        return float(metal[:, 0].mean() / metal[:, 2].mean())

    tones = {name: yellow(stated.alloys[name]) for name in ("yellow-brass", "silicon-bronze", "sterling")}
    assert tones["yellow-brass"] > 1.3 > 1.1 > tones["sterling"]
    green = stated.alloys["sterling"].model_copy(update={"tint": "#10f010"})
    assert yellow(green) < 1.3 and pictures.of(product, green) != pictures.of(product, stated.alloys["sterling"])
