#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The source archive on other versions of Python:  bash tests/python_versions.sh python3.10 python3.12 python3.13
# For each interpreter: a fresh environment with what pyproject.toml declares (from PyPI), the wheel built there from the
# source archive, a study run to its report, and the quick tests of files, curves, frames and inversion. Takes some minutes
# each for the bindings; the core comes out of the compiler's cache. Not part of run.sh: most machines have one Python.
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../.ci/setup.sh"
[ $# -gt 0 ] || { say "usage: bash tests/python_versions.sh INTERPRETER..."; exit 2; }
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
(cd "$ROOT" && "$PYTHON" -c "from scikit_build_core.build import build_sdist; build_sdist('$work')") >/dev/null
tar -xzf "$work"/sievelight-*.tar.gz -C "$work"
source_folder="$(echo "$work"/sievelight-*/)"
export CCACHE_BASEDIR="${source_folder%/}" CCACHE_NOHASHDIR=1 MPLBACKEND=agg
mkdir "$work/tests"
cp -r "$ROOT"/tests/conftest.py "$ROOT"/tests/crash "$ROOT"/tests/bench "$ROOT"/tests/python "$work/tests"
status=0
for interpreter in "$@"; do
  version="$("$interpreter" -c 'import sys; print("%d.%d.%d" % sys.version_info[:3])')"
  home="$work/$version"
  "$interpreter" -m venv "$home"
  retry "$home/bin/python" -m pip install -q --disable-pip-version-check --upgrade "pip>=24" </dev/null >&2
  retry "$home/bin/python" -m pip install -q --disable-pip-version-check "scikit-build-core>=1.0" "pybind11>=3.0" ninja cmake </dev/null >&2
  "$home/bin/python" -m pip wheel -q --disable-pip-version-check --no-deps --no-build-isolation -w "$home/wheel" \
    -Cbuild-dir="$source_folder/build-$version" -Ccmake.define.SIEVELIGHT_WERROR=ON "$source_folder" </dev/null >&2
  retry "$home/bin/python" -m pip install -q --disable-pip-version-check "$home"/wheel/*.whl pytest h5py scipy hypothesis pandas </dev/null >&2
  if (
    cd "$work"
    "$home/bin/python" -c "
import sys; sys.path.insert(0, 'tests/crash')
from pathlib import Path
from crash_tools import make_study
make_study(Path('study-$version'), 3)"
    "$home/bin/sievelight" run "study-$version/study.toml" >/dev/null 2>"$home/log"
    test -s "study-$version/results/report.html"
    "$home/bin/python" -m pytest -q -p no:cacheprovider -m "not slow" tests/python/test_study_files.py tests/python/test_curve.py \
      tests/python/test_frames.py tests/python/test_distribution.py tests/python/test_study_input.py tests/python/test_many_threads.py
  ) </dev/null; then
    echo "Python $version: works"
  else
    echo "Python $version: FAILED"
    status=1
  fi
done
exit "$status"
