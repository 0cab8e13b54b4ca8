"""What a question is asked of: a folder that is read, and when they are needed its figures and prices."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

from pricing.costing import Costing, cost_folder
from pricing.folder.inherit import pieces
from pricing.folder.read import Folder
from pricing.folder.rows.resolve import Asked
from pricing.formulas.engine import Computed
from pricing.model.stated import Stated
from pricing.questions.option import chosen
from pricing.shown import Shown, metal_of, shown_of
from pricing.studies.prices_out import PricesOut, Wanted, prices_out


@dataclass(frozen=True)
class Subject:
    """A folder on a day; `wanted` says which prices, those in force where it is None. `known` is a costing of it.
    `progress` is told the share that is done of what takes long; `in_names` says whether sentences have the maker's
    names, as the page has, or what is typed.

    Raises Faults, where figures are asked for, with all that stands in their way.
    """

    folder: Folder
    asked: Asked
    wanted: Wanted = None
    known: Costing | None = None
    progress: Callable[[float], None] = lambda share: None
    in_names: bool = False

    @property
    def stated(self) -> Stated:
        return self.folder.stated

    @cached_property
    def costing(self) -> Costing:
        return self.known or cost_folder(self.folder, self.asked)

    @cached_property
    def out(self) -> PricesOut:
        return prices_out(self.costing, self.wanted)

    @cached_property
    def shown(self) -> Shown:
        return shown_of(self.stated)

    @property
    def day(self) -> str:
        return self.asked.as_of.isoformat()

    def called(self, sku: str, alloy: str = "") -> tuple[str, str]:
        """A product and its alloy as a sentence has them."""
        return self.folder.called(sku, alloy) if self.in_names else (sku, alloy)

    def head(self, out: PricesOut) -> str:
        """Whose figures these are, in which currency, of which day's metal."""
        return self.head_of(out.computed)

    def head_of(self, computed: Computed) -> str:
        """The same of figures at no particular prices."""
        workshop = self.stated.workshop
        return f"{workshop.name}, {workshop.currency}, {metal_of(computed.resolved)}"


def basis(out: PricesOut) -> str:
    """Which prices these are."""
    return f"edition {out.edition.number} of {out.edition.as_of}" if out.edition else "what the policy asks"


def chosen_goods(option: str, names: Sequence[str] | None, folder: Folder) -> dict[str, None]:
    """The skus that were asked for, with the sizes that have one of their own; all where none was asked for.

    In their order, and quick to look up. Raises Refused for an unknown one.
    """
    picked = dict.fromkeys(chosen(option, "product", names, folder.goods))
    sizes = [sku for sku, piece in pieces(folder.products).items() if piece.product.sku in picked]
    return picked | dict.fromkeys(sizes)
