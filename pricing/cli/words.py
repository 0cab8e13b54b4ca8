"""`troytag words`: the glossary."""

from __future__ import annotations

from typing import Annotated

import typer

from pricing.cli.options import Csv, Json


def words(
    quantity: Annotated[str | None, typer.Argument(help="One name of the cost model.", show_default=False)] = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Say what the names of the cost model mean: unit, formula, source."""
    from dataclasses import asdict

    from pricing.cli import screen
    from pricing.graph import cost_model
    from pricing.readers.glossary import entry, glossary

    graph = cost_model()
    entries = [entry(graph, quantity)] if quantity else glossary(graph)
    if json:
        screen.print_json([asdict(each) for each in entries])
    elif csv:
        screen.print_csv(
            [{**asdict(each), "needs": " ".join(each.needs), "used_by": " ".join(each.used_by)} for each in entries]
        )
    elif quantity:
        _print_one(entries[0])
    else:
        screen.out().print(
            screen.table(
                ("name", "unit", "meaning"), [(each.name, each.unit, each.meaning) for each in entries], left=3
            )
        )


def _print_one(each) -> None:
    import textwrap

    print(f"{each.name}  ({each.unit}, one for each {each.table})")
    for head, text in (
        ("", each.meaning),
        ("formula  ", each.formula),
        ("because  ", each.because),
        ("needs    ", ", ".join(each.needs)),
        ("used by  ", ", ".join(each.used_by)),
    ):
        if text:
            print(
                textwrap.fill(
                    text,
                    78,
                    initial_indent=f"  {head}",
                    subsequent_indent="  " + " " * len(head),
                    break_on_hyphens=False,
                )
            )
    if not each.formula:
        print("  stated by the maker")
