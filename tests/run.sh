#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Every test: bash tests/run.sh        the inner loop: bash tests/run.sh quick
# GoogleTest, pytest (with the browser and the outside checks), the installed library's example, the notebooks.
# Ends in the line "N passed, N failed".
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../.ci/setup.sh"
cd "$ROOT"
quick="${1:-}"
if [ -n "$quick" ] && [ "$quick" != quick ]; then
  say "usage: bash tests/run.sh [quick]"
  exit 2
fi
results="$BUILD/test-results"
rm -rf "$results"
mkdir -p "$results"
export MPLBACKEND=Agg
status=0
ctest --test-dir "$BUILD" -j 2 --output-on-failure --no-tests=error --output-junit "$results/googletest.xml" </dev/null || status=1
if [ "$quick" = quick ]; then
  "$PYTHON" -m pytest -q -m "not slow" --junitxml="$results/pytest.xml" tests </dev/null || status=1
else
  "$PYTHON" -m pytest -q --durations=8 --junitxml="$results/pytest.xml" tests </dev/null || status=1
  "$PYTHON" -m pytest -q --nbmake --nbmake-timeout=900 --junitxml="$results/notebooks.xml" notebooks </dev/null || status=1
fi
"$PYTHON" - "$status" "$results"/*.xml <<'PY'
import sys
import xml.etree.ElementTree as tree

passed = failed = skipped = 0
for path in sys.argv[2:]:
    for case in tree.parse(path).iter("testcase"):
        if case.find("failure") is not None or case.find("error") is not None:
            failed += 1
        elif case.find("skipped") is not None or case.get("status") in ("notrun", "disabled"):
            skipped += 1
        else:
            passed += 1
if int(sys.argv[1]) and not failed:
    failed = 1  # a runner stopped before it could say which test failed
if skipped:
    print(f"(skipped, each with its reason above: {skipped})")
print(f"{passed} passed, {failed} failed")
sys.exit(1 if failed or not passed else 0)
PY
