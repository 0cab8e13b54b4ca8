"""What was measured before, so that an unchanged mesh is not worked out again.

One small JSON file a mesh in the user's cache folder (`pricing.remembered`). Its name is the hash of the mesh's
content, the unit, the depth of the look and the version of the method; so a changed file or method never finds an old
figure.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

from pricing import remembered

#: What is kept of a mesh is a few hundred bytes, a picture some ten thousand.
MOST_BYTES = 2**20
#: Raise it whenever any figure, fault or remark of a mesh may come out otherwise than before.
METHOD = 2


def cache_key(data: bytes, kind: str, unit: str | None, thorough: bool) -> str:
    """The name under which a mesh's figures are kept; `unit` is what the maker stated, None where nothing."""
    content = hashlib.sha256(data).hexdigest()
    return hashlib.sha256(f"{METHOD} {kind} {unit} {thorough} {content}".encode()).hexdigest()


def recall(key: str) -> dict[str, Any] | None:
    """What was kept under this key, or None. A damaged entry is as good as none."""
    content = remembered.recalled("meshes", f"{key}.kept", MOST_BYTES)
    if content is None:
        return None
    try:
        kept = json.loads(content)
    except (ValueError, RecursionError):
        return None
    return kept if isinstance(kept, dict) else None


def keep(key: str, kept: dict[str, Any]) -> None:
    """Keep something under this key, whole or not at all."""
    remembered.keep("meshes", f"{key}.kept", json.dumps(kept).encode())
