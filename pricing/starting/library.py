"""The library of ready pieces: alloys, processes, channels, machines, materials and flasks as text to be written.

A piece is a paragraph of one of the files of `templates/start/`, a process a file by itself. In it

    £12 is an amount that is put into the workshop's money by its rough price level (¤12: into the channel's; £~12: to
    the next round one), and a remark `# guess 4..9: words` says that the figure on its line is a guess, and within
    which range it usually lies; `# guess rate 0.01..0.03, fixed £0.1..£0.4` where several figures stand on the line.

What is written has the words of the remark, and the range becomes a doubt: a guess and its doubt are one line.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from types import MappingProxyType
from typing import Any, NamedTuple

from pricing.folder.toml.spelling import spelled
from pricing.model.alloy import Alloy
from pricing.model.currency import minor_unit_digits
from pricing.model.metals import PRECIOUS, is_precious, main_element
from pricing.resources import templates
from pricing.starting.guesses import unmarked

#: The kinds of pieces that stand in one file, a paragraph each.
PARAGRAPHS = ("alloys", "channels", "machines", "materials", "flasks")
#: Decimals of a pound.
PENCE = 2
#: The steps of an assay, before the metal's name, and those of silver: other alloys hold silver too, so that they list
#: the alloys in which they are done.
ASSAY_STEPS = ("hallmark", "assay parcel")
#: Assay: the metal, its element, and from which finished mass a piece is marked in the United Kingdom, in gram.
MARKED = (("silver", "Ag", 7.78), ("gold", "Au", 1.0), ("platinum", "Pt", 0.5))

_AMOUNT = re.compile(r"([£¤])(~?)(\d+(?:\.\d+)?)")
_HEADER = re.compile(r"^\[\[?\w+\.(?:\"([^\"]+)\"|([\w-]+))\]", re.MULTILINE)


class MetalPrice(NamedTuple):
    """What a metal is guessed to cost, in pounds, per what the trade quotes it for."""

    name: str
    per: str
    guess: float
    low: float
    high: float


@dataclass(frozen=True)
class Setting:
    """What the text of a piece depends on: moneys, whose hands, which machines there are, what is marked."""

    currency: str = "GBP"
    abroad: str = "USD"
    role: str = "bench"
    machines: frozenset[str] | None = None
    assay: bool = False
    tax: float = 0.0
    pour_good: str = "0.94  # guess 0.85..0.98: misruns, pits"
    alloys: Mapping[str, Alloy] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True)
class Process:
    """How a process of the library brings the metal in, and what it needs of the workshop."""

    takes: str
    machines: tuple[str, ...]
    materials: tuple[str, ...]


@dataclass(frozen=True)
class Library:
    """The pieces, as they would be written in one setting."""

    setting: Setting = Setting()

    def names(self, kind: str) -> tuple[str, ...]:
        """The names of the pieces of a kind."""
        if kind == "processes":
            return tuple(sorted(_processes(), key=_ORDER.index))
        return tuple(self._paragraphs(kind))

    def choices(self, kind: str) -> tuple[tuple[str, str], ...]:
        """Name and words of every piece of a kind, for a question."""
        return tuple((name, self.title(kind, name)) for name in self.names(kind))

    def title(self, kind: str, name: str) -> str:
        """What a piece is called in a question: an alloy by its name, others by the remark above them."""
        if kind == "alloys":
            return self.alloy(name).name
        if (kind, name) not in self._titles:
            first = next((line for line in self.text(kind, name).splitlines() if line.startswith("# ")), f"# {name}")
            self._titles[kind, name] = first.removeprefix("# ").rstrip(".")
        return self._titles[kind, name]

    def text(self, kind: str, name: str, called: str | None = None) -> str:
        """A piece as text with its guesses still marked, under the name `called`. Raises KeyError for no piece."""
        if kind == "processes":
            if name not in _processes():
                raise KeyError(name)
            return self._rendered(f"processes/{name}.toml", name=called or name).strip()
        text = self._paragraphs(kind)[name]
        header = f"[{kind}.{name}]"
        return text.replace(header, f"[{kind}.{called}]", 1) if called else text

    def alloy(self, name: str) -> Alloy:
        """An alloy of the library, or of the setting."""
        if name in self.setting.alloys:
            return self.setting.alloys[name]
        if name not in self._alloys:
            read = tomllib.loads(unmarked(self.text("alloys", name)))["alloys"][name]
            self._alloys[name] = Alloy.model_validate(read)
        return self._alloys[name]

    def process(self, name: str) -> Process:
        """What a process needs: every machine that it knows of, whether or not it is there."""
        return _process(name, self.setting)

    def machines_of(self, ways: Iterable[str]) -> tuple[str, ...]:
        """The machines that these processes can use, each once."""
        return tuple(dict.fromkeys(name for way in ways for name in the_library().process(way).machines))

    def priced_by(self, metals: Iterable[str]) -> tuple[str, ...]:
        """The metals and quotes that these alloys are valued by, each once."""
        found: dict[str, None] = {}
        for alloy in map(self.alloy, metals):
            found.update(
                {alloy.quote: None} if alloy.quote else dict.fromkeys(set_apart(alloy.composition, alloy.unpriced))
            )
        return tuple(sorted(found, key=lambda metal: (metal not in PRECIOUS, metal)))

    def metal_price(self, metal: str) -> MetalPrice:
        """What a metal is guessed to cost. Raises KeyError for one that the library does not know."""
        return _metal_prices()[metal]

    def level(self, currency: str) -> float:
        """How many units of a currency stand for a pound, roughly."""
        digits = minor_unit_digits(currency)
        return float(_data("money.toml").get(currency, 1 if digits else 100))

    def data(self, file: str) -> Mapping[str, Any]:
        """What one of the library's plain TOML files says."""
        return _data(file)

    def amount(self, pounds: float, currency: str | None = None) -> str:
        """An amount in the workshop's money, or another: two figures are enough for a guess."""
        return _amount(pounds, self.level(currency or self.setting.currency), currency or self.setting.currency, "")

    def energy(self) -> str:
        """The table of what energy costs."""
        return self._rendered("energy.toml").strip()

    def hour(self) -> str:
        """The table of somebody's hour."""
        return self._rendered("hour.toml").strip()

    def file(self, name: str, **values: Any) -> str:
        """One of the files of a folder, with these values and its guesses still marked."""
        return self._rendered(f"files/{name}", **values)

    @cached_property
    def _alloys(self) -> dict[str, Alloy]:
        """The alloys that were asked for."""
        return {}

    @cached_property
    def _titles(self) -> dict[tuple[str, str], str]:
        """The titles that were asked for, by kind and name."""
        return {}

    @cached_property
    def _read(self) -> dict[str, Mapping[str, str]]:
        """The paragraphs of the kinds that were asked for."""
        return {}

    def _paragraphs(self, kind: str) -> Mapping[str, str]:
        if kind not in self._read:
            self._read[kind] = MappingProxyType(self._split(kind))
        return self._read[kind]

    def _split(self, kind: str) -> dict[str, str]:
        found = {}
        for paragraph in re.split(r"\n\s*\n", self._rendered(f"{kind}.toml").strip()):
            header = _HEADER.search(paragraph)
            if header is not None:
                found[header[1] or header[2]] = paragraph.strip()
        return found

    def _rendered(self, file: str, **values: Any) -> str:
        setting = self.setting
        machines = _every_machine() if setting.machines is None else setting.machines
        marked = [each for each in MARKED if each[1] != "Ag" or self._alloys_of("Ag")]
        known = {
            "currency": setting.currency, "abroad": setting.abroad, "role": setting.role, "machines": machines,
            "assay": setting.assay and self._is_precious, "marked": marked, "pour_good": setting.pour_good,
            "tax": self._tax, "rule": _rule, "only_in": self._only_in,
        }  # fmt: skip
        return self._in_money(_environment().get_template(file).render(known | values))

    def _tax(self, audience: str) -> str:
        if not self.setting.tax:
            return "# tax = { rate = 0.2, included = true }   # sales tax, if you come to add it"
        included = "true" if audience == "retail" else "false"
        return f"tax = {{ rate = {self.setting.tax:g}, included = {included} }}"

    def _alloys_of(self, element: str) -> list[str]:
        """The alloys of the setting that are called by this element."""
        return [name for name, alloy in self.setting.alloys.items() if main_element(alloy.composition) == element]

    @cached_property
    def _is_precious(self) -> bool:
        return any(is_precious(alloy.composition) for alloy in self.setting.alloys.values())

    def _only_in(self, element: str) -> str:
        return f"alloys = {spelled(self._alloys_of(element))}" if element == "Ag" else f'holding = ["{element}"]'

    def _in_money(self, text: str) -> str:
        def told(found: re.Match[str]) -> str:
            currency = self.setting.currency if found[1] == "£" else self.setting.abroad
            return _amount(float(found[3]), self.level(currency), currency, found[2], found[3])

        return _AMOUNT.sub(told, text)


def set_apart(composition: Iterable[str], unpriced: Sequence[str]) -> list[str]:
    """The elements that count."""
    return [element for element in composition if element not in unpriced]


def _amount(pounds: float, level: float, currency: str, coin: str, written: str = "") -> str:
    """Pounds in another money, to two figures, or to a round 1, 2 or 5; in pounds as it was written."""
    digits = minor_unit_digits(currency)
    if level == 1 and digits == PENCE:
        if written and "." not in written:
            return written
        return f"{pounds:.{PENCE}f}" if round(pounds, PENCE) == pounds else f"{pounds:g}"
    value = pounds * level
    if coin:
        power = 10.0 ** math.floor(math.log10(value))
        value = min((step * power for step in (1, 2, 5, 10)), key=lambda each: abs(each - value))
        value = max(value, 10.0**-digits)
    value = float(f"{value:.2g}")
    if value != int(value) and round(value, digits) == value:
        return f"{value:.{digits}f}"
    return f"{value:.0f}" if value == int(value) else f"{value:g}"


# ---- what is read once


@cache
def the_library() -> Library:
    """The library in the setting of nobody in particular."""
    return Library()


_ORDER = ("printed-and-cast", "carved-and-cast", "mould-and-wax", "sheet-and-wire", "castings-bought")


@cache
def _environment() -> Any:
    import jinja2

    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(templates() / "start"),
        undefined=jinja2.StrictUndefined,
        keep_trailing_newline=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["toml"] = spelled
    return made


@cache
def _processes() -> tuple[str, ...]:
    return tuple(path.stem for path in (templates() / "start" / "processes").glob("[!_]*.toml"))


@cache
def _data(file: str) -> Mapping[str, Any]:
    return MappingProxyType(tomllib.loads((templates() / "start" / file).read_text(encoding="utf-8")))


@cache
def _metal_prices() -> Mapping[str, MetalPrice]:
    return MappingProxyType({name: MetalPrice(**price) for name, price in _data("metal_prices.toml").items()})


def _rule(name: str) -> str:
    return spelled(_data("reprice.toml")[name])


@cache
def _every_machine() -> frozenset[str]:
    text = (templates() / "start" / "machines.toml").read_text(encoding="utf-8")
    return frozenset(header[1] or header[2] for header in _HEADER.finditer(text))


@cache
def _needs(name: str, machines: frozenset[str] | None) -> Process:
    text = unmarked(Library(Setting(machines=machines)).text("processes", name))
    steps = tomllib.loads(text)["processes"][name]
    used = [use["material"] for step in steps for use in step.get("uses", ())]
    return Process(
        next(step["takes_metal"] for step in steps if "takes_metal" in step),
        tuple(dict.fromkeys(step["machine"] for step in steps if "machine" in step)),
        tuple(dict.fromkeys(used)),
    )


def _process(name: str, setting: Setting) -> Process:
    return _needs(name, setting.machines)
