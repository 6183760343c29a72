#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Installs what is missing, makes .venv, builds the core, its tests and the Python package. Sourced by tests/run.sh and
# demo-data/run.sh; afterwards $PYTHON is the environment's interpreter and $BUILD the build folder. Under ten seconds
# when nothing is missing. Speaks on standard error, so that a caller's own output stays clean.
set -euo pipefail
ROOT="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
BUILD="$ROOT/build"
PYTHON="$ROOT/.venv/bin/python"
# A second clone on the same machine finds what the first one compiled, and so does the unpacked source archive.
export CCACHE_BASEDIR="${CCACHE_BASEDIR:-$ROOT}" CCACHE_NOHASHDIR=1
say() { printf '%s\n' "$*" >&2; }

retry() {  # a download may fail once; three times is an answer
  local attempt
  for attempt in 1 2 3; do
    "$@" && return 0
    say "attempt $attempt of 3 failed: $*"
    sleep $((attempt * 3))
  done
  return 1
}

# 1. System packages, all listed in one file.
mapfile -t packages < <(grep -v '^#' "$ROOT/.ci/system-packages.txt")
missing=()
for package in "${packages[@]}"; do
  dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' || missing+=("$package")
done
if [ ${#missing[@]} -gt 0 ]; then
  if [ "$(id -u)" = 0 ]; then
    say "Installing ${#missing[@]} system packages: ${missing[*]}"
    export DEBIAN_FRONTEND=noninteractive
    retry apt-get update -qq </dev/null >&2
    retry apt-get install -y -qq --no-install-recommends "${missing[@]}" </dev/null >&2
  else
    say "These Debian packages are missing; ask an administrator to run:"
    say "  apt-get install ${missing[*]}"
    exit 2
  fi
fi

# 2. A virtual environment with what pyproject.toml asks for.
wanted="$(cat "$ROOT/pyproject.toml" "$ROOT/.ci/setup.sh" | sha256sum | cut -d' ' -f1)"
if [ "$(cat "$ROOT/.venv/.wanted" 2>/dev/null)" != "$wanted" ]; then
  base_python=""
  for candidate in python3.11 python3.12 python3.13 python3.10 python3; do
    if command -v "$candidate" >/dev/null && "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 10))' 2>/dev/null; then
      base_python="$candidate"
      break
    fi
  done
  [ -n "$base_python" ] || { say "Sievelight needs Python 3.10 or newer; none was found."; exit 2; }
  say "Making .venv with $("$base_python" --version) and the packages that pyproject.toml lists"
  [ -x "$PYTHON" ] || "$base_python" -m venv "$ROOT/.venv"
  "$PYTHON" - "$ROOT/pyproject.toml" >"$ROOT/.venv/requirements.txt" <<'PY'
import sys
try:
    import tomllib
except ModuleNotFoundError:
    from pip._vendor import tomli as tomllib
with open(sys.argv[1], "rb") as file:
    data = tomllib.load(file)
extras = data["project"]["optional-dependencies"]
print("\n".join(data["build-system"]["requires"] + data["project"]["dependencies"] + extras["test"] + extras["notebook"]))
PY
  # Debian's own pip is too old to pass settings to the build.
  retry "$PYTHON" -m pip install --quiet --disable-pip-version-check --upgrade "pip>=24" </dev/null >&2
  retry "$PYTHON" -m pip install --quiet --disable-pip-version-check -r "$ROOT/.venv/requirements.txt" </dev/null >&2
  echo "$wanted" >"$ROOT/.venv/.wanted"
fi

# 3. Build: one CMake tree for the core, its tests and the module; the package is installed so that edits to its Python
#    files count at once. Which Python files there are is known to the installed package, so a new or lost one counts too.
sources="$(cd "$ROOT" && {
  find CMakeLists.txt pyproject.toml cpp python/bindings python/CMakeLists.txt tests/CMakeLists.txt tests/cpp tests/fuzz \
    tests/bench/kernels .ci/setup.sh \
    -type f -print0 | sort -z | xargs -0 sha256sum
  find python/sievelight -name '*.py' | sort
} | sha256sum | cut -d' ' -f1)"
if [ "$(cat "$ROOT/.venv/.built" 2>/dev/null)" != "$sources" ] || [ ! -f "$BUILD/build.ninja" ]; then
  say "Building the core, its tests and the Python module (release mode; the first time takes minutes)"
  "$PYTHON" -m pip install --quiet --disable-pip-version-check --no-build-isolation --no-deps --editable "$ROOT" \
    -Cbuild-dir="$BUILD" -Ccmake.define.SIEVELIGHT_TESTS=ON -Ccmake.define.SIEVELIGHT_WERROR=ON </dev/null >&2
  echo "$sources" >"$ROOT/.venv/.built"
fi
