# SPDX-License-Identifier: GPL-3.0-or-later
"""What the numbers were measured on; nothing that names a host or a person."""

from __future__ import annotations

import os
import platform
from importlib import metadata
from pathlib import Path
from typing import Any


def _from(path: str, key: str) -> str:
    try:
        for line in Path(path).read_text(encoding="utf-8").splitlines():
            if line.startswith(key):
                return line.split(":", 1)[1].strip()
    except OSError:
        pass
    return "unknown"


def describe() -> dict[str, Any]:
    """Processor, cores, memory, versions and how busy the machine was."""
    versions = {}
    for name in ("sievelight", "numpy", "scipy", "h5py", "hdf5plugin"):
        try:
            versions[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            continue
    caches = {}
    for index in sorted(Path("/sys/devices/system/cpu/cpu0/cache").glob("index*")):
        try:
            kind = (index / "type").read_text().strip()
            if kind != "Instruction":
                caches[f"L{(index / 'level').read_text().strip()}"] = (index / "size").read_text().strip()
        except OSError:
            continue
    return {
        "processor": _from("/proc/cpuinfo", "model name"),
        "cores": os.cpu_count(),
        "threads": os.environ.get("SIEVELIGHT_THREADS", "all"),
        "caches": caches,
        "memory": _from("/proc/meminfo", "MemTotal"),
        "system": f"{platform.system()} {platform.machine()}, Python {platform.python_version()}",
        "versions": versions,
        "load_before": round(os.getloadavg()[0], 2),
    }


def words(machine: dict[str, Any]) -> str:
    """One line for a person."""
    versions = ", ".join(f"{name} {version}" for name, version in machine["versions"].items())
    caches = ", ".join(f"{level} {size}" for level, size in machine["caches"].items())
    return (
        f"{machine['processor']}, {machine['cores']} cores, {caches}; {machine['system']}; {versions}; "
        f"load before the run {machine['load_before']}"
    )
