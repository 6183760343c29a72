#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The whole job on the invented demo: sets up what is missing, makes the frames, runs the study, says where the report is.
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../.ci/setup.sh"
cd "$ROOT"
exec "$ROOT/.venv/bin/sievelight" demo "$ROOT/demo-data" </dev/null
