"""Draws processes.toml and the files of products."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from .chooser import Chooser
from .selling_workshops import own_selling

BEFORE = ["print", "wash and cure", "tree"]
AFTER = ["cut and grind", "tumble", "darken"]


def process_steps(
    pick: Chooser, takes_metal: str, roles: list[str], machines: list[str], materials: list[str], alloys: list[str]
) -> list[dict]:
    """A process: perhaps a design step, steps before the metal, the metal step, steps after it, perhaps a mark."""
    pers = ["piece", "set", "flask"] if takes_metal == "pour" else ["piece", "set"]

    def step(name: str, per: str, position: str) -> dict:
        return plain_step(pick, name, per, position, roles, machines, materials, alloys)

    steps = []
    if pick.chance(5):
        steps.append(step("model", "design", "before"))
    steps += [step(name, pick.one(pers), "before") for name in BEFORE[: pick.one([0, 1, 1, 2, 3])]]
    if takes_metal == "pour" and pick.chance(7):
        steps.append(step("invest", "flask", "before"))
        steps[-1].setdefault("uses", []).append({"material": "investment", "quantity": "flask"})
    # Whatever else is drawn, some attended minutes are spent, so that wanted earnings have an hour to be earned in.
    attended = {"takes_metal": takes_metal, "labour": roles[0], "minutes": pick.number("0.5", "20", 1)}
    steps.append(step(takes_metal, pick.one([pers[-1], *pers]), "metal") | attended)
    steps += [step(name, pick.one(["piece", *pers]), "after") for name in AFTER[: pick.integer(0, 3)]]
    if pick.chance(5):
        steps.append(step("mark", pick.one(["piece", "set"]), "mark") | {"from_g": pick.number("0", "60", 2)})
    return steps


def plain_step(
    pick: Chooser,
    name: str,
    per: str,
    position: str,
    roles: list[str],
    machines: list[str],
    materials: list[str],
    alloys: list[str],
) -> dict:
    """One step; `position` is before, metal, after or mark and says which keys make sense."""
    step: dict = {"name": name, "per": per}
    works_on_sets = position != "mark" and per != "design"
    if pick.chance(7):
        step |= {"labour": pick.one(roles), "minutes": pick.number("0", "12", 1)}
        if works_on_sets and pick.chance(3):
            step |= {"rework": pick.share(), "rework_minutes": pick.number("0", "12", 1)}
    if machines and pick.chance(5):
        step |= {"machine": pick.one(machines), "machine_minutes": pick.integer(0, 120)}
    if pick.chance(5):
        step |= {"together": pick.integer(1, 30) if per != "design" else 2, "shared": pick.chance(5)}
    if pick.chance(4):
        kinds = ["quantity", "per_cm3", "per_cm2", "per_g"] if position != "mark" else ["quantity"]
        step["uses"] = [
            {"material": pick.one(materials), kind: pick.number("0.001", "2", 3)} for kind in pick.some(kinds, least=1)
        ]
    if pick.chance(3):
        step["fee"] = pick.money("0.1", "15")
    if works_on_sets and pick.chance(5):
        step["good"] = good(pick)
    if position in ("metal", "after"):
        if pick.chance(5):
            step |= {"metal_loss": pick.number("0", "0.3", 4), "caught": pick.share()}
        if pick.chance(5):
            step["rejects"] = pick.one(["crucible", "refiner", "lost"])
    if position != "metal" and pick.chance(3):
        step["alloys"] = pick.some(alloys, least=1)
    return step


def good(pick: Chooser) -> Decimal:
    """A fraction that comes out good: mostly nearly all, at times only half."""
    return pick.number("0.5", "1", 3) if pick.chance(2) else pick.number("0.9", "1", 3)


@dataclass(frozen=True)
class ProductDraft:
    """What a product's own figures must agree with."""

    pick: Chooser
    process: list[dict]
    cast: bool
    channels: dict
    alloys: list[str]  # of the workshop
    flasks: list[str]

    def figures(self) -> dict[str, Callable]:
        """Figures that a product, a cousin or one alloy of a product may state."""
        pick = self.pick
        figures: dict[str, Callable] = {
            "sprue_ratio": lambda: pick.number("0", "2", 2),
            "shrinkage": lambda: pick.number("0", "0.06", 3),
            "expected_sales": lambda: pick.integer(1, 300),
        }
        if self.cast:
            figures |= {
                "flask": lambda: pick.one(self.flasks),
                "pieces_per_flask": lambda: pick.integer(1, 40),
            }
        return figures

    def castings(self) -> list[dict]:
        """One to three castings, each stated by volume, weighed model or weighed piece; all with a surface."""
        pick = self.pick
        result = []
        for place in range(pick.one([1, 1, 2, 3])):
            casting = {"name": f"part {place + 1}", "count": pick.one([1, 1, 2, 4])}
            way = pick.one(["volume", "model", "metal"])
            if way == "volume":
                casting["volume_cm3"] = pick.number("0.05", "2", 3)
            elif way == "model":
                casting |= {"model_g": pick.number("0.05", "2", 2), "model_density": pick.number("0.9", "1.3", 2)}
            else:
                casting |= {"metal_g": pick.number("0.5", "20", 2), "in_alloy": pick.one(self.alloys)}
                casting["weighed"] = pick.one(["as-cast", "finished"])
            casting["area_cm2"] = pick.number("0.5", "60", 1)
            result.append(casting)
        return result

    def findings(self) -> list[dict]:
        """One to three bought parts, some with metal of any alloy in them, some for some alloys only."""
        pick = self.pick
        result = []
        for name in ["stud", "bail", "box"][: pick.integer(1, 3)]:
            finding = {"name": name, "quantity": pick.integer(1, 4), "price": pick.money("0", "6")}
            if pick.chance(5):
                finding |= {"metal_g": pick.number("0.01", "3", 2), "alloy": pick.one(self.alloys)}
            if pick.chance(3):
                finding["alloys"] = pick.some(self.alloys, least=1)
            if pick.chance(5):
                finding["spoil"] = pick.number("0", "0.2", 3)
            result.append(finding)
        return result

    def own_figures(self, alloys: list[str]) -> dict:
        """`sold_in`, `steps` and `in_channel` of a product (or of one of its alloys) in these alloys."""
        pick = self.pick
        tables: dict = {}
        if pick.chance(2):
            tables["sold_in"] = pick.some(list(self.channels), least=1)
        if pick.chance(5):
            step = pick.one([step for step in self.process if set(step.get("alloys", alloys)) & set(alloys)])
            own = self.step_figures(step)
            if own:
                tables["steps"] = {step["name"]: own}
        if pick.chance(4):
            channel = pick.one(list(self.channels))
            tables["in_channel"] = {channel: own_selling(pick, self.channels, channel)}
        return tables

    def step_figures(self, step: dict) -> dict:
        """Own figures for a step: only such as the step can have, and never without attended minutes."""
        pick = self.pick
        possible: dict[str, Callable] = {}
        if "labour" in step:
            possible["minutes"] = lambda: pick.number("0.5", "20", 1)
        if "good" in step:
            possible["good"] = lambda: good(pick)
        if "metal_loss" in step:
            possible |= {"metal_loss": lambda: pick.number("0", "0.3", 4), "caught": pick.share}
        if "rework" in step:
            possible |= {"rework": pick.share, "rework_minutes": lambda: pick.number("0", "20", 1)}
        if "machine" in step:
            possible["machine_minutes"] = lambda: pick.integer(0, 120)
        if "together" in step and step["per"] != "design":
            possible["together"] = lambda: pick.integer(1, 30)
        if "fee" in step:
            possible["fee"] = lambda: pick.money("0.1", "15")
        if "from_g" in step:
            possible["from_g"] = lambda: pick.number("0", "60", 2)
        return pick.some_of(possible)


def product_tables(
    pick: Chooser,
    sku: str,
    earlier: dict[str, dict],
    processes: dict,
    channels: dict,
    alloys: list[str],
    flasks: list[str],
) -> dict:
    """A product that states everything itself, or a cousin of an earlier one (perhaps itself a cousin)."""
    product: dict = {"sku": sku, "name": sku.replace("-", " ").capitalize()}
    if earlier and pick.chance(5):
        product["like"] = pick.one(list(earlier))
        first = earlier[product["like"]]
        while "like" in first:
            first = earlier[first["like"]]
        process, own_alloys = first["process"], first["alloys"]
    else:
        process = pick.one(list(processes))
        own_alloys = pick.shuffled(pick.some(alloys, least=1))
    draft = ProductDraft(pick, processes[process], process == "cast", channels, alloys, flasks)
    if "like" in product:
        product |= pick.some_of(draft.figures() | {"castings": draft.castings, "findings": draft.findings})
        if pick.chance(5):
            product["scale"] = pick.number("0.5", "1.6", 2)
    else:
        product |= {"sold_as": pick.one(["each", "pair", "set"]), "alloys": own_alloys, "process": process}
        product |= {key: figure() for key, figure in draft.figures().items() if key != "shrinkage" or pick.chance(5)}
        product["castings"] = draft.castings()
        if pick.chance(5):
            product["findings"] = draft.findings()
        if pick.chance(2):
            product["scale"] = pick.number("0.5", "1.6", 2)
    product |= draft.own_figures(own_alloys)
    if pick.chance(5):
        alloy = pick.one(own_alloys)
        own = pick.some_of(draft.figures()) | draft.own_figures([alloy])
        if own:
            product["for_alloy"] = {alloy: own}
    return product
