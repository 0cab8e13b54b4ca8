"""What must hold of products: the names they use, and what stands once `like` is applied."""

from __future__ import annotations

from collections.abc import Iterator

from pricing.errors import Fault, did_you_mean
from pricing.folder.checks.checked import CheckedProducts
from pricing.folder.checks.named_files import file_problem
from pricing.folder.checks.names import keystone_faults, step_name_faults, unknown
from pricing.folder.checks.own_pieces import circle_faults, has_parts, known_pieces, part_faults
from pricing.folder.checks.sizes import size_faults, sku_faults
from pricing.folder.checks.steps import left_out_warnings, step_faults, step_warnings
from pricing.folder.files import PROCESSES_FILE
from pricing.folder.gathered import Parts
from pricing.folder.inherit import circle_fault, circles
from pricing.folder.toml.places import KeyPath
from pricing.model.process import StepFigures
from pricing.model.product import OwnInAlloy, OwnInChannel, Product
from pricing.model.rows import VariantRow

#: What every product must have in the end, and how to add it.
_REQUIRED = (
    ("alloys", 'Add alloys = ["…"] with the alloys it is made in.'),
    ("process", "Add process = with the name of a process."),
)
#: Figures of a variant that must be stated in the end, by itself or in each alloy: the key, the input.
_REQUIRED_FIGURES = tuple(
    (known.key, known) for known in VariantRow.inputs.values() if known.required and len(known.path or ()) == 1
)
_ADD_CASTINGS = 'Add castings = [{ name = "…", count = 1, volume_cm3 = … }].'


def product_faults(parts: Parts) -> Iterator[Fault]:
    """Everything about products that is wrong."""
    for circle in circles(parts.products):
        yield parts.documents.fault(
            parts.documents.product_files[circle[0]],
            ("like",),
            *circle_fault(circle),
            other=tuple(parts.documents.place(parts.documents.product_files[sku], ("like",)) for sku in circle[1:-1]),
        )
    whole, known, checked = parts.whole, known_pieces(parts), CheckedProducts(parts)
    yield from circle_faults(parts, known)
    yield from sku_faults(parts)
    for sku, product in parts.products.items():
        file = parts.documents.product_files[sku]
        yield from part_faults(parts, known, file, product)
        yield from file_faults(parts, file, product)
        if sku not in whole:
            yield from _name_faults(parts, file, product, None)
        elif not (known_of_it := checked.of(sku)).is_faultless:
            found = list(_faults_by_itself(parts, file, product, whole[sku]))
            known_of_it.is_faultless = not found
            yield from found


def _faults_by_itself(parts: Parts, file: str, product: Product, whole: Product) -> Iterator[Fault]:
    """Everything that is wrong about a product and hangs on nothing but itself and the files that all products use."""
    doubtful = parts.unsure(product.sku)
    yield from _name_faults(parts, file, product, whole)
    if "sizes" not in doubtful:
        yield from size_faults(parts, file, product, whole)
    yield from _missing(parts, file, whole, doubtful)
    yield from _chain_faults(parts, file, whole)
    yield from step_faults(parts, file, whole, doubtful)


def product_warnings(parts: Parts) -> Iterator[Fault]:
    """Everything about products that is allowed and looks like a slip."""
    whole, checked = parts.whole, CheckedProducts(parts)
    skipped: set[tuple[str, str]] = set()
    for sku, product in parts.products.items():
        file = parts.documents.product_files[sku]
        if sku not in whole:
            continue
        if not (known := checked.of(sku)).is_quiet:
            found = [
                *_without_effect(parts, file, product, whole[sku]),
                *step_warnings(parts, file, whole[sku]),
            ]
            leaves_out = any(left_out_warnings(parts, file, whole[sku], set()))
            known.is_quiet = not found and not leaves_out
            yield from found
            if leaves_out:
                yield from left_out_warnings(parts, file, whole[sku], skipped)


def _without_effect(parts: Parts, file: str, product: Product, whole: Product) -> Iterator[Fault]:
    """Figures of its own for an alloy in which the product is not made."""
    for alloy in product.for_alloy:
        if whole.alloys and alloy not in whole.alloys:
            yield parts.documents.fault(
                file,
                ("for_alloy", alloy),
                f'it has no effect, since the product is not made in "{alloy}"',
                "Add the alloy to alloys, or take the table out.",
                at="key",
                other=(parts.documents.place(file, ("alloys",)),),
            )


def _name_faults(parts: Parts, file: str, product: Product, whole: Product | None) -> Iterator[Fault]:
    """Names that the product itself states; what it takes from another is told there."""
    skus = parts.names["product"] or ()
    if product.like is not None and product.like not in skus and parts.all_products_read:
        mend = did_you_mean(product.like, set(skus) - {product.sku})
        yield parts.documents.fault(file, ("like",), f'no product "{product.like}"', mend)
    for index, alloy in enumerate(product.alloys or ()):
        yield from unknown(parts, "alloy", alloy, file, ("alloys", index))
    yield from unknown(parts, "process", product.process, file, ("process",))
    for index, casting in enumerate(product.castings or ()):
        yield from unknown(parts, "alloy", casting.in_alloy, file, ("castings", index, "in_alloy"))
    for index, finding in enumerate(product.findings or ()):
        path: KeyPath = ("findings", index)
        yield from unknown(parts, "alloy", finding.alloy, file, (*path, "alloy"))
        for number, alloy in enumerate(finding.alloys or ()):
            yield from unknown(parts, "alloy", alloy, file, (*path, "alloys", number))
    yield from _figure_faults(parts, file, (), product, whole)
    for alloy, own in product.for_alloy.items():
        yield from unknown(parts, "alloy", alloy, file, ("for_alloy", alloy), at_key=True)
        yield from _figure_faults(parts, file, ("for_alloy", alloy), own, whole)


def _figure_faults(
    parts: Parts, file: str, path: KeyPath, own: Product | OwnInAlloy, whole: Product | None
) -> Iterator[Fault]:
    """Names in what a product and its own figures for an alloy have in common."""
    yield from unknown(parts, "flask", own.flask, file, (*path, "flask"))
    for index, channel in enumerate(own.sold_in or ()):
        yield from unknown(parts, "channel", channel, file, (*path, "sold_in", index))
    for channel, in_channel in own.in_channel.items():
        yield from _own_channel_faults(parts, file, (*path, "in_channel", channel), channel, in_channel)
    for name, figures in own.steps.items():
        yield from _own_step_faults(parts, file, (*path, "steps", name), name, figures, whole)


def _own_channel_faults(parts: Parts, file: str, path: KeyPath, channel: str, own: OwnInChannel) -> Iterator[Fault]:
    yield from unknown(parts, "channel", channel, file, path, at_key=True)
    yield from keystone_faults(parts, file, (*path, "policy"), channel, own.policy)


def _own_step_faults(
    parts: Parts, file: str, path: KeyPath, name: str, figures: StepFigures, whole: Product | None
) -> Iterator[Fault]:
    yield from step_name_faults(parts, file, path, figures)
    process = whole.process if whole else None
    if not process:
        return
    known = parts.step_names(process)
    if known is not None and name not in known:
        yield parts.documents.fault(
            file,
            path,
            f'the process "{process}" has no step "{name}"',
            did_you_mean(name, known),
            at="key",
            other=(parts.documents.place(PROCESSES_FILE, ("processes", process)),),
        )


def file_faults(parts: Parts, file: str, product: Product) -> Iterator[Fault]:
    """Meshes and pictures: each a file inside the folder."""
    named: list[tuple[KeyPath, str]] = [
        (("castings", index, "mesh"), casting.mesh)
        for index, casting in enumerate(product.castings or ())
        if casting.mesh is not None
    ]
    if product.photo is not None:
        named.append((("photo",), product.photo))
    for path, name in named:
        told = file_problem(parts, name)
        if told is not None:
            yield parts.documents.fault(file, path, *told)


def _missing(parts: Parts, file: str, product: Product, doubtful: set[str]) -> Iterator[Fault]:
    """What neither the product nor those that it is like state."""
    also = f", and {product.like} has none to take" if product.like is not None else ""
    for key, mend in _REQUIRED:
        if getattr(product, key) is None and key not in doubtful:
            yield parts.documents.fault(file, (), f"{key} is missing{also}", mend)
    process = parts.processes.get(product.process or "")
    takes = {step.takes_metal for step in process or () if step.takes_metal}
    joined = process is not None and not takes and has_parts(product)
    if not product.castings and not joined and not doubtful & {"castings", "findings"}:
        yield parts.documents.fault(file, (), f"castings is missing{also}", _ADD_CASTINGS)
    if joined or takes == {"bought"}:
        return
    in_alloys = [(alloy, parts.applied.figures_of(product, alloy)) for alloy in product.alloys or ()]
    for key, known in _REQUIRED_FIGURES:
        lacking = [alloy for alloy, figures in in_alloys if getattr(figures, key) is None]
        if lacking and not doubtful & {key, "for_alloy"}:
            only = f" for {', '.join(lacking)}" if len(lacking) < len(product.alloys or ()) else ""
            yield parts.documents.fault(file, (), f"{key} is missing{only}{also}", known.required)


def _chain_faults(parts: Parts, file: str, product: Product) -> Iterator[Fault]:
    """A policy of the product's own that makes a chain of keystones."""
    told: set[str] = set()
    for alloy in product.alloys or ():
        own = parts.applied.figures_of(product, alloy).in_channel
        mine = {channel: figures.policy for channel, figures in own.items() if figures.policy is not None}
        if not mine:
            continue
        policies = {name: channel.policy for name, channel in parts.channels.items()} | mine
        own_channels = parts.applied.figures_of(product, alloy).sold_in
        sold_in = tuple(parts.channels) if own_channels is None else own_channels
        for channel in sold_in:
            asked = policies[channel].keystone_of if channel in policies else None
            further = policies[asked].keystone_of if asked in policies else None
            if asked is None or further is None or asked == channel:
                continue
            stated = channel if channel in mine else asked
            if stated in mine and stated not in told:
                told.add(stated)
                path: KeyPath = ("in_channel", stated, "policy")
                if stated in (product.for_alloy[alloy].in_channel if alloy in product.for_alloy else {}):
                    path = ("for_alloy", alloy, *path)
                yield parts.documents.fault(
                    file,
                    path,
                    f'"{channel}" is keystone_of "{asked}", which is keystone_of "{further}", and no chain is followed',
                    "Name the channel at its end, with the multiples multiplied.",
                )
