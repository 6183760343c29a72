// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/bin_sums.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/parallel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// Sums all pixels on all cores: `run(sums, first, n)` adds the pixels of one block.
template <typename Run>
const PixelSums& sum_pixels(const SumTerms& terms, Index rows, Index columns, const Run& run) {
  // Kept from frame to frame: a frame costs no allocation.
  struct Kept {
    std::vector<PixelSums> parts;
    std::vector<WholeSums> wholes;
  };
  thread_local Kept mine;
  std::vector<PixelSums>& parts = mine.parts;
  std::vector<WholeSums>& wholes = mine.wholes;
  const std::vector<Index> ends = pixel_blocks(rows, columns);
  const std::size_t blocks = ends.size() - 1, threads = std::min(blocks, thread_count());
  if (parts.size() < blocks) parts.resize(blocks);
  if (wholes.size() < threads) wholes.resize(threads);
  for (std::size_t t = 0; t < threads; ++t) begin_whole(terms, wholes[t]);
  parallel_for_threads(
      blocks,
      [&](std::size_t thread, std::size_t b) {
        parts[b].begin(terms, {ends[b], ends[b + 1]}, wholes[thread]);
        run(parts[b], ends[b], ends[b + 1] - ends[b]);
      },
      threads);
  for (std::size_t b = 1; b < blocks; ++b) parts[0].join(parts[b]);
  for (std::size_t t = 0; t < threads; ++t) wholes[t].end();
  for (std::size_t t = 1; t < threads; ++t) wholes[0].join(wholes[t]);
  parts[0].end(wholes[0]);
  return parts[0];
}

const bool* skip_from(const PixelInputs& in, Index first) { return in.skip ? in.skip->data() + first : nullptr; }

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

SumTerms sum_terms(const PixelInputs& in, double exposure_s) {
  SumTerms terms{in.slots, in.dead_time, in.inverse_weight ? in.inverse_weight->data() : nullptr, nullptr, 0.0};
  if (in.dark && in.inverse_weight) {
    terms.dark = in.dark->counts.data();
    terms.dark_share = exposure_s / in.dark->exposure_s;
  }
  return terms;
}

BinSums collect(const PixelSums& sums, const PixelInputs& in) {
  const Index bins = in.slots->bins();
  BinSums out(bins);
  for (Index k = 0; k < bins; ++k) {
    out.recorded[k] = sums.recorded(k);
    out.counts[k] = sums.counts(k);
    out.variance[k] = sums.variance(k);
    out.per_dead_time[k] = sums.per_dead_time(k);
    out.square[k] = sums.square(k);
    out.expected[k] = sums.expected(k);
  }
  const bool dark = in.dark_sums.size() != 0;
  if (dark) out.dark = in.dark_sums;
  for (const Index pixel : sums.lost()) {
    const Index k = (*in.slots)[pixel];
    const double weight = in.weight->data()[pixel];
    out.lost_weight[k] += weight;
    out.lost_weighted_q[k] += weight * in.q_per_nm->data()[pixel];
    ++out.lost[k];
    if (dark && !(in.skip && in.skip->data()[pixel])) out.dark[k] -= in.dark->counts.data()[pixel];
  }
  if (in.dead_time && sums.largest() > 0)
    out.largest_load =
        (*in.dead_time)(sums.largest()).counts / in.dead_time->exposure_s() * in.dead_time->dead_time().dead_time_s;
  return out;
}

VectorXd sum_dark(const PixelInputs& in) {
  const Image& dark = in.dark->counts;
  SumTerms terms;
  terms.slots = in.slots;
  const PixelSums& sums = sum_pixels(terms, dark.rows(), dark.cols(), [&](PixelSums& part, Index first, Index n) {
    part.add(dark.data() + first, first, n, skip_from(in, first));
  });
  VectorXd out(in.slots->bins());
  for (Index k = 0; k < out.size(); ++k) out[k] = sums.recorded(k);
  return out;
}

BinSums sum_frame(const Frame& frame, const PixelInputs& in) {
  const PixelSums& sums = sum_pixels(sum_terms(in, frame.exposure_s), frame.counts.rows(), frame.counts.cols(),
                                     [&](PixelSums& part, Index first, Index n) {
                                       part.add(frame.counts.data() + first, first, n, skip_from(in, first));
                                     });
  if (const auto i = sums.refused())
    throw DataError(fmt::format("the counts of '{}' are {} at row {}, column {}, a pixel that is not masked.", in.name,
                                frame.counts.data()[*i], *i / frame.counts.cols(), *i % frame.counts.cols()),
                    "Mask the pixel; readers of frames mask negative and not finite values.");
  return collect(sums, in);
}

BinSums sum_stored(const StoredCounts& stored, double exposure_s, const PixelInputs& in, CountTally* tally) {
  const PixelSums& sums = sum_pixels(
      sum_terms(in, exposure_s), in.weight->rows(), in.weight->cols(), [&](PixelSums& part, Index first, Index n) {
        const unsigned char* numbers = stored.numbers + static_cast<std::size_t>(first) * stored.type.size;
        part.add(stored.type, {numbers, stored.type.size, first, n}, stored.saturation, skip_from(in, first));
      });
  if (tally) *tally += sums.tally();
  return collect(sums, in);
}

}  // namespace sievelight
