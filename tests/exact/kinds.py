"""What a generated workshop holds, in words: so that a test can say that the generator reaches everything."""

from __future__ import annotations

from .parts_of_workshops import depth
from .recompute_folder import follow_like
from .workshop_writer import Workshop


def kinds(workshop: Workshop) -> set[str]:
    """Everything of the contract that a workshop and its questions touch."""
    files = workshop.files
    products = {tables["sku"]: tables for name, tables in files.items() if name.startswith("products/")}
    whole = {sku: follow_like(product, products) for sku, product in products.items()}
    processes = files["processes.toml"]["processes"]
    channels = files["channels.toml"]["channels"]
    found = {"run" if workshop.run else "steady state"}
    found |= {"design charged"} if workshop.charge_design else set()
    for role in files["workshop.toml"]["labour"].values():
        found |= {"hired help"} if not role.get("own", True) else set()
    for product in whole.values():
        found |= product_kinds(product, whole, processes)
    currencies = {channel["currency"] for channel in channels.values() if "currency" in channel}
    found |= {f"currency {currency}" for currency in currencies}
    if len(currencies) > 1 and "ladder" in files["channels.toml"]:
        found.add("ladder over three currencies")
    for channel in channels.values():
        found |= {f"channel {key}" for key in channel}
        if isinstance(channel.get("postage"), list):
            found.add("tiers with an end" if "up_to_g" in channel["postage"][-1] else "tiers without an end")
    for quotation in workshop.quotations:
        found |= {"quotation", "quotation, design charged" if quotation.charge_design else "quotation, bounded"}
    return found


def product_kinds(product: dict, whole: dict[str, dict], processes: dict) -> set[str]:
    """What one product touches; `like` is followed in `whole`."""
    found = {f"process {product['process']}", f"parts {depth(product, whole)} deep"}
    for step in processes[product["process"]]:
        found |= {f"step {key} per {step['per']}" for key in ("from_g",) if key in step}
        found |= {f"step {key}" for key in step}
        found |= {f"use {key}" for use in step.get("uses", []) for key in use}
    found |= {f"casting {key}" for casting in product.get("castings", []) for key in casting}
    for finding in product.get("findings", []):
        found |= {f"finding {key}" for key in finding}
        if finding.get("alloy", "") and "product" in finding:
            found.add("part in another alloy")
        if "product" in finding and finding["product"] not in whole:
            found.add("part of one size")
        if "product" in finding and "alloys" in finding:
            found.add("part for some alloys")
        if "product" in finding and finding.get("spoil", 0):
            found.add("part that may be spoilt")
        if whole.get(finding.get("product"), {}).get("sizes"):
            found.add("part of all sizes")
    sizes = product.get("sizes", {})
    if sizes:
        found.add(f"sizes {sizes.get('standard', 'lengths')}")
        found |= {f"sizes {key}" for key in sizes}
        found.add("each size priced" if sizes.get("each_priced", False) else "one price for all sizes")
    for own in product.get("in_channel", {}).values():
        found |= {f"own {key}" for key in own}
    if product.get("sold_in") == []:
        found.add("only ever a part")
    return found
