"""What a draft of a design costs with the levers where they stand, or what stands in the way."""

from __future__ import annotations

import re
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from threading import Lock

from pricing.errors import Fault, Faults
from pricing.formulas.engine import Computed
from pricing.page.forms.borrowed import Borrowed, borrowed, weights
from pricing.page.forms.draft import Draft, Drawn, drawn
from pricing.page.labels import label_of
from pricing.page.stamps import Stamp, stamp_of
from pricing.page.views.comparison import Comparison, comparison
from pricing.page.views.design_told import told
from pricing.page.views.levers import Lever, levers_of, moved, with_levers
from pricing.page.views.strip import Strip, strip
from pricing.page.workspace import Look, Workspace

#: So many costed drafts are kept: a lever that is being moved asks for the same one again and again.
MOST_KEPT = 16
#: Fields that the costing of a draft does not depend on: where levers stand.
_NOT_OF_THE_DRAFT = re.compile(r"(?:metal|hour|good):.*|run|levers", re.DOTALL)
_CASTING = re.compile(r"castings-\d+")
_NAMED_MISSING = re.compile(r"(\w+) is missing")


@dataclass(frozen=True)
class FieldFault:
    """A fault, the field that it belongs to ("" where to none), and what that is called."""

    field: str
    label: str
    problem: str
    mend: str


@dataclass(frozen=True)
class Weight:
    """What the castings of a new design weigh in one alloy."""

    alloy: str
    stamp: Stamp
    grams: str


@dataclass(frozen=True)
class Lent:
    """Whose figures a new design borrows: field, label and figure of each."""

    name: str
    figures: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class AnswerContext:
    """`strip` and `comparison` of a draft, None where it cannot be costed; `sku` of what is changed, "" of a new one.

    `lent` are figures of another piece that a new design borrows, `weights` what it weighs in every alloy; `says` a
    sentence for each section of the form.
    """

    comparison: Comparison | None
    strip: Strip | None
    faults: tuple[FieldFault, ...]
    levers: tuple[Lever, ...]
    moved: tuple[Lever, ...]
    levers_changed: bool
    lent: Lent | None
    weights: tuple[Weight, ...]
    says: Mapping[str, str]
    sku: str


class Drawings:
    """Drafts that were costed lately, by what they say and the look that they were costed with."""

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[object, ...], tuple[Look, Drawn]] = OrderedDict()
        self._lock = Lock()

    def of(self, workspace: Workspace, look: Look, draft: Draft) -> Drawn:
        said = tuple(sorted(item for item in draft.fields.items() if not _NOT_OF_THE_DRAFT.fullmatch(item[0])))
        key = (draft.sku, said, draft.alloys, draft.sold_in, draft.shown)
        with self._lock:
            kept = self._kept.get(key)
            if kept and kept[0] is look:
                self._kept.move_to_end(key)
                return kept[1]
        found = drawn(workspace, look, draft)
        with self._lock:
            self._kept[key] = look, found
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return found


@dataclass(frozen=True)
class Costed:
    """A draft, drawn; where it lacks figures that another piece can lend, drawn with those."""

    drawn: Drawn
    lent: Borrowed | None = None


def costed(drawings: Drawings, workspace: Workspace, look: Look, draft: Draft) -> Costed:
    """Cost a draft; a new one that lacks figures with those of the nearest piece."""
    found = drawings.of(workspace, look, draft)
    if found.costing is None and not draft.sku and (lent := borrowed(workspace, look, draft)):
        with_lent = drawings.of(workspace, look, lent.draft)
        if with_lent.costing is not None:
            return Costed(with_lent, lent)
    return Costed(found)


def answered(
    drawings: Drawings, workspace: Workspace, look: Look, draft: Draft, faults: tuple[Fault, ...] = ()
) -> AnswerContext:
    """All that is said of a draft; `faults` in place of its own, where it was refused."""
    found = costed(drawings, workspace, look, draft)
    levers: list[Lever] = []
    computed: Computed | None = None
    costing = found.drawn.costing
    faults = faults or found.drawn.faults
    if costing is not None:
        levers = levers_of(costing.computed.resolved, draft.fields)
        try:
            computed = with_levers(costing, levers)
        except Faults as wrong:
            faults = (*faults, *wrong.faults)
    before = look.costing.computed if draft.sku or costing is None else costing.computed
    stated = look.costing.folder.stated
    return AnswerContext(
        comparison=comparison(computed, stated, look.shown) if computed else None,
        strip=strip(look, computed, before, draft.sku) if computed else None,
        faults=tuple(field_fault(fault) for fault in faults),
        levers=tuple(levers),
        moved=tuple(moved(levers)),
        levers_changed=bool(levers) and draft.get("levers") != "|".join(lever.name for lever in levers),
        lent=_lent(found.lent),
        weights=() if draft.sku else _weights(workspace, look, draft),
        says=told(workspace, look, draft),
        sku=draft.sku,
    )


def _lent(found: Borrowed | None) -> Lent | None:
    if found is None:
        return None
    return Lent(found.name, tuple((name, label_of(name), value) for name, value in found.fields.items()))


def _weights(workspace: Workspace, look: Look, draft: Draft) -> tuple[Weight, ...]:
    alloys = look.costing.folder.stated.alloys
    return tuple(
        Weight(alloys[each.alloy].name, stamp_of(alloys[each.alloy]),
               look.shown.mass(each.as_cast_g if each.finished_g is None else each.finished_g))
        for each in weights(workspace, look, draft)
    )  # fmt: skip


def field_fault(fault: Fault) -> FieldFault:
    """The field of the form that a fault of the product belongs to."""
    key = fault.key
    if named := _NAMED_MISSING.match(fault.problem):
        key = key if key.endswith(named[1]) else f"{key}.{named[1]}" if key else named[1]
    if key == "castings":
        key = "castings[0]"
    field = re.sub(r"\[(\d+)\]\.?", r"-\1-", key).replace(".", "-").strip("-")
    label, mend = label_of(field), fault.mend
    if _CASTING.fullmatch(field):
        field, mend = f"{field}-name", "Drop a mesh, or type a volume or a weight."
    return FieldFault(field, label, fault.problem, mend)
