"""One more thing for a folder that stands: an alloy, a process, a channel, a product, by the same pieces and questions.

What is written goes behind what stands in a file, so that every comment stays; what a process needs and the workshop
lacks (machines, materials, a flask, somebody's hour) comes with it, and every guess with its doubt. All of it is
written, or nothing.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, get_args

from pricing.errors import UsageFault, did_you_mean
from pricing.folder.files import (
    ALLOYS_FILE,
    CHANNELS_FILE,
    DOUBTS_FILE,
    PRICES_FILE,
    PROCESSES_FILE,
    PRODUCTS_FOLDER,
    WORKSHOP_FILE,
)
from pricing.folder.prices.append import with_lines
from pricing.folder.read import Folder, read_folder
from pricing.folder.toml.text import read_content
from pricing.folder.whole_files import held, put_in_places
from pricing.folder.write import Edit, Insert, with_edits
from pricing.model.alloy import Alloy
from pricing.model.metals import main_element
from pricing.model.quote import Quote
from pricing.starting.answers import Answers, answered
from pricing.starting.guesses import doubts_in, told
from pricing.starting.library import ASSAY_STEPS, MARKED, Library, Setting, the_library
from pricing.starting.questions import PRICE, Question, of_a_piece, questions
from pricing.starting.whole import Design, doubt_lines, flask_room, headed, machine_text, quote_lines

What = Literal["alloy", "process", "channel", "product"]
WHATS: tuple[str, ...] = get_args(What)
#: The question that says which piece of the library, the kind of the pieces, and the file that they are written in.
PIECES: Mapping[str, tuple[str, str, str]] = MappingProxyType(
    {
        "alloy": ("metals", "alloys", ALLOYS_FILE),
        "process": ("ways", "processes", PROCESSES_FILE),
        "channel": ("channels", "channels", CHANNELS_FILE),
    }
)
#: The step that takes what `finishing` asks for.
FINISH = "finish"
#: The heading of the questions about one more design.
ONE_MORE_PIECE = "The piece"
_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,59}")


@dataclass(frozen=True)
class Added:
    """What was added: its names, and the files that were written, relative to the folder."""

    names: tuple[str, ...]
    files: tuple[str, ...]


@dataclass(frozen=True)
class Adding:
    """One more thing for a folder, as it was read; `called` is the name that it gets, where not the library's own."""

    folder: Folder
    what: What
    called: str | None = None

    @cached_property
    def _stated(self) -> Any:
        return self.folder.stated

    def again(self) -> Adding:
        """The same, for the folder as it lies there now."""
        return replace(self, folder=read_folder(self.folder.root))

    @cached_property
    def _there(self) -> frozenset[str]:
        """The names of this kind that are taken."""
        if self.what == "product":
            return frozenset(self.folder.goods) | frozenset(self._stated.products)
        return frozenset(getattr(self._stated, PIECES[self.what][1]))

    def library(self, said: Mapping[str, Any]) -> Library:
        """The library in the setting of this folder."""
        stated = self._stated
        workshop, taxes = stated.workshop, [each.tax for each in stated.channels.values() if each.tax.rate]
        own = [name for name, role in workshop.labour.items() if role.own]
        machines = {*workshop.machines, *(said.get("machines") or ())}
        if said.get("machines") is None and self.what == "process":
            machines |= set(the_library().machines_of(said.get("ways") or ()))
        return Library(
            Setting(
                currency=workshop.currency,
                abroad=said.get("abroad") or ("EUR" if workshop.currency == "USD" else "USD"),
                role=(own or list(workshop.labour) or [Setting().role])[0],
                machines=frozenset(machines),
                assay=said.get("assay", workshop.currency == "GBP"),
                tax=taxes[0].rate if taxes else 0.0,
                alloys=stated.alloys,
            )
        )

    def asking(self, said: Mapping[str, Any]) -> Sequence[Question]:
        """The questions that are asked for it, by what was answered so far."""
        known = {"currency": self._stated.workshop.currency, "metals": tuple(self._stated.alloys), **said}
        if self.what == "product":
            return self._of_a_product(said)
        key, kind, _ = PIECES[self.what]
        plain = the_library()
        chosen = said.get(key) or self._guessed(plain, kind)
        asked = questions(
            plain if self.what == "alloy" else self.library(said),
            {**known, key: chosen, **({"metals": chosen} if self.what == "alloy" else {})},
        )
        return [each for each in (self._mine(one, key, chosen) for one in asked) if each is not None]

    def _guessed(self, plain: Library, kind: str) -> tuple[str, ...]:
        """The first of the library that is not there yet."""
        free = [name for name in plain.names(kind) if name not in self._there or self.called]
        return tuple(free[:1]) or plain.names(kind)[:1]

    def _mine(self, question: Question, key: str, guess: tuple[str, ...]) -> Question | None:
        """A question as it is asked here; None for one that the folder answers, or that is none of this."""
        stated = self._stated
        if question.key == key:
            there = self._there
            choices = tuple(
                (name, f"{words.partition(': ')[0]} (there already)" if name in there else words)
                for name, words in question.choices
            )
            return replace(question, choices=choices, guess=guess)
        quoted = {quote.metal for quote in stated.quotes}
        if self.what == "alloy" and question.key.startswith(PRICE):
            return question if question.key.removeprefix(PRICE) not in quoted else None
        if self.what == "process":
            if question.key == "machines":
                lacking = tuple(each for each in question.choices if each[0] not in stated.workshop.machines)
                names = tuple(name for name, _ in lacking)
                return replace(question, choices=lacking, guess=names) if lacking else None
            wanted = {"assay"} | ({"flask"} if not stated.workshop.flasks else set())
            return question if question.key in wanted else None
        if self.what == "channel" and question.key == "abroad":
            return question
        return question if self.what == "channel" and question.key == "rate" and not self._has_rate(question) else None

    def _has_rate(self, question: Question) -> bool:
        abroad = question.words.split()[2]
        return any(quote.metal == abroad and quote.per == "unit" for quote in self._stated.quotes)

    def _of_a_product(self, said: Mapping[str, Any]) -> Sequence[Question]:
        stated = self._stated
        library = self.library(said)
        said = {"currency": stated.workshop.currency, **said}
        known = library.names("processes")
        ways = tuple(
            (name, library.title("processes", name) if name in known else name)
            for name, steps in stated.processes.items()
            if any(x.takes_metal for x in steps)
        )
        alloys = tuple((name, alloy.name) for name, alloy in stated.alloys.items())
        if not ways or not alloys:
            lacking = "process" if not ways else "alloy"
            raise UsageFault(f"There is no {lacking} yet to make it. Add one: troytag add FOLDER {lacking}")
        way = said.get("piece-way") or ways[0][0]
        steps = stated.processes[way]
        by_surface = any(use.goes_by_surface for step in steps for use in step.uses)
        made = tuple(said.get("metals") or self._alloys_of(way))
        (metals,) = (each for each in questions(library, said) if each.key == "metals")
        asked = of_a_piece(library, said, [each for each in alloys if each[0] in made], ways, by_surface)
        words, sisters = "In which metals it is made", self._alloys_of(way)
        found = [each for each in asked if each.key != "finishing" or any(step.name == FINISH for step in steps)]
        found.insert(1, replace(metals, words=words, choices=alloys, guess=sisters, short=False))
        found[0] = replace(found[0], guess=f"Piece {len(stated.products) + 1}")  # its name comes first
        return [replace(each, part=ONE_MORE_PIECE) for each in found]

    def _alloys_of(self, way: str) -> tuple[str, ...]:
        """The alloys in which other products are made this way; all that there are where none is."""
        made = [each.alloys or () for each in self.folder.products.values() if each.process == way]
        return tuple(dict.fromkeys(name for alloys in made for name in alloys)) or tuple(self._stated.alloys)

    def contents(self, answers: Answers, today: date) -> tuple[tuple[str, ...], dict[str, bytes]]:
        """The names of what is added, and the files as they shall be. Raises UsageFault for a name that is taken."""
        for slip in answers.slips.values():
            raise UsageFault(f"{slip.problem}. {slip.mend}")
        library = self.library(answers.said)
        doubts: dict[str, dict[str, str]] = {}
        if self.what == "product":
            if self.called:
                raise UsageFault("--as names alloys, processes and channels. Say what a product is called behind it.")
            design = self._design(answers, library)
            self._refuse_taken((design.sku,), design.file)
            text, ranges = told(headed(design.file, design.text()))
            doubts[design.file] = doubts_in(design.file, text, ranges, f"{PRODUCTS_FOLDER}.{design.sku}.")
            new = {design.file: text.encode(), **design.mesh}
            return (design.sku,), new | self._doubted(library, doubts)
        key, kind, file = PIECES[self.what]
        names = tuple(answers[key])
        if self.called and (len(names) != 1 or not _NAME.fullmatch(self.called)):
            raise UsageFault("--as gives one thing a name of lower-case letters, digits and hyphens.")
        self._refuse_taken((self.called,) if self.called else names, file)
        blocks = {file: [library.text(kind, name, self.called) for name in names]}
        if self.what == "process":
            blocks[WORKSHOP_FILE] = self._needed(answers, library, names)
        new = {}
        for changed, texts in blocks.items():
            if texts:
                text, ranges = told("\n\n".join(texts))
                doubts[changed] = doubts_in(changed, text, ranges)
                new[changed] = self._behind(changed, text)
        if self.what == "alloy" and (edits := self._in_lists(self.called or names[0], library.alloy(names[0]))):
            new[PROCESSES_FILE] = with_edits(PROCESSES_FILE, read_content(self.folder.root, PROCESSES_FILE), edits)
        if quotes := self._quotes(answers, library, names, today):
            new[PRICES_FILE] = with_lines(read_content(self.folder.root, PRICES_FILE), quotes)
        return (self.called,) if self.called else names, new | self._doubted(library, doubts)

    def _in_lists(self, name: str, alloy: Alloy) -> list[Edit]:
        """The edits that put a silver into the lists of the steps of its assay."""
        if main_element(alloy.composition) != "Ag":
            return []
        marking = {f"{step}, {metal}" for step in ASSAY_STEPS for metal, element, _ in MARKED if element == "Ag"}
        return [
            Insert((PIECES["process"][1], process, place, "alloys", len(step.alloys)), name)
            for process, steps in self._stated.processes.items()
            for place, step in enumerate(steps)
            if step.name in marking and step.alloys
        ]

    def _refuse_taken(self, names: Sequence[str | None], file: str) -> None:
        for name in names:
            if name in self._there:
                mend = (
                    "Give it another name."
                    if self.what == "product"
                    else "Give it another name, on the command line with --as."
                )
                raise UsageFault(f'{file} has "{name}" already, and nothing was changed. {mend}')

    def _design(self, answers: Answers, library: Library) -> Design:
        workshop, way = self._stated.workshop, answers["piece-way"] or self._ways()[0]
        takes = next(step.takes_metal for step in self._stated.processes[way] if step.takes_metal)
        by_flask = any(step.per == "flask" for step in self._stated.processes[way])
        flask = next(iter(workshop.flasks), None)
        if by_flask and flask is None:
            raise UsageFault(f"{WORKSHOP_FILE} has no flask yet for {way}. Add one, such as [flasks.medium].")
        held_cm3 = flask_room(workshop.flasks[flask].diameter_mm, workshop.flasks[flask].height_mm) if flask else None
        return Design(answers, library, tuple(answers["metals"]), way, flask, self.folder.root, held_cm3, takes)

    def _ways(self) -> list[str]:
        return [name for name, steps in self._stated.processes.items() if any(each.takes_metal for each in steps)]

    def _needed(self, answers: Answers, library: Library, names: Sequence[str]) -> list[str]:
        """What these processes need and the workshop lacks, as text."""
        workshop, needs = self._stated.workshop, [library.process(name) for name in names]
        said = answers.said.get("machines") or {}
        machines = [name for need in needs for name in need.machines if name not in workshop.machines]
        materials = [name for need in needs for name in need.materials if name not in workshop.materials]
        texts = []
        if library.setting.role not in workshop.labour:
            texts.append(library.hour())
        if machines and workshop.energy is None:
            texts.append(library.energy())
        texts += [machine_text(library, name, said.get(name)) for name in dict.fromkeys(machines)]
        texts += [library.text("materials", name) for name in dict.fromkeys(materials)]
        if any(need.takes == "pour" for need in needs) and not workshop.flasks:
            texts.append(library.text("flasks", answers["flask"]))
        return texts

    def _quotes(self, answers: Answers, library: Library, names: Sequence[str], today: date) -> list[tuple[Quote, str]]:
        quoted = {quote.metal for quote in self._stated.quotes}
        metals = [m for m in the_library().priced_by(names) if m not in quoted] if self.what == "alloy" else []
        asked = any(each.key == "rate" for each in answers.asked)
        rates = [(library.setting.abroad, answers["rate"], answers.knows("rate"))] if asked else []
        return quote_lines(answers, library, metals, rates, today)

    def _behind(self, file: str, text: str) -> bytes:
        """The file with this text behind what stands in it, in its own line ends."""
        content = read_content(self.folder.root, file)
        line_end = b"\r\n" if b"\r\n" in content else b"\n"
        gap = b"" if not content.removeprefix(codecs.BOM_UTF8).strip() else line_end
        gap = line_end + gap if content and not content.endswith((b"\n", b"\r")) else gap
        return content + gap + text.strip().encode().replace(b"\n", line_end) + line_end

    def _doubted(self, library: Library, doubts: Mapping[str, Mapping[str, str]]) -> dict[str, bytes]:
        lines = doubt_lines({file: found for file, found in doubts.items() if found})
        if not lines:
            return {}
        if (self.folder.root / DOUBTS_FILE).exists():
            return {DOUBTS_FILE: self._behind(DOUBTS_FILE, lines)}
        return {DOUBTS_FILE: (headed(DOUBTS_FILE, library.file(DOUBTS_FILE)) + lines).encode()}


def add(root: Path, what: What, typed: Mapping[str, Any], today: date, called: str | None = None) -> Added:
    """Add one more thing to a folder, by what was typed.

    Raises UsageFault for a name that is taken or an answer that is none, Faults where the folder has faults, now or
    with it; then nothing has been written.
    """
    with held(root):
        adding = Adding(read_folder(root), what, called)
        answers = answered(typed, adding.asking)
        return put(adding, answers, today)


def put(adding: Adding, answers: Answers, today: date) -> Added:
    """Write what is added; the caller holds the folder."""
    folder = adding.folder
    names, contents = adding.contents(answers, today)
    read_folder(folder.root, contents)
    expected = {file: folder.hashes.get(file) for file in contents}
    put_in_places(folder.root, contents, expected, f"adding {names[0]}")
    return Added(names, tuple(contents))


def known_what(what: str) -> What:
    """One of the things that can be added. Raises UsageFault for any other word."""
    if what not in WHATS:
        raise UsageFault(f'"{what}" is nothing that can be added. {did_you_mean(what, WHATS, most=len(WHATS))}')
    return what  # type: ignore[return-value]  # it is one of them
