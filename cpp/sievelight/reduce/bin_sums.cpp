// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/bin_sums.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/parallel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// What one bin gathers, side by side in memory: a pixel touches one place.
struct Cell {
  double recorded = 0, counts = 0, variance = 0, dark = 0, square = 0, expected = 0, lost_weight = 0,
         lost_weighted_q = 0, per_dead_time = 0;
};

struct Block {
  std::vector<Cell> cells;
  Eigen::VectorXi lost;
  double largest_load = 0.0;
};

[[noreturn]] void refuse_pixel(const Frame& frame, const PixelInputs& in, Index i) {
  throw DataError(fmt::format("the counts of '{}' are {} at row {}, column {}, a pixel that is not masked.", in.name,
                              frame.counts.data()[i], i / frame.counts.cols(), i % frame.counts.cols()),
                  "Mask the pixel; readers of frames mask negative and not finite values.");
}

// The pass itself, without questions that have one answer for the whole frame.
template <bool dead, bool has_dark, bool masks, bool scatter>
void sum_rows(const Frame& frame, const PixelInputs& in, Index first, Index last, Block& block) {
  const double share = has_dark ? frame.exposure_s / in.dark->exposure_s : 0.0;
  const std::int32_t* index = in.index.data();
  const double* recorded = frame.counts.data();
  for (Index i = first; i < last; ++i) {
    if (index[i] < 0) continue;
    Cell& cell = block.cells[static_cast<std::size_t>(index[i])];
    if constexpr (masks)
      if (in.skip.data()[i]) {
        const double weight = in.weight.data()[i];
        cell.lost_weight += weight;
        cell.lost_weighted_q += weight * in.q_per_nm.data()[i];
        ++block.lost[index[i]];
        continue;
      }
    const double n = recorded[i];
    if (!(n >= 0 && n <= std::numeric_limits<double>::max())) refuse_pixel(frame, in, i);
    TrueCounts value{n, n, 0.0};
    cell.recorded += n;
    if constexpr (dead) {
      value = correct_dead_time(n, frame.exposure_s, *in.dead_time);
      block.largest_load = std::max(block.largest_load, value.counts / frame.exposure_s * in.dead_time->dead_time_s);
      cell.counts += value.counts;
      cell.variance += value.variance;
      cell.per_dead_time += value.per_dead_time;
    }
    double dark = 0.0;
    if constexpr (has_dark) {
      dark = in.dark->counts.data()[i];
      cell.dark += dark;
    }
    if constexpr (scatter) {
      const double net = value.counts - dark * share, inverse = 1 / in.weight.data()[i];
      cell.square += net * net * inverse;
      cell.expected += (value.variance + dark * share * share) * inverse;
    }
  }
}

using Pass = void (*)(const Frame&, const PixelInputs&, Index, Index, Block&);
template <bool... flags>
Pass choose() {
  return &sum_rows<flags...>;
}
template <bool... flags, typename... Rest>
Pass choose(bool next, Rest... rest) {
  return next ? choose<flags..., true>(rest...) : choose<flags..., false>(rest...);
}

BinSums collect(const Block& block, bool dead) {
  const Index n = static_cast<Index>(block.cells.size());
  BinSums out(n);
  for (Index k = 0; k < n; ++k) {
    const Cell& c = block.cells[static_cast<std::size_t>(k)];
    out.recorded[k] = c.recorded;
    out.counts[k] = dead ? c.counts : c.recorded;
    out.variance[k] = dead ? c.variance : c.recorded;
    out.per_dead_time[k] = c.per_dead_time;
    out.dark[k] = c.dark;
    out.square[k] = c.square;
    out.expected[k] = c.expected;
    out.lost_weight[k] = c.lost_weight;
    out.lost_weighted_q[k] = c.lost_weighted_q;
  }
  out.lost = block.lost;
  out.largest_load = block.largest_load;
  return out;
}

}  // namespace

BinSums::BinSums(Index n)
    : recorded(VectorXd::Zero(n)),
      counts(recorded),
      variance(recorded),
      per_dead_time(recorded),
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
  per_dead_time += o.per_dead_time;
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
  const Pass pass = choose(in.dead_time.has_value(), in.dark != nullptr, in.skip.size() != 0, in.check_scatter);
  std::vector<Block> parts(static_cast<std::size_t>(blocks),
                           Block{std::vector<Cell>(static_cast<std::size_t>(bins)), Eigen::VectorXi::Zero(bins)});
  parallel_for(parts.size(), [&](std::size_t b) {
    const Index block = static_cast<Index>(b);
    pass(frame, in, rows * block / blocks * columns, rows * (block + 1) / blocks * columns, parts[b]);
  });
  BinSums out(bins);
  for (const Block& part : parts) out.add(collect(part, in.dead_time.has_value()));
  return out;
}

}  // namespace sievelight
