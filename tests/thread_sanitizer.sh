#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The core called from many threads, under the thread sanitizer (minutes):  bash tests/thread_sanitizer.sh
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../.ci/setup.sh"
build="$BUILD/thread-sanitizer"
cmake -S "$ROOT" -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=RelWithDebInfo -DSIEVELIGHT_TESTS=ON \
  -DCMAKE_CXX_FLAGS="-fsanitize=thread -fno-omit-frame-pointer"
cmake --build "$build" --target base_test threads_test
TSAN_OPTIONS=halt_on_error=1:second_deadlock_stack=1 ctest --test-dir "$build" -L '^(base|threads)$' --output-on-failure
