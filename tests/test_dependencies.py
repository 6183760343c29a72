# SPDX-License-Identifier: GPL-3.0-or-later
"""Few dependencies, each with a reason and a licence that goes with GPL-3.0-or-later.

Compatibility as the Free Software Foundation lists it ("Various licenses and comments about them") and, for LGPL-2.1,
by its own section 3, which lets it be taken as GPL of any later version.
"""

import re
import shutil
import subprocess
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from sievelight import _core

ROOT = Path(__file__).resolve().parent.parent
# Licences by their SPDX names that may stand in one program with GPL-3.0-or-later.
COMPATIBLE = {
    "0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "GPL-3.0-or-later", "HPND", "ISC", "MIT", "MIT-CMU",
    "MPL-2.0", "PSF-2.0", "Python-2.0", "Unlicense", "Zlib",
}  # fmt: skip
CLASSIFIERS = {
    "License :: OSI Approved :: Apache Software License": "Apache-2.0",
    "License :: OSI Approved :: BSD License": "BSD-3-Clause",
    "License :: OSI Approved :: ISC License (ISCL)": "ISC",
    "License :: OSI Approved :: MIT License": "MIT",
    "License :: OSI Approved :: Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "License :: OSI Approved :: Python Software Foundation License": "PSF-2.0",
}
# What pyproject.toml asks for to run, and why.
PYTHON = {
    "numpy": "arrays across the border to the core",
    "matplotlib": "the pictures of report and notebooks",
    "lazy-loader": "each name is loaded when it is first used, so that the command starts at once",
    "msgspec": "study files read strictly, with words for every wrong key",
    "jinja2": "the report's page, with everything escaped",
    "rich": "progress and tables in the terminal",
    "typer": "the command line from typed functions",
    "tomli": "TOML before Python 3.11 brings its own reader",
}
# What the module links: shared library, Debian's package, a line of its copyright file, and why it is there.
LINKED = {
    "libfmt": ("libfmt9", "Expat with embedded exception", "text from numbers, the same on every machine"),
    "libgsl": ("libgsl27", "GPL", "special functions, minimisers, quadrature, random numbers"),
    "libgslcblas": ("libgslcblas0", "GPL", "what GSL's vectors need"),
    "libhdf5_serial": ("libhdf5-103-1", "BSD-3-clause", "frames in, curves and distributions out: NeXus is HDF5"),
    "libdeflate": ("libdeflate0", "Expat", "chunks compressed with gzip, in half of zlib's time"),
    "liblz4": ("liblz4-1", "BSD-2-clause", "chunks of bitshuffle-LZ4"),
    "libxrl": ("libxrl11", "BSD-3", "attenuation, edges and lines of the elements"),
    "libpugixml": ("libpugixml1v5", "Expat", "canSAS XML"),
    "libtiff": ("libtiff6", "Hylafax", "TIFF frames; the licence is libtiff's own, of the BSD kind"),
    "libcbf": ("libcbf1", "GPL-2 or LGPL-2.1", "CBF/imgCIF frames; taken under LGPL-2.1"),
}
SYSTEM = ("libc.", "libm.", "libstdc++", "libgcc_s", "ld-linux", "libpthread", "libdl")


def licences(package):
    """SPDX names of an installed package, from what it declares."""
    said = metadata.metadata(package)
    text = said.get("License-Expression")
    if not text:
        named = [CLASSIFIERS.get(c, c) for c in said.get_all("Classifier") or [] if c.startswith("License ::")]
        # Without either, the first line of the free text; "BSD License" and the like say which kind in the classifiers.
        text = " AND ".join(named) or (said.get("License") or "unknown").splitlines()[0]
    return [name for name in re.split(r"\s+(?:AND|OR|WITH)\s+|[()]", text) if name]


def needed(name):
    found, left = set(), [name]
    while left:
        for text in metadata.distribution(left.pop()).requires or []:
            asked = Requirement(text)
            if asked.name.lower() not in found and (asked.marker is None or asked.marker.evaluate({"extra": ""})):
                found.add(asked.name.lower())
                left.append(asked.name)
    return sorted(found)


def test_every_python_dependency_has_its_reason():
    asked = {Requirement(text) for text in metadata.distribution("sievelight").requires or []}
    asked = {r.name.lower() for r in asked if "extra" not in str(r.marker)}
    assert asked == set(PYTHON), "give a new dependency its reason here and in DEVELOPERS.md, and take out what is gone"


def test_every_package_that_runs_with_us_has_a_compatible_licence():
    packages = needed("sievelight")
    assert {"numpy", "pillow"} <= set(packages) and len(packages) < 40, packages
    wrong = {name: licences(name) for name in packages if not set(licences(name)) <= COMPATIBLE}
    assert not wrong, f"not known to go with GPL-3.0-or-later: {wrong}"


def test_every_linked_library_has_its_reason_and_a_compatible_licence():
    if shutil.which("readelf") is None:
        pytest.skip("no readelf (binutils): what the module links cannot be seen")
    said = subprocess.run(["readelf", "-d", _core.__file__], capture_output=True, text=True, check=True).stdout
    linked = {
        name.split(".so")[0] for name in re.findall(r"\(NEEDED\).*\[(.+?)\]", said) if not name.startswith(SYSTEM)
    }
    assert linked and linked <= set(LINKED), "give a new library its reason here and in DEVELOPERS.md"
    for library in linked:
        package, licence, _ = LINKED[library]
        words = Path(f"/usr/share/doc/{package}/copyright")
        if not words.exists():
            pytest.skip(f"{package} is not installed from Debian: its licence cannot be read here")
        assert re.search(rf"^License: {re.escape(licence)}\s*$", words.read_text(errors="replace"), re.M), package


def test_our_own_licence_is_said_everywhere():
    assert metadata.metadata("sievelight")["License-Expression"] == "GPL-3.0-or-later"
    assert "GNU GENERAL PUBLIC LICENSE\n                       Version 3" in (ROOT / "LICENSE").read_text()
    sources = [f for folder in ("cpp", "python") for f in (ROOT / folder).rglob("*.[ch]pp")]
    sources += list((ROOT / "python").rglob("*.py"))
    assert len(sources) > 300
    silent = [
        str(f.relative_to(ROOT)) for f in sources if "SPDX-License-Identifier: GPL-3.0-or-later" not in f.read_text()
    ]
    assert not silent
