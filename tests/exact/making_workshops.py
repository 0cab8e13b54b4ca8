"""Draws processes.toml and the files of products."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from .chooser import Chooser
from .parts_of_workshops import part_findings
from .recompute_folder import follow_like
from .selling_workshops import own_selling
from .sizing_workshops import cousin_sizes, sizes_tables

BEFORE = ["print", "wash and cure", "tree"]
AFTER = ["cut and grind", "tumble", "darken"]
JOINING = ["join", "line the box"]


@dataclass(frozen=True)
class Room:
    """What a workshop has to work with."""

    roles: list[str]
    machines: list[str]
    materials: list[str]
    alloys: list[str]  # that products are made in
    all_alloys: list[str]  # those for plating too


def process_steps(pick: Chooser, takes_metal: str, room: Room) -> list[dict]:
    """A process: perhaps a design step, steps before the metal, the metal step, steps after it, perhaps a mark."""
    pers = ["piece", "set", "flask"] if takes_metal == "pour" else ["piece", "set"]

    def step(name: str, per: str, position: str) -> dict:
        return plain_step(pick, name, per, position, room)

    steps = []
    if pick.chance(5):
        steps.append(step("model", "design", "before"))
    steps += [step(name, pick.one(pers), "before") for name in BEFORE[: pick.one([0, 1, 1, 2, 3])]]
    if takes_metal == "pour" and pick.chance(7):
        steps.append(step("invest", "flask", "before"))
        steps[-1].setdefault("uses", []).append({"material": "investment", "quantity": "flask"})
    # Whatever else is drawn, some attended minutes are spent, so that wanted earnings have an hour to be earned in.
    attended = {"takes_metal": takes_metal, "labour": room.roles[0], "minutes": pick.number("0.5", "20", 1)}
    steps.append(step(takes_metal, pick.one([pers[-1], *pers]), "metal") | attended)
    steps += [step(name, pick.one(["piece", *pers]), "after") for name in AFTER[: pick.integer(0, 3)]]
    if pick.chance(5):
        steps.append(step("mark", pick.one(["piece", "set"]), "mark") | {"from_g": pick.number("0", "60", 2)})
    return steps


def boxed_steps(pick: Chooser, room: Room) -> list[dict]:
    """A process without a metal step: of steps per set or design, perhaps of none at all."""
    steps = [plain_step(pick, "design", "design", "boxed", room)] if pick.chance(4) else []
    return steps + [plain_step(pick, name, "set", "boxed", room) for name in JOINING[: pick.integer(0, 2)]]


def plain_step(pick: Chooser, name: str, per: str, position: str, room: Room) -> dict:
    """One step; `position` is before, metal, after, mark or boxed and says which keys make sense."""
    step: dict = {"name": name, "per": per}
    works_on_sets = position != "mark" and per != "design"
    if pick.chance(7):
        step |= {"labour": pick.one(room.roles), "minutes": pick.number("0", "12", 1)}
        if works_on_sets and pick.chance(3):
            step |= {"rework": pick.share(), "rework_minutes": pick.number("0", "12", 1)}
    if room.machines and pick.chance(5):
        step |= {"machine": pick.one(room.machines), "machine_minutes": pick.integer(0, 120)}
    if pick.chance(5):
        step |= {"together": pick.integer(1, 30) if per != "design" else 2, "shared": pick.chance(5)}
    if pick.chance(4):
        kinds = ["quantity"]
        if position not in ("mark", "boxed"):
            kinds = ["quantity", "per_cm3", "per_cm2", "per_g", "microns"]
        step["uses"] = [use(pick, kind, room) for kind in pick.some(kinds, least=1)]
    if pick.chance(3):
        step["fee"] = pick.money("0.1", "15")
    if works_on_sets and pick.chance(5):
        step["good"] = good(pick)
    if position in ("metal", "after"):
        if pick.chance(5):
            step |= {"metal_loss": pick.number("0", "0.3", 4), "caught": pick.share()}
        if pick.chance(5):
            step["rejects"] = pick.one(["crucible", "refiner", "lost"])
    if position != "metal":
        limit = pick.one(["", "", "alloys", "holding"])
        if limit == "alloys":
            step["alloys"] = pick.some(room.alloys, least=1)
        elif limit == "holding":
            step["holding"] = pick.some(["Ag", "Au", "Sn"], least=1)
        if pick.chance(3):
            step["as_part"] = pick.chance(2)
    return step


def use(pick: Chooser, kind: str, room: Room) -> dict:
    """What a step takes: some of a material, or a layer of an alloy."""
    if kind != "microns":
        return {"material": pick.one(room.materials), kind: pick.number("0.001", "2", 3)}
    layer = {"alloy": pick.one(room.all_alloys), "microns": pick.number("0.05", "5", 2)}
    return layer | pick.some_of({"covers": pick.share, "waste": lambda: pick.number("0", "0.5", 2)})


def good(pick: Chooser) -> Decimal:
    """A fraction that comes out good: mostly nearly all, at times only half."""
    return pick.number("0.5", "1", 3) if pick.chance(2) else pick.number("0.9", "1", 3)


@dataclass(frozen=True)
class ProductDraft:
    """What a product's own figures must agree with."""

    pick: Chooser
    steps: list[dict]
    process: str
    channels: dict
    room: Room
    flasks: list[str]
    earlier: dict[str, dict]  # products that it may take as parts, `like` followed

    def figures(self) -> dict[str, Callable]:
        """Figures that a product, a cousin or one alloy of a product may state."""
        pick = self.pick
        figures: dict[str, Callable] = {"expected_sales": lambda: pick.integer(1, 300)}
        if self.process in ("boxed", "bare"):
            return figures
        figures |= {"sprue_ratio": lambda: pick.number("0", "2", 2), "shrinkage": lambda: pick.number("0", "0.06", 3)}
        if self.process == "cast":
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
                casting |= {"metal_g": pick.number("0.5", "20", 2), "in_alloy": pick.one(self.room.all_alloys)}
                casting["weighed"] = pick.one(["as-cast", "finished"])
            casting["area_cm2"] = pick.number("0.5", "60", 1)
            if pick.chance(4):
                casting["effort"] = pick.number("0.05", "3", 2)
            result.append(casting)
        return result

    def findings(self, own_alloys: list[str]) -> list[dict]:
        """Bought parts, some with metal of any alloy in them, some for some alloys only, and the maker's own."""
        pick = self.pick
        joined = self.process in ("boxed", "bare")
        result = part_findings(pick, self.earlier, own_alloys, least=1 if joined else 0)
        if result and pick.chance(5):
            return result
        for name in ["stud", "bail", "box"][: pick.integer(1, 3)]:
            finding = {"name": name, "quantity": pick.integer(1, 4), "price": pick.money("0", "6")}
            if pick.chance(1):
                del finding["price"]
            if pick.chance(5):
                finding |= {"metal_g": pick.number("0.01", "3", 2), "alloy": pick.one(self.room.all_alloys)}
                if pick.chance(5):
                    finding["premium"] = pick.number("0", "0.6", 3)
            if pick.chance(3):
                finding["other_g"] = pick.number("0", "8", 2)
            if pick.chance(3):
                finding["alloys"] = pick.some(self.room.alloys, least=1)
            if pick.chance(5):
                finding["spoil"] = pick.number("0", "0.2", 3)
            result.append(finding)
        return result

    def own_figures(self, alloys: list[str]) -> dict:
        """`sold_in`, `steps` and `in_channel` of a product (or of one of its alloys) in these alloys."""
        pick = self.pick
        tables: dict = {}
        if pick.chance(2):
            tables["sold_in"] = pick.some(list(self.channels), least=pick.integer(0, 1))
        # A step that holds an alloy back is left alone: whether the product has it is not known here.
        open_to_it = [
            step for step in self.steps if "holding" not in step and set(step.get("alloys", alloys)) & set(alloys)
        ]
        if open_to_it and pick.chance(5):
            step = pick.one(open_to_it)
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
    room: Room,
    flasks: list[str],
) -> dict:
    """A product that states everything itself, or a cousin of an earlier one (perhaps itself a cousin)."""
    product: dict = {"sku": sku, "name": sku.replace("-", " ").capitalize()}
    whole = {name: follow_like(stated, earlier) for name, stated in earlier.items()}
    first: dict = {}
    if earlier and pick.chance(4):
        product["like"] = pick.one(list(earlier))
        first = whole[product["like"]]
        process, own_alloys = first["process"], first["alloys"]
    else:
        # Joined of parts only where there are some already.
        process = pick.one([name for name in processes if earlier or name not in ("boxed", "bare")])
        own_alloys = pick.shuffled(pick.some(room.alloys, least=1))
    draft = ProductDraft(pick, processes[process], process, channels, room, flasks, whole)
    joined = process in ("boxed", "bare")
    if first:
        product |= pick.some_of(draft.figures() | {"findings": lambda: draft.findings(own_alloys)})
        if not joined:
            product |= pick.some_of({"castings": draft.castings})
            if pick.chance(5):
                product["scale"] = pick.number("0.5", "1.6", 2)
            if "sizes" in first and pick.chance(5):
                product["sizes"] = cousin_sizes(pick, first["sizes"])
    else:
        product |= {"sold_as": pick.one(["each", "pair", "set"]), "alloys": own_alloys, "process": process}
        product |= {key: figure() for key, figure in draft.figures().items() if key != "shrinkage" or pick.chance(5)}
        if process == "bought-in" and pick.chance(5):
            del product["sprue_ratio"]
        if not joined:
            product["castings"] = draft.castings()
            if pick.chance(4):
                product["sizes"] = sizes_tables(pick)
            if pick.chance(2):
                product["scale"] = pick.number("0.5", "1.6", 2)
        if joined or pick.chance(6):
            product["findings"] = draft.findings(own_alloys)
    product |= draft.own_figures(own_alloys)
    if pick.chance(5):
        alloy = pick.one(own_alloys)
        own = pick.some_of(draft.figures()) | draft.own_figures([alloy])
        if own:
            product["for_alloy"] = {alloy: own}
    return product
