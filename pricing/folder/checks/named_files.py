"""Files that a maker names in the folder (meshes, pictures, a logo): each must be one, and lie inside it."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import PurePosixPath, PureWindowsPath

from pricing.folder.gathered import Parts


def file_problem(parts: Parts, name: str) -> tuple[str, str] | None:
    """What is wrong with the file `name` and the mend; None where it is one of this folder."""
    if parts.documents.is_plainly_there(name):
        return None
    if "\\" in name:
        return f'"{name}" has backslashes in it', f"Write slashes: {PureWindowsPath(name).as_posix()}."
    root = parts.documents.root
    if PurePosixPath(name).is_absolute() or PureWindowsPath(name).drive:
        return f'"{name}" does not begin in this folder', "Put the file into the folder and name it from there."
    try:
        if not parts.documents.is_inside(name):
            return f'"{name}" leads out of the folder', "Put the file into the folder and name it from there."
        if name in parts.documents.to_come or (root / name).is_file():
            return None
        folder = (root / name).parent
        there = [entry.name for entry in folder.iterdir() if entry.is_file()] if folder.is_dir() else []
    except PermissionError:
        return f'"{name}" may not be read', "Give yourself leave to read it and its folder."
    except (OSError, RuntimeError) as error:  # a circle of links is a RuntimeError to pathlib
        reason = getattr(error, "strerror", None) or "a link leads back to itself"
        return f'"{name}" cannot be read ({reason})', "Put the file itself there."
    close = _alike(PurePosixPath(name).name, there)
    mend = f'Did you mean "{PurePosixPath(name).parent / close}"?' if close else "Add it to the folder."
    return f'there is no file "{name}"', mend


def _alike(name: str, there: list[str]) -> str | None:
    """The file whose name, without its ending, differs by a slip only: another piece's file is no help."""
    by_stem: dict[str, str] = {}
    for entry in sorted(there, key=lambda entry: PurePosixPath(entry).suffix != PurePosixPath(name).suffix):
        by_stem.setdefault(PurePosixPath(entry).stem.lower(), entry)
    close = get_close_matches(PurePosixPath(name).stem.lower(), list(by_stem), n=1, cutoff=0.8)
    return by_stem[close[0]] if close else None
