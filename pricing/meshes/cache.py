"""What was measured before, so that an unchanged mesh is not worked out again.

One small JSON file a mesh in the user's cache folder, never in the workshop folder. Its name is the hash of the mesh's
content, the unit, the depth of the look and the version of the method; so a changed file or method never finds an old
figure. Nothing here may fail a command: what cannot be read is taken as absent, what cannot be written is left.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from pathlib import Path
from typing import Any

from pricing.reading import NotRead, read_file
from pricing.safe_files import write_whole

#: Names the cache folder, or `off` for none.
VARIABLE = "TROYTAG_CACHE"
#: What is kept of a mesh is a few hundred bytes, a picture some ten thousand.
MOST_BYTES = 2**20
#: Raise it whenever any figure, fault or remark of a mesh may come out otherwise than before.
METHOD = 2


def cache_folder() -> Path | None:
    """Where figures of meshes are kept, or None where the maker wants none."""
    chosen = os.environ.get(VARIABLE)
    if chosen == "off":
        return None
    if chosen:
        return Path(chosen) / "meshes"
    from platformdirs import user_cache_path

    folder = user_cache_path("troytag", appauthor=False) / "meshes"
    # Where there is no home it is a relative path, which could come to lie in the workshop folder.
    return folder if folder.is_absolute() else None


def cache_key(data: bytes, kind: str, unit: str | None, thorough: bool) -> str:
    """The name under which a mesh's figures are kept; `unit` is what the maker stated, None where nothing."""
    content = hashlib.sha256(data).hexdigest()
    return hashlib.sha256(f"{METHOD} {kind} {unit} {thorough} {content}".encode()).hexdigest()


def recall(key: str) -> dict[str, Any] | None:
    """What was kept under this key, or None. A damaged entry is as good as none."""
    folder = cache_folder()
    if folder is None:
        return None
    try:
        entry = json.loads(read_file(folder / f"{key}.json", MOST_BYTES))
        kept = entry["kept"]
        return kept if entry["hash"] == entry_hash(key, kept) and isinstance(kept, dict) else None
    except (NotRead, ValueError, KeyError, TypeError, RecursionError):
        return None


def keep(key: str, kept: dict[str, Any]) -> None:
    """Keep something under this key, whole or not at all."""
    folder = cache_folder()
    if folder is None:
        return
    text = json.dumps({"hash": entry_hash(key, kept), "kept": kept})
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(folder / f"{key}.json", text.encode(), synced=False)


def entry_hash(key: str, kept: dict[str, Any]) -> str:
    """Ties an entry to its key and its content, so that a half-written or edited one is not believed."""
    return hashlib.sha256(f"{key} {json.dumps(kept, sort_keys=True)}".encode()).hexdigest()
