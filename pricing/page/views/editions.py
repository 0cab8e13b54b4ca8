"""The view of editions: all that were published, what is in force, what two differ in, and putting one back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.days import day
from pricing.editions.chain import Edition, in_force_on, look_over, newest, read
from pricing.editions.told import flat, head
from pricing.errors import Faults, TroytagError, UsageFault
from pricing.page.framing import frame
from pricing.page.rendering import Frame, page
from pricing.page.views.csv_file import csv_file
from pricing.page.views.edition import EditionInWords, edition_in_words
from pricing.page.views.editions_compared import Compared, compared
from pricing.page.views.faults import faulty
from pricing.page.views.notice import missing
from pricing.page.views.repricing import mark_of
from pricing.page.views.typed import number_typed, with_typed
from pricing.page.workspace import Look, Workspace
from pricing.studies.publishing.editions_compared import flat as flat_compared
from pricing.studies.publishing.editions_compared import records
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.publishing.outlook import outlook
from pricing.studies.repricing.reprice import Repricing, restoring

MOVED = "Something changed since you looked; here is what would be published now. Look again, then put it in force."


@dataclass(frozen=True)
class EditionLine:
    """One edition of the list: from which day it holds and until which, how many of its prices are what.

    `until` is "" of the last one; `stands` says whether it is in force on the day of the page; `restores` the number
    of the edition whose prices it took up again, "" where it did not.
    """

    number: int
    since: str
    until: str
    prices: str
    moved: str
    restores: str
    mark: str
    stands: bool


@dataclass(frozen=True)
class WithdrawAsked:
    """Whether the prices of an edition shall be in force again: what that would change, and the mark of it."""

    back_to: int
    outlook: tuple[str, ...]
    mark: str
    moved: str


@dataclass(frozen=True)
class EditionsContext:
    """All editions, the newest first; `earlier` are those that may be put in force again.

    `shown` is the one that is looked at, `compared` what two differ in, `asks` what withdrawing would do; `trouble`
    says what is wrong with any of them, `sentence` why what was asked for cannot be shown.
    """

    frame: Frame
    lines: tuple[EditionLine, ...]
    trouble: tuple[str, ...]
    earlier: tuple[int, ...]
    before: int
    after: int
    on: str
    sentence: str
    shown: EditionInWords | None
    compared: Compared | None
    asks: WithdrawAsked | None


def editions(request: Request) -> Response:
    """GET /editions?show=2&sku=thimble&alloy=sterling, ?before=1&after=2, ?on=2026-06-01."""
    workspace: Workspace = request.app.state.workspace
    asked = request.query_params
    try:
        look = workspace.look()
    except TroytagError as error:
        return faulty(request, error)
    sentence, status = "", 200
    shown, both = None, None
    try:
        if found := _wanted(workspace, asked):
            shown = edition_in_words(found, look.called, asked.get("sku", ""), asked.get("alloy", ""))
        if asked.get("before") or asked.get("after"):
            first, second = (_number(asked.get(name, "")) for name in ("before", "after"))
            both = compared(read(workspace.root, first), read(workspace.root, second), look.called)
    except TroytagError as error:
        sentence, status = str(error), 422
    return page(request, "editions.html", _context(workspace, look, asked, sentence, shown, both, None), status)


def table(request: Request) -> Response:
    """GET /editions/table.csv?show=2 or ?before=1&after=2: the records of the command, figures in full."""
    workspace: Workspace = request.app.state.workspace
    asked = request.query_params
    try:
        if asked.get("before") or asked.get("after"):
            first, second = (read(workspace.root, _number(asked.get(name, ""))) for name in ("before", "after"))
            name, rows = f"editions-{first.number}-{second.number}", flat_compared(records(first, second))
        else:
            edition = read(workspace.root, _number(asked.get("show", "")))
            name, rows = f"edition-{edition.number}", flat(edition, range(len(edition.content["variants"])))
    except TroytagError as error:
        return missing(request, str(error), 422)
    return csv_file(workspace, name, rows)


async def withdraw(request: Request) -> Response:
    """POST /editions/withdraw: ask whether an earlier edition's prices shall be in force again; with `sure` do it."""

    def withdrawn(workspace: Workspace, look: Look, typed: Mapping[str, str]) -> Response:
        def answer(status: int, sentence: str = "", asks: WithdrawAsked | None = None) -> Response:
            return page(request, "editions.html", _context(workspace, look, {}, sentence, None, None, asks), status)

        try:
            found = _restoring(workspace, look, number_typed({"number": typed.get("back_to", "")}))
            mark, is_sure = mark_of(found), typed.get("sure") == "yes"
            if not is_sure or typed.get("mark") != mark:
                said = tuple(outlook(found).sentences(look.shown))
                asks = WithdrawAsked(found.restores or 0, said, mark, MOVED if is_sure else "")
                return answer(409 if is_sure else 200, asks=asks)
            edition = publish_prices(found)
        except TroytagError as error:
            return answer(422, str(error))
        workspace.forget_words()
        workspace.now_in_force(look, edition)
        workspace.note(
            f"Published: edition {edition.number} of {edition.as_of}, which puts the prices of edition "
            f"{found.restores} in force again. Nothing was deleted."
        )
        return RedirectResponse("/editions", 303)

    return await with_typed(request, withdrawn, most_letters=200)


def _restoring(workspace: Workspace, look: Look, number: int | None) -> Repricing:
    current = newest(workspace.root)
    if current is None or number is None or not 1 <= number < current.number:
        raise UsageFault("there is no earlier edition to restore.")
    return restoring(look.costing, current, read(workspace.root, number))


def _wanted(workspace: Workspace, asked: Mapping[str, str]) -> Edition | None:
    """The edition that is asked for: by its number, or by a day on which it was in force."""
    if text := asked.get("on", "").strip():
        on = day(text)
        assert on is not None
        found = in_force_on(workspace.root, on)
        if found is None:
            raise UsageFault(f"no edition was in force on {text}.")
        return found
    return read(workspace.root, _number(asked["show"])) if asked.get("show") else None


def _number(text: str) -> int:
    found = number_typed({"number": text})
    if found is None:
        raise UsageFault(f'"{text[:40]}" is no edition: choose one of the list.')
    return found


def _context(
    workspace: Workspace,
    look: Look,
    asked: Mapping[str, str],
    sentence: str,
    shown: EditionInWords | None,
    both: Compared | None,
    asks: WithdrawAsked | None,
) -> EditionsContext:
    chain = look_over(workspace.root)
    standing = look.going_out.edition
    heads, trouble = [], [fault.headline() for fault in (*chain.faults, *(note.fault for note in chain.notes))]
    for link in chain.links:
        try:
            heads.append(head(read(workspace.root, link.number)))
        except Faults as wrong:  # its hash is right, and it makes no sense
            trouble += [fault.headline() for fault in wrong.faults]
    numbers = [each["number"] for each in heads]
    last = numbers[-1] if numbers else 0
    before = number_typed({"number": asked.get("before", "")}) or (numbers[-2] if len(numbers) > 1 else last)
    return EditionsContext(
        frame=frame(workspace, look, "editions", "Editions"),
        lines=tuple(_lines(heads, standing.number if standing else 0))[::-1],
        trouble=tuple(dict.fromkeys(trouble)),
        earlier=tuple(reversed(numbers[:-1])),
        before=before,
        after=number_typed({"number": asked.get("after", "")}) or last,
        on=asked.get("on", "")[:40],
        sentence=sentence,
        shown=shown,
        compared=both,
        asks=asks,
    )


def _lines(heads: list[dict[str, Any]], standing: int) -> Iterator[EditionLine]:
    """Each edition, with the day before the next one's as its last."""
    for place, record in enumerate(heads):
        then = heads[place + 1]["as_of"] if place + 1 < len(heads) else ""
        words = {"new": "new", "raised": "raised", "lowered": "lowered", "held": "held"}
        yield EditionLine(
            number=record["number"],
            since=record["as_of"],
            until=str(date.fromisoformat(then) - timedelta(days=1)) if then > record["as_of"] else then,
            prices=f"{record['prices']:,}",
            moved=", ".join(f"{record[key]:,} {word}" for key, word in words.items() if record[key]),
            restores=str(record["restores"] or ""),
            mark=record["sha256"][:12],
            stands=record["number"] == standing,
        )
