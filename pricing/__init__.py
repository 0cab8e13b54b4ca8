"""What a small metal piece really costs to make, and what to ask for it.

    import pricing
    costed = pricing.cost("fernhollow", as_of="2026-11-20")
    costed.frame()

`cost`, `frame` and `to_csv` stand in `pricing/notebook.py`; they, and the faults that they raise, are loaded when they
are first used, because this file is imported with every module.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pricing.errors import Faults, FormulaFault, TroytagError, UsageFault
    from pricing.notebook import Costed, Shown, cost, frame, to_csv

__version__ = "0.2.0"
__all__ = ["Costed", "Faults", "FormulaFault", "Shown", "TroytagError", "UsageFault", "cost", "frame", "to_csv"]


def __getattr__(name: str) -> object:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from pricing import errors, notebook

    return getattr(errors if hasattr(errors, name) else notebook, name)


def __dir__() -> list[str]:
    return [*globals(), *__all__]
