"""A new workshop folder, commented and costed at once: from what a maker answers and a library of ready pieces."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from pathlib import Path

from pricing.errors import UsageFault
from pricing.folder.read import read_folder
from pricing.several_files import Meanwhile, only_change, put_all
from pricing.starting.answers import NAME, Answers, answered
from pricing.starting.whole import files_of

#: A day for files that are only looked at.
FIRST_DAY = date(2000, 1, 1)


def new_folder(root: Path, name: str, currency: str, today: date) -> list[str]:
    """Write a new workshop folder of somebody who says nothing but a name and a currency; as `start_folder`.

    Raises UsageFault for a name or a currency that cannot be one.
    """
    return start_folder(root, answered({NAME: name, "currency": currency}), today)


def start_folder(root: Path, answers: Answers, today: date) -> list[str]:
    """Write a new workshop folder; gives its files, relative to it, in the order in which they are to be read.

    Raises UsageFault, and then nothing has been written, where one of its files stands already and where an answer
    cannot be taken; Faults where what was answered makes no sense together.
    """
    contents = refuse_what_stands(root, answers, today)
    made: list[Path] = []
    try:
        made = [folder for folder in (root, *root.parents) if not folder.exists()]
        root.mkdir(parents=True, exist_ok=True)
        read_folder(root, {file: content for file, content in contents.items() if not file.startswith(".")})
        with only_change(root):
            put_all(root, contents, dict.fromkeys(contents), "start")
    except Meanwhile as taken:
        raise UsageFault(f"{root / taken.file} stands already, and nothing was written. Name a new folder.") from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise UsageFault(f"{root} cannot be written to ({reason}), and nothing was. Name another folder.") from None
    finally:
        for folder in made:
            with suppress(OSError):  # it is not empty: all went well, or somebody else has put something into it
                folder.rmdir()
    return [file for file in contents if not file.startswith(".")]


def refuse_what_stands(root: Path, answers: Answers, today: date = FIRST_DAY) -> dict[str, bytes]:
    """What would be written. Raises UsageFault where something stands there already, or an answer is none."""
    if root.exists() and not root.is_dir():
        raise UsageFault(f"{root} is a file. Name a folder.")
    for slip in answers.slips.values():
        raise UsageFault(f"{slip.problem}. {slip.mend}")
    contents = files_of(answers, answers.said.get(NAME) or spoken(root), today)
    if standing := [file for file in contents if (root / file).exists()]:
        raise UsageFault(f"{root / standing[0]} stands already, and nothing was written. Name a new folder.")
    return contents


def spoken(root: Path) -> str:
    """A name for a workshop that was given none: the folder's, with blanks and capitals."""
    return root.resolve().name.replace("-", " ").replace("_", " ").strip().title()[:120] or "Workshop"
