"""Contexts to pages: every template gets one dataclass and nothing else, and everything in it is escaped."""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from functools import cache
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape
from starlette.requests import Request
from starlette.responses import HTMLResponse

from pricing.page.labels import LABELS
from pricing.resources import templates
from pricing.shown import percent

#: An address in a template, written from the root. What a file says cannot look so: its quotation marks are escaped.
_ADDRESS = re.compile(r'(?<= )((?:href|src|action|formaction|hx-get|hx-post|data-mesh)=")/')

_DAY = re.compile(r"(?<![\w-])(\d{4}-\d\d-\d\d)(?![\w-])")


@dataclass(frozen=True)
class Frame:
    """What stands around every view.

    `view` is its name in the navigation, `workshop` the maker's name for it, `day` the day whose quotes count,
    `metal_of` of which day the newest of them is,
    `currency` what amounts are in, `notes` sentences about the folder that are no faults, `said` what was just done.
    """

    view: str
    title: str
    workshop: str
    day: str
    metal_of: str
    currency: str
    notes: tuple[str, ...] = ()
    said: str = ""

    @property
    def initials(self) -> str:
        """The first letters of the workshop's first two words, for its mark."""
        return "".join(word[0] for word in self.workshop.split()[:2] if word[0].isalnum()).upper()


@cache
def environment() -> Environment:
    """The templates of the page."""
    made = Environment(
        loader=FileSystemLoader(templates() / "page"),
        autoescape=True,  # whatever a file is called
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["labels"] = LABELS
    made.filters["days"] = days
    made.globals["sheets"] = frozenset(each.stem for each in (templates() / "page" / "static" / "views").glob("*.css"))
    return made


def days(sentence: str) -> Markup:
    """A sentence whose days do not break over two lines."""
    return Markup(_DAY.sub(r'<span class="whole">\1</span>', str(escape(sentence))))


def page(request: Request, template: str, context: Any, status: int = 200) -> HTMLResponse:
    """A template with its context: a dataclass whose fields are the template's names.

    Addresses stand in templates and contexts from the root; here the room is put before them in which the page stands.
    """
    names = {each.name: getattr(context, each.name) for each in fields(context)}
    text = environment().get_template(template).render(names)
    room = request.scope.get("root_path", "")
    return HTMLResponse(_ADDRESS.sub(lambda found: f"{found[1]}{room}/", text), status)


def closed_door(sentence: str, script: str) -> str:
    """The page of who is not let in; `script` may know a way in, "" for none."""
    return environment().get_template("closed.html").render(sentence=sentence, script=script)


def is_part(request: Request) -> bool:
    """Whether only a part of the page is asked for, to be put in its place by htmx."""
    return request.headers.get("hx-request") == "true" and request.headers.get("hx-history-restore-request") != "true"


def minus(text: str) -> str:
    """A figure as print has it: with the sign for minus, not the hyphen that terminals and files have."""
    return text.replace("-", "\N{MINUS SIGN}")


def minus_in(sentence: str) -> str:
    """A sentence with the sign for minus before its figures; days and names keep their hyphens."""
    return re.sub(r"(?<![\w-])-(?=\d)", "\N{MINUS SIGN}", sentence)


def moved(fraction: float) -> str:
    """How far something moved: `+4.3 %`, with the sign for minus."""
    return minus(percent(fraction, 1, signed=True))
