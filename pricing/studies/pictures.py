"""Pictures of studies, drawn offline as SVG and PNG, with title and description for who cannot see them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO
from threading import Lock
from types import MappingProxyType
from typing import Any, TypeAlias

from pricing.extras import missing

#: Colours that keep 3:1 on white for most eyes (after Okabe and Ito); marks differ in shape, too.
BLUE, VERMILLION, GREY = "#0072B2", "#D55E00", "#767676"
#: What is written, the lines behind it, and the ground of a bar that is only outlined.
INK, SOFT, RULE, PAPER = "#222222", "#444444", "#DDDDDD", "#FFFFFF"
#: The page's own colour in the place of each, which it changes with its scheme.
OF_PAGE: Mapping[str, str] = MappingProxyType(
    {
        BLUE: "var(--accent)",
        VERMILLION: "var(--trouble)",
        GREY: "var(--edge)",
        INK: "var(--ink)",
        SOFT: "var(--soft)",
        RULE: "var(--rule)",
        PAPER: "var(--sheet)",
    }
)
#: The library is not made to draw in several threads at once, as the page would ask it to.
ONE_AT_A_TIME = Lock()
#: Inches: how wide a picture is, how high it usually is, and how much a row of bars takes beside its frame.
WIDTH, HEIGHT, ROW, FRAME = 7.6, 4.8, 0.26, 1.5


#: What the maker calls a sku and an alloy, as on labels: pictures go to people.
Called: TypeAlias = Callable[[str, str], tuple[str, str]]


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

    def inline(self, called: str) -> str:
        """It as a piece of a page: without styles of its own, in the page's colours, its names led by `called`."""
        return _inlined(self.files(["svg"])["svg"].decode("utf-8"), called)


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
        raise missing("A plot", "matplotlib", "studies") from None
    with ONE_AT_A_TIME:
        written = _drawn(Figure(figsize=(WIDTH, height), layout="constrained"), draw, title, told, forms)
    if "svg" in written:
        written["svg"] = _described(written["svg"], title, f"{told}. {description}")
    return written


def _drawn(figure: Any, draw: Callable[[Any], None], title: str, told: str, forms: Sequence[str]) -> dict[str, bytes]:
    """What `draw` makes of a figure, in each form."""
    axes = figure.subplots()
    axes.set_axisbelow(True)
    axes.grid(True, color=RULE, linewidth=0.6)
    draw(axes)
    if axes.get_legend_handles_labels()[0]:
        axes.legend(frameon=False, fontsize=9, labelcolor=INK)
    axes.spines[["top", "right"]].set_visible(False)
    figure.suptitle(title, fontsize=12, fontweight="bold", x=0.01, ha="left", color=INK)
    axes.set_title(told, fontsize=9, loc="left", color=SOFT)
    axes.tick_params(colors=INK)
    axes.xaxis.label.set_color(INK)
    axes.yaxis.label.set_color(INK)
    axes.spines[["left", "bottom"]].set_color(INK)
    written = {}
    for form in forms:
        target = BytesIO()
        figure.savefig(target, format=form, dpi=144, metadata={"Date": None} if form == "svg" else None)
        written[form] = target.getvalue()
    return written


def _described(svg: bytes, title: str, words: str) -> bytes:
    """The drawing with a role, a title and a description for who cannot see it."""
    from xml.sax.saxutils import escape

    told = f'<title id="title">{escape(title)}</title><desc id="desc">{escape(words)}</desc>'
    text = svg.decode("utf-8")
    text = re.sub(r"<svg ", '<svg role="img" aria-labelledby="title desc" ', text, count=1)
    return re.sub(r"(<svg [^>]*>)", lambda match: match[1] + told, text, count=1).encode("utf-8")


def _inlined(svg: str, called: str) -> str:
    """The drawing for a page that allows no styles but its own: each of its styles becomes attributes."""
    text = svg[svg.index("<svg ") :]
    text = re.sub(r"<metadata>.*?</metadata>|<style[^>]*>.*?</style>|<!--.*?-->", "", text, flags=re.DOTALL)
    text = re.sub(r' (?:width|height)="[\d.]+pt"', "", text, count=2)
    text = re.sub(r'style="([^"]*)"', lambda found: _attributes(found[1]), text)
    text = re.sub(r'(<g id="patch_1">\s*<path [^>]*?)fill="[^"]*"', r'\1fill="none"', text, count=1)
    text = re.sub(r'\b(id="|href="#|url\(#)', rf"\g<1>{called}-", text)
    text = text.replace('aria-labelledby="title desc"', f'aria-labelledby="{called}-title {called}-desc"')
    for colour, own in OF_PAGE.items():
        text = re.sub(f'"{colour}"', f'"{own}"', text, flags=re.IGNORECASE)
    return text.replace("<svg ", '<svg class="drawn" stroke-linejoin="round" stroke-linecap="butt" ', 1).strip()


def _attributes(style: str) -> str:
    """`fill: none; stroke: #222222` as attributes."""
    pairs = (each.partition(":") for each in style.split(";") if ":" in each)
    return " ".join(f'{name.strip()}="{value.strip()}"' for name, _, value in pairs)
