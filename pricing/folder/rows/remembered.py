"""The rows that a large folder came to, remembered: resolving is half of what a command does that computes little.

They are taken again where the very same files, asked the same on the same day by the very same program, are read, and
each mesh measures what it measured then. All else is resolved anew, and so is what cannot be read or is no such thing.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from pricing.errors import Fault, TroytagError
from pricing.folder.checks.remembered import digest_of, faults_of
from pricing.folder.read import Folder
from pricing.folder.rows.resolve import resolve
from pricing.folder.rows.resolving import Asked, MeasureMesh
from pricing.folder.toml.parsed import is_worth_it
from pricing.formulas.frozen import OtherForm, frozen_rows, thawed_rows
from pricing.model.rows import Resolved
from pricing.remembered import keep, name_for, recalled

MOST_BYTES = 2**27


def resolved_again(folder: Folder, asked: Asked, measure_mesh: MeasureMesh) -> tuple[Resolved, tuple[Fault, ...]]:
    """As `resolve`, of a folder that stands as it was read; what it comes to is kept and taken again.

    `measure_mesh` is asked about the same files in either case.
    """
    if not is_worth_it(folder.root):
        return resolve(folder, asked, measure_mesh)
    said = [asked.as_of.isoformat(), asked.run, asked.charge_design, date.today().isoformat()]
    digest = digest_of(folder.hashes, said)
    if digest is None:
        return resolve(folder, asked, measure_mesh)
    name = name_for(folder.root)
    known = _known(name, digest, folder.root, measure_mesh)
    if known is not None:
        return known
    measured: dict[str, tuple[float, float]] = {}

    def measuring(path: Path) -> tuple[float, float]:
        measured[path.relative_to(folder.root).as_posix()] = found = measure_mesh(path)
        return found

    resolved, warnings = resolve(folder, asked, measuring)
    _keep(name, {"of": digest, "measured": measured, "warnings": warnings, "resolved": frozen_rows(resolved)})
    return resolved, warnings


def _keep(name: str, entry: dict[str, Any]) -> None:
    from pydantic_core import to_json

    content = to_json(entry, inf_nan_mode="constants")
    if len(content) <= MOST_BYTES:
        keep("resolved", name, content)


def _known(name: str, digest: str, root: Path, measure_mesh: MeasureMesh) -> tuple[Resolved, tuple[Fault, ...]] | None:
    """What was kept, where all of it holds still."""
    from pydantic_core import from_json

    content = recalled("resolved", name, MOST_BYTES)
    if content is None:
        return None
    try:
        kept = from_json(content)
        if kept["of"] != digest:
            return None
        for file, measured in kept["measured"].items():
            if list(measure_mesh(root / file)) != measured:
                return None
        return thawed_rows(kept["resolved"]), tuple(faults_of(kept["warnings"]))
    except (TroytagError, OtherForm, ValueError, KeyError, TypeError, AttributeError):
        return None
