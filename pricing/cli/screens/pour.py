"""How a plan of a pour stands on the terminal: what to make, the flasks, what to weigh, kiln and metal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pricing.cli.screens import screen
from pricing.costing import Costing
from pricing.errors import UsageFault, did_you_mean
from pricing.pouring import told
from pricing.pouring.figures import Plan
from pricing.pouring.mixing import Brought, alloy_named, brought_to, charge_for_tree, recipe
from pricing.shown import Shown, hours, metal_of, percent, shown_of


def show(costing: Costing, plan: Plan, mixed: Sequence[str]) -> None:
    """The whole plan."""
    console, stated = screen.out(), costing.folder.stated
    shown = shown_of(stated)
    print(f"{stated.workshop.name}, {stated.workshop.currency}, {metal_of(costing.computed.resolved)}")
    console.print(told.summary(plan), soft_wrap=False)
    console.print()
    console.print(_lines(plan))
    console.print(told.heads())
    if plan.flasks:
        console.print()
        console.print(_trees(plan))
        console.print()
        console.print(_scale(plan, shown))
    for total in plan.alloys:
        if total.alloy in mixed:
            console.print()
            console.print(_elements(plan, total.alloy, shown))
    if plan.loads:
        console.print()
        console.print(_kiln(plan, shown))
    if plan.alloys:
        console.print()
        console.print(_metal(plan, shown))
    if plan.taken:
        console.print()
        console.print(_taken(plan, shown))
    if plan.flasks:
        console.print()
        console.print(told.CAUTION)


def _lines(plan: Plan) -> screen.Table:
    heads = ["wanted", "alloy", "good", "mean", "make", "on trees", "chance"]
    rows = [
        (
            line.design.titled,
            line.design.alloy,
            f"{line.design.quantity:,}{told.of_each(line.design.chain.per_set * line.design.chain.castings)}",
            f"{line.expected_starts:,.1f}",
            f"{line.patterns:,}",
            f"{line.on_trees:,}" if line.design.takes == "cast" else "",
            percent(line.attained, 1) if line.attained == line.attained else "",
        )
        for line in plan.lines
    ]
    return screen.table(heads, rows, left=2)


def _trees(plan: Plan) -> screen.Table:
    rows = [
        (
            numbers,
            flask.alloy,
            flask.flask or "–",
            told.holds(flask),
            percent(flask.room),
            str(flask.load or ""),
        )
        for numbers, flask in told.alike(plan.flasks)
    ]
    return screen.table(["pour", "alloy", "flask", "castings on the tree", "full", "load"], rows, left=4)


def _scale(plan: Plan, shown: Shown) -> screen.Table:
    unit = shown.show.mass
    returned = "returned" if plan.has_drawer else "returned, most"
    fresh = "fresh" if plan.has_drawer else "fresh, least"
    heads = [f"weigh, {unit}", "castings", "sprues, button", "melt loss", "charge", returned, fresh]
    invested = any(flask.powder_g is not None for flask in plan.flasks)
    heads += ["powder, g", "water, g"] * invested
    hot = any(flask.pour_c is not None for flask in plan.flasks)
    heads += ["pour at"] * hot
    warm = any(flask.flask_c is not None for flask in plan.flasks)
    heads += ["flask at"] * warm
    rows = []
    for numbers, flask in told.alike(plan.flasks):
        masses = (flask.castings_g, flask.sprue_g + flask.button_g, flask.melt_lost_g)
        row = [numbers, *(shown.mass(grams, unit=False) for grams in masses)]
        row += [shown.mass(grams, unit=False) for grams in (flask.charge_g, flask.returned_g, flask.fresh_g)]
        for grams in (flask.powder_g, flask.water_g) if invested else ():
            row.append("–" if grams is None else f"{grams:,.0f}")
        row += [shown.temperature(flask.pour_c)] * hot + [shown.temperature(flask.flask_c)] * warm
        rows.append(row)
    return screen.table(heads, rows)


def _elements(plan: Plan, alloy: str, shown: Shown) -> screen.Table:
    own = [flask for flask in plan.flasks if flask.alloy == alloy]
    elements = list(own[0].elements)
    rows = [
        (numbers, *(shown.mass(flask.elements[element], unit=False) for element in elements))
        for numbers, flask in told.alike(own)
    ]
    return screen.table([f"mix {alloy}, {shown.show.mass}", *elements], rows)


def _kiln(plan: Plan, shown: Shown) -> screen.Table:
    heads = ["load", "kiln", "pours", "hours", "full", "kWh", f"costs, {shown.currency}"]
    rows = [
        (
            str(load.number),
            f"{load.machine}, {load.step}",
            told.ranges(load.flasks),
            hours(load.minutes / 60),
            percent(load.share),
            f"{load.kwh:,.1f}",
            shown.money(load.cost),
        )
        for load in plan.loads
    ]
    return screen.table(heads, rows, left=3)


def _metal(plan: Plan, shown: Shown) -> screen.Table:
    unit = shown.show.mass
    to_buy = "to buy" if plan.has_drawer else "fresh"
    heads = [f"metal, {unit}", "melted", "of it returned", to_buy, f"that costs, {shown.currency}"]
    rows = [
        (
            total.alloy,
            *(shown.mass(grams, unit=False) for grams in (total.charge_g, total.returned_g, total.to_buy_g)),
            shown.money(total.cost),
        )
        for total in plan.alloys
    ]
    return screen.table(heads, rows)


def _taken(plan: Plan, shown: Shown) -> screen.Table:
    heads = ["not poured", "alloy", "", "pieces", f"metal, {shown.show.mass}"]
    rows = [
        (
            each.line.design.titled,
            each.line.design.alloy,
            "cut" if each.line.design.takes == "cut" else "bought as castings",
            f"{each.line.on_trees:,}",
            shown.mass(each.metal_g, unit=False),
        )
        for each in plan.taken
    ]
    return screen.table(heads, rows, left=3)


@dataclass(frozen=True)
class WeighedTree:
    """A tree weighed in wax or resin, and the metal for it."""

    alloy: str
    flask: str
    tree_g: float
    density: float
    charge_g: float


def weighed_trees(costing: Costing, texts: Sequence[str], density: float) -> list[WeighedTree]:
    """`sterling:medium=43.5` as metal. Raises UsageFault for what makes no sense."""
    if not 0.5 <= density <= 3:
        raise UsageFault(f"--wax-density {density:g}: wax and resin are between 0.5 and 3 g/cm3.")
    stated, found = costing.folder.stated, []
    for text in texts:
        (name, flask), grams = _named(text, "--tree", "ALLOY:FLASK=GRAMS, as sterling:medium=43.5")
        if flask and flask not in stated.workshop.flasks:
            raise UsageFault(f'no flask "{flask}". {did_you_mean(flask, stated.workshop.flasks)}')
        button = stated.workshop.flasks[flask].button_cm3 if flask else 0.0
        charge = charge_for_tree(grams, density, alloy_named(stated.alloys, name), button)
        found.append(WeighedTree(name, flask, grams, density, charge))
    return found


@dataclass(frozen=True)
class BroughtAlloy:
    """So much of an alloy, what brings it to another's fineness, and what to its very composition (None: nothing)."""

    old: str
    new: str
    own_g: float
    brought: Brought
    recipe: dict[str, float] | None


def brought_alloys(costing: Costing, texts: Sequence[str]) -> list[BroughtAlloy]:
    """`gold-9ct:gold-14ct=12.5` as additions. Raises UsageFault for what makes no sense."""
    alloys, found = costing.folder.stated.alloys, []
    for text in texts:
        (old, new), grams = _named(text, "--bring", "OLD:NEW=GRAMS, as gold-9ct:gold-14ct=12.5")
        before, wanted = alloy_named(alloys, old), alloy_named(alloys, new)
        brought = brought_to(grams, before, wanted)
        try:
            whole = recipe(grams, before, wanted)
        except UsageFault:
            whole = None
        found.append(BroughtAlloy(old, new, grams, brought, whole))
    return found


def _named(text: str, option: str, form: str) -> tuple[tuple[str, str], float]:
    what, mark, amount = text.rpartition("=")
    first, _, second = what.partition(":")
    try:
        grams = float(amount)
    except ValueError:
        grams = 0.0
    if not mark or not first or not 0 < grams < 1e7:
        raise UsageFault(f'{option} "{text}": write {form}.')
    return (first.strip(), second.strip()), grams


def show_beside(shown: Shown, trees: Sequence[WeighedTree], brought: Sequence[BroughtAlloy]) -> None:
    """Weighed trees and alloys that are brought up or down, in words."""
    for tree in trees:
        where = f", and the button of {tree.flask}" if tree.flask else ", without a button"
        screen.out().print(
            f"A tree of {shown.mass(tree.tree_g)} at {tree.density:g} g/cm3 takes {shown.mass(tree.charge_g)} of "
            f"{tree.alloy}: melt loss is in it{where}."
        )
    for each in brought:
        done = each.brought
        add = f"{shown.mass(done.add_fine_g)} of fine {done.element}"
        if done.add_base_g:
            add = f"{shown.mass(done.add_base_g)} of metal without {done.element}"
        screen.out().print(
            f"{shown.mass(each.own_g)} of {each.old} ({done.element} {1000 * done.before:.0f}) and {add} make "
            f"{shown.mass(done.comes_to_g)} of {done.element} {1000 * done.wanted:.0f}, as {each.new} has."
        )
        if each.recipe is not None:
            parts = ", ".join(
                f"{shown.mass(grams)} {element}" for element, grams in each.recipe.items() if grams > 0.005
            )
            whole = each.own_g + sum(each.recipe.values())
            screen.out().print(f"  Its very composition takes {parts or 'nothing'}: {shown.mass(whole)} in all.")
