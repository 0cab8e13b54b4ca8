"""Faults of names: whoever refers to a role, a machine, an alloy, a channel must find it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from pricing.errors import Fault, Place, did_you_mean, nearest
from pricing.folder.gathered import Parts
from pricing.folder.stated_at import DEFINED
from pricing.folder.toml.places import KeyPath
from pricing.model.channel import Policy
from pricing.model.process import Step, StepFigures


def unknown(
    parts: Parts, kind: str, name: str | None, file: str, path: KeyPath, *, at_key: bool = False
) -> tuple[Fault, ...]:
    """A fault where no thing of this kind has this name, with the place of the nearest or of its file."""
    known = parts.names.get(kind)
    if name is None or known is None or name in known:
        return ()
    defined_in, table = DEFINED[kind]
    close = nearest(name, known)
    other = () if defined_in == file else (parts.documents.place(defined_in, (*table, close) if close else ()),)
    if other and not close:
        other = (Place(defined_in),)
    at: Literal["key", "value"] = "key" if at_key else "value"
    problem, mend = f'no {kind} "{name}"', did_you_mean(name, known)
    return (parts.documents.fault(file, path, problem, mend, at=at, other=other),)


def step_name_faults(parts: Parts, file: str, path: KeyPath, step: Step | StepFigures) -> Iterator[Fault]:
    """Names that a step, or a product's own figures for one, refers to; `path` leads to it."""
    yield from unknown(parts, "role", step.labour, file, (*path, "labour"))
    yield from unknown(parts, "machine", step.machine, file, (*path, "machine"))
    for index, use in enumerate(step.uses or ()):
        yield from unknown(parts, "material", use.material, file, (*path, "uses", index, "material"))
        yield from unknown(parts, "alloy", use.alloy, file, (*path, "uses", index, "alloy"))
    for index, alloy in enumerate(step.alloys or ()):
        yield from unknown(parts, "alloy", alloy, file, (*path, "alloys", index))


def keystone_faults(parts: Parts, file: str, path: KeyPath, channel: str, policy: Policy | None) -> Iterator[Fault]:
    """A policy that leans on a channel that does not exist, or on its own; `path` leads to the policy."""
    if policy is None or policy.keystone_of is None:
        return
    yield from unknown(parts, "channel", policy.keystone_of, file, (*path, "keystone_of"))
    if policy.keystone_of == channel:
        yield parts.documents.fault(
            file, (*path, "keystone_of"), "a channel cannot lean on its own price", "Name another channel."
        )
