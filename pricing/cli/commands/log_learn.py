"""`troytag log FOLDER learn`: what the log says of the fractions good, losses and minutes in the files."""

from __future__ import annotations

from typing import Annotated

import typer

from pricing.cli.options import AsOf, Csv, Json, day


def learn(
    context: typer.Context,
    only: Annotated[
        list[str] | None,
        typer.Option(
            "--only", metavar="FIGURE", help="Take this figure alone (may be repeated), by the name shown.",
            show_default=False,
        ),
    ] = None,
    half_life: Annotated[
        float, typer.Option("--half-life", metavar="DAYS", help="Days after which a batch counts half.")
    ] = 365,
    each: Annotated[bool, typer.Option("--each", help="Show each product's own figure too.")] = False,
    apply: Annotated[
        bool, typer.Option("--apply", help="Write them, and how sure they are; without this it is only shown.")
    ] = False,
    as_of: AsOf = None,
    json: Json = False,
    csv: Csv = False,
) -> None:  # fmt: skip
    """What the log says against the files: good, lost, minutes, sprues.

    Each figure with what is stated, what was seen, what holds now and how sure it is. With --apply it is written into
    the files, comments kept, and its doubt into doubts.toml. Of what too few batches speak nothing is changed.
    """
    from pricing.batches.read import read_log
    from pricing.cli.screens import import_changes, screen
    from pricing.cli.screens import learning as screens
    from pricing.costing import asked_for, cost
    from pricing.errors import UsageFault
    from pricing.learning.learned import learn as learn_from
    from pricing.learning.proposing import accepted, proposal
    from pricing.workbook.back.writing import write

    if not 1 <= half_life <= 36500:
        raise UsageFault(f"--half-life {half_life:g}: write days, from 1 to 36500.")
    learning = learn_from(cost(context.obj, asked_for(day(as_of))), read_log(context.obj), half_life=half_life)
    rows = accepted(learning, only)
    if json:
        screen.print_json({"as_of": learning.as_of.isoformat(), "batches": learning.batches,
                           "half_life": learning.half_life, "figures": screens.records(learning)})  # fmt: skip
    elif csv:
        nested = ("products", "own")
        screen.print_csv([{k: v for k, v in row.items() if k not in nested} for row in screens.records(learning)])
    else:
        screens.show(learning, each)
        screens.show_together(learning, rows)
    screen.advise(learning.notes, len(learning.notes))
    if not rows:
        return
    found = proposal(learning, rows)
    if not apply:
        if found.files:
            screen.err().print("\nNothing is written yet. Add --apply to write it, --only FIGURE for some of it.")
        return
    write(found, "learning from the log")
    if not (json or csv):
        screen.out().print()
        import_changes.show(found, dated=False)
    import_changes.tell_written(found)
    screens.tell_next(context.obj)
