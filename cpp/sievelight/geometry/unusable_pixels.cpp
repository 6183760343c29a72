// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/unusable_pixels.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/parallel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;

template <class Visit>
void for_neighbours(const Image& counts, Index y, Index x, const Visit& visit) {
  for (Index dy = -1; dy <= 1; ++dy)
    for (Index dx = -1; dx <= 1; ++dx) {
      const Index ny = y + dy, nx = x + dx;
      if ((dy != 0 || dx != 0) && ny >= 0 && nx >= 0 && ny < counts.rows() && nx < counts.cols()) visit(ny, nx);
    }
}

bool is_hot(const Image& counts, const Mask& unusable, Index y, Index x) {
  // Two usable neighbours are enough to acquit nearly every pixel: the second largest is no less than the lesser of
  // them.
  if (x > 0 && x + 1 < counts.cols() && !unusable(y, x - 1) && !unusable(y, x + 1) &&
      counts(y, x) <= 2.0 * std::min(counts(y, x - 1), counts(y, x + 1)) + 8.0)
    return false;
  double largest = -1.0, second = -1.0;
  int seen = 0;
  for_neighbours(counts, y, x, [&](Index ny, Index nx) {
    if (unusable(ny, nx)) return;
    ++seen;
    const double n = counts(ny, nx);
    if (n > largest) {
      second = largest;
      largest = n;
    } else if (n > second) {
      second = n;
    }
  });
  // Twice the second largest neighbour and eight standard deviations above it: the second, so that a pair of hot
  // pixels is found too.
  return seen >= 3 && counts(y, x) > 2.0 * second + 8.0 * std::sqrt(second + 1.0);
}

void mask_dead_area(const Image& counts, Mask& unusable, Mask& visited, Index y0, Index x0) {
  constexpr double live_border = 15.0;  // exp(-15) = 3e-7
  std::vector<std::pair<Index, Index>> area{{y0, x0}};
  visited(y0, x0) = true;
  double border_sum = 0.0;
  Index border = 0;
  for (std::size_t i = 0; i < area.size(); ++i)
    for_neighbours(counts, area[i].first, area[i].second, [&](Index ny, Index nx) {
      if (unusable(ny, nx)) return;
      if (counts(ny, nx) > 0.0) {
        border_sum += counts(ny, nx);
        ++border;
      } else if (!visited(ny, nx)) {
        visited(ny, nx) = true;
        area.emplace_back(ny, nx);
      }
    });
  if (border == 0) return;
  const double mean = border_sum / static_cast<double>(border);
  if (mean >= live_border || (mean >= 4.0 && static_cast<double>(area.size()) * (mean - 3.0) >= 20.0))
    for (const auto& [y, x] : area) unusable(y, x) = true;
}

}  // namespace

Mask unusable_pixels(const Image& counts, const Mask& masked) {
  if (masked.size() != 0 && (masked.rows() != counts.rows() || masked.cols() != counts.cols()))
    throw InputError(fmt::format("mask of {} rows and {} columns for counts of {} rows and {} columns", masked.rows(),
                                 masked.cols(), counts.rows(), counts.cols()),
                     "Give a mask of the frame's own shape (rows first), or none.");
  const auto rows = static_cast<std::size_t>(counts.rows());
  Mask unusable(counts.rows(), counts.cols());
  parallel_for(rows, [&](std::size_t row) {
    const auto y = static_cast<Index>(row);
    unusable.row(y) = !(counts.row(y) >= 0.0 && counts.row(y) <= std::numeric_limits<double>::max());
    if (masked.size() != 0) unusable.row(y) = unusable.row(y) || masked.row(y);
  });
  // Found first, masked afterwards: the verdict on a pixel must not depend on the order of the scan.
  std::vector<std::vector<Index>> hot(rows);
  parallel_for(rows, [&](std::size_t row) {
    const auto y = static_cast<Index>(row);
    for (Index x = 0; x < counts.cols(); ++x)
      if (!unusable(y, x) && is_hot(counts, unusable, y, x)) hot[row].push_back(x);
  });
  for (std::size_t row = 0; row < rows; ++row)
    for (const Index x : hot[row]) unusable(static_cast<Index>(row), x) = true;
  Mask visited = unusable;
  for (Index y = 0; y < counts.rows(); ++y)
    for (Index x = 0; x < counts.cols(); ++x)
      if (!visited(y, x) && counts(y, x) == 0.0) mask_dead_area(counts, unusable, visited, y, x);
  return unusable;
}

}  // namespace sievelight
