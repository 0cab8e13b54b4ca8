"""`troytag words`: the glossary."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from pricing.cli.options import Csv, Json

if TYPE_CHECKING:
    from pricing.folder.keys_in_words import Key
    from pricing.formulas.glossary import Entry
    from pricing.formulas.graph import Graph


def words(
    quantity: Annotated[
        list[str] | None,
        typer.Argument(
            help="A quantity, a key of a file, a heading, a word of formulas or the trade.", show_default=False
        ),
    ] = None,
    engine: Annotated[
        bool, typer.Option("--engine", help="Say instead who computes: numpy alone, or a compiler too.")
    ] = False,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Say what a name means: unit, formula, source."""
    if engine:
        from textwrap import fill

        from pricing.formulas.kernel import COMPILED_FROM
        from pricing.formulas.kernel.library import told

        print(fill(told(COMPILED_FROM), 78, break_on_hyphens=False))
        return
    from dataclasses import asdict

    from pricing.folder.keys_in_words import entries_of, remembered_names
    from pricing.formulas.glossary import Entry

    names = remembered_names(_model)
    entries = entries_of(names, " ".join(quantity)) if quantity else names.entries
    if quantity and not (json or csv):
        for each in entries:
            _print_one(each) if isinstance(each, Entry) else _print_key(each)
        return
    from pricing.cli.screens import screen

    if json:
        screen.print_json([asdict(each) for each in entries])
    elif csv:
        screen.print_csv([{name: _flat(value) for name, value in asdict(each).items()} for each in entries])
    else:
        rows = [(each.name, each.unit, each.meaning) for each in entries if isinstance(each, Entry)]
        screen.out().print(screen.table(("name", "unit", "meaning"), rows, left=3))
        print("\nOne of them, or any key of the files, in full: troytag words NAME")


def _model() -> Graph:
    """The cost model, and what is said at a stall."""
    from pricing.studies.stall.bargaining import bargaining_model

    return bargaining_model()


def _flat(value: Any) -> Any:
    return " ".join(value) if isinstance(value, tuple) else value


def _print_key(key: Key) -> None:
    import textwrap

    where = {"word": "a word of formulas", "heading": "a heading", "trade": "a word of the trade"}.get(
        key.table, f"{key.file}, {key.table}"
    )
    print(f"{key.name}  ({where})")
    print(textwrap.fill(key.meaning, 78, initial_indent="  ", subsequent_indent="  "))


def _print_one(each: Entry) -> None:
    import textwrap

    print(f"{each.name}  ({each.unit}, one for each {each.table})")
    for head, text in (
        ("", each.meaning),
        ("formula  ", each.formula),
        ("because  ", each.because),
        ("needs    ", ", ".join(each.needs)),
        ("used by  ", ", ".join(each.used_by)),
        ("measure  ", each.measure),
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
