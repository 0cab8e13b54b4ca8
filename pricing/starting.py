"""A new workshop folder: commented examples that can be read and costed at once."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from pricing.errors import UsageFault
from pricing.folder import schema
from pricing.folder.files import FILES
from pricing.folder.toml.spelling import spelled
from pricing.model.base import Name
from pricing.model.currency import currencies, minor_unit_digits
from pricing.resources import templates
from pricing.several_files import Meanwhile, only_change, put_all

#: The product that a new folder begins with.
EXAMPLE = "example-button"
#: Remarks behind a line begin here.
REMARKS = 36


def new_folder(root: Path, name: str, currency: str, today: date) -> list[str]:
    """Write a new workshop folder; gives its files, relative to it, in the order in which they are to be read.

    Raises UsageFault, and then nothing has been written, where one of its files stands already, and for a name or a
    currency that cannot be one.
    """
    _check(root, name, currency)
    contents = _contents(name, currency, today)
    standing = [file for file in contents if (root / file).exists()]
    if standing:
        raise UsageFault(f"{root / standing[0]} stands already, and nothing was written. Name a new folder.")
    made: list[Path] = []
    try:
        made = [folder for folder in (root, *root.parents) if not folder.exists()]
        root.mkdir(parents=True, exist_ok=True)
        with only_change(root):
            put_all(root, {file: text.encode() for file, text in contents.items()}, dict.fromkeys(contents), "start")
    except Meanwhile as taken:
        raise UsageFault(f"{root / taken.file} stands already, and nothing was written. Name a new folder.") from None
    except OSError as error:
        for folder in made:
            with suppress(OSError):  # somebody else has put something into it
                folder.rmdir()
        reason = error.strerror or type(error).__name__
        raise UsageFault(f"{root} cannot be written to ({reason}), and nothing was. Name another folder.") from None
    return [file for file in contents if not file.startswith(".")]


def _check(root: Path, name: str, currency: str) -> None:
    if root.exists() and not root.is_dir():
        raise UsageFault(f"{root} is a file. Name a folder.")
    if currency not in currencies():
        upper = currency.strip().upper()
        mend = f'Did you mean "{upper}"?' if upper in currencies() else 'Write its ISO 4217 code, such as "GBP".'
        raise UsageFault(f'"{currency}" is no currency. {mend}')
    try:
        TypeAdapter(Name).validate_python(name)
    except ValidationError:
        mend = "Write 1 to 120 letters on one line, without blanks at its ends."
        raise UsageFault(f"{name!r} is no name. {mend}") from None


def _contents(name: str, currency: str, today: date) -> dict[str, str]:
    """The text of every file by its name."""
    import jinja2

    folder = templates() / "start"
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(folder), undefined=jinja2.StrictUndefined, keep_trailing_newline=True
    )
    environment.filters |= {"toml": spelled, "money": lambda amount: _money(amount, currency)}
    environment.globals["beside"] = lambda statement: f"{statement:<{REMARKS}}"
    contents = {}
    for file in (each.name.replace("*", EXAMPLE) for each in FILES):
        values = {"name": name, "currency": currency, "today": today, "editor_line": schema.editor_line(file)}
        contents[file] = environment.get_template(f"{file}.j2").render(values)
    return contents | {f"{schema.FOLDER}/{kind}.json": schema.schema_text(kind) for kind in schema.NAMES}


def _money(amount: float, currency: str) -> str:
    """An amount with the currency's digits; in one without any, a hundred times as much, as such currencies count."""
    digits = minor_unit_digits(currency)
    return f"{amount if digits else 100 * amount:.{digits}f}"
