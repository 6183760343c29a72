// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_places.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace sievelight {

using Eigen::Index;

float quantile_of_size(std::vector<float> values, double share) {
  for (float& v : values) v = std::abs(v);
  const auto at = values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::ranges::nth_element(values, at);
  return *at;
}

Blocks make_blocks(const Image& counts, const Mask& unusable, double most_blocks) {
  Blocks blocks;
  while (static_cast<double>(counts.size()) / (blocks.side * blocks.side) > most_blocks && blocks.side < 4)
    ++blocks.side;
  const Index side = blocks.side, rows = (counts.rows() + side - 1) / side, columns = (counts.cols() + side - 1) / side;
  blocks.value.resize(rows, columns);
  blocks.variance.resize(rows, columns);
  for (Index by = 0; by < rows; ++by)
    for (Index bx = 0; bx < columns; ++bx) {
      double sum = 0.0, n = 0.0;
      for (Index y = by * side; y < std::min(counts.rows(), (by + 1) * side); ++y)
        for (Index x = bx * side; x < std::min(counts.cols(), (bx + 1) * side); ++x)
          if (!unusable(y, x)) {
            sum += counts(y, x);
            n += 1.0;
          }
      const double mean = sum / std::max(n, 1.0);
      blocks.value(by, bx) = n > 0.0 ? std::sqrt(mean + 0.375) : std::nan("");
      // Of a mean of n counts through the slope of the root; never below that of a tenth of a count.
      blocks.variance(by, bx) = std::max(mean, 0.1) / (4.0 * std::max(n, 1.0) * (mean + 0.375));
    }
  return blocks;
}

Places flatten(const Blocks& blocks, Index half_box) {
  const Image& v = blocks.value;
  const Index rows = v.rows(), columns = v.cols();
  Image sum = Image::Zero(rows + 1, columns + 1), count = Image::Zero(rows + 1, columns + 1);
  for (Index y = 0; y < rows; ++y)
    for (Index x = 0; x < columns; ++x) {
      const bool there = !std::isnan(v(y, x));
      sum(y + 1, x + 1) = sum(y, x + 1) + sum(y + 1, x) - sum(y, x) + (there ? v(y, x) : 0.0);
      count(y + 1, x + 1) = count(y, x + 1) + count(y + 1, x) - count(y, x) + (there ? 1.0 : 0.0);
    }
  const double center = 0.5 * (blocks.side - 1);  // of a block, in pixels from its first
  Places places;
  for (Index y = 0; y < rows; ++y)
    for (Index x = 0; x < columns; ++x) {
      if (std::isnan(v(y, x))) continue;
      const Index y0 = std::max<Index>(0, y - half_box), y1 = std::min(rows, y + half_box + 1),
                  x0 = std::max<Index>(0, x - half_box), x1 = std::min(columns, x + half_box + 1);
      const double total = sum(y1, x1) - sum(y0, x1) - sum(y1, x0) + sum(y0, x0);
      const double n = count(y1, x1) - count(y0, x1) - count(y1, x0) + count(y0, x0);
      places.x_px.push_back(static_cast<float>(static_cast<double>(x * blocks.side) + center));
      places.y_px.push_back(static_cast<float>(static_cast<double>(y * blocks.side) + center));
      places.value.push_back(static_cast<float>(v(y, x) - total / n));
    }
  if (places.value.empty()) return places;
  const float limit = quantile_of_size(places.value, 0.995);
  for (float& value : places.value) value = std::clamp(value, -limit, limit);
  return places;
}

}  // namespace sievelight
