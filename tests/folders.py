"""Workshop folders that tests start from."""

from __future__ import annotations

from pathlib import Path


def tin_lane() -> Path:
    """An invented workshop whose exact results are known (`tests/exact/tin_lane/expected.json`)."""
    return Path(__file__).parent / "exact" / "tin_lane"


def alder_wharf() -> Path:
    """An invented workshop that has everything in it that can be stated (`tests/exact/alder_wharf/expected.json`)."""
    return Path(__file__).parent / "exact" / "alder_wharf"
