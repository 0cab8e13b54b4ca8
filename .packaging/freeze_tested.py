"""Writes `tested.txt`: the exact version of all that the README's commands install, as this environment has it.

Run it with the Python of an environment in which all tests passed (`try_newest.sh` makes one). Only what
`pyproject.toml` asks for is told, and what that needs in turn; names and versions, no registry, no path. A package
that is asked for on some platforms only keeps that condition, so that the others can still install.

    python .packaging/freeze_tested.py            # writes .packaging/tested.txt
    python .packaging/freeze_tested.py --print    # prints it instead
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

HERE = Path(__file__).parent
HEAD = "# Tested together. Made by freeze_tested.py; the ranges that may work stand in pyproject.toml.\n"


def asked_for() -> Iterator[Requirement]:
    """What the README's commands ask for: the dependencies, what `all` takes, and `test`."""
    project = tomllib.loads((HERE.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    taken = [extra for line in extras["all"] for extra in sorted(Requirement(line).extras)]
    for each in (project["dependencies"], *(extras[name] for name in (*taken, "test"))):
        yield from map(Requirement, each)


def installed_for(requirement: Requirement) -> Iterator[Requirement]:
    """What an installed package needs here, with the extras that were asked of it."""
    for line in distribution(requirement.name).requires or ():
        needed = Requirement(line)
        if needed.marker is None or any(
            needed.marker.evaluate({"extra": extra}) for extra in ("", *requirement.extras)
        ):
            yield needed


def condition(requirement: Requirement) -> str:
    """On which platforms it is asked for; empty for all, or where an extra has a say."""
    marker = str(requirement.marker or "")
    return "" if "extra" in marker else marker


def frozen() -> str:
    """The text of `tested.txt`. Raises SystemExit for a package that should be here and is not."""
    waiting, seen = list(asked_for()), set()
    versions: dict[str, str] = {}
    conditions: dict[str, set[str]] = {}
    while waiting:
        asked = waiting.pop()
        name = canonicalize_name(asked.name)
        if asked.marker and "extra" not in str(asked.marker) and not asked.marker.evaluate():
            continue
        conditions.setdefault(name, set()).add(condition(asked))
        if (name, frozenset(asked.extras)) in seen:
            continue
        seen.add((name, frozenset(asked.extras)))
        try:
            versions[name] = distribution(asked.name).version
        except PackageNotFoundError:
            raise SystemExit(f"{asked.name} is not installed here: pip install -e '.[all,test]'") from None
        waiting.extend(installed_for(asked))
    lines = []
    for name in sorted(versions):
        bound = "" if "" in conditions[name] else " or ".join(f"({each})" for each in sorted(conditions[name]))
        lines.append(f"{name}=={versions[name]}{f' ; {bound}' if bound else ''}\n")
    return HEAD + "".join(lines)


if __name__ == "__main__":
    if sys.argv[1:] == ["--print"]:
        print(frozen(), end="")
    else:
        (HERE / "tested.txt").write_text(frozen(), encoding="utf-8")
