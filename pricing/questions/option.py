"""One option of a question: its flag on the command line, its field on the page, what it may hold.

Nothing heavy is imported by this module: the help of the command line reads it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from pricing.errors import UsageFault, did_you_mean

#: What an option holds: the name of something in the folder, a whole number, a number, yes or no, words, or a
#: file, which only a command line can name.
Kind = Literal["product", "alloy", "channel", "count", "number", "switch", "words", "file"]
#: How a number is written.
WRITTEN = "Write it in digits, as in"


def no_number(text: str) -> str:
    """Why this is no number, as the end of a sentence, and how the one that it may mean is written."""
    from pricing.folder.toml.number_meant import as_fraction, proposed, readings

    if text.strip().endswith("%"):
        fraction = as_fraction(text)
        return f'"{text}" is no number. ' + (f"Write {fraction}." if fraction else f"{WRITTEN} 0.2 for 20 %.")
    meant = readings(text)
    return f'"{text}" is no number. ' + (f"Write {proposed(meant)}." if meant else f"{WRITTEN} 2.5.")


class Refused(UsageFault):
    """What was typed for one option cannot be; `option` is its name."""

    def __init__(self, option: str, sentence: str):
        super().__init__(sentence)
        self.option = option


@dataclass(frozen=True)
class Option:
    """One thing that may be said with a question.

    `name` is its name in Python; `about` a sentence for both faces; `label` what the page calls it. `several` holds a
    list, `example` stands for one of it in the help, `typed` is one as the page's empty field shows it. What is not
    `required` and has no `default` may be left out. `on_page` is False for what only a command line can name, as a
    file; a page waits for no more than `most_on_page`.
    """

    name: str
    kind: Kind
    about: str
    label: str = ""
    default: Any = None
    required: bool = False
    several: bool = False
    example: str = ""
    typed: str = ""
    on_page: bool = True
    most_on_page: float | None = None

    @property
    def flag(self) -> str:
        """What it is called on the command line: `--up-to`."""
        return f"--{self.name.replace('_', '-')}"

    @property
    def called(self) -> str:
        """What it is called on the page."""
        return self.label or self.name.replace("_", " ").capitalize()

    def value_of(self, texts: Sequence[str]) -> Any:
        """What was typed on a page, as the command line would hand it over. Raises Refused."""
        said = [text.strip() for text in texts if text.strip()]
        if self.kind == "switch":
            return bool(said)
        if self.several:
            return [self._one(text) for text in said] or None
        if not said:
            if self.required:
                raise Refused(self.name, f"{self.called} is not said. {self.about}")
            return self.default
        value = self._one(said[0])
        if self.most_on_page is not None and value > self.most_on_page:
            raise Refused(
                self.name, f"{value:g} takes long: {self.most_on_page:g} is the most here, more on the command line."
            )
        return value

    def _one(self, text: str) -> Any:
        if self.kind == "count":
            try:
                return self.within(int(text))
            except ValueError:
                raise Refused(self.name, f'"{text}" is no whole number. {WRITTEN} 12.') from None
        if self.kind == "number":
            try:
                figure = float(text)
            except ValueError:
                figure = math.nan
            if not math.isfinite(figure):
                raise Refused(self.name, no_number(text))
            return self.within(figure)
        return text

    def within(self, value: Any) -> Any:
        """What was said, where every number in it is one that a workshop can have. Raises Refused."""
        from pricing.extremes import LARGEST, beyond

        for each in value if isinstance(value, list | tuple) else (value,):
            if type(each) is float and math.isnan(each):
                raise Refused(self.name, f"{self.flag}: {no_number('nan')}")
            problem = beyond(each)
            if type(each) is int and abs(each) > LARGEST:  # maybe more than a float holds
                problem = "this number is larger than anything in a workshop"
            if problem:
                raise Refused(self.name, f"{self.flag}: {problem}. Look it up again.")
        return value


def chosen(option: str, kind: str, names: Sequence[str] | None, known: Iterable[str]) -> list[str]:
    """The names that were said, all of `known` where none was, in their order. Raises Refused for an unknown one."""
    known = list(known)
    if not names:
        return known
    for name in names:
        if name not in known:
            raise Refused(option, f'no {kind} "{name}". {did_you_mean(name, known)}')
    return [name for name in known if name in names]
