"""The fields of a form of the page, as a browser would send them."""

from __future__ import annotations

from collections.abc import Iterator

from lxml import html as reading
from lxml.html import HtmlElement


def fields_of(html: str, form: str) -> list[tuple[str, str]]:
    """Names and values of the form with this id, address or first class."""
    tree = reading.document_fromstring(html.replace("\r", "&#13;"))  # line ends come as they stand
    found = [
        item
        for each in tree.iter("form")
        if form in (each.get("id"), each.get("action"), each.get("class", "").split(" ")[0])
        for item in _sent(each)
    ]
    assert found, f"there is no form {form}"
    return found


def _sent(form: HtmlElement) -> Iterator[tuple[str, str]]:
    for field in form.iter("input", "select", "textarea"):
        name = field.get("name")
        if name is None or "form" in field.attrib:
            continue
        if field.tag == "textarea":
            yield name, "".join(field.itertext()).removeprefix("\n")
        elif field.tag == "select":
            yield from ((name, value) for value in _chosen(field))
        elif field.get("type") not in ("checkbox", "radio") or "checked" in field.attrib:
            yield name, field.get("value", "")


def _chosen(select: HtmlElement) -> list[str]:
    """The value of the option that is selected, or of the first; none where there is no option."""
    options = list(select.iter("option"))
    for option in [each for each in options if "selected" in each.attrib] + options:
        return [option.get("value", "".join(option.itertext()).strip())]
    return []


def with_values(items: list[tuple[str, str]], **values: str) -> list[tuple[str, str]]:
    """The same with other values; names in Python's spelling, `castings_0_mesh` for `castings-0-mesh`."""
    known = {name.replace("-", "_").replace(":", "_").replace(" ", "_"): name for name, _ in items}
    other = {known.get(name, name): value for name, value in values.items()}
    kept = [(name, other.pop(name, value)) for name, value in items]
    return kept + list(other.items())
