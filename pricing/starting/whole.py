"""A whole workshop folder from the answers: every file as text, with the doubts of all that is guessed."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pricing.folder import schema
from pricing.folder.files import (
    ALLOYS_FILE,
    CHANNELS_FILE,
    DOUBTS_FILE,
    PRICES_FILE,
    PROCESSES_FILE,
    PRODUCTS_FOLDER,
    REFINERS_FILE,
    WORKSHOP_FILE,
)
from pricing.folder.write import file_name
from pricing.model.metals import PRECIOUS
from pricing.model.quote import Quote
from pricing.model.workshop import MONTHS_IN_A_YEAR, Week
from pricing.starting.answers import Answers
from pricing.starting.guesses import doubts_in, told, unmarked
from pricing.starting.library import Library, Setting, the_library
from pricing.starting.questions import PRICE, models

#: Weeks of a year that are worked where nobody says otherwise.
WEEKS = Week().weeks_a_year
#: Castings of v cm3 that stand on the tree of a flask of V cm3: about this × V / v^(2/3), for what stands on a tree is
#: counted by the room round it and not by its volume. A guess that gives 21 rings of 0.5 cm3 and 6 knobs of 3 cm3 in
#: 75 × 100 mm; at most so much of the flask is filled.
TREE_FILLS, MOST_FILLED = 0.03, 0.25
#: Where what came out good says how often a pour fails, it is held between these.
LEAST_GOOD, MOST_GOOD = 0.5, 0.995
#: Surface in cm2 of a piece of 1 cm3; it grows with the volume's power 2/3. A ball has 4.84, a cube 6, thin work more.
AREA_BY_VOLUME = (5.5, 9.0, 16.0)
MESHES = "meshes"
_SPROUTED = re.compile(r"\n{3,}")


@dataclass(frozen=True)
class Marked:
    """A file's text with its guesses still marked, and what goes before the paths of its doubts."""

    text: str
    head: str = ""


def files_of(answers: Answers, called: str, today: date) -> dict[str, bytes]:
    """The content of every file of the folder, by its name relative to it, in the order in which they are read."""
    whole = _Whole(answers, called, today)
    marked = {
        WORKSHOP_FILE: Marked(whole.workshop()),
        ALLOYS_FILE: Marked(whole.joined("alloys", answers["metals"], ALLOYS_FILE)),
        PROCESSES_FILE: Marked(whole.joined("processes", answers["ways"], PROCESSES_FILE)),
        whole.design.file: Marked(whole.design.text(), f"{PRODUCTS_FOLDER}.{whole.design.sku}."),
        CHANNELS_FILE: Marked(whole.channels()),
    }
    if whole.precious:
        marked[REFINERS_FILE] = Marked(whole.library.file(REFINERS_FILE))
    texts, doubts = with_doubts(marked)
    texts[DOUBTS_FILE] = headed(DOUBTS_FILE, whole.library.file(DOUBTS_FILE)) + doubt_lines(doubts)
    texts[PRICES_FILE] = whole.prices()
    order = [WORKSHOP_FILE, PRICES_FILE, ALLOYS_FILE, PROCESSES_FILE, whole.design.file, CHANNELS_FILE, REFINERS_FILE]
    files = {file: texts[file].encode() for file in (*order, DOUBTS_FILE) if file in texts}
    schemas = {f"{schema.FOLDER}/{kind}.json": schema.schema_text(kind).encode() for kind in schema.NAMES}
    return files | schemas | whole.design.mesh


def with_doubts(marked: Mapping[str, Marked]) -> tuple[dict[str, str], dict[str, dict[str, str]]]:
    """The files as they are written, and by file the doubts of what is guessed in them."""
    texts, doubts = {}, {}
    for file, each in marked.items():
        text, ranges = told(headed(file, each.text))
        texts[file] = text
        if found := doubts_in(file, text, ranges, each.head):
            doubts[file] = found
    return texts, doubts


def headed(file: str, text: str) -> str:
    """A file's text below the line by which editors find its schema, without gaps of more than a line."""
    return f"{schema.editor_line(file)}\n{_SPROUTED.sub(chr(10) * 2, text).strip()}\n"


def doubt_lines(doubts: Mapping[str, Mapping[str, str]]) -> str:
    """Lines for doubts.toml, file by file."""
    from pricing.folder.toml.spelling import spelled

    parts = []
    for file, found in doubts.items():
        lines = "".join(f"{spelled(path)} = {low_high}\n" for path, low_high in found.items())
        parts.append(f"\n# {file}\n{lines}")
    return "".join(parts)


@dataclass(frozen=True)
class _Whole:
    """One folder being written."""

    answers: Answers
    called: str
    today: date

    @cached_property
    def library(self) -> Library:
        answers, plain = self.answers, the_library()
        machines = answers["machines"] or ()
        currency = answers["currency"]
        ticked = answers.said.get("assay", currency == "GBP")
        return Library(
            Setting(
                currency=currency,
                abroad=answers["abroad"] or currency,
                machines=frozenset(machines),
                assay=ticked,
                tax=answers["tax"] if answers["registered"] else 0.0,
                pour_good=_pour_good(answers),
                alloys=MappingProxyType({name: plain.alloy(name) for name in answers["metals"]}),
            )
        )

    @cached_property
    def precious(self) -> bool:
        return any(set(alloy.composition) & set(PRECIOUS) for alloy in self.library.setting.alloys.values())

    @cached_property
    def design(self) -> Design:
        ways = self.answers["ways"]
        return Design(
            self.answers, self.library, tuple(self.answers["metals"]), self.answers["piece-way"] or ways[0],
            self.answers["flask"],
        )  # fmt: skip

    def joined(self, kind: str, names: Any, file: str) -> str:
        return self.library.file(file, texts="\n\n".join(self.library.text(kind, name) for name in names))

    def channels(self) -> str:
        names = self.answers["channels"]
        texts = "\n\n".join(self.library.text("channels", name) for name in names)
        return self.library.file(
            CHANNELS_FILE, texts=texts, channels=names, ladder={"trade", "gallery"} & set(names)
        )  # fmt: skip

    def workshop(self) -> str:
        answers, library = self.answers, self.library
        needs = [library.process(way) for way in answers["ways"]]
        machines = dict.fromkeys(name for need in needs for name in need.machines)
        materials = dict.fromkeys(name for need in needs for name in need.materials)
        casts = any(need.takes == "pour" for need in needs)
        told_prices = answers.said.get("machines") or {}
        texts = [machine_text(library, name, told_prices.get(name)) for name in machines]
        return library.file(
            WORKSHOP_FILE,
            called=self.called,
            registered=bool(answers["registered"]) or (answers.knows("tax") and not answers["tax"]),
            told=lambda key, words: told_figure(answers, library, key, words),
            hours_told=f"{answers['hours']:g} a week, {WEEKS:g} weeks of a year",
            weeks_a_year=f"{WEEKS:g}",
            flasks_told=f"{answers['flasks']:g}" if answers.knows("flasks") else None,
            pieces_told=_pieces(answers),
            energy=library.energy(),
            machine_texts="\n\n".join(texts),
            material_texts="\n\n".join(library.text("materials", name) for name in materials),
            flask_text=library.text("flasks", answers["flask"]) if casts else "",
        )

    def prices(self) -> str:
        """metal_prices.csv: what was told, and where it was not, a guess that says so."""
        from pricing.folder.prices.append import HEADER, with_lines

        answers, abroad = self.answers, self.answers["abroad"]
        exchanged = "abroad" in answers["channels"] and abroad and abroad != answers["currency"]
        rates = [(abroad, answers["rate"], answers.knows("rate"))] if exchanged else []
        metals = self.library.priced_by(answers["metals"])
        return with_lines(
            f"{HEADER}\n".encode(), quote_lines(answers, self.library, metals, rates, self.today)
        ).decode()


def quote_lines(
    answers: Answers, library: Library, metals: Iterable[str], rates: Iterable[tuple[str, float, bool]], today: date
) -> list[tuple[Quote, str]]:
    """Quotes of these metals and of currencies (code, rate, whether it was told), with their numbers as written."""
    currency, lines = library.setting.currency, []
    for metal in metals:
        known, price = answers.said.get(f"{PRICE}{metal}"), library.metal_price(metal)
        number = f"{known:.10g}" if known is not None else library.amount(price.guess)
        lines.append((metal, number, price.per, known is not None))
    lines += [(code, f"{rate:.10g}", "unit", knows) for code, rate, knows in rates]
    quotes = []
    for metal, number, per, knows in lines:
        source = "as told" if knows else "A GUESS: type today's price"
        values = {"date": today, "metal": metal, "price": float(number), "per": per, "currency": currency}
        quotes.append((Quote.model_validate({**values, "source": source}), number))
    return quotes


def told_figure(answers: Answers, library: Library, key: str, words: str) -> str:
    """The value of a figure that a question asks for, with its remark: the range of a guess where nobody knew."""
    asked = answers.question(key)
    value = answers[key]

    def written(number: float) -> str:
        if key == "hours":
            return f"{number * WEEKS / MONTHS_IN_A_YEAR:.4g}"
        if asked.kind == "amount" and not answers.knows(key):
            return library.amount(number)
        return f"{number:.10g}"

    if answers.knows(key) or asked.low is None or asked.high is None:
        return f"{written(value)} # {words}"
    return f"{written(value)} # guess {written(asked.low)}..{written(asked.high)}: {words}"


def machine_text(library: Library, name: str, price: float | None) -> str:
    """A machine of the library, with the price that was told."""
    text = library.text("machines", name)
    if price is None:
        return text
    return re.sub(r"(?m)^purchase = .*$", f"purchase = {price:.10g} # as you told", text, count=1)


def _pieces(answers: Answers) -> dict[str, Any] | None:
    told_of = answers.said.get("pieces")
    return {"of": told_of.of, "good": told_of.good, "share": f"{told_of.share:.4g}"} if told_of else None


def _pour_good(answers: Answers) -> str:
    """What of a pour comes out good: so that of a week's pieces as many do as were told, over all steps together."""
    plain = Setting().pour_good
    told_of = answers.said.get("pieces")
    casts = [way for way in answers["ways"] if the_library().process(way).takes == "pour"]
    if told_of is None or not casts:
        return plain
    way, there = casts[0], Library(Setting(machines=frozenset(answers["machines"] or ())))
    steps = tomllib.loads(unmarked(there.text("processes", way)))["processes"][way]
    others = math.prod(step.get("good", 1.0) for step in steps if step.get("takes_metal") is None)
    good = min(MOST_GOOD, max(LEAST_GOOD, told_of.share / others))
    return f"{good:.3g} # with the other steps, {told_of.good} of {told_of.of} come out good, as you told"


@dataclass(frozen=True)
class Design:
    """One design being written: made in these metals by this process, in this flask."""

    answers: Answers
    library: Library
    metals: tuple[str, ...]
    way: str
    flask: str | None
    root: Path = Path()
    flask_cm3: float | None = None
    takes: str | None = None

    @cached_property
    def sku(self) -> str:
        words = re.sub(r"[^\w]+", "-", self.answers["piece"].lower()).strip("-_")
        return words[:40].strip("-") or "piece"

    @cached_property
    def file(self) -> str:
        return f"{PRODUCTS_FOLDER}/{file_name(self.root, self.sku)}.toml"

    @cached_property
    def mesh(self) -> dict[str, bytes]:
        """The mesh that comes with it, by its place in the folder."""
        path = self.answers.said.get("piece-file")
        return {f"{MESHES}/{self.sku}{path.suffix.lower()}": path.read_bytes()} if path else {}

    @cached_property
    def metal(self) -> str:
        """The metal of the piece that is weighed."""
        return str(self.answers["piece-alloy"] or self.metals[0])

    @cached_property
    def volume_cm3(self) -> float:
        """Its volume, to guess how many stand on a tree."""
        if path := self.answers.said.get("piece-file"):
            from pricing.meshes.measuring import volume_and_area

            return volume_and_area(path).volume_cm3
        if model := self.answers.said.get("piece-model"):
            return float(model) / float(models(self.library)[self.answers["piece-of"]]["density"])
        return float(self.answers["piece-metal"]) / self.library.alloy(self.metal).density

    def text(self) -> str:
        answers = self.answers
        takes = self.takes or self.library.process(self.way).takes
        sprues = {"pour": "0.5 # guess 0.3..0.9: sprues and runners for each gram of castings, in gram",
                  "cut": "0.35 # guess 0.1..0.8: offcut for each gram of piece, in gram"}  # fmt: skip
        parts = answers.said.get("parts")
        finishing = answers.said.get("finishing")
        return self.library.file(
            "product.toml",
            sku=self.sku,
            called=answers["piece"],
            alloys=self.metals,
            process=self.way,
            flask=self.flask if takes == "pour" else "",
            per_flask=self.per_flask() if takes == "pour" else "",
            sprues=sprues.get(takes, ""),
            told=lambda key, words: told_figure(answers, self.library, key, words),
            volume=self.volume() + self.surface(),
            parts=f"{parts:.10g}" if parts else "",
            finishing=f"{finishing:.10g}" if finishing else "",
        )

    def volume(self) -> str:
        """How its volume is stated, in the lines of its casting."""
        answers = self.answers
        if self.mesh:
            (mesh,) = self.mesh
            return f'mesh = "{mesh}"'
        if model := answers.said.get("piece-model"):
            made_of = models(self.library)[answers["piece-of"]]
            words = made_of["words"].partition(",")[0]
            return f"model_g = {model:.10g}\nmodel_density = {made_of['density']:g} # {words}"
        weight = f"metal_g = {answers['piece-metal']:.10g}"
        if not answers.knows("piece-metal"):
            asked = answers.question("piece-metal")
            weight += f" # guess {asked.low:g}..{asked.high:g}: weigh one"
        return f'{weight}\nin_alloy = "{self.metal}"\nweighed = "finished"'

    def surface(self) -> str:
        """How its surface is stated, where one is asked for; a guess where nobody knows it."""
        if not any(each.key == "piece-area" for each in self.answers.asked):
            return ""
        if known := self.answers.said.get("piece-area"):
            return f"\narea_cm2 = {known:.10g}"
        low, guess, high = (f"{share * self.volume_cm3 ** (2 / 3):.2g}" for share in AREA_BY_VOLUME)
        return f"\narea_cm2 = {guess} # guess {low}..{high}: by its volume; a mesh tells it"

    def per_flask(self) -> str:
        """Castings on a tree: as a week's pieces and flasks say, or guessed by the room in the flask."""
        held = self.flask_cm3 or _flask_cm3(self.library, self.flask or "medium")
        most = max(1, int(MOST_FILLED * held / (self.volume_cm3 * 1.5)))
        told_of, flasks = self.answers.said.get("pieces"), self.answers.said.get("flasks")
        if told_of and flasks and told_of.of >= flasks:
            count, words = round(told_of.of / flasks), f"{told_of.of} pieces in {flasks:g} flasks, as you told"
        else:
            count, words = round(TREE_FILLS * held / self.volume_cm3 ** (2 / 3)), "castings on one tree"
        count = max(1, min(count, most))
        low, high = max(1, math.floor(0.6 * count)), math.ceil(1.5 * count)
        return f"{count} # guess {low}..{max(high, low + 1)}: {words}"


def _flask_cm3(library: Library, name: str) -> float:
    flask = tomllib.loads(unmarked(library.text("flasks", name)))["flasks"][name]
    return flask_room(flask["diameter_mm"], flask["height_mm"])


def flask_room(diameter_mm: float, height_mm: float) -> float:
    """What a flask holds, in cm3."""
    from pricing.formulas.by_itself import by_itself

    return float(by_itself("flask_cm3")(flask_diameter_mm=diameter_mm, flask_height_mm=height_mm))
