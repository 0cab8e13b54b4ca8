"""Parameters that several commands share, and how their texts become values."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer
from typer.core import TyperCommand, TyperGroup

from pricing.days import day as day
from pricing.errors import UsageFault, no_folder
from pricing.questions.option import chosen as chosen_for
from pricing.questions.option import no_number

if TYPE_CHECKING:
    from pricing.folder.read import Folder as ReadFolder

Folder = Annotated[Path, typer.Argument(help="The workshop folder.", show_default=False)]
Skus = Annotated[
    list[str] | None, typer.Option("--sku", help="Only this product (may be repeated).", show_default=False)
]
AsOf = Annotated[
    str | None,
    typer.Option("--as-of", metavar="DATE", help="The day whose quotes count; today if left out.", show_default=False),
]
Edition = Annotated[
    int | None,
    typer.Option("--edition", metavar="N", help="The prices of edition N, not those in force.", show_default=False),
]
Asked = Annotated[bool, typer.Option("--asked", help="What the policies ask now, published or not.")]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document, numbers in full.")]
Csv = Annotated[bool, typer.Option("--csv", help="Print CSV.")]


class FolderFirst(TyperGroup):
    """Tells somebody who forgot the folder, or named it last, where it stands."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        if (verb := str(ctx.params.get("folder"))) in self.list_commands(ctx) and not Path(verb).is_dir():
            folder = args[0] if Path(args[0]).is_dir() else "FOLDER"
            raise UsageFault(f"The folder comes first: {ctx.command_path} {folder} {verb} …")
        return super().resolve_command(ctx, args)


class FigureLast(TyperCommand):
    """A command whose last word is a figure: one below 0 is a figure too, and no option that there is not."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        takes = {name for each in self.params if not getattr(each, "is_flag", True) for name in each.opts}
        below = [
            place
            for place, word in enumerate(args)
            if re.match(r"-\.?\d", word) and "--" not in args and not (place and args[place - 1] in takes)
        ]
        if below:
            args = [*(word for place, word in enumerate(args) if place not in below), "--", *(args[at] for at in below)]
        return super().parse_args(ctx, args)


def there(folder: Path) -> Path:
    """The folder; UsageFault where there is none."""
    if not folder.is_dir():
        raise no_folder(folder)
    return folder


def wanted_prices(edition: int | None, asked: bool) -> int | Literal["asked"] | None:
    """Which prices were named: None for those in force. Raises UsageFault for both at once."""
    if edition is not None and asked:
        raise UsageFault("--edition and --asked: say which of the two.")
    return "asked" if asked else edition


def number(text: str | None, option: str) -> float | None:
    """A number written as 25. Raises UsageFault for what is none."""
    if text is None:
        return None
    try:
        return float(text)
    except ValueError:
        raise UsageFault(f"{option} {no_number(text)}") from None


def chosen(kind: str, names: Sequence[str] | None, known: Iterable[str]) -> list[str]:
    """The names that were asked for, all of `known` where none was. Raises UsageFault for an unknown one."""
    return chosen_for(kind, kind, names, known)


def chosen_goods(names: Sequence[str] | None, folder: ReadFolder) -> dict[str, None]:
    """The skus that were asked for, with the sizes that have one of their own; all where none was asked for.

    In their order, and quick to look up. Raises UsageFault for an unknown one.
    """
    from pricing.questions.subject import chosen_goods as goods

    return goods("sku", names, folder)
