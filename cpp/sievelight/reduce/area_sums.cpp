// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/area_sums.hpp"

#include "sievelight/base/every_cpu.hpp"
#include "sievelight/base/four.hpp"
#include "sievelight/reduce/block_sums.hpp"

#include <bit>
#include <cstring>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// The shares as they stand, and w1, w2, w0; the fourth place holds the row and is never read. Twice the eight bytes,
// for the compiler has an instruction that widens a whole register and none for half a one.
SIEVELIGHT_INLINE void load_shares(const AreaShare& from, Four& shares, Four& turned) {
  typedef std::uint64_t Bytes __attribute__((vector_size(16)));
  typedef std::uint16_t Stored __attribute__((vector_size(16)));
  typedef std::int32_t Wide __attribute__((vector_size(32)));
  std::uint64_t bytes;
  std::memcpy(&bytes, &from, sizeof bytes);
  const Wide wide = __builtin_convertvector(reinterpret_cast<Stored>(Bytes{bytes, bytes}), Wide);
  shares = __builtin_convertvector(__builtin_shufflevector(wide, wide, 0, 1, 2, 3), Four);
  turned = __builtin_shufflevector(shares, shares, 1, 2, 0, 3);
}

// Negative, when the number is below zero (-0 too) or not finite.
SIEVELIGHT_INLINE std::int64_t doubt(double number) {
  return std::bit_cast<std::int64_t>(std::bit_cast<std::uint64_t>(number) + (std::uint64_t{1} << 52));
}

// Counts that are recorded, true and their variance alike: eight sums a row.
constexpr Index row_width = 8;
SIEVELIGHT_INLINE void add_pixel(double counts, const AreaShare& share, double* rows) {
  Four w, turned;
  load_shares(share, w, turned);
  const Four once = w * counts;
  double* row = rows + row_width * static_cast<Index>(share.row);
  add_four(row, once);
  add_four(row + 4, once * turned);
}

// Returns whether a number may be no count: looking on the way is cheaper than a walk of its own.
SIEVELIGHT_EVERY_CPU bool add_plain(const double* counts, const AreaShare* shares, Index n, double* rows) {
  constexpr Index line = 8, ahead = 512;  // numbers in a cache line; how many before its use it is asked for
  std::int64_t doubts = 0;
  Index i = 0;
  for (; i + line <= n; i += line) {
    __builtin_prefetch(counts + i + ahead);
    __builtin_prefetch(shares + i + ahead);
    for (Index j = i; j < i + line; ++j) {
      doubts |= doubt(counts[j]);
      add_pixel(counts[j], shares[j], rows);
    }
  }
  for (; i < n; ++i) {
    doubts |= doubt(counts[i]);
    add_pixel(counts[i], shares[i], rows);
  }
  return doubts < 0;
}

// With a dead time those sums are of the variance, and eight more of the true and the recorded counts.
SIEVELIGHT_EVERY_CPU void add_dead(const AreaStrip& strip, const AreaShare* shares, Index n, double* rows,
                                   double* more) {
  for (Index i = 0; i < n; ++i) {
    Four w, turned;
    load_shares(shares[i], w, turned);
    const Index at = row_width * static_cast<Index>(shares[i].row);
    const Four once = w * strip.variance[i];
    add_four(rows + at, once);
    add_four(rows + at + 4, once * turned);
    add_four(more + at, w * strip.counts[i]);
    add_four(more + at + 4, w * strip.recorded[i]);
  }
}

// A set of rows taken apart into bins: three sums of a row, and how the bins go with the next.
void unfold_sums(const double* rows, Index count, Index from, double factor, VectorXd& sums) {
  for (Index r = 0; r < count; ++r)
    for (Index j = 0; j < 3; ++j)
      if (const Index k = r - 1 + j; k >= 0 && k < sums.size()) sums[k] += factor * rows[r * row_width + from + j];
}
void unfold_band(const double* rows, Index count, double factor, MatrixXd& band) {
  const auto add = [&](Index k, Index j, double x) {
    if (k >= 0 && k + j < band.rows()) band(k, j) += factor * x;
  };
  for (Index r = 0; r < count; ++r) {
    const double *row = rows + r * row_width, w01 = row[4], w12 = row[5], w02 = row[6];
    add(r - 1, 0, row[0] * share_unit - w01 - w02);
    add(r, 0, row[1] * share_unit - w01 - w12);
    add(r + 1, 0, row[2] * share_unit - w12 - w02);
    add(r - 1, 1, w01);
    add(r, 1, w12);
    add(r - 1, 2, w02);
  }
}

// Pixels that are not in the table.
void add_exceptions(const AreaShares& shares, const AreaStrips& strips, double share, AreaSums& out) {
  const std::vector<Index>& pixels = shares.exceptions();
  if (pixels.empty()) return;
  // Blocks of exceptions as of the pixels of a frame one column wide. Per bin: net, recorded, band.
  const MatrixXd sums = sum_blocks(static_cast<Index>(pixels.size()), 1, 2 + out.band.cols(), shares.bins(),
                                   [&](Index first, Index n, MatrixXd& part) {
                                     AreaStrip strip;
                                     std::vector<std::pair<Index, double>> own;
                                     for (Index e = first; e < first + n; ++e) {
                                       const Index pixel = pixels[static_cast<std::size_t>(e)];
                                       strips.fill(pixel, 1, strip);
                                       if (strip.any_hidden) continue;
                                       const double dark = strip.dark ? strip.dark[0] : 0.0;
                                       own.clear();
                                       shares.each(pixel, [&](Index bin, double w) { own.emplace_back(bin, w); });
                                       for (std::size_t a = 0; a < own.size(); ++a) {
                                         double* to = part.data() + own[a].first * part.rows();
                                         to[0] += own[a].second * (strip.counts[0] - share * dark);
                                         to[1] += own[a].second * strip.recorded[0];
                                         const double variance =
                                             own[a].second * (strip.variance[0] + share * share * dark);
                                         for (std::size_t b = a; b < own.size(); ++b)
                                           to[2 + own[b].first - own[a].first] += own[b].second * variance;
                                       }
                                     }
                                   });
  out.net += sums.row(0).transpose();
  out.recorded += sums.row(1).transpose();
  out.band += sums.bottomRows(out.band.cols()).transpose();
}

}  // namespace

AreaSums sum_areas(const AreaShares& shares, const Mask& skip, const AreaTerms& terms) {
  const AreaStrips strips(shares, skip, terms);
  const std::vector<Index> ends = pixel_blocks(skip.rows(), skip.cols());
  std::vector<std::vector<Index>> lost(ends.size());
  std::vector<Index> refused(ends.size(), -1);
  // Sets of rows: of the variance, of the true counts with a dead time, of the dark.
  const Index height = shares.rows(), dead_set = height, dark_set = height * (strips.dead() ? 2 : 1);
  const MatrixXd rows = sum_blocks(
      skip.rows(), skip.cols(), row_width, dark_set + (terms.dark ? height : 0),
      [&](Index begin, Index count, MatrixXd& part) {
        const auto block = static_cast<std::size_t>(std::lower_bound(ends.begin(), ends.end(), begin) - ends.begin());
        AreaStrip strip;
        for_strips(begin, count, [&](Index first, Index n) {
          if (refused[block] >= 0) return;
          refused[block] = strips.fill(first, n, strip);
          if (refused[block] >= 0) return;
          if (strip.any_hidden)
            for (Index i = 0; i < n; ++i)
              if (strip.hidden[i] && shares.used(first + i)) lost[block].push_back(first + i);
          const AreaShare* own = shares.data() + first;
          if (strips.dead())
            add_dead(strip, own, n, part.data(), part.data() + dead_set * row_width);
          else if (add_plain(strip.recorded, own, n, part.data()) && strips.direct(strip))
            refused[block] = strips.refused(first, n, strip);
          if (strip.dark) add_plain(strip.dark, own, n, part.data() + dark_set * row_width);
        });
      });
  for (const Index pixel : refused)
    if (pixel >= 0) strips.refuse(pixel);
  AreaSums out;
  out.net = out.recorded = VectorXd::Zero(shares.bins());
  out.band = MatrixXd::Zero(shares.bins(), std::max<Index>(3, shares.span()));
  constexpr double once = 1.0 / share_unit, twice = once * once;
  const Index used = height - 1;  // the last row is of pixels in no bin
  const double *all = rows.data(), *dead = all + dead_set * row_width, *dark = all + dark_set * row_width;
  unfold_band(all, used, twice, out.band);
  unfold_sums(strips.dead() ? dead : all, used, 0, once, out.net);
  unfold_sums(strips.dead() ? dead : all, used, strips.dead() ? 4 : 0, once, out.recorded);
  if (terms.dark) {
    unfold_band(dark, used, terms.dark_share * terms.dark_share * twice, out.band);
    unfold_sums(dark, used, 0, -terms.dark_share * once, out.net);
  }
  add_exceptions(shares, strips, terms.dark_share, out);
  for (const std::vector<Index>& block : lost) out.lost.insert(out.lost.end(), block.begin(), block.end());
  return out;
}

}  // namespace sievelight
