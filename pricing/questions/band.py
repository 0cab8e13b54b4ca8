"""How often, and from which difference on, it pays to change prices, by a real history of metal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pricing.errors import UsageFault
from pricing.questions.history import OPTIONS, history_of
from pricing.questions.model import Answer, Question, Table
from pricing.questions.option import Option, Refused, chosen

if TYPE_CHECKING:
    from pricing.questions.subject import Subject
    from pricing.studies.band.back_test import Fared

#: The intervals and bands of the table on a screen; all are in the JSON and the CSV.
SHOWN_INTERVALS = (7, 28, 91, 182, 365)
SHOWN_BANDS = (0.0, 0.01, 0.02, 0.04, 0.06, 0.10)


def answer(subject: Subject, said: Mapping[str, Any]) -> Answer:
    """Bands and intervals tried on a history, and the one where one change more begins to save less."""
    from dataclasses import asdict

    from pricing.studies.band.back_test import back_test, frontier, recommended
    from pricing.studies.band.plot import frontier_drawing
    from pricing.studies.metal_history.moves import check_long_enough

    costing, stated = subject.costing, subject.stated
    channels = chosen("channel", "channel", said["channel"], stated.channels)
    told, called = history_of(subject, said)
    check_long_enough(told)
    results = back_test(costing, told, channels, progress=subject.progress)
    if not results:
        raise UsageFault("every price in these channels is fixed: there is nothing to try.")
    look_every = said["look_every"]
    open_to = [each for each in results if each.interval >= look_every]
    if not open_to:
        longest = max(each.interval for each in results)
        raise Refused("look_every", f"--look-every {look_every}: the longest interval tried is {longest}.")
    best = recommended(open_to, said["at_most"])
    edge = {(each.keep_within, each.interval) for each in frontier(results)}
    span = f"{called}, {told.first} to {told.last}, {len(told.days)} days with prices"
    file = said.get("history") or subject.folder.root
    return Answer(
        blocks=(
            subject.head_of(costing.computed),
            f"By {span}; all but metal as on {costing.computed.resolved.as_of}; {', '.join(channels)}.",
            "\nChanges a year of each price / points of margin given away on average,\n"
            "by how often you look, and how many points of margin you let pass:\n",
            _table(results, best),
            "\nRecommended",
            _recommended(best),
        ),
        rows=[{**asdict(each), "on_frontier": (each.keep_within, each.interval) in edge} for each in results],
        rows_named="policies",
        document={
            "first": told.first.isoformat(),
            "last": told.last.isoformat(),
            "days": len(told.days),
            "notes": list(told.notes),
            "recommended": asdict(best),
        },
        drawing=frontier_drawing(results, best, f"{stated.workshop.name}: {span}"),
        notes=tuple(f"{file}: {note}" for note in told.notes),
    )


def _table(results: Sequence[Fared], best: Fared) -> Table:
    known = {(each.interval, each.keep_within): each for each in results}
    intervals = sorted({*SHOWN_INTERVALS, best.interval} & {each.interval for each in results})
    bands = sorted({*SHOWN_BANDS, best.keep_within} & {each.keep_within for each in results})
    lines = []
    for interval in intervals:
        cells = [known[interval, width] for width in bands]
        told = [f"{each.changes_per_year:.1f}/{100 * each.shortfall:.2f}" for each in cells]
        lines.append((f"every {interval} days", *told))
    return Table(("", *[f"{100 * width:g} points" for width in bands]), tuple(lines))


def _recommended(best: Fared) -> str:
    band = f"hold within {100 * best.keep_within:g} points (keep_within = {best.keep_within:g})"
    worst = f"{100 * best.worst_month:.2f} in the worst month"
    return (
        f"  Look every {best.interval} days, {band}\n"
        f"  {best.changes_per_year:.2f} changes a year of each price, {best.changes} in all\n"
        f"  {100 * best.shortfall:.2f} points of margin given away on average, {worst}\n"
        f"  {best.days_below:.1f} days a year below least_margin\n"
        "  It is where one change more begins to save less than the changes before it."
    )


BAND = Question(
    "band",
    "How often to reprice",
    "How often to reprice: bands and intervals tried on a real history of metal.",
    (
        *OPTIONS,
        Option("channel", "channel", "Only this channel (may be repeated).", "Only in", several=True),
        Option("at_most", "number", "Recommend no more than so many changes a year.", "Changes a year", example="N"),
        Option(
            "look_every", "count", "Recommend to look no more often than every so many days.", default=7, example="DAYS"
        ),
    ),
    answer,
    asked_prices=False,
    slow="trying policies",
)
