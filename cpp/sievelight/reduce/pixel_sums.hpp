// SPDX-License-Identifier: GPL-3.0-or-later
/// Sums of counts per bin over runs of consecutive pixels: the innermost loop of a reduction, on one thread.
/// Numbers are taken in the type in which they are stored and added as whole numbers where nothing but the counts is
/// asked for; with a dead time or the check of the scatter, as doubles in the order of the pixels, block by block
/// (pixel_blocks()). So the sums are the same bit for bit however the pixels come and on however many threads.
/// A strip of pixels without anything to catch is added without a question; the others are walked pixel by pixel.
#pragma once

#include "sievelight/frames/count_rules.hpp"
#include "sievelight/frames/stored_stream.hpp"
#include "sievelight/reduce/dead_time_table.hpp"
#include "sievelight/reduce/slots.hpp"

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

/// First pixels of the blocks over which doubles are summed apart, and behind them the number of pixels.
std::vector<Eigen::Index> pixel_blocks(Eigen::Index rows, Eigen::Index columns);

class PixelSums {
 public:
  /// Forgets everything and keeps the memory. `blocks` as from pixel_blocks(), or the two ends of a single block.
  void begin(const SumTerms& terms, const std::vector<Eigen::Index>& blocks);

  /// Stored numbers of consecutive pixels; runs come in rising order. `skip` (run.n) may be null; the count rules
  /// decide what else is no count.
  void add(const StoredType& type, const StoredRun& run, double saturation, const bool* skip);
  /// The same for counts that were sorted out before: one that is negative or not finite is `refused` unless skipped.
  void add(const double* counts, Eigen::Index first, Eigen::Index n, const bool* skip);
  /// No more pixels come.
  void end();
  /// Adds the sums of the pixels that follow, after both have ended.
  void join(const PixelSums& next);

  Eigen::Index bins() const { return terms_.slots->bins(); }
  double recorded(Eigen::Index bin) const;
  double counts(Eigen::Index bin) const;         // after the dead time
  double variance(Eigen::Index bin) const;       // of them
  double per_dead_time(Eigen::Index bin) const;  // 0 without
  double square(Eigen::Index bin) const;         // sum (n - s D)^2/w; 0 unless asked for
  double expected(Eigen::Index bin) const;       // sum (var n + s^2 D)/w
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
  void add_run(const T* numbers, Eigen::Index first, Eigen::Index n, const bool* skip, const StoredType* type,
               double saturation);
  template <typename T, typename Slot>
  void add_strip(const T* numbers, const Slot* slots, Eigen::Index first, Eigen::Index n);
  template <typename T>
  void add_pixels(const T* numbers, Eigen::Index first, Eigen::Index n, std::uint64_t limit, const bool* skip);
  void fold();
  double* cell(Eigen::Index slot) { return cells_.data() + slot * width_; }
  double total(Eigen::Index bin, Eigen::Index term) const { return totals_[bin * width_ + term]; }

  SumTerms terms_;
  std::vector<Eigen::Index> blocks_;
  std::size_t block_ = 0;
  bool rich_ = false;            // more than the counts is asked for
  bool dirty_ = false;           // cells_ is not all zero
  Eigen::Index width_ = 1;       // doubles a slot: 1, 4 or 8
  Eigen::Index square_at_ = -1;  // where square stands among them; expected follows
  int copies_ = 1;               // of the whole sums, used in turn: a sum need not wait for the last one
  std::vector<std::uint64_t> whole_;
  std::vector<double> cells_, totals_;  // of the block, of all blocks before
  std::vector<Eigen::Index> lost_;
  CountTally tally_;
  double largest_ = 0.0;
  std::optional<Eigen::Index> refused_;
};

}  // namespace sievelight
