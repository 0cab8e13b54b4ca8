"""The fields of a form of the page, as a browser would send them."""

from __future__ import annotations

from html.parser import HTMLParser


class _Reading(HTMLParser):
    def __init__(self, which: str):
        super().__init__()
        self.which, self.inside = which, False
        self.items: list[tuple[str, str]] = []
        self.select: str | None = None
        self.options: list[tuple[str | None, str, bool]] = []
        self.textarea: str | None = None

    def handle_starttag(self, tag, attributes):
        found = dict(attributes)
        if tag == "form":
            self.inside = self.which in (found.get("id"), found.get("action"), (found.get("class") or "").split(" ")[0])
        if not self.inside or "form" in found:
            return
        if tag == "input" and "name" in found:
            if found.get("type") not in ("checkbox", "radio") or "checked" in found:
                self.items.append((found["name"], found.get("value") or ""))
        elif tag == "select":
            self.select, self.options = found.get("name"), []
        elif tag == "option" and self.select:
            self.options.append((found.get("value"), "", "selected" in found))
        elif tag == "textarea":
            self.textarea = found.get("name")
            self.items.append((self.textarea or "", ""))

    def handle_data(self, data):
        if self.select and self.options:
            value, text, selected = self.options[-1]
            self.options[-1] = (value, text + data.strip(), selected)
        elif self.textarea:
            name, text = self.items[-1]
            self.items[-1] = (name, text + data)

    def handle_endtag(self, tag):
        if tag == "form":
            self.inside = False
        elif tag == "textarea" and self.textarea:
            self.items[-1] = (self.textarea, self.items[-1][1].removeprefix("\n"))
            self.textarea = None
        elif tag == "select" and self.select:
            chosen = next((each for each in self.options if each[2]), self.options[0] if self.options else None)
            if chosen:
                self.items.append((self.select, chosen[1] if chosen[0] is None else chosen[0]))
            self.select = None


def fields_of(html: str, form: str) -> list[tuple[str, str]]:
    """Names and values of the form with this id, address or first class."""
    reading = _Reading(form)
    reading.feed(html)
    assert reading.items, f"there is no form {form}"
    return reading.items


def with_values(items: list[tuple[str, str]], **values: str) -> list[tuple[str, str]]:
    """The same with other values; names in Python's spelling, `castings_0_mesh` for `castings-0-mesh`."""
    known = {name.replace("-", "_").replace(":", "_").replace(" ", "_"): name for name, _ in items}
    other = {known.get(name, name): value for name, value in values.items()}
    kept = [(name, other.pop(name, value)) for name, value in items]
    return kept + list(other.items())
