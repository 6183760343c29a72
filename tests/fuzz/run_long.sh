#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The long run: every libFuzzer program (or those named) for some seconds each, round after round until stopped. Builds
# them first, with Clang (Debian: clang-19, or $CLANG names another version) and the sanitizers for addresses and
# undefined behaviour; what runs no fuzzer is not built.
#   bash tests/fuzz/run_long.sh SECONDS [HARNESS ...]
#   ROUNDS=1 bash tests/fuzz/run_long.sh SECONDS [HARNESS ...]     once round, then stop
# What is found stays under build-fuzz/findings, the grown corpus under build-fuzz/corpus, counts in
# build-fuzz/executions.txt (harness, executions, seconds); `awk '{n += $2} END {print n}'` adds them up.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
seconds="${1:?usage: run_long.sh SECONDS [HARNESS ...]}"
shift
harnesses=("$@")
version="${CLANG:-19}"
cmake -S . -B build-fuzz -G Ninja -DCMAKE_BUILD_TYPE=None -DSIEVELIGHT_FUZZ=ON \
  -DCMAKE_C_COMPILER="clang-$version" -DCMAKE_CXX_COMPILER="clang++-$version" \
  -DCMAKE_CXX_FLAGS="-O1 -g1 -fno-omit-frame-pointer -D_GLIBCXX_ASSERTIONS -fsanitize=address,undefined,float-cast-overflow,fuzzer-no-link -fno-sanitize-recover=all" >/dev/null
cmake --build build-fuzz --target fuzz -j "${JOBS:-2}"
if [ ${#harnesses[@]} -eq 0 ]; then
  for program in build-fuzz/tests/fuzz/fuzz_*; do harnesses+=("${program##*/fuzz_}"); done
fi
export SIEVELIGHT_THREADS=1
# Leaks of other libraries at the end of a process are theirs and harmless; ours are looked for.
export LSAN_OPTIONS="suppressions=$PWD/tests/fuzz/leaks.txt:print_suppressions=0"
mkdir -p build-fuzz/findings build-fuzz/logs
for ((round = 0; round < ${ROUNDS:-1000000}; ++round)); do
  for harness in "${harnesses[@]}"; do
    mkdir -p "build-fuzz/corpus/$harness"
    log="build-fuzz/logs/$harness.log"
    "build-fuzz/tests/fuzz/fuzz_$harness" "build-fuzz/corpus/$harness" "tests/fuzz/corpus/$harness" \
      -max_total_time="$seconds" -max_len=24000 -timeout=20 -rss_limit_mb=3000 -malloc_limit_mb=2600 -print_final_stats=1 \
      -artifact_prefix="build-fuzz/findings/$harness-" >"$log" 2>&1 || echo "$harness: see $log"
    # The copy of the process that looks at damaged HDF5 files (library_look.hpp) may leave an input behind when the
    # library takes too much memory there: what runs through is no finding.
    for input in "build-fuzz/findings/$harness"-*; do
      [ ! -e "$input" ] || ! "build-fuzz/tests/fuzz/fuzz_$harness" -timeout=20 "$input" >/dev/null 2>&1 || rm "$input"
    done
    executed="$(awk '/stat::number_of_executed_units/ {print $2}' "$log")"
    # A run that ended in a crash prints no statistics; its last line of progress has the number.
    [ -n "$executed" ] || executed="$(awk '/^#[0-9]+/ {sub("#", "", $1); n = $1} END {print n + 0}' "$log")"
    echo "$harness $executed $seconds" >>build-fuzz/executions.txt
  done
done
