"""Pictures of studies, drawn offline as SVG and PNG, with title and description for who cannot see them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO
from textwrap import fill
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
#: What is written stands on its own ground, so that no line runs through it.
CLEAR: Mapping[str, Any] = MappingProxyType({"facecolor": PAPER, "edgecolor": "none", "pad": 0.4})
#: The library is not made to draw in several threads at once, as the page would ask it to.
ONE_AT_A_TIME = Lock()
#: Inches: how wide a picture is, how high it usually is, and how much a row of bars takes beside its frame.
WIDTH, HEIGHT, ROW, FRAME = 7.6, 4.8, 0.26, 1.5
#: The same where it is drawn for a screen held in a hand: there a row has its name above it.
NARROW = 3.9
NARROW_HEIGHT, NARROW_ROW, NARROW_FRAME = 4.2, 0.4, 1.8
#: So many letters stand side by side there: of the title, and of what is smaller.
NARROW_TITLE, NARROW_WORDS = 38, 52


#: What the maker calls a sku and an alloy, as on labels: pictures go to people.
Called: TypeAlias = Callable[[str, str], tuple[str, str]]


@dataclass(frozen=True)
class Drawing:
    """A picture that is drawn when it is wanted: `draw` puts it on the axes that it is given.

    `told` stands below the title and says what it is about, `description` is its message in a sentence; `height` is in
    inches, `rows` how many rows of it have names.
    """

    title: str
    told: str
    description: str
    draw: Callable[[Any], None]
    height: float = HEIGHT
    rows: int = 0

    def files(self, forms: Sequence[str] = ("svg", "png")) -> dict[str, bytes]:
        """It as `svg` and `png`. Raises TroytagError where matplotlib is not installed."""
        return self._written((WIDTH, self.height), forms)

    def inline(self, called: str, narrow: bool = False) -> str:
        """It as a piece of a page: without styles of its own, in the page's colours and letters, its names led by
        `called`; `narrow` for a screen held in a hand. Raises as `files` does."""
        size = (NARROW, max(NARROW_HEIGHT, NARROW_FRAME + NARROW_ROW * self.rows)) if narrow else (WIDTH, self.height)
        return _inlined(self._written(size, ["svg"], in_words=True)["svg"].decode("utf-8"), called)

    def _written(self, size: tuple[float, float], forms: Sequence[str], in_words: bool = False) -> dict[str, bytes]:
        """It in each form; its texts as outlines, which look the same everywhere, or `in_words`."""
        try:
            from matplotlib import rc_context
            from matplotlib.figure import Figure
        except ImportError:
            raise missing("A plot", "matplotlib", "studies") from None
        with ONE_AT_A_TIME, rc_context({"svg.fonttype": "none" if in_words else "path"}):
            written = _drawn(Figure(figsize=size, layout="constrained"), self, forms)
        if "svg" in written:
            written["svg"] = _described(written["svg"], self.title, f"{self.told}. {self.description}")
        return written


def height_of(rows: int) -> float:
    """How high a picture is that has so many rows of bars, in inches."""
    return max(HEIGHT / 2, FRAME + ROW * rows)


def is_narrow(axes: Any) -> bool:
    """Whether these axes are drawn for a screen held in a hand."""
    return bool(axes.figure.get_figwidth() < WIDTH)


def thickness(axes: Any) -> float:
    """How much of its row a bar fills."""
    return 0.46 if is_narrow(axes) else 0.62


def name_rows(axes: Any, names: Sequence[str], size: float = 8, room: float = 0, also: Sequence[str] = ()) -> None:
    """Names beside rows 0, 1, …, with `room` rows left for the legend; in a narrow picture they stand above their rows,
    and `also`, a word or two for each, at the other end of the same line."""
    narrow = is_narrow(axes)
    axes.set_ylim(-0.7, len(names) - 0.3 + (max(room, 1.6) if narrow else room))
    if not narrow:
        axes.set_yticks(range(len(names)), names, fontsize=size)
        return
    axes.set_yticks([])
    for words, across, side in ((names, 0.01, "left"), (also, 0.99, "right")):
        for row, word in enumerate(words):
            axes.annotate(
                word, (across, row + thickness(axes) / 2), xycoords=("axes fraction", "data"), xytext=(0, 2.5),
                textcoords="offset points", fontsize=8, ha=side, color=INK, zorder=5, bbox=dict(CLEAR),
            )  # fmt: skip


def _drawn(figure: Any, drawing: Drawing, forms: Sequence[str]) -> dict[str, bytes]:
    """A drawing on a figure, in each form."""
    axes = figure.subplots()
    axes.set_axisbelow(True)
    axes.grid(True, color=RULE, linewidth=0.6)
    drawing.draw(axes)
    narrow = is_narrow(axes)
    if (told_apart := axes.get_legend_handles_labels())[0]:
        if not narrow:
            axes.legend(frameon=False, fontsize=9, labelcolor=INK)
        elif drawing.rows:
            axes.legend(frameon=False, fontsize=8, labelcolor=INK, loc="upper left", borderaxespad=0.2)
        else:
            figure.legend(*told_apart, frameon=False, fontsize=8, labelcolor=INK, loc="outside lower left")
    title, told = drawing.title, drawing.told
    if narrow:
        title, told = fill(title, NARROW_TITLE), fill(told, NARROW_WORDS)
        for axis in (axes.xaxis, axes.yaxis):
            axis.label.set_text(fill(axis.label.get_text(), NARROW_WORDS))
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
    """`fill: none; stroke: #222222` as attributes; the typeface is the page's."""
    pairs = [[part.strip() for part in each.split(":", 1)] for each in style.split(";") if ":" in each]
    pairs = [new for name, value in pairs for new in (_of_font(value) if name == "font" else [[name, value]])]
    return " ".join(f'{name}="{value}"' for name, value in pairs if name != "font-family")


def _of_font(value: str) -> list[list[str]]:
    """`700 12px 'DejaVu Sans', sans-serif` as its weight and its size, which no attribute holds together."""
    found = re.match(r"(?:.*?\b(bold|\d00)\b )?.*?([\d.]+px)", value)
    return (
        [[name, said] for name, said in zip(("font-weight", "font-size"), found.groups(), strict=True) if said]
        if found
        else []
    )
