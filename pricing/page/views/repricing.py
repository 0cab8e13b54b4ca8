"""The view of repricing: every price in force looked at again, why it would move, accepted or held row by row."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.errors import TroytagError
from pricing.page.forms.sent import texts_of
from pricing.page.framing import frame
from pricing.page.plot import Waterfall, waterfall
from pricing.page.rendering import Frame, is_part, minus, minus_in, page
from pricing.page.stamps import Stamp
from pricing.page.views.faults import faulty
from pricing.page.views.notice import missing
from pricing.page.workspace import Look, Workspace
from pricing.shown import percent
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.publishing.outlook import outlook
from pricing.studies.publishing.rates_moved import rates_moved
from pricing.studies.repricing.reprice import RepricedRow, Repricing, Verdict, Word
from pricing.studies.repricing.told import reason_sentence

PAGE_ROWS = 60
VERDICTS: Mapping[Verdict, str] = MappingProxyType(
    {"raise": "raise", "lower": "lower", "new": "new", "hold": "hold", "gone": "sold no more"}
)
#: The maker's words for a price, as the form sends them.
WORDS: Mapping[str, Word] = MappingProxyType({"accept": "accept", "hold": "hold"})
#: Which rows may be asked for.
KINDS: Mapping[str, str] = MappingProxyType({"open": "what is open", "moves": "what moves", "all": "all prices"})
MOVED = "These figures changed since you looked, so your word was not taken. Look at them, then say it again."
#: Parts of a waterfall that stand by themselves.
MOST_PARTS = 9


@dataclass(frozen=True)
class RowInWords:
    """One price: what is in force and earns, what is asked, the verdict and its reason; `word` is the maker's own.

    `shown` goes along with a word: the figures that it is about.
    """

    sku: str
    name: str
    alloy: str
    alloy_name: str
    stamp: Stamp | None
    channel: str
    where: str
    held: str
    earns: str
    asked: str
    would_earn: str
    verdict: str
    verdict_word: str
    to: str
    because: str
    word: str
    can_be_told: bool
    key: str
    why: str
    shown: str


@dataclass(frozen=True)
class RepriceContext:
    """The rows of one page, how many of each verdict there are, and the mark of what would be published.

    `rates` tells the exchange rates that are not what they were and move what channels ask.
    `outlook` says what publishing would change; it stands only where the maker is asked whether to do it.
    """

    frame: Frame
    rows: tuple[RowInWords, ...]
    counts: tuple[tuple[str, int], ...]
    in_force: str
    rates: tuple[str, ...]
    kind: str
    kinds: Mapping[str, str]
    channel: str
    channels: tuple[str, ...]
    query: str
    number: int
    pages: int
    count: int
    before: str
    after: str
    moves: int
    mark: str
    asks: str
    outlook: tuple[str, ...]


@dataclass(frozen=True)
class RowContext:
    """One row by itself, and the line above the list that counts them again; `moved` why a word was not taken."""

    row: RowInWords
    counts: tuple[tuple[str, int], ...]
    moves: int
    mark: str
    moved: str = ""


@dataclass(frozen=True)
class WhyContext:
    """Why the cost behind a price changed since it was set."""

    row: RowInWords
    sentence: str
    fall: Waterfall | None


def repricing(request: Request) -> Response:
    """GET /reprice."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
        found = workspace.repricing(look)
    except TroytagError as error:
        return faulty(request, error)
    return page(
        request, "reprice_rows.html" if is_part(request) else "reprice.html", _context(request, workspace, look, found)
    )


async def decide(request: Request) -> Response:
    """POST /reprice/word: the maker's word for one price: accept, hold, or as proposed."""

    def take_the_word(workspace: Workspace, look: Look, fields: Mapping[str, str]) -> Response:
        found = workspace.repricing(look)
        row = _row(found, fields)
        if row is None:
            return missing(request, "This price is not there any more.")
        moved = fields.get("shown") != _shown_figures(row)
        if not moved:
            workspace.say((row.sku, row.alloy, row.channel), WORDS.get(fields.get("word", "")))
            found = workspace.repricing(look)
            row = _row(found, fields) or row
        context = RowContext(
            _row_in_words(workspace, look, row),
            _counts(found),
            len(found.moved()),
            mark_of(found),
            MOVED if moved else "",
        )
        return page(request, "reprice_row.html", context, 409 if moved else 200)

    return await _with_fields(request, take_the_word)


def why(request: Request) -> Response:
    """GET /reprice/why?sku=…&alloy=…&channel=…: the waterfall of one price's cost."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
        found = workspace.repricing(look)
        row = _row(found, request.query_params)
        if row is None:
            return missing(request, "This price is not there any more.")
        told = _row_in_words(workspace, look, row)
        changes = workspace.why(found, [row])
    except TroytagError as error:
        return faulty(request, error)
    change = changes.of_cost(row)
    if change is None:
        why_not = changes.missing.get(row.in_force.set_in, "it is new") if row.in_force else "it is not published yet"
        return page(request, "reprice_why.html", WhyContext(told, f"Nothing to compare with: {why_not}.", None))
    shown = look.shown

    def write(amount: float, signed: bool = False) -> str:
        return minus(shown.money(amount, signed))

    parts = [(group.label, part) for group, part in change.shown_parts(shown.currency)]
    if len(parts) > MOST_PARTS:
        rest = parts[MOST_PARTS - 1 :]
        parts = [*parts[: MOST_PARTS - 1], (f"{len(rest)} others", sum(part for _, part in rest))]
    if not parts:
        sentence = f"One costs {write(change.after)}, as on {change.since}."
        return page(request, "reprice_why.html", WhyContext(told, sentence, None))
    title = f"From what one cost on {change.since} to what it costs now, {shown.currency}"
    fall = waterfall(title, (f"on {change.since}", change.before), parts, ("now", change.after), write)
    sentence = f"One costs {write(change.after)}; {write(change.before)} when this price was set, on {change.since}."
    return page(request, "reprice_why.html", WhyContext(told, sentence, fall))


async def publish(request: Request) -> Response:
    """POST /reprice/publish: ask whether to make it the new edition; with `sure` do it, if it is what was looked at."""

    def published(workspace: Workspace, look: Look, fields: Mapping[str, str]) -> Response:
        found = workspace.repricing(look)
        if fields.get("mark") != mark_of(found):
            asks = "Something changed since you looked; here is what would be published now. Look again, then publish."
            return page(request, "reprice.html", _context(request, workspace, look, found, asks), 409)
        if not found.moved():
            workspace.note("Nothing moves: the edition in force stays.")
            return RedirectResponse("/reprice", 303)
        if fields.get("sure") != "yes":
            ask = tuple(outlook(found).sentences(look.shown))
            return page(request, "reprice.html", _context(request, workspace, look, found, outlook_said=ask))
        try:
            edition = publish_prices(found)
        except TroytagError as error:
            return page(request, "reprice.html", _context(request, workspace, workspace.look(), found, str(error)), 409)
        workspace.forget_words()
        workspace.now_in_force(look, edition)
        workspace.note(f"Published: edition {edition.number} of {edition.as_of}.")
        return RedirectResponse("/reprice", 303)

    return await _with_fields(request, published)


async def _with_fields(request: Request, then: Callable[[Workspace, Look, Mapping[str, str]], Response]) -> Response:
    workspace: Workspace = request.app.state.workspace
    fields = {name: text[:300] for name, text in await texts_of(request, 20)}

    def worked() -> Response:
        try:
            return then(workspace, workspace.look(), fields)
        except TroytagError as error:
            return faulty(request, error)

    return await run_in_threadpool(worked)


def _row(found: Repricing, fields: Mapping[str, str]) -> RepricedRow | None:
    wanted = tuple(fields.get(name, "") for name in ("sku", "alloy", "channel"))
    return next((row for row in found.rows if (row.sku, row.alloy, row.channel) == wanted), None)


def _shown_figures(row: RepricedRow) -> str:
    """The figures that a word for a price is about, in force and asked; what the form showed is sent along with it."""
    return f"{row.held!r} {row.asked!r}"


def mark_of(found: Repricing) -> str:
    """What would be published, in a few letters: two lists that differ in any price have other marks."""
    said = "\n".join(f"{row.sku}\t{row.alloy}\t{row.channel}\t{row.verdict}\t{row.to!r}" for row in found.rows)
    number = found.edition.number if found.edition else 0
    about = f"{number} {found.costing.asked.as_of} {found.restores or 0}"
    return hashlib.sha256(f"{about}\n{said}".encode()).hexdigest()[:32]


def _counts(found: Repricing) -> tuple[tuple[str, int], ...]:
    count = Counter(row.verdict for row in found.rows)
    return tuple((VERDICTS[verdict], count[verdict]) for verdict in VERDICTS if count[verdict])


def _context(
    request: Request,
    workspace: Workspace,
    look: Look,
    found: Repricing,
    asks: str = "",
    outlook_said: tuple[str, ...] = (),
) -> RepriceContext:
    asked = request.query_params
    kind = asked.get("kind", "open") if asked.get("kind") in KINDS else "open"
    channels = tuple(look.costing.folder.stated.channels)
    channel = asked.get("channel", "") if asked.get("channel") in channels else ""
    query = asked.get("query", "").strip()[:120]
    rows = [row for row in found.rows if _is_wanted(workspace, look, row, kind, channel, query)]
    pages = max(1, -(-len(rows) // PAGE_ROWS))
    wanted = asked.get("number", "1")
    number = min(max(1, int(wanted) if wanted.isascii() and wanted.isdigit() and len(wanted) < 7 else 1), pages)
    choice = {"kind": kind, "channel": channel, "query": query}

    def address(at: int) -> str:
        return "/reprice?" + urlencode({**choice, "number": at})

    edition = found.edition
    return RepriceContext(
        frame=frame(workspace, look, "reprice", "Reprice"),
        rows=tuple(_row_in_words(workspace, look, row) for row in rows[(number - 1) * PAGE_ROWS : number * PAGE_ROWS]),
        counts=_counts(found),
        in_force=f"Edition {edition.number} of {edition.as_of} is in force."
        if edition
        else "No edition is published yet.",
        rates=tuple(f"{moved.sentence}." for moved in rates_moved(found)),
        kind=kind,
        kinds=KINDS,
        channel=channel,
        channels=channels,
        query=query,
        number=number,
        pages=pages,
        count=len(rows),
        before=address(number - 1) if number > 1 else "",
        after=address(number + 1) if number < pages else "",
        moves=len(found.moved()),
        mark=mark_of(found),
        asks=asks or " ".join(look.lost_editions),
        outlook=outlook_said,
    )


def _is_wanted(workspace: Workspace, look: Look, row: RepricedRow, kind: str, channel: str, query: str) -> bool:
    if channel and row.channel != channel:
        return False
    if kind == "moves" and row.verdict == "hold":
        return False
    is_said = (row.sku, row.alloy, row.channel) in workspace.words
    if kind == "open" and row.verdict == "hold" and row.reason in ("same", "fixed") and not is_said:
        return False
    product = look.products.get(row.sku)
    text = f"{row.sku} {product.name if product else ''} {row.alloy} {row.channel}".casefold()
    return all(word in text for word in query.casefold().split())


def _row_in_words(workspace: Workspace, look: Look, row: RepricedRow) -> RowInWords:
    shown = look.shown
    name, alloy_name, stamp = look.called(row.sku, row.alloy)
    words = urlencode({"sku": row.sku, "alloy": row.alloy, "channel": row.channel})
    return RowInWords(
        sku=row.sku,
        name=name,
        alloy=row.alloy,
        alloy_name=alloy_name,
        stamp=stamp,
        channel=row.channel,
        where=shown.channel(row.channel),
        held=shown.price(row.channel, row.held),
        earns=minus(percent(row.earns)),
        asked=shown.price(row.channel, row.asked),
        would_earn=minus(percent(row.would_earn)),
        verdict=row.verdict,
        verdict_word=VERDICTS[row.verdict],
        to="" if row.to is None or row.verdict == "hold" else shown.price(row.channel, row.to),
        because=minus_in(reason_sentence(row, look.costing.folder.stated, shown)),
        word=workspace.words.get((row.sku, row.alloy, row.channel), ""),
        can_be_told=row.held is not None and row.asked is not None,
        key="row-" + hashlib.sha256(words.encode()).hexdigest()[:12],
        why=f"/reprice/why?{words}",
        shown=_shown_figures(row),
    )
