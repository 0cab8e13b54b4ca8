"""What stands above the columns of the tables: words that a maker uses, and the code name as a small line below."""

from __future__ import annotations

import re

from pricing.formulas.graph import Graph
from pricing.records import COST_LINES

#: Where the first part of a meaning ends: what follows says how it is reckoned or what holds where nothing is stated.
_END = re.compile(r"[,;:.(]\s|\s\(|[.]$")


def in_words(graph: Graph, name: str) -> str:
    """The head of a column: the first part of what its name means, and of a cost line what all faces call it.

    `melt_loss` is headed "share of a charge lost in the melt", `one_retail_price` "every retail channel asks …".
    """
    if name in COST_LINES:
        return COST_LINES[name]
    meaning = _END.split(graph.known(name).meaning, maxsplit=1)[0].strip().removeprefix("Whether ")
    return meaning[:1].lower() + meaning[1:]
