"""What to make this month, what an hour and a gram more would bring, what a rush order must pay."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from pricing.questions.model import Answer, Question, Table
from pricing.questions.option import Option, Refused

if TYPE_CHECKING:
    from pricing.questions.subject import Subject
    from pricing.shown import Shown
    from pricing.studies.mix.figures import Choice, Limit, Metal, Mix, Rush
    from pricing.studies.month.there_is import Month
    from pricing.studies.pictures import Called

#: So many pieces are ranked on a screen; all are in the JSON and the CSV.
MOST_RANKED = 15


def answer(subject: Subject, said: Mapping[str, Any]) -> Answer:
    """The best mix of a month, its limits, the ranking, rush orders."""
    from dataclasses import asdict

    from pricing.questions.subject import basis
    from pricing.studies.mix.best_mix import mix, rush
    from pricing.studies.mix.figures import mix_records
    from pricing.studies.mix.plot import what_is_made
    from pricing.studies.month.there_is import month_of
    from pricing.studies.prices_out import standing

    out, shown, workshop = subject.out, subject.shown, subject.stated.workshop
    month, orders = month_of(subject.folder, _month(subject, said)), _orders(said)
    found = mix(out, month, whole=not said["shares"])
    rushes = [rush(out, month, order) for order in orders]
    limits = [each for each in found.limits if _tells(each)]
    return Answer(
        blocks=(
            subject.head(out),
            f"Prices: {basis(out)}. There are {_there_is(found)}.",
            Table(MADE, tuple(_made(found, shown)), "What to make", left=1, gap=1),
            _sums(found, shown),
            Table(HELD, tuple(_held(each, shown) for each in limits), "What holds it"),
            *_worth(limits, shown),
            *([Table(METAL, tuple(_metal(each, shown) for each in found.metal), "Metal")] if found.metal else []),
            Table(RANKED, tuple(_ranked(found, shown)), "By what an hour brings (*: it is made)", gap=1),
            *_by_flask(found, shown),
            *_rushed(rushes, shown, subject.called),
        ),
        rows=mix_records(found),
        document={
            "as_of": subject.day,
            "currency": workshop.currency,
            "prices": basis(out),
            "brings": found.brings,
            "overhead": found.overhead,
            "leaves": found.leaves,
            "hours": found.hours,
            "an_hour": found.an_hour,
            "gap": found.gap,
            "limits": [asdict(each) for each in found.limits],
            "metal": [asdict(each) for each in found.metal],
            "rush": [asdict(each) for each in rushes],
        },
        drawing=what_is_made(found, f"{workshop.name}: {_there_is(found)}", shown, subject.folder.called),
        notes=(*_notes(found, month, bool(said["grams"])), *standing(out)),
        warnings=out.costing.warnings,
    )


# ---- what is said


def _month(subject: Subject, said: Mapping[str, Any]) -> Month:
    from pricing.drawer.on_hand import on_hand
    from pricing.studies.month.there_is import Month, amounts_of, sales_of

    hours = amounts_of(said["hours"] or (), "--hours")
    lying = {name: each.fresh_g for name, each in on_hand(subject.folder.root, subject.asked.as_of).items()}
    for option in ("each", "cash"):
        if said[option] is not None and said[option] < 0:
            raise Refused(option, f"--{option} {said[option]:g}: write 0 or more.")
    in_use = {each for product in subject.folder.goods.values() for each in product.alloys or ()}
    return Month(
        hours=hours.pop("", None),
        roles=hours,
        flasks=amounts_of(said["flasks"] or (), "--flasks"),
        loads=amounts_of(said["loads"] or (), "--loads"),
        grams={name: grams for name, grams in lying.items() if name in in_use}
        | amounts_of(said["grams"] or (), "--grams"),
        cash=said["cash"],
        most=sales_of(said["most"] or (), "--most"),
        least=sales_of(said["least"] or (), "--least"),
        each_most=said["each"],
    )


def _orders(said: Mapping[str, Any]) -> tuple[Any, ...]:
    from pricing.studies.month.there_is import sales_of

    orders = sales_of(said["rush"] or (), "--rush")
    for order in orders:
        if len(order.names) != 3 or order.sets < 1:
            raise Refused(
                "rush", f"--rush {':'.join(order.names)}: write SKU:ALLOY:CHANNEL=N, as thimble:sterling:shop=6."
            )
    return orders


# ---- what is told

MADE = ("product, alloy, channel", "to make", "price", "one brings", "all bring", "hours", "flasks")
HELD = ("limit", "there is", "used", "left", "one more brings")
METAL = ("metal", "needed", "in the drawer", "to buy", "costs", "a gram is worth")
RANKED = ("product, alloy, channel", "an hour brings", "a flask brings", "one brings", "must bring more")


def _there_is(found: Mix) -> str:
    """The limits of work in words: `90 hours, 12 flasks`."""
    told = [
        f"{_figure(each.there_is)} {_limit_word(each)}"
        for each in found.limits
        if each.kind in ("hours", "flasks", "loads")
    ]
    return ", ".join(told)


def _limit_word(limit: Limit) -> str:
    if limit.kind == "hours":
        return f"hours of {limit.name}" if limit.name else "hours of your own"
    if limit.kind in ("flasks", "loads"):
        word = "flasks" if limit.kind == "flasks" else "kiln loads"
        return f"{word} ({limit.name})" if limit.name else word
    return {
        "grams": f"grams of {limit.name} in the drawer",
        "cash": "cash for metal",
        "most": f"sets of {limit.name} that sell",
        "least": f"sets of {limit.name} that are owed",
    }[limit.kind]


def _tells(limit: Limit) -> bool:
    """Whether a limit deserves a line: those of work, cash and drawer, and of sales where one more brings something."""
    if limit.kind == "grams":
        return limit.there_is > 0
    return limit.kind in ("hours", "flasks", "loads", "cash") or (limit.kind != "each" and limit.worth > 0.005)


def _figure(amount: float) -> str:
    """A count or hours: whole where it is, else to a tenth or a hundredth."""
    return f"{amount:,.2f}".rstrip("0").rstrip(".")


def _named(each: Choice) -> str:
    return f"{each.sku}, {each.alloy}, {each.channel}"


def _made(found: Mix, shown: Shown) -> Iterator[tuple[str, ...]]:
    for each in found.made:
        yield (
            _named(each),
            _figure(each.sets),
            f"{shown.price(each.channel, each.price)}{_other(each, shown)}",
            shown.money(each.brings),
            shown.money(each.sets * each.brings),
            f"{each.sets * each.hours:,.1f}",
            f"{each.sets * each.flasks:,.2f}" if each.flasks else "",
        )


def _other(each: Choice, shown: Shown) -> str:
    currency = shown.currency_in(each.channel)
    return "" if currency == shown.currency else f" {currency}"


def _sums(found: Mix, shown: Shown) -> str:
    if not found.made:
        pays = any(each.brings > 0 for each in found.choices)
        return "\nNot one set fits the limits." if pays else "\nNothing of it brings more than is spent on it."
    an_hour = (
        f", {shown.money(found.an_hour)} for each of {_figure(round(found.hours, 1))} hours"
        if found.an_hour is not None
        else ""
    )
    return (
        f"\nIt brings {shown.money(found.brings)} over what is spent on it alone; less the month's overhead of "
        f"{shown.money(found.overhead)} it leaves you {shown.money(found.leaves)}{an_hour}."
    )


def _held(limit: Limit, shown: Shown) -> tuple[str, ...]:
    kind = limit.kind
    write = shown.money if kind == "cash" else (lambda grams: shown.mass(grams)) if kind == "grams" else _figure
    left = max(0.0, limit.there_is - limit.used)
    worth = -limit.worth if kind == "least" else limit.worth
    return (
        _limit_word(limit),
        write(limit.there_is),
        write(limit.used),
        write(left) if kind != "least" else "",
        shown.money(worth) if limit.worth > 0.005 else "–",
    )


def _worth(limits: list[Limit], shown: Shown) -> Iterator[str]:
    for each in limits:
        if each.worth <= 0.005:
            continue
        if each.kind == "hours":
            whose = f" of {each.name}" if each.name else ""
            yield f"\nOne more hour{whose} is worth {shown.money(each.worth)}."
        elif each.kind in ("flasks", "loads"):
            word = "flask" if each.kind == "flasks" else "kiln load"
            yield f"One more {word} is worth {shown.money(each.worth)}."
        elif each.kind == "grams" and each.there_is > 0:
            yield f"One more gram of {each.name} in the drawer is worth {shown.money(each.worth)} over its price."


def _metal(each: Metal, shown: Shown) -> tuple[str, ...]:
    form = {"cast": "", "cut": ", sheet and wire", "bought": ", as castings"}[each.takes]
    return (
        f"{each.alloy}{form}",
        shown.mass(each.needed_g),
        shown.mass(each.lies_g) if each.takes == "cast" else "",
        shown.mass(each.to_buy_g),
        shown.money(each.costs),
        f"{each.worth_per_g:,.3f}",
    )


def _ranked(found: Mix, shown: Shown, by_flask: bool = False) -> Iterator[tuple[str, ...]]:
    """The best choices by what an hour or a flask of theirs brings."""
    known = [each for each in found.choices if each.flasks or not by_flask]
    known.sort(key=lambda each: -((each.brings_a_flask if by_flask else each.brings_an_hour) or 0.0))
    for each in known[:MOST_RANKED]:
        yield (
            f"{_named(each)}{' *' if each.sets else ''}",
            shown.money(each.brings_an_hour),
            shown.money(each.brings_a_flask) if each.flasks else "",
            shown.money(each.brings),
            shown.money(each.short) if each.short > 0.005 else "",
        )


def _by_flask(found: Mix, shown: Shown) -> Iterator[Table]:
    """The same by the flask, where flasks are what there is little of."""
    if any(each.kind in ("flasks", "loads") and each.worth > 0.005 for each in found.limits):
        yield Table(
            RANKED, tuple(_ranked(found, shown, by_flask=True)), "By what a flask brings (*: it is made)", gap=1
        )


def _rushed(rushes: list[Rush], shown: Shown, called: Called) -> Iterator[str]:
    for each in rushes:
        price, in_force = (shown.price(each.channel, amount) for amount in (each.price, each.in_force))
        yield (
            f"\nA rush order of {_figure(each.sets)} {' in '.join(called(each.sku, each.alloy))} displaces "
            f"{shown.money(each.displaces)} of other work: one must fetch {price} in {shown.channel(each.channel)} "
            f"(in force {in_force})."
        )


def _notes(found: Mix, month: Month, has_grams: bool) -> Iterator[str]:
    if has_grams and month.cash is None:
        yield "grams in the drawer hold nothing back while cash buys all metal: say with --cash how much there is."
    if not month.most and month.each_most is None and len(found.made) < 4:
        yield "nothing says how many sell, so all goes into the best: say it with --each 10, --most thimble=12."
    if found.gap > 1e-3:
        yield f"time ran out: the best in whole sets may bring up to {100 * found.gap:.1f} % more."


MIX = Question(
    "mix",
    "What to make this month",
    "What to make of the month, what one more hour or gram brings.",
    (
        Option(
            "hours",
            "words",
            "Hours of your own, or of one role (may be repeated); productive_hours if left out.",
            several=True,
            example="[ROLE=]N", typed="90, or bench=60",
        ),
        Option(
            "flasks", "words", "Flasks in all, or of one kind; those of [week] if left out.", several=True,
            example="[FLASK=]N", typed="12, or medium=8",
        ),
        Option(
            "loads", "words", "Kiln loads, or those of one kiln.", "Kiln loads", several=True, example="[KILN=]N",
            typed="4",
        ),
        Option(
            "cash", "number", "Cash for metal; no limit if left out.", "Cash for metal", example="AMOUNT", typed="300"
        ),
        Option(
            "grams", "words", "Fresh metal that lies there; the drawer if left out.", "Grams in the drawer",
            several=True, example="ALLOY=N", typed="sterling=200",
        ),
        Option(
            "each", "number", "At most so many sets of each piece in each alloy.", "At most of each", example="N",
            typed="10",
        ),
        Option(
            "most", "words", "At most so many sell of what has these names (may be repeated).", "At most",
            several=True, example="NAME[:NAME]=N", typed="thimble:shop=6",
        ),
        Option(
            "least", "words", "So many are owed of it (may be repeated).", "At least", several=True,
            example="NAME[:NAME]=N", typed="thimble:shop=6",
        ),
        Option(
            "rush", "words", "An order on top: what one of it must fetch (may be repeated).", "A rush order",
            several=True, example="SKU:ALLOY:CHANNEL=N", typed="thimble:sterling:shop=6",
        ),
        Option("shares", "switch", "Sets and flasks in shares, as for a long run; whole if left out.", "In shares"),
    ),
    answer,
)  # fmt: skip
