"""What a doubt is about, in a few words for every face."""

from __future__ import annotations

from pricing.studies.doubt.in_doubt import InDoubt


def in_short(found: InDoubt) -> str:
    """`17 figures in doubt (2 by the log), metal over 8 weeks`."""
    count = len(found.doubted.figures)
    from_log = sum(figure.from_log for figure in found.doubted.figures)
    told = f"{count} {'figure' if count == 1 else 'figures'} in doubt{f' ({from_log} by the log)' if from_log else ''}"
    weeks = found.metals.weeks
    return f"{told}, metal over {weeks} {'week' if weeks == 1 else 'weeks'}" if found.metals.moves else told
