"""`troytag check`: every fault of a workshop folder at once."""

from __future__ import annotations

from pricing.cli.options import AsOf, Folder, Json, day


def check(folder: Folder, as_of: AsOf = None, json: Json = False) -> None:
    """Read a workshop folder and tell every fault at once, each with its place and its mend."""
    from pricing.advice import advice
    from pricing.cli import screen
    from pricing.costing import asked_for, cost
    from pricing.errors import Faults

    try:
        costing = cost(folder, asked_for(day(as_of)))
    except Faults as found:
        if json:
            screen.print_json({"faults": [_record(fault) for fault in found.faults], "warnings": []})
            raise SystemExit(1) from None
        number = len(found.faults)
        for fault in found.faults:
            print(fault)
        print(f"{number} {'fault' if number == 1 else 'faults'} in {folder}")
        raise SystemExit(1) from None
    if json:
        screen.print_json(
            {
                "faults": [],
                "warnings": [_record(warning) for warning in costing.warnings],
                "advice": advice(costing.computed),
            }
        )
        return
    screen.advise([*(warning.headline() for warning in costing.warnings), *advice(costing.computed)], most=1000)
    resolved = costing.computed.resolved
    products = len({variant.sku for variant in resolved.variants})
    print(
        f"{folder}: all in order. {products} products in {len(resolved.variants)} variants, "
        f"{len(resolved.channels)} channels, priced as of {resolved.as_of}."
    )


def _record(fault) -> dict:
    return {
        "file": fault.place.file,
        "line": fault.place.line,
        "column": fault.place.column,
        "key": fault.key,
        "problem": fault.problem,
        "mend": fault.mend,
    }
