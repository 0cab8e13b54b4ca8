"""Reading back what was set as a PDF."""

from __future__ import annotations

import pypdfium2

MM_PER_POINT = 25.4 / 72


def page_texts(content: bytes) -> list[str]:
    """The text of every page, blanks of all kinds as one blank."""
    document = pypdfium2.PdfDocument(content)
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def page_sizes_mm(content: bytes) -> list[tuple[int, int]]:
    """Width and height of every page in whole mm."""
    document = pypdfium2.PdfDocument(content)
    return [tuple(round(side * MM_PER_POINT) for side in page.get_size()) for page in document]


def page_images(content: bytes, dots_per_inch: int = 300) -> list:
    """Every page as a picture."""
    document = pypdfium2.PdfDocument(content)
    return [page.render(scale=dots_per_inch / 72).to_pil() for page in document]
