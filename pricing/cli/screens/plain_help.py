"""Help as a maker reads it: words for what is typed, whole summaries, two examples of each command."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType, MethodType
from typing import Any, get_args, get_origin

import typer
from typer.core import TyperArgument, TyperGroup, TyperOption

from pricing.errors import UsageFault
from pricing.questions.option import WRITTEN, no_number

#: What is typed where a program would say str, int, float or path.
WORDS: Mapping[type, str] = MappingProxyType({str: "WORD", int: "N", float: "NUMBER", Path: "FILE"})

#: Two examples of each command, by the words that lead to it; `shop` is a workshop folder.
EXAMPLES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "demo": ("troytag demo", "troytag demo --into my-copy"),
        "start": ("troytag start shop", "troytag start shop --answers answers.toml"),
        "add": ("troytag add shop alloy gold-9ct-yellow", "troytag add shop product"),
        "check": ("troytag check shop", "troytag check shop --as-of 2026-11-20"),
        "measure": ("troytag measure knob.stl --folder shop", "troytag measure --model-g 2.5 --model-density 1.12"),
        "cost": ("troytag cost shop", "troytag cost shop --sku acorn-knob --alloy sterling"),
        "import": ("troytag import prices.xlsx --into shop", "troytag import prices.xlsx --into shop --write"),
        "reprice": ("troytag reprice shop", "troytag reprice shop --hold acorn-knob:sterling"),
        "pour": ("troytag pour shop --want thimble:sterling=12", "troytag pour shop --wants wants.csv"),
        "page": ("troytag page shop", "troytag page shop --port 8500 --no-open"),
        "words": ("troytag words margin", "troytag words lemel"),
        "metal": ("troytag metal shop list", "troytag metal shop add Ag 38.40"),
        "metal add": ("troytag metal shop add Ag 38.40", "troytag metal shop add USD 0.79 --date 2026-11-20"),
        "metal list": ("troytag metal shop list", "troytag metal shop list Ag --as-of 2026-11-20"),
        "metal pull": ("troytag metal shop pull --dry-run", "troytag metal shop pull"),
        "editions": ("troytag editions shop", "troytag editions shop show 2"),
        "editions list": ("troytag editions shop list", "troytag editions shop list --csv"),
        "editions show": ("troytag editions shop show", "troytag editions shop show 2 --sku acorn-knob"),
        "editions on": ("troytag editions shop on 2026-11-20", "troytag editions shop on 2026-01-01 --json"),
        "editions withdraw": ("troytag editions shop withdraw", "troytag editions shop withdraw --yes"),
        "editions compare": ("troytag editions shop compare 1 2", "troytag editions shop compare 1 2 --csv"),
        "export": ("troytag export shop list --to list.pdf", "troytag export shop xlsx"),
        "export xlsx": ("troytag export shop xlsx", "troytag export shop xlsx --to prices.xlsx"),
        "export list": ("troytag export shop list --to list.pdf", "troytag export shop list --channel shop"),
        "export quote": (
            "troytag export shop quote --sku acorn-knob",
            "troytag export shop quote --sku acorn-knob --quantity 12",
        ),
        "export tags": ("troytag export shop tags --to tags.pdf", "troytag export shop tags --sku acorn-knob"),
        "export card": (
            "troytag export shop card --want thimble:sterling=12",
            "troytag export shop card --kind order --for-list o.csv",
        ),
        "export parquet": ("troytag export shop parquet", "troytag export shop parquet --to many"),
        "export csv": ("troytag export shop csv --channel shop", "troytag export shop csv --to upload.csv"),
        "export template": ("troytag export shop template", "troytag export shop template --to new.xlsx"),
        "log": ("troytag log shop", "troytag log shop add card.toml"),
        "log list": ("troytag log shop list", "troytag log shop list --from 2026-11-01 --csv"),
        "log show": ("troytag log shop show 3", "troytag log shop show 3 --json"),
        "log add": ("troytag log shop add card.toml", "troytag log shop add card.csv --no-stock"),
        "log learn": ("troytag log shop learn", "troytag log shop learn --apply --half-life 180"),
        "log variance": ("troytag log shop variance", "troytag log shop variance --from 2026-11-01 --json"),
        "log blank": ("troytag log shop blank", "troytag log shop blank --want acorn-knob:sterling=6"),
        "log strike": ("troytag log shop strike 3", 'troytag log shop strike 3 --note "poured again"'),
        "stock": ("troytag stock shop", "troytag stock shop add bought sterling 100 --paid 92.00"),
        "stock show": ("troytag stock shop show --json", "troytag stock shop show --as-of 2026-11-20"),
        "stock add": (
            "troytag stock shop add bought sterling 100 --paid 92.00",
            "troytag stock shop add counted sterling 2.5ozt --yes",
        ),
        "stock list": ("troytag stock shop list", "troytag stock shop list --alloy sterling"),
        "stock margins": ("troytag stock shop margins", "troytag stock shop margins --sku acorn-knob"),
        "stock strike": ("troytag stock shop strike 4", 'troytag stock shop strike 4 --note "written twice"'),
        "study": ("troytag study shop breakeven", "troytag study shop band"),
        "study breakeven": ("troytag study shop breakeven", "troytag study shop breakeven --sku acorn-knob"),
        "study band": ("troytag study shop band --channel shop", "troytag study shop band --at-most 6"),
        "study assay": ("troytag study shop assay", "troytag study shop assay --have acorn-knob:sterling=9"),
        "study sale": ("troytag study shop sale --off 0.20", "troytag study shop sale --off 0.15 --channel stall"),
        "study alloy": (
            "troytag study shop alloy --sku thimble",
            "troytag study shop alloy --sku signet-ring --asked",
        ),
        "study map": ("troytag study shop map --sku thimble", "troytag study shop map --sku thimble --steps 9"),
        "study quantity": (
            "troytag study shop quantity --sku acorn-knob",
            "troytag study shop quantity --sku thimble --up-to 120",
        ),
        "study doubt": (
            "troytag study shop doubt --weeks 12",
            "troytag study shop doubt --sku thimble --plot thimble",
        ),
        "study mix": (
            "troytag study shop mix --each 10 --flasks 12 --cash 300",
            "troytag study shop mix --rush thimble:sterling:shop=4",
        ),
        "study week": ("troytag study shop week", "troytag study shop week --years 3 --sold shop=2"),
        "study year": ("troytag study shop year", "troytag study shop year --months 6 --sales shop=2"),
        "study refiner": ("troytag study shop refiner", "troytag study shop refiner --lemel sterling=120"),
    }
)  # fmt: skip


def plain(command: Any, path: str = "") -> Any:
    """The same command with help in plain words, and every command below it as soon as it is asked for.

    A command that is plain already, since it is asked for again in the same process, is left as it is.
    """
    if getattr(command, "is_plain", False):
        return command
    command.is_plain = True
    for parameter in command.params:
        _in_words(parameter)
    command.short_help = command.short_help or (command.help or "").strip().split("\n\n")[0].replace("\n", " ")
    if path in EXAMPLES:
        command.epilog = "\b\nExamples:\n" + "\n".join(f"  {line}" for line in EXAMPLES[path])
    if isinstance(command, TyperGroup):
        inner = command.get_command
        made: dict[str, Any] = {}  # once: a command that is asked for again is in plain words already

        def get_command(self: Any, ctx: Any, cmd_name: str) -> Any:
            if cmd_name not in made and (found := inner(ctx, cmd_name)):
                made[cmd_name] = plain(found, f"{path} {cmd_name}".strip())
            return made.get(cmd_name)

        command.get_command = MethodType(get_command, command)  # type: ignore[method-assign]
    return command


def _in_words(parameter: Any) -> None:
    """What stands for the value of a parameter: `NUMBER`, `FILE`, for an argument its name alone; and what is no number
    is told in a sentence."""
    if isinstance(parameter, TyperArgument):
        parameter.metavar = (parameter.metavar or parameter.name or "").upper().strip("[]….")
        parameter.display_type_rich = MethodType(lambda self, ctx: "", parameter)  # type: ignore[method-assign]
    elif isinstance(parameter, TyperOption) and not parameter.is_flag and parameter.metavar is None:
        annotation: Any = parameter.type_descriptor.annotation
        kind = get_args(annotation)[0] if get_origin(annotation) is list else annotation
        named = {"folder": "FOLDER"}.get(parameter.name or "")
        parameter.metavar = named or WORDS.get(kind, "WORD")
    _numbers_in_words(parameter)


#: How a number is written, by its kind: what it is called, and an example.
NUMBERS: Mapping[type, tuple[str, str]] = MappingProxyType({int: ("whole number", "12"), float: ("number", "2.5")})


def _numbers_in_words(parameter: Any) -> None:
    """Let a parameter that takes a number raise UsageFault for what is none."""
    annotation: Any = parameter.type_descriptor.annotation
    kind = next((each for each in (annotation, *get_args(annotation)) if each in NUMBERS), None)
    if kind is None:
        return
    called, example = NUMBERS[kind]
    option = parameter.opts[0] if isinstance(parameter, TyperOption) else parameter.metavar
    process = parameter.process_value

    def process_value(self: Any, ctx: Any, value: Any) -> Any:
        try:
            return process(ctx, value)
        except typer.BadParameter:
            if self.value_is_missing(value):
                raise
            if kind is float:
                raise UsageFault(f"{option} {no_number(str(value))}") from None
            raise UsageFault(f'{option} "{value}" is no {called}. {WRITTEN} {example}.') from None

    parameter.process_value = MethodType(process_value, parameter)
