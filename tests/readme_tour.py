"""The README's tour is real output: this runs its commands and fills in, or checks, what they print.

A block that begins with `$ troytag …` shows a command and its output (stdout, then stderr), run in a folder that holds
a fresh copy of the sample named `fernhollow`. A line of `…` alone stands for lines that are left out. A comment
`<!-- edit FILE: old => new -->` before a block changes a file of the sample first. A block of Python is a script that
prints the block of text after it.

    python tests/readme_tour.py        # fill in what the commands print today
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from unittest import mock

from pricing.cli.main import main as troytag

ROOT = Path(__file__).parents[1]
BLOCK = re.compile(
    r"(?P<edits>(?:<!-- edit .*? -->\n)*)```console\n\$ troytag (?P<words>.*)\n(?P<output>(?:.*\n)*?)```\n"
)
SCRIPT = re.compile(r"```python\n(?P<code>(?:.*\n)*?)```\n\n```text\n(?P<output>(?:.*\n)*?)```\n")
EDIT = re.compile(r"<!-- edit (?P<file>\S+): (?P<old>.*?) => (?P<new>.*?) -->")
LEFT_OUT = "…"


def printed(words: str, edits: str, directory: Path) -> list[str]:
    """The lines that a command prints after the edits."""
    for edit in EDIT.finditer(edits):
        file = directory / "fernhollow" / edit["file"]
        text = file.read_text(encoding="utf-8")
        assert edit["old"] in text, f"{edit['old']} does not stand in {file}"
        file.write_text(text.replace(edit["old"], edit["new"]), encoding="utf-8")
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    with (
        contextlib.chdir(directory),
        mock.patch.dict(os.environ, {"COLUMNS": "80", "NO_COLOR": "1"}),
        mock.patch.object(sys, "argv", ["troytag", *words.split()]),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        contextlib.suppress(SystemExit),
    ):
        troytag()
    said = [stream.flush() or stream.buffer.getvalue().decode("utf-8") for stream in (out, err)]
    return [line.rstrip() for line in "".join(said).splitlines()]


def runs(text: str):
    """Each block of the tour with the lines that its command really prints."""
    with tempfile.TemporaryDirectory() as name:
        directory = Path(name)
        shutil.copytree(ROOT / "sample_catalog", directory / "fernhollow")
        for block in BLOCK.finditer(text):
            yield block, printed(block["words"], block["edits"], directory)


def script_runs(text: str):
    """Each script of the README, run beside a fresh copy of the sample, with the lines that it really prints."""
    with tempfile.TemporaryDirectory() as name:
        directory = Path(name)
        shutil.copytree(ROOT / "sample_catalog", directory / "fernhollow")
        for block in SCRIPT.finditer(text):
            (directory / "script.py").write_text(block["code"], encoding="utf-8")
            ran = subprocess.run(
                [sys.executable, "script.py"],
                cwd=directory,
                env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"},
                capture_output=True,
                text=True,
                encoding="utf-8",
            )
            yield block, [line.rstrip() for line in (ran.stdout + ran.stderr).splitlines()]


def agree(shown: list[str], real: list[str]) -> bool:
    """Whether what is shown is what is printed, `…` standing for any lines."""
    if not shown:
        return not real
    if shown[0] == LEFT_OUT:
        return any(agree(shown[1:], real[place:]) for place in range(len(real) + 1))
    return bool(real) and shown[0] == real[0] and agree(shown[1:], real[1:])


def filled(shown: list[str], real: list[str]) -> list[str]:
    """What to show instead: all of it, or so many lines before and after the `…` as are shown now."""
    if LEFT_OUT not in shown:
        return real
    place = shown.index(LEFT_OUT)
    after = len(shown) - place - 1
    return [*real[:place], LEFT_OUT, *(real[-after:] if after else [])]


def main() -> None:
    readme = ROOT / "README.md"
    text = readme.read_text(encoding="utf-8")
    for block, real in list(runs(text)):
        lines = "".join(f"{line}\n" for line in filled(block["output"].splitlines(), real))
        new = f"{block['edits']}```console\n$ troytag {block['words']}\n{lines}```\n"
        text = text.replace(block[0], new)
    for block, real in list(script_runs(text)):
        lines = "".join(f"{line}\n" for line in real)
        text = text.replace(block[0], f"```python\n{block['code']}```\n\n```text\n{lines}```\n")
    readme.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
