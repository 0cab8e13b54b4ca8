"""Running the command line in this process."""

from __future__ import annotations

import sys
from dataclasses import dataclass

import pytest

from pricing.cli.main import main


@dataclass(frozen=True)
class Ran:
    """What one run of the command said: exit code, stdout, stderr."""

    code: int
    out: str
    err: str


@pytest.fixture
def troytag(monkeypatch, capsys):
    """Run `troytag` with some words, on a screen of 80 columns without colours."""
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")

    def run(*words: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["troytag", *map(str, words)])
        capsys.readouterr()
        try:
            main()
            code = 0
        except SystemExit as left:
            code = left.code if isinstance(left.code, int) else 1 if left.code else 0
        said = capsys.readouterr()
        return Ran(code, said.out, said.err)

    return run
