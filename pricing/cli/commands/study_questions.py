"""The commands of `troytag study FOLDER` that are made of questions: options, tables, JSON, CSV and pictures alike."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from inspect import Parameter, Signature
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pricing.cli.options import Asked, AsOf, Csv, Json, day
from pricing.questions.model import Answer, Question, Stairs, Table
from pricing.questions.option import Option

if TYPE_CHECKING:
    from pricing.studies.pictures import Called

#: Rows of a plot as it is drawn, and places that are left free beside it.
PLOT_ROWS, BESIDE = 6, 4
#: What an option takes on the command line, by its kind; a name or words where it is not here.
TYPES: Mapping[str, type] = MappingProxyType({"count": int, "number": float, "switch": bool, "file": Path})
Plot = Annotated[
    Path | None, typer.Option(metavar="NAME", help="Write the picture as NAME.svg and NAME.png.", show_default=False)
]
Force = Annotated[bool, typer.Option("--force", help="Overwrite pictures that stand already.")]


def command_of(question: Question) -> Callable[..., None]:
    """A command with the options of a question, and with those that every study has."""

    def asked(context: typer.Context, **said: Any) -> None:
        _ask(question, context.obj, said)

    also: dict[str, Any] = {"plot": Plot, "force": Force} if question.has_picture else {}
    also |= {"asked": Asked} if question.asked_prices else {}
    also |= {"as_of": AsOf, "json": Json, "csv": Csv}
    idle = {"plot": None, "as_of": None}
    parameters = [_parameter(option) for option in question.options]
    parameters += [_keyword(name, kind, idle.get(name, False)) for name, kind in also.items()]
    parameters.sort(key=lambda each: each.default is not Parameter.empty)
    first = Parameter("context", Parameter.POSITIONAL_OR_KEYWORD, annotation=typer.Context)
    asked.__signature__ = Signature([first, *parameters])  # type: ignore[attr-defined]
    asked.__annotations__ = {each.name: each.annotation for each in (first, *parameters)}
    asked.__doc__ = question.about
    return asked


def _parameter(option: Option) -> Parameter:
    kind: Any = TYPES.get(option.kind, str)
    kind = list[kind] if option.several else kind
    taken: dict[str, Any] = {"help": option.about, "show_default": option.default is not None}
    if option.kind == "switch":
        return _keyword(option.name, Annotated[bool, typer.Option(option.flag, help=option.about)], False)
    if option.example:
        taken["metavar"] = option.example
    kind = kind if option.required or option.default is not None else kind | None
    default = Parameter.empty if option.required else option.default
    return _keyword(option.name, Annotated[kind, typer.Option(option.flag, **taken)], default)


def _keyword(name: str, annotation: Any, default: Any) -> Parameter:
    return Parameter(name, Parameter.KEYWORD_ONLY, annotation=annotation, default=default)


def _ask(question: Question, root: Path, said: Mapping[str, Any]) -> None:
    from pricing.cli.screens import screen
    from pricing.cli.screens.progress import progress
    from pricing.costing import asked_for
    from pricing.errors import told_once
    from pricing.folder.read import read_folder
    from pricing.questions.subject import Subject

    for option in question.options:
        option.within(said[option.name])
    folder, on = read_folder(root), asked_for(day(said["as_of"]))
    with progress(question.slow) as tell:
        subject = Subject(folder, on, "asked" if said.get("asked") else None, progress=tell)
        answer = question.answer(subject, said)
    if said.get("plot"):
        _write_pictures(said["plot"], answer, said["force"])
    if said["json"]:
        screen.print_json({**answer.document, answer.rows_named: answer.rows})
    elif said["csv"]:
        screen.print_csv(answer.rows)
    else:
        show(answer, subject.folder.called)
        screen.advise([*told_once(answer.warnings), *answer.notes])


def show(answer: Answer, called: Called) -> None:
    """An answer on the screen; a product that has a line of its own is told by its sku, which is what is typed, and by
    its name."""
    from pricing.cli.screens import plots, screen

    console = screen.out()
    for block in answer.blocks:
        if isinstance(block, Table):
            if block.title:
                console.print(f"\n{block.title}\n")
            console.print(
                screen.table(
                    block.heads,
                    block.rows,
                    left=block.left,
                    strong=block.strong,
                    gap=block.gap,
                    named=screen.names_of(block.rows, called) if block.heads[0].startswith("product") else {},
                )
            )
        elif isinstance(block, Stairs):
            every = -(-len(block.values) // max(1, console.width - BESIDE))
            console.print(f"\n{block.title}\n")
            for line in plots.columns(block.values[::every], PLOT_ROWS):
                console.print(f"  {line}")
            console.print()
        else:
            console.print(block)


def _write_pictures(plot: Path, answer: Answer, force: bool) -> None:
    """The picture under the name that was said, further ones with their own word behind it."""
    from pricing.cli.screens import screen
    from pricing.several_files import place_all

    drawings = {plot.name: answer.drawing, **{f"{plot.name}-{word}": each for word, each in answer.also.items()}}
    named = {
        plot.with_name(f"{name}.{form}"): content
        for name, drawing in drawings.items()
        if drawing is not None
        for form, content in drawing.files().items()
    }
    screen.tell(place_all(named, force, "export"))
