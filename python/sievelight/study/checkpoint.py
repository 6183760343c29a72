# SPDX-License-Identifier: GPL-3.0-or-later
"""What a second run needs to skip a sample: its key and every number it produced, exactly.

A checkpoint is a NumPy archive without pickled objects: the arrays, and one JSON text for the rest.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from pathlib import Path
from typing import Any

import numpy as np

from sievelight.files import write_bytes

FORMAT = 12


def key_of(*parts: Any) -> str:
    """A digest of everything that a result depends on; it changes exactly when one of the parts changes."""
    return hashlib.sha256(json.dumps([FORMAT, *parts], sort_keys=True, default=str).encode()).hexdigest()


def save_checkpoint(path: Path, key: str, content: dict[str, Any]) -> None:
    """Save a nested dict of arrays, numbers, texts and lists under a key."""
    arrays: dict[str, np.ndarray] = {}

    def split(value: Any) -> Any:
        if isinstance(value, np.ndarray):
            arrays[f"a{len(arrays)}"] = value
            return {"__array__": f"a{len(arrays) - 1}"}
        if isinstance(value, dict):
            return {str(k): split(v) for k, v in value.items()}
        if isinstance(value, (list, tuple)):
            return [split(v) for v in value]
        return value.item() if isinstance(value, np.generic) else value

    text = json.dumps({"key": key, "content": split(content)})
    data = io.BytesIO()
    np.savez(data, json=np.frombuffer(text.encode(), dtype=np.uint8), **arrays)  # type: ignore[arg-type]  # names are ours
    write_bytes(path, data.getvalue())


def load_checkpoint(path: Path, key: str) -> dict[str, Any] | None:
    """The content saved under this key; None when there is none, or it is another's, or the file is broken."""
    try:
        with np.load(path, allow_pickle=False) as archive:
            data = json.loads(archive["json"].tobytes().decode())
            if data["key"] != key:
                return None

            def join(value: Any) -> Any:
                if isinstance(value, dict):
                    if set(value) == {"__array__"}:
                        return archive[value["__array__"]]
                    return {k: join(v) for k, v in value.items()}
                return [join(v) for v in value] if isinstance(value, list) else value

            result: dict[str, Any] = join(data["content"])
            return result
    except (OSError, KeyError, ValueError, zipfile.BadZipFile, EOFError):
        return None
