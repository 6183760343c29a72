// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/bin_sums.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/parallel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

void sum_rows(const Frame& frame, const PixelInputs& in, Index first, Index last, BinSums& sums) {
  const double share = in.dark ? frame.exposure_s / in.dark->exposure_s : 0.0;
  const bool masks = in.skip.size() != 0;
  for (Index i = first; i < last; ++i) {
    const std::int32_t bin = in.index.data()[i];
    if (bin < 0) continue;
    if (masks && in.skip.data()[i]) {
      const double weight = in.weight.data()[i];
      sums.lost_weight[bin] += weight;
      sums.lost_weighted_q[bin] += weight * in.q_per_nm.data()[i];
      ++sums.lost[bin];
      continue;
    }
    const double recorded = frame.counts.data()[i];
    if (!(recorded >= 0) || !std::isfinite(recorded))
      throw DataError(fmt::format("the counts of '{}' are {} at row {}, column {}, a pixel that is not masked.",
                                  in.name, recorded, i / frame.counts.cols(), i % frame.counts.cols()),
                      "Mask the pixel; readers of frames mask negative and not finite values.");
    TrueCounts value{recorded, recorded};
    if (in.dead_time) {
      value = correct_dead_time(recorded, frame.exposure_s, *in.dead_time);
      sums.largest_load = std::max(sums.largest_load, value.counts / frame.exposure_s * in.dead_time->dead_time_s);
    }
    const double dark = in.dark ? in.dark->counts.data()[i] : 0.0;
    sums.recorded[bin] += recorded;
    sums.counts[bin] += value.counts;
    sums.variance[bin] += value.variance;
    sums.dark[bin] += dark;
    if (!in.check_scatter) continue;
    const double net = value.counts - dark * share, inverse = 1 / in.weight.data()[i];
    sums.square[bin] += net * net * inverse;
    sums.expected[bin] += (value.variance + dark * share * share) * inverse;
  }
}

}  // namespace

BinSums::BinSums(Index n)
    : recorded(VectorXd::Zero(n)),
      counts(recorded),
      variance(recorded),
      dark(recorded),
      square(recorded),
      expected(recorded),
      lost_weight(recorded),
      lost_weighted_q(recorded),
      lost(Eigen::VectorXi::Zero(n)) {}

void BinSums::add(const BinSums& o) {
  recorded += o.recorded;
  counts += o.counts;
  variance += o.variance;
  dark += o.dark;
  square += o.square;
  expected += o.expected;
  lost_weight += o.lost_weight;
  lost_weighted_q += o.lost_weighted_q;
  lost += o.lost;
  largest_load = std::max(largest_load, o.largest_load);
}

BinSums sum_frame(const Frame& frame, const PixelInputs& in, Index bins) {
  const Index rows = frame.counts.rows(), columns = frame.counts.cols();
  // A fixed number of blocks: more threads must not change the order of the sums.
  const Index blocks = frame.counts.size() < 200000 ? 1 : std::min<Index>(rows, 16);
  std::vector<BinSums> parts(static_cast<std::size_t>(blocks), BinSums(bins));
  parallel_for(static_cast<std::size_t>(blocks), [&](std::size_t b) {
    const Index block = static_cast<Index>(b);
    sum_rows(frame, in, rows * block / blocks * columns, rows * (block + 1) / blocks * columns, parts[b]);
  });
  for (std::size_t b = 1; b < parts.size(); ++b) parts[0].add(parts[b]);
  return std::move(parts[0]);
}

}  // namespace sievelight
