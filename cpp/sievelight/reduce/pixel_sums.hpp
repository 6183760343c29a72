// SPDX-License-Identifier: GPL-3.0-or-later
/// Sums of counts per bin over runs of consecutive pixels: the innermost loop of a reduction, on one thread.
/// Numbers are taken in the type in which they are stored and added as whole numbers where nothing but the counts is
/// asked for (whole_sums.hpp); the check of the scatter, and pixels of many counts with a dead time, as doubles in the
/// order of the pixels, block by block (pixel_blocks()). So the sums are the same bit for bit however the pixels come
/// and on however many threads.
/// A strip of pixels without anything to catch is added without a question; the others are walked pixel by pixel.
#pragma once

#include "sievelight/frames/count_rules.hpp"
#include "sievelight/frames/stored_stream.hpp"
#include "sievelight/reduce/block_sums.hpp"
#include "sievelight/reduce/dead_time_table.hpp"
#include "sievelight/reduce/slots.hpp"
#include "sievelight/reduce/whole_sums.hpp"

#include <cstdint>
#include <optional>
#include <vector>

namespace sievelight {

/// What is asked for; what it points to must outlive the sums.
struct SumTerms {
  const Slots* slots = nullptr;
  const DeadTimeTable* dead_time = nullptr;  // or null
  const float* inverse_weight = nullptr;     // 1/w of every pixel: fills square and expected; or null
  const double* dark = nullptr;              // counts of the dark, for square and expected; or null
  double dark_share = 0.0;                   // t/t_D
};

class PixelSums {
 public:
  /// Forgets everything and keeps the memory. `blocks` as from pixel_blocks(), or the two ends of a single block.
  /// Whole numbers go to `whole`, begun beforehand (begin_whole()) and perhaps shared with other blocks of this thread.
  void begin(const SumTerms& terms, const std::vector<Eigen::Index>& blocks, WholeSums& whole);

  /// Stored numbers of consecutive pixels; runs come in rising order. `skip` (run.n) may be null; the count rules
  /// decide what else is no count.
  void add(const StoredType& type, const StoredRun& run, double saturation, const bool* skip);
  /// The same for counts that were sorted out before: one that is negative or not finite is `refused` unless skipped.
  void add(const double* counts, Eigen::Index first, Eigen::Index n, const bool* skip);
  /// Adds the sums of the pixels that follow.
  void join(PixelSums& next);
  /// No more pixels come; `whole` is that of all threads together.
  void end(const WholeSums& whole);

  Eigen::Index bins() const { return terms_.slots->bins(); }
  // Sums of a bin, after end().
  double recorded(Eigen::Index bin) const { return total(bin, 0); }
  double counts(Eigen::Index bin) const { return total(bin, terms_.dead_time ? 1 : 0); }    // after the dead time
  double variance(Eigen::Index bin) const { return total(bin, terms_.dead_time ? 2 : 0); }  // of them
  double per_dead_time(Eigen::Index bin) const { return terms_.dead_time ? total(bin, 3) : 0.0; }
  double square(Eigen::Index bin) const;    // sum (n - s D)^2/w; 0 unless asked for
  double expected(Eigen::Index bin) const;  // sum (var n + s^2 D)/w
  /// Pixels of a bin that were skipped or held no count.
  const std::vector<Eigen::Index>& lost() const { return lost_; }
  /// What the count rules caught, in used and unused pixels.
  const CountTally& tally() const { return tally_; }
  /// The largest recorded number of a used pixel; only with a dead time.
  double largest() const { return largest_; }
  /// First pixel that is neither skipped nor holds counts (add(double) only).
  std::optional<Eigen::Index> refused() const { return refused_; }

 private:
  template <typename T>
  void add_run(const T* numbers, Eigen::Index first, Eigen::Index n, std::uint64_t limit, const bool* skip,
               const StoredType* type, double saturation);
  template <typename T>
  void add_wide(const T* numbers, Eigen::Index first, Eigen::Index n, T top);
  template <typename T>
  void add_strip(const T* numbers, Eigen::Index first, Eigen::Index n, T top);
  template <typename T, typename Slot>
  void add_dead(const T* numbers, const Slot* slots, Eigen::Index first, Eigen::Index n, T top);
  void fold();
  double total(Eigen::Index bin, Eigen::Index term) const {
    return totals_[static_cast<std::size_t>(bin * width_ + term)];
  }

  SumTerms terms_;
  WholeSums* whole_ = nullptr;
  std::vector<Eigen::Index> blocks_;
  std::size_t block_ = 0;
  Eigen::Index width_ = 1;              // doubles a slot: 1, 4 or 8
  bool dirty_ = false;                  // cells_ is not all zero
  std::vector<double> cells_, totals_;  // of the block, of all blocks before
  std::vector<Eigen::Index> lost_;
  CountTally tally_;
  double largest_ = 0.0;
  std::optional<Eigen::Index> refused_;
};

/// Begins the whole sums that go with such terms.
void begin_whole(const SumTerms& terms, WholeSums& whole);

}  // namespace sievelight
