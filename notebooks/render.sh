#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs the notebooks and writes executed copies as HTML that open anywhere:
#     bash notebooks/render.sh [FOLDER] [NOTEBOOK ...]
# FOLDER: notebooks/rendered when left out. Without NOTEBOOK all of them. The committed notebooks keep no outputs.
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../.ci/setup.sh"
unset MPLBACKEND  # where it is set, pictures are drawn and not shown
folder="${1:-$ROOT/notebooks/rendered}"
shift || true
mkdir -p "$folder"
folder="$(cd "$folder" && pwd)"
chosen=("$@")
[ ${#chosen[@]} -gt 0 ] || chosen=("$ROOT"/notebooks/[0-9]*.ipynb)
failed=0
for notebook in "${chosen[@]}"; do
  started=$SECONDS
  if "$PYTHON" -m nbconvert --log-level=ERROR --to html --execute --HTMLExporter.require_js_url= --HTMLExporter.mathjax_url= --output-dir "$folder" "$notebook" </dev/null; then
    name="$(basename "$notebook" .ipynb).html"
    sed -i 's/href="\([0-9][^"\/]*\)\.ipynb"/href="\1.html"/g' "$folder/$name"  # from copy to copy
    say "$name  $((SECONDS - started)) s"
  else
    say "$(basename "$notebook") failed; see above"
    failed=1
  fi
done
echo "$folder"
exit $failed
