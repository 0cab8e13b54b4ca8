"""`troytag check`: every fault of a workshop folder at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pricing.cli.options import AsOf, Folder, Json, day

if TYPE_CHECKING:
    from pricing.errors import Fault


def check(folder: Folder, as_of: AsOf = None, json: Json = False) -> None:
    """Tell every fault of a workshop folder at once.

    Each comes with its place and its mend.
    """
    from pricing.advice import advice, advice_in_words
    from pricing.batches.adding import told_apart
    from pricing.batches.read import LOG
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.drawer.on_hand import shortages
    from pricing.drawer.read import STOCK
    from pricing.editions.chain import EDITIONS
    from pricing.errors import Faults, told_once
    from pricing.kept.chain import chain_faults, look_over
    from pricing.model.workshop import Show
    from pricing.shown import shown_of

    faults: list[Fault] = []
    costing = None
    try:
        costing = cost(folder, asked_for(day(as_of)))
    except Faults as found:
        faults += found.faults
    chains = [(series, look_over(folder, series)) for series in (EDITIONS, LOG, STOCK)]
    faults += [fault for series, chain in chains for fault in chain_faults(folder, series, chain)]
    if costing is None or faults:
        if json:
            screen.print_json({"faults": [_record(fault) for fault in faults], "warnings": []})
            raise SystemExit(1)
        number = len(faults)
        screen.show_faults(faults)
        print(f"{number} {'fault' if number == 1 else 'faults'} in {folder}")
        raise SystemExit(1)
    gaps = [note.fault for _, chain in chains for note in chain.notes]
    warnings = [*costing.warnings, *gaps, *told_apart(folder), *shortages(folder)]
    stated = costing.folder.stated
    if json:
        screen.print_json(
            {
                "faults": [],
                "warnings": [_record(warning) for warning in warnings],
                "advice": advice_in_words(advice(costing.computed), shown_of(stated, Show())),
            }
        )
        return
    hints = advice_in_words(advice(costing.computed), shown_of(stated))
    screen.advise([*told_once(warnings), *hints], most=1000)
    resolved = costing.computed.resolved
    order, counted = f"{folder}: all in order.", f"{costing.counted()}, priced as of {resolved.as_of}."
    print(order, counted, sep=" " if len(order) + len(counted) < screen.out().width else "\n")


def _record(fault: Fault) -> dict[str, Any]:
    return {
        "file": fault.place.file,
        "line": fault.place.line,
        "column": fault.place.column,
        "key": fault.key,
        "problem": fault.problem,
        "mend": fault.mend,
        "other": [{"file": place.file, "line": place.line, "column": place.column} for place in fault.other],
    }
