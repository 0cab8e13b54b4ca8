"""What must hold of the steps of a product in an alloy, its own figures applied."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import NamedTuple

from pydantic import ValidationError

from pricing.errors import Fault, Place
from pricing.folder.files import PROCESSES_FILE, WORKSHOP_FILE
from pricing.folder.gathered import Parts
from pricing.folder.inherit import step_with
from pricing.folder.refused_values import refusals
from pricing.folder.toml.places import KeyPath
from pricing.model.metals import is_precious, main_element
from pricing.model.process import Step
from pricing.model.product import Product

#: So many steps are named in one note.
MOST_NAMED = 3


class _MetalFault(NamedTuple):
    """What is wrong with how the metal comes in; `other` is None where the product's own process is the place."""

    file: str
    path: KeyPath
    problem: str
    mend: str
    other: Place | None = None


def step_faults(parts: Parts, file: str, product: Product, doubtful: set[str]) -> Iterator[Fault]:
    """Everything about the steps of a product that is wrong; nothing where they cannot be told for sure."""
    process = parts.processes.get(product.process or "")
    if process is None or product.alloys is None or doubtful & {"process", "alloys", "steps", "for_alloy"}:
        return
    told: set[str] = set()
    looked_at: set[tuple[int, int]] = set()  # steps and figures of which everything is told; both are held elsewhere
    lacks_surface = any(each.area_cm2 is None and each.mesh is None for each in product.castings or ())
    about_metal: dict[_MetalFault, list[str]] = {}
    for alloy in product.alloys:
        refused = list(_refused_figures(parts, file, product, process, alloy))
        yield from refused
        if refused:
            continue
        steps = parts.applied.steps_of(process, product, alloy, parts.alloys)
        for fault in _metal_faults(parts, file, product, alloy, steps):
            about_metal.setdefault(fault, []).append(alloy)
        figures = parts.applied.figures_of(product, alloy)
        if (id(steps), id(figures)) in looked_at:
            continue
        looked_at.add((id(steps), id(figures)))
        if not product.castings and "castings" not in doubtful:
            if not any(step.takes_metal for step in process):  # else castings are asked for
                yield from _joining_faults(parts, file, product, alloy, steps, told)
            continue
        for step in steps:
            for key, problem, mend in _needed_by(step, figures) if step.per in ("flask", "design") else ():
                if key not in told and key not in doubtful:
                    told.add(key)
                    other = _step_place(parts, product, step)
                    yield parts.documents.fault(file, (), problem, mend, other=(other,))
            if lacks_surface and step.uses:
                yield from _surface_faults(parts, file, product, step, doubtful)
    for fault, alloys in about_metal.items():
        only = "" if len(alloys) == len(product.alloys) else f" for {' and '.join(alloys)}"
        whose = parts.documents.place(file, ("process",))
        other = fault.other or whose
        yield parts.documents.fault(fault.file, fault.path, fault.problem + only, fault.mend, other=(other,))


def _joining_faults(
    parts: Parts, file: str, product: Product, alloy: str, steps: tuple[Step, ...], told: set[str]
) -> Iterator[Fault]:
    """What steps may not be of a product that has no casting of its own."""
    for step in steps:
        wrong = [("per", f"is per {step.per}")] if step.per not in ("set", "design") else []
        wrong += [("metal_loss", "takes metal off")] if step.metal_loss else []
        wrong += [("uses", "goes by the surface")] if any(use.goes_by_surface for use in step.uses) else []
        for key, does in wrong:
            where, path = _stated(parts, file, product, alloy, step, key)
            if (mark := f"{step.name} {key}") not in told:
                told.add(mark)
                problem = f'the step "{step.name}" {does}, and {product.sku} has no casting of its own'
                mend = "Write a process for it whose steps are per set or design, without metal_loss."
                yield parts.documents.fault(where, path, problem, mend, other=(parts.documents.place(file),))
        for key, problem, mend in _needed_by(step, parts.applied.figures_of(product, alloy)):
            if key not in told:
                told.add(key)
                yield parts.documents.fault(file, (), problem, mend, other=(_step_place(parts, product, step),))


def step_warnings(parts: Parts, file: str, product: Product) -> Iterator[Fault]:
    """A flask that is filled with something else than its own material."""
    process = parts.processes.get(product.process or "")
    if process is None or parts.workshop is None:
        return
    looked_at: set[tuple[int, str | None]] = set()
    for alloy in product.alloys or ():
        name = parts.applied.figures_of(product, alloy).flask
        flask = parts.workshop.flasks.get(name or "")
        if flask is None:
            continue
        steps = parts.applied.steps_of(process, product, alloy, parts.alloys)
        if (id(steps), name) in looked_at:  # it is told already; the steps are held by what is applied
            continue
        looked_at.add((id(steps), name))
        for step in steps:
            for index, use in enumerate(step.uses):
                if use.quantity == "flask" and use.material != flask.material:
                    where, path = _stated(parts, file, product, alloy, step, "uses")
                    yield parts.documents.fault(
                        where,
                        (*path, index, "material"),
                        f'"{use.material}" fills the flask "{name}", whose own material is "{flask.material}"',
                        "Write the same material in both places.",
                        other=(parts.documents.place(WORKSHOP_FILE, ("flasks", name or "", "material")),),
                    )


def left_out_warnings(parts: Parts, file: str, product: Product, told: set[tuple[str, str]]) -> Iterator[Fault]:
    """An alloy that no `alloys =` list of its process names, though steps are limited to alloys of its sort.

    So it is with an alloy that is new: it would be sold undarkened or unmarked, and too cheap. A brass that is in no
    list of precious metals alone is no slip: those are hallmarks. Nor is a gold of which no sister is in a list, where
    other steps take whatever holds gold (`holding =`). `told` holds process and alloy, each told once.
    """
    process = product.process or ""
    looked_at: dict[int, tuple[list[Step], list[str]]] = {}  # by the steps, which are held elsewhere
    for index, alloy in enumerate(product.alloys or ()):
        steps = parts.applied.with_figures(parts.processes.get(process, ()), product, alloy)
        if id(steps) not in looked_at:
            limited = [step for step in steps if step.alloys is not None]
            looked_at[id(steps)] = limited, list(dict.fromkeys(chain(*(step.alloys or () for step in limited))))
        limited, named = looked_at[id(steps)]
        if alloy in named or (process, alloy) in told:
            continue
        composition = parts.alloys[alloy].composition
        alike = [name for name in named if is_precious(parts.alloys[name].composition) == is_precious(composition)]
        if not alike:
            continue
        main = main_element(composition)
        sisters = [name for name in alike if main_element(parts.alloys[name].composition) == main]
        if not sisters and any(main in (step.holding or ()) for step in steps):
            continue
        told.add((process, alloy))
        missed = [step for step in limited if not sisters or set(sisters) & set(step.alloys or ())]
        yield parts.documents.fault(
            file,
            ("alloys", index),
            f"{alloy} is in none of the alloys = lists of {process}, so that {_left_out(missed, sisters)}",
            _mend_of_lists(main, sisters),
            other=(_step_place(parts, product, missed[0]),),
        )


def _left_out(missed: list[Step], sisters: list[str]) -> str:
    """`"assay mark" and "darken", which sterling has, are left out`."""
    names = [f'"{step.name}"' for step in missed]
    shown = names[:MOST_NAMED] + ([f"{len(names) - MOST_NAMED} more"] if len(names) > MOST_NAMED else [])
    listed = shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
    like = f", which {sisters[0]} has," if sisters else ""
    return f"{listed}{like} {'is' if len(names) == 1 else 'are'} left out"


def _mend_of_lists(main: str, sisters: list[str]) -> str:
    """How to have the steps done to a new alloy; by what is in it where that can be said of a step."""
    if not sisters:
        return "Add it to the lists of the steps that it needs."
    return f'Add it to the lists of the steps that it needs, or write there holding = ["{main}"] in their place.'


def _refused_figures(
    parts: Parts, file: str, product: Product, process: tuple[Step, ...], alloy: str
) -> Iterator[Fault]:
    """Steps that make no sense with the product's own figures."""
    try:
        parts.applied.with_figures(process, product, alloy)
        return
    except ValidationError:  # of the first; all are told
        pass
    own = product.for_alloy[alloy].steps if alloy in product.for_alloy else {}
    for index, step in enumerate(process):
        figures = (product.steps.get(step.name), own.get(step.name))
        try:
            step_with(step, *figures)
        except ValidationError as error:
            path: KeyPath = ("for_alloy", alloy) if figures[1] is not None else ()
            path = (*path, "steps", step.name)
            other = parts.documents.place(PROCESSES_FILE, ("processes", product.process or "", index))
            for refusal in refusals(Step, {}, error):
                stated = (*path, *refusal.path)
                where = stated if parts.documents.stands(file, stated) else path
                yield parts.documents.fault(file, where, refusal.problem, refusal.mend, other=(other,))


def _metal_faults(
    parts: Parts, file: str, product: Product, alloy: str, steps: tuple[Step, ...]
) -> Iterator[_MetalFault]:
    """Exactly one step brings the metal in, and nothing is filed off before it."""
    metal_steps = [step for step in steps if step.takes_metal]
    if not product.castings:
        return  # castings are asked for where a step brings metal in
    if not metal_steps:
        mend = 'Write takes_metal = "pour", "cut" or "bought" on the step that does.'
        yield _MetalFault(PROCESSES_FILE, ("processes", product.process or ""), "no step brings the metal in", mend)
        return
    first, *more = metal_steps
    if more:
        names = " and ".join(f'"{step.name}"' for step in metal_steps)
        where, path = _stated(parts, file, product, alloy, more[0], "takes_metal")
        yield _MetalFault(where, path, f"{names} both bring the metal in", "Keep takes_metal on one step.")
        return
    for step in steps:
        if step is first:
            break
        if step.metal_loss:
            where, path = _stated(parts, file, product, alloy, step, "metal_loss")
            mend = "Leave it out, or put the step behind that one."
            problem = f'there is no metal yet before "{first.name}"'
            yield _MetalFault(where, path, problem, mend, _step_place(parts, product, first))


def _needed_by(step: Step, figures: Product) -> Iterator[tuple[str, str, str]]:
    """What a step needs of a product and does not find: the key, the problem, the mend."""
    if step.per == "flask":
        for key, mend in (
            ("flask", "Add flask = with the name of a flask."),
            ("pieces_per_flask", "Add pieces_per_flask = with the castings in one flask."),
        ):
            if getattr(figures, key) is None:
                yield key, f'{key} is missing, and the step "{step.name}" is per flask', mend
    if step.per == "design" and figures.expected_sales is None:
        mend = "Add expected_sales = with the sets over the design's life."
        yield "expected_sales", f'expected_sales is missing, and the step "{step.name}" is per design', mend


def _surface_faults(parts: Parts, file: str, product: Product, step: Step, doubtful: set[str]) -> Iterator[Fault]:
    if "castings" in doubtful or not any(use.goes_by_surface for use in step.uses):
        return
    for index, casting in enumerate(product.castings or ()):
        if casting.area_cm2 is None and casting.mesh is None:
            yield parts.documents.fault(
                file,
                ("castings", index),
                f'area_cm2 is missing, and the step "{step.name}" goes by the surface',
                "Add its surface in cm2, or a mesh.",
                other=(_step_place(parts, product, step),),
            )


def _step_place(parts: Parts, product: Product, step: Step) -> Place:
    return parts.documents.place(PROCESSES_FILE, _step_path(parts, product, step))


def _step_path(parts: Parts, product: Product, step: Step) -> KeyPath:
    process = parts.processes[product.process or ""]
    index = next(index for index, other in enumerate(process) if other.name == step.name)
    return ("processes", product.process or "", index)


def _stated(parts: Parts, file: str, product: Product, alloy: str, step: Step, key: str) -> tuple[str, KeyPath]:
    """The file and the path of a step's figure: the product's own in the alloy, its own, or the process's."""
    own = product.for_alloy[alloy].steps if alloy in product.for_alloy else {}
    if step.name in own and getattr(own[step.name], key) is not None:
        return file, ("for_alloy", alloy, "steps", step.name, key)
    if step.name in product.steps and getattr(product.steps[step.name], key) is not None:
        return file, ("steps", step.name, key)
    return PROCESSES_FILE, (*_step_path(parts, product, step), key)
