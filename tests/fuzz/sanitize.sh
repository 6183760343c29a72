#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The corpus and repeatable mutations of it under GCC's sanitizers for addresses and undefined behaviour (minutes); no
# Clang is needed.   bash tests/fuzz/sanitize.sh [MUTATIONS [HARNESS]]
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
cmake -S . -B build-sanitize -G Ninja -DCMAKE_BUILD_TYPE=None -DSIEVELIGHT_FUZZ_REPLAY=ON \
  -DCMAKE_CXX_FLAGS="-O1 -g1 -fno-omit-frame-pointer -D_GLIBCXX_ASSERTIONS -fsanitize=address,undefined,float-cast-overflow -fno-sanitize-recover=all" >/dev/null
cmake --build build-sanitize --target replay -j "${JOBS:-2}"
export SIEVELIGHT_THREADS=1 LSAN_OPTIONS="suppressions=$PWD/tests/fuzz/leaks.txt:print_suppressions=0"
build-sanitize/tests/fuzz/replay tests/fuzz/corpus "${1:-400}" ${2:+"$2"}
