"""Pictures of studies, drawn offline as SVG and PNG, with title and description for who cannot see them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from pricing.errors import TroytagError

#: Colours that keep 3:1 on white for most eyes (after Okabe and Ito); marks differ in shape, too.
BLUE, VERMILLION, GREY = "#0072B2", "#D55E00", "#767676"
#: What is written, and the lines behind it; a page has its own in their places.
INK, SOFT, RULE = "#222222", "#444444", "#DDDDDD"
#: Inches: how wide a picture is, how high it usually is, and how much a row of bars takes beside its frame.
WIDTH, HEIGHT, ROW, FRAME = 7.6, 4.8, 0.26, 1.5


@dataclass(frozen=True)
class Drawing:
    """A picture that is drawn when it is wanted: `draw` puts it on axes; see `pictures` for the words."""

    title: str
    told: str
    description: str
    draw: Callable[[Any], None]
    height: float = HEIGHT

    def files(self, forms: Sequence[str] = ("svg", "png")) -> dict[str, bytes]:
        """It as `svg` and `png`. Raises TroytagError where matplotlib is not installed."""
        return pictures(self.draw, self.title, self.told, self.description, self.height, forms)


def height_of(rows: int) -> float:
    """How high a picture is that has so many rows of bars, in inches."""
    return max(HEIGHT / 2, FRAME + ROW * rows)


def pictures(
    draw: Callable[[Any], None],
    title: str,
    told: str,
    description: str,
    height: float = HEIGHT,
    forms: Sequence[str] = ("svg", "png"),
) -> dict[str, bytes]:
    """What `draw` puts on the axes that it is given, as `svg` and `png`.

    `told` stands below the title and says what it is about, `description` is its message in a sentence; `height` is in
    inches. Raises TroytagError where matplotlib is not installed.
    """
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise TroytagError(
            'A plot needs matplotlib, which is not installed. Install it with: pip install "troytag[studies]"'
        ) from None
    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    axes = figure.subplots()
    axes.set_axisbelow(True)
    axes.grid(True, color=RULE, linewidth=0.6)
    draw(axes)
    if axes.get_legend_handles_labels()[0]:
        axes.legend(frameon=False, fontsize=9)
    axes.spines[["top", "right"]].set_visible(False)
    figure.suptitle(title, fontsize=12, fontweight="bold", x=0.01, ha="left")
    axes.set_title(told, fontsize=9, loc="left", color=SOFT)
    written = {}
    for form in forms:
        target = BytesIO()
        figure.savefig(target, format=form, dpi=144, metadata={"Date": None} if form == "svg" else None)
        written[form] = target.getvalue()
    if "svg" in written:
        written["svg"] = _described(written["svg"], title, f"{told}. {description}")
    return written


def _described(svg: bytes, title: str, words: str) -> bytes:
    """The drawing with a role, a title and a description for who cannot see it."""
    from xml.sax.saxutils import escape

    told = f'<title id="title">{escape(title)}</title><desc id="desc">{escape(words)}</desc>'
    text = svg.decode("utf-8")
    text = re.sub(r"<svg ", '<svg role="img" aria-labelledby="title desc" ', text, count=1)
    return re.sub(r"(<svg [^>]*>)", lambda match: match[1] + told, text, count=1).encode("utf-8")
