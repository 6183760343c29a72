// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/area_sums.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/every_cpu.hpp"
#include "sievelight/frames/count_rules.hpp"
#include "sievelight/reduce/block_sums.hpp"
#include "sievelight/reduce/dead_time_table.hpp"

#include <fmt/format.h>

#include <bit>
#include <cstring>
#include <limits>
#include <list>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Four doubles that are added at once, wherever they stand.
typedef double Four __attribute__((vector_size(32), aligned(8)));

SIEVELIGHT_INLINE void add_four(double* to, const Four& four) { *reinterpret_cast<Four*>(to) += four; }

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
SIEVELIGHT_EVERY_CPU void add_true(const double* counts, const double* recorded, const AreaShare* shares, Index n,
                                   double* rows) {
  for (Index i = 0; i < n; ++i) {
    Four w, turned;
    load_shares(shares[i], w, turned);
    double* row = rows + row_width * static_cast<Index>(shares[i].row);
    add_four(row, w * counts[i]);
    add_four(row + 4, w * recorded[i]);
  }
}

bool is_count(double number) { return number >= 0 && number <= std::numeric_limits<double>::max(); }

// Numbers of one strip of pixels; what is hidden or out of the bins is zero or adds to no bin.
struct Strip {
  const double* counts = nullptr;    // true; these point to the numbers below, or to those of a frame
  const double* variance = nullptr;  // of them
  const double* recorded = nullptr;
  const double* dark = nullptr;  // null without
  bool any_hidden = false;
  bool hidden[longest_strip];
  double buffer[4][longest_strip];
};

// Asks for the numbers of the next strip while this one is worked on.
void ask_ahead(const double* counts, Index n) {
  constexpr Index line = 8;
  for (Index i = 0; i < n; i += line) __builtin_prefetch(counts + n + i);
}

class Pass {
 public:
  Pass(const AreaShares& shares, const Mask& skip, const AreaTerms& terms)
      : shares_(shares), skip_(skip.data()), terms_(terms) {
    for (const Frame* f : terms.frames) {
      frames_.push_back({f->counts.data(), nullptr});
      if (f->masked.size() != 0) masks_.push_back(f->masked.data());
      if (!terms.dead_time || f->metadata.countrate_correction_applied) continue;
      dead_ = true;
      for (const DeadTimeTable& table : tables_)
        if (table.exposure_s() == f->exposure_s) frames_.back().table = &table;
      if (!frames_.back().table) frames_.back().table = &tables_.emplace_back(*terms.dead_time, f->exposure_s);
    }
    if (terms.dark && terms.dark->masked.size() != 0) masks_.push_back(terms.dark->masked.data());
  }

  bool dead() const { return dead_; }

  /// Whether the strip's numbers are those of a frame itself, which fill() then does not look at.
  bool direct(const Strip& strip) const { return !dead_ && frames_.size() == 1 && !strip.any_hidden; }

  /// Fills a strip; returns the first pixel that should hold counts and does not, or -1.
  Index fill(Index first, Index n, Strip& out) const {
    hide(first, n, out);
    if (!direct(out))
      for (const Item& f : frames_) {
        ask_ahead(f.counts + first, n);
        if (!all_counts(f.counts + first, n)) {
          const Index bad = refused(first, n, out);
          if (bad >= 0) return bad;
          break;
        }
      }
    double *counts = out.buffer[0], *variance = out.buffer[1], *recorded = out.buffer[2], *dark = out.buffer[3];
    const auto visible = [&](const double* from, double* to) {
      for (Index i = 0; i < n; ++i) to[i] = out.hidden[i] ? 0.0 : from[i];
    };
    out.recorded = frames_[0].counts + first;
    if (frames_.size() > 1) {
      for (Index i = 0; i < n; ++i) recorded[i] = out.recorded[i] + frames_[1].counts[first + i];
      for (std::size_t f = 2; f < frames_.size(); ++f)
        for (Index i = 0; i < n; ++i) recorded[i] += frames_[f].counts[first + i];
      out.recorded = recorded;
    }
    if (out.any_hidden) {
      visible(out.recorded, recorded);
      out.recorded = recorded;
    }
    out.counts = out.variance = out.recorded;
    if (dead_) {
      correct(first, n, out);
      out.counts = counts;
      out.variance = variance;
    }
    if (terms_.dark) {
      out.dark = terms_.dark->counts.data() + first;
      if (out.any_hidden) {
        visible(out.dark, dark);
        out.dark = dark;
      }
    }
    return -1;
  }

  void refuse(Index pixel) const {
    const Index columns = terms_.frames[0]->counts.cols();
    for (const Item& f : frames_)
      if (const double n = f.counts[pixel]; !is_count(n))
        throw DataError(fmt::format("the counts of '{}' are {} at row {}, column {}, a pixel that is not masked.",
                                    terms_.name, n, pixel / columns, pixel % columns),
                        "Mask the pixel; readers of frames mask negative and not finite values.");
  }

  /// The first pixel of a strip that should hold counts and does not, or -1.
  Index refused(Index first, Index n, const Strip& strip) const {
    for (Index i = 0; i < n; ++i) {
      if (skip_[first + i] || (strip.any_hidden && strip.hidden[i])) continue;
      for (const Item& f : frames_)
        if (!is_count(f.counts[first + i])) return first + i;
    }
    return -1;
  }

 private:
  struct Item {
    const double* counts;
    const DeadTimeTable* table;  // null where the dead time is corrected or switched off
  };

  void hide(Index first, Index n, Strip& out) const {
    out.any_hidden = false;
    for (const bool* mask : masks_)
      if (std::memchr(mask + first, 1, static_cast<std::size_t>(n))) out.any_hidden = true;
    const double* dark = terms_.dark ? terms_.dark->counts.data() + first : nullptr;
    if (dark) ask_ahead(dark, n);
    const bool dark_bad = dark && !all_counts(dark, n);
    out.any_hidden = out.any_hidden || dark_bad;
    if (!out.any_hidden) return;
    std::fill_n(out.hidden, n, false);
    for (const bool* mask : masks_)
      for (Index i = 0; i < n; ++i) out.hidden[i] = out.hidden[i] || mask[first + i];
    if (dark_bad)
      for (Index i = 0; i < n; ++i) out.hidden[i] = out.hidden[i] || !is_count(dark[i]);
  }

  // True counts and their variance.
  void correct(Index first, Index n, Strip& out) const {
    double *true_counts = out.buffer[0], *variance = out.buffer[1];
    std::fill_n(true_counts, n, 0.0);
    std::fill_n(variance, n, 0.0);
    for (const Item& f : frames_) {
      const double* counts = f.counts + first;
      for (Index i = 0; i < n; ++i) {
        // The rate of a pixel that is not used may be impossible.
        if ((out.any_hidden && out.hidden[i]) || !shares_.used(first + i)) continue;
        if (!f.table) {
          true_counts[i] += counts[i];
          variance[i] += counts[i];
          continue;
        }
        const auto whole =
            counts[i] < static_cast<double>(f.table->size()) ? static_cast<std::size_t>(counts[i]) : f.table->size();
        const DeadTimeTable::Entry e =
            static_cast<double>(whole) == counts[i] ? (*f.table)(whole) : (*f.table)(counts[i]);
        true_counts[i] += e.counts;
        variance[i] += e.variance;
      }
    }
  }

  const AreaShares& shares_;
  const bool* skip_;
  const AreaTerms& terms_;
  std::vector<Item> frames_;
  std::vector<const bool*> masks_;
  std::list<DeadTimeTable> tables_;  // one for each exposure time; stays where it is
  bool dead_ = false;
};

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
void add_exceptions(const AreaShares& shares, const Pass& pass, double share, AreaSums& out) {
  const std::vector<Index>& pixels = shares.exceptions();
  if (pixels.empty()) return;
  // Blocks of exceptions as of the pixels of a frame one column wide. Per bin: net, recorded, band.
  const MatrixXd sums = sum_blocks(static_cast<Index>(pixels.size()), 1, 2 + out.band.cols(), shares.bins(),
                                   [&](Index first, Index n, MatrixXd& part) {
                                     Strip strip;
                                     std::vector<std::pair<Index, double>> own;
                                     for (Index e = first; e < first + n; ++e) {
                                       const Index pixel = pixels[static_cast<std::size_t>(e)];
                                       pass.fill(pixel, 1, strip);
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
  const Pass pass(shares, skip, terms);
  const std::vector<Index> ends = pixel_blocks(skip.rows(), skip.cols());
  std::vector<std::vector<Index>> lost(ends.size());
  std::vector<Index> refused(ends.size(), -1);
  // Sets of rows: of the variance, of the true counts with a dead time, of the dark.
  const Index height = shares.rows(), dead_set = height, dark_set = height * (pass.dead() ? 2 : 1);
  const MatrixXd rows = sum_blocks(
      skip.rows(), skip.cols(), row_width, dark_set + (terms.dark ? height : 0),
      [&](Index begin, Index count, MatrixXd& part) {
        const auto block = static_cast<std::size_t>(std::lower_bound(ends.begin(), ends.end(), begin) - ends.begin());
        Strip strip;
        for_strips(begin, count, [&](Index first, Index n) {
          if (refused[block] >= 0) return;
          refused[block] = pass.fill(first, n, strip);
          if (refused[block] >= 0) return;
          if (strip.any_hidden)
            for (Index i = 0; i < n; ++i)
              if (strip.hidden[i] && shares.used(first + i)) lost[block].push_back(first + i);
          const AreaShare* own = shares.data() + first;
          if (add_plain(strip.variance, own, n, part.data()) && pass.direct(strip))
            refused[block] = pass.refused(first, n, strip);
          if (pass.dead()) add_true(strip.counts, strip.recorded, own, n, part.data() + dead_set * row_width);
          if (strip.dark) add_plain(strip.dark, own, n, part.data() + dark_set * row_width);
        });
      });
  for (const Index pixel : refused)
    if (pixel >= 0) pass.refuse(pixel);
  AreaSums out;
  out.net = out.recorded = VectorXd::Zero(shares.bins());
  out.band = MatrixXd::Zero(shares.bins(), std::max<Index>(3, shares.span()));
  constexpr double once = 1.0 / share_unit, twice = once * once;
  const Index used = height - 1;  // the last row is of pixels in no bin
  const double *all = rows.data(), *dead = all + dead_set * row_width, *dark = all + dark_set * row_width;
  unfold_band(all, used, twice, out.band);
  unfold_sums(pass.dead() ? dead : all, used, 0, once, out.net);
  unfold_sums(pass.dead() ? dead : all, used, pass.dead() ? 4 : 0, once, out.recorded);
  if (terms.dark) {
    unfold_band(dark, used, terms.dark_share * terms.dark_share * twice, out.band);
    unfold_sums(dark, used, 0, -terms.dark_share * once, out.net);
  }
  add_exceptions(shares, pass, terms.dark_share, out);
  for (const std::vector<Index>& block : lost) out.lost.insert(out.lost.end(), block.begin(), block.end());
  return out;
}

}  // namespace sievelight
