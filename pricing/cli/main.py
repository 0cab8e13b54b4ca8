"""The command `troytag`: one small file a command; each imports what it needs when it runs."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from importlib import import_module
from types import MappingProxyType
from typing import Annotated, Any

import typer
from typer.core import TyperCommand, TyperGroup

from pricing import __version__
from pricing.cli.again import remembering
from pricing.cli.screens import signs
from pricing.cli.screens.plain_help import plain
from pricing.errors import TroytagError, shortened

#: What libraries look for at their start and nobody here uses, a third of what they take to load: threads for the
#: algebra of large matrices, and plugins of other packages.
QUICKER = MappingProxyType({"OPENBLAS_NUM_THREADS": "1", "PYDANTIC_DISABLE_PLUGINS": "__all__"})
#: So many objects more are made before there is a search for garbage. Python's own 700 is meant for programs that throw
#: away what they make; here imports and readings make what stays, and a third of a short command was spent searching.
GARBAGE_AFTER = 100_000

#: The commands by their names, in the order in which help lists them, with their module and what stands in it: a
#: function, or `app` for one that has commands of its own.
COMMANDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {name: (name, name) for name in ("demo", "start", "add", "check", "measure", "cost")}
    | {"import": ("import_file", "import_file")}
    | {name: (name, name) for name in ("reprice", "pour", "page", "words")}
    | {name: (name, "app") for name in ("metal", "export", "editions", "log", "stock", "study")}
)


@contextmanager
def _told_in_short() -> Iterator[None]:
    """What the option parser says of a command or an option that there is not, very long ones shortened."""
    try:
        yield
    except Exception as fault:
        if isinstance(message := getattr(fault, "message", None), str) and hasattr(fault, "format_message"):
            fault.message = shortened(message)  # type: ignore[attr-defined]
        raise


class Commands(TyperGroup):
    """Commands that are imported and made when they are asked for: all of them take longer than most of them run."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in COMMANDS:
            return None
        module, stands = COMMANDS[cmd_name]
        found = getattr(import_module(f"pricing.cli.commands.{module}"), stands)
        if isinstance(found, typer.Typer):
            group = typer.main.get_group(found)
            group.name = cmd_name
            return group
        single = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
        single.command(cmd_name)(remembering(cmd_name, found))
        return typer.main.get_command(single)

    def make_context(self, *args: Any, **named: Any) -> Any:
        with _told_in_short():
            return super().make_context(*args, **named)

    def invoke(self, ctx: Any) -> Any:
        with _told_in_short():
            return super().invoke(ctx)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        if args[0] not in COMMANDS:  # what may be meant is looked for among all of them
            self.commands.update({name: self.get_command(ctx, name) for name in COMMANDS})
        return super().resolve_command(ctx, args)


app = typer.Typer(
    name="troytag",
    cls=Commands,
    help="What each piece really costs in each metal today, and what to ask for it in every channel.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)


def _tell_version(asked: bool) -> None:
    if asked:
        print(f"troytag {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", help="Say which version this is.", is_eager=True, callback=_tell_version)
    ] = False,
) -> None:
    pass


@cache
def command() -> TyperCommand | TyperGroup:
    """The whole command, its help in plain words; made once, since that takes as long as reading a small folder."""
    made: TyperCommand | TyperGroup = plain(typer.main.get_command(app))
    return made


def main() -> None:
    """Run the command line; faults are told in words, with exit code 1 for the data and 2 for the command."""
    signs.make_printable()
    for name, value in QUICKER.items():
        os.environ.setdefault(name, value)
    gc.set_threshold(GARBAGE_AFTER, *gc.get_threshold()[1:])
    try:
        command()(prog_name="troytag")  # however it was started: what it says can be typed
        code: str | int | None = 0
    except SystemExit as left:
        code = left.code
    except TroytagError as fault:
        print(f"{fault}", file=sys.stderr)
        code = fault.exit_code
    except OSError as refused:
        code = _tell_refusal(refused)
    try:
        sys.stdout.flush()  # here and not at the interpreter's own end, where a refusal is exit code 120
    except OSError as refused:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # what is left is not tried once more
        code = code or _tell_refusal(refused)
    raise SystemExit(code)


def _tell_refusal(refused: OSError) -> int:
    """Tell what the system refused, but leave quietly where nobody reads on; the exit code."""
    if not isinstance(refused, BrokenPipeError):
        named = f"{refused.filename}: " if refused.filename else ""
        told = f"{named}{(refused.strerror or str(refused)).lower()}. Nothing else was done."
        print(shortened(told), file=sys.stderr)
    return 1


if __name__ == "__main__":
    main()
