"""One sentence where a library of an extra is not installed."""

from __future__ import annotations

from pricing.errors import TroytagError


def missing(what: str, library: str, extra: str) -> TroytagError:
    """The error to raise where `library` cannot be imported; `what` needs it, and `extra` brings it."""
    mend = f'Install it with: pip install "troytag[{extra}]"'
    return TroytagError(f"{what} needs {library}, which is not installed. {mend}")
