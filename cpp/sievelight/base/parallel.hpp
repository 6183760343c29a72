// SPDX-License-Identifier: GPL-3.0-or-later
/// A loop over independent blocks on all cores, with the same result whatever their number.
#pragma once

#include <cstddef>
#include <functional>

namespace sievelight {

/// Number of threads used by default: the machine's cores, or SIEVELIGHT_THREADS where it is set.
std::size_t thread_count();

/// Calls work(i) once for every i in [0, n), on up to `threads` threads (0 = thread_count()). Each i must write only
/// to its own place, so the result does not depend on the number of threads. The first exception is raised again here.
void parallel_for(std::size_t n, const std::function<void(std::size_t)>& work, std::size_t threads = 0);

/// The same with the number of the thread, below thread_count() (or `threads`): work(thread, i). For sums whose parts
/// may be added in any order, such as those of whole numbers, so that each thread gathers its own.
void parallel_for_threads(std::size_t n, const std::function<void(std::size_t, std::size_t)>& work,
                          std::size_t threads = 0);

}  // namespace sievelight
