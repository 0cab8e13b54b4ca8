"""JSON Schemas of the folder's files, made from the models, for editors that check a file while it is typed.

A schema holds what one table can be held to. It never refuses what reading accepts; what lies between tables
(names that must exist, temperatures in order) only `check` can tell. Draft 7, without references: what the editors
for TOML understand.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from pricing.folder.files import FILES, described
from pricing.model.channel import POLICY_KEYS
from pricing.model.currency import currencies
from pricing.model.metals import ELEMENTS
from pricing.model.process import USE_KEYS
from pricing.model.product import VOLUME_KEYS

DRAFT = "http://json-schema.org/draft-07/schema#"
#: Where they lie in a workshop folder; reading passes it over.
FOLDER = ".schema"
#: The names of the schemas, in the order of the files.
NAMES = tuple(each.schema_name for each in FILES if each.is_toml)


def schema(name: str) -> dict[str, Any]:
    """The schema of one kind of file: workshop, alloys, processes, channels, product or doubts."""
    model = next(each.model for each in FILES if each.is_toml and each.schema_name == name)
    made = model.model_json_schema(by_alias=True)
    parts = made.pop("$defs", {})
    for part in parts.values():
        _hold_to_rules(part)
    _hold_to_rules(made)
    return {"$schema": DRAFT, "title": f"{name} of a workshop folder", **_plain(made, parts)}


@cache
def schema_text(name: str) -> str:
    """The same as the text of a file."""
    return json.dumps(schema(name), ensure_ascii=False, indent=1) + "\n"


def editor_line(file: str) -> str:
    """The first line of a TOML file by which editors find its schema; `file` is relative to the folder."""
    return f"#:schema {'../' * file.count('/') or './'}{FOLDER}/{described(file).schema_name}.json"


def _plain(node: Any, parts: Mapping[str, Any]) -> Any:
    """The schema without references, titles made of key names, and null, which TOML does not have."""
    if isinstance(node, list):
        return [_plain(item, parts) for item in node]
    if not isinstance(node, dict):
        return node
    if "$ref" in node:
        part = parts[node["$ref"].rpartition("/")[2]]
        node = {**part, **{key: value for key, value in node.items() if key != "$ref"}}
    kept = {key: value for key, value in node.items() if not (key == "title" and isinstance(value, str))}
    if kept.get("default") is None or isinstance(kept["default"], (dict, list)):
        kept.pop("default", None)
    choices = [choice for choice in kept.get("anyOf", ()) if choice != {"type": "null"}]
    if len(choices) == 1:
        del kept["anyOf"]
        kept = {**_plain(choices[0], parts), **kept}
    elif choices:
        kept["anyOf"] = choices
    if kept.get("type") == "array" and kept.get("minItems") == 1 and kept["items"].get("type") == "string":
        kept["uniqueItems"] = True  # a list of names, each once
    return {key: _plain(value, parts) for key, value in kept.items()}


# ---- rules that bind several keys of one table, and words that only a table of the world knows


def _hold_to_rules(part: dict[str, Any]) -> None:
    rule = _RULES.get(part["title"])
    if rule is not None:
        rule(part)
    for key, field in part.get("properties", {}).items():
        if key == "currency":
            field["enum"] = sorted(currencies())


def _alloy(part: dict[str, Any]) -> None:
    elements = sorted(ELEMENTS)
    fields = part["properties"]
    fields["composition"]["propertyNames"] = {"enum": elements}
    for key in ("unpriced", "scrap_pays"):
        lists = [fields[key], *fields[key].get("anyOf", ())]
        next(choice for choice in lists if choice.get("type") == "array")["items"] = {"enum": elements}
    part["if"] = {"properties": {"priced_by": {"const": "quote"}}, "required": ["priced_by"]}
    part["then"] = {"required": ["quote"]}
    part["else"] = {"properties": {"quote": {"not": {}}}}


def _policy(part: dict[str, Any]) -> None:
    part["oneOf"] = [{"required": list(keys), "maxProperties": len(keys)} for _, keys in POLICY_KEYS]


def _use(part: dict[str, Any]) -> None:
    part["oneOf"] = [{"required": [key]} for key in USE_KEYS]


def _casting(part: dict[str, Any]) -> None:
    part["oneOf"] = [
        {
            "required": list(keys),
            "properties": {other: {"not": {}} for others in VOLUME_KEYS if others != keys for other in others},
        }
        for keys in VOLUME_KEYS
    ]


def _flask(part: dict[str, Any]) -> None:
    part["anyOf"] = [{"required": ["powder_g"]}, {"required": ["water_per_100", "slurry_density"]}]


def _source(part: dict[str, Any]) -> None:
    part["allOf"] = [
        {"oneOf": [{"required": ["address"]}, {"required": ["file"]}]},
        {"oneOf": [{"required": ["json_path"]}, {"required": ["csv_column"]}]},
    ]


_RULES = MappingProxyType(
    {
        "Alloy": _alloy,
        "Policy": _policy,
        "Use": _use,
        "Casting": _casting,
        "Flask": _flask,
        "Source": _source,
    }
)
