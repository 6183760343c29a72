// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/parallel.hpp"

#include <algorithm>
#include <atomic>
#include <cstdlib>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace sievelight {

std::size_t thread_count() {
  if (const char* text = std::getenv("SIEVELIGHT_THREADS")) {
    const long asked = std::strtol(text, nullptr, 10);
    if (asked > 0) return static_cast<std::size_t>(asked);
  }
  return std::max<std::size_t>(1, std::thread::hardware_concurrency());
}

void parallel_for(std::size_t n, const std::function<void(std::size_t)>& work, std::size_t threads) {
  parallel_for_threads(
      n, [&work](std::size_t, std::size_t i) { work(i); }, threads);
}

void parallel_for_threads(std::size_t n, const std::function<void(std::size_t, std::size_t)>& work,
                          std::size_t threads) {
  const std::size_t count = std::min(n, threads == 0 ? thread_count() : threads);
  if (count <= 1) {
    for (std::size_t i = 0; i < n; ++i) work(0, i);
    return;
  }
  std::atomic<std::size_t> next{0};
  std::exception_ptr failure;
  std::mutex guard;
  const auto run = [&](std::size_t thread) {
    for (std::size_t i = next++; i < n; i = next++) {
      try {
        work(thread, i);
      } catch (...) {
        const std::lock_guard lock(guard);
        if (!failure) failure = std::current_exception();
        next = n;
      }
    }
  };
  {
    std::vector<std::jthread> pool;
    for (std::size_t t = 1; t < count; ++t) pool.emplace_back(run, t);
    run(0);
  }
  if (failure) std::rethrow_exception(failure);
}

}  // namespace sievelight
