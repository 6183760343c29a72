#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Which lines the tests reach.
#   bash tests/static/coverage.sh cpp      the core under its GoogleTests: a build of its own (build-coverage), gcov, gcovr
#   bash tests/static/coverage.sh python   the package under pytest (all of it: this takes as long as the tests do)
# The summary by folder goes to standard output, the lines that are not reached to build-coverage/*.txt.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
python=.venv/bin/python
case "${1:-}" in
  cpp)
    "$python" -m gcovr --version >/dev/null 2>&1 || "$python" -m pip install --quiet gcovr
    cmake -S . -B build-coverage -G Ninja -DCMAKE_BUILD_TYPE=None -DCMAKE_CXX_FLAGS="-O1 --coverage" \
      -DCMAKE_CXX_COMPILER_LAUNCHER=ccache -DSIEVELIGHT_TESTS=ON >/dev/null
    cmake --build build-coverage -j "${JOBS:-2}" >build-coverage/build.log
    find build-coverage -name '*.gcda' -delete
    ctest --test-dir build-coverage -j "${JOBS:-2}" --output-on-failure >build-coverage/tests.log || tail -20 build-coverage/tests.log
    "$python" -m gcovr --root . --filter 'cpp/sievelight/' --gcov-ignore-parse-errors=all --exclude-throw-branches \
      --json-summary build-coverage/summary.json --txt build-coverage/lines.txt build-coverage
    "$python" - <<'PY'
import json
from collections import Counter

with open("build-coverage/summary.json") as file:
    files = json.load(file)["files"]
total, covered = Counter(), Counter()
for entry in files:
    folder = entry["filename"].split("/")[2]
    total[folder] += entry["line_total"]
    covered[folder] += entry["line_covered"]
for folder in total:
    print(f"{folder:14} {100 * covered[folder] / total[folder]:5.1f} % of {total[folder]} lines")
print(f"{'all':14} {100 * sum(covered.values()) / sum(total.values()):5.1f} % of {sum(total.values())} lines")
PY
    ;;
  python)
    "$python" -m coverage --version >/dev/null 2>&1 || "$python" -m pip install --quiet coverage
    mkdir -p build-coverage
    shift
    export COVERAGE_FILE=build-coverage/.coverage
    "$python" -m coverage run --source=python/sievelight -m pytest -q "${@:-tests}" | tail -3 || true
    "$python" -m coverage report --skip-covered --show-missing | tee build-coverage/python.txt | tail -1
    ;;
  *)
    echo "usage: coverage.sh cpp|python [TESTS ...]" >&2
    exit 2
    ;;
esac
