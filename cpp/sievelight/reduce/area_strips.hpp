// SPDX-License-Identifier: GPL-3.0-or-later
/// The numbers of a few hundred pixels at a time, ready to be shared among bins by area: summed over the frames, masks
/// applied, corrected for the dead time.
#pragma once

#include "sievelight/frames/frame.hpp"
#include "sievelight/reduce/area_shares.hpp"
#include "sievelight/reduce/block_sums.hpp"
#include "sievelight/reduce/dead_time_table.hpp"

#include <list>
#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// What is summed: sum over frames of the true counts - dark_share x dark. Frames, dark and `skip` have one shape.
struct AreaTerms {
  std::string name;  // for messages
  std::vector<const Frame*> frames;
  const Frame* dark = nullptr;  // or null; where it holds no count a pixel is left out
  double dark_share = 0.0;      // t/t_D
  std::optional<DeadTime> dead_time;
};

/// Numbers of one strip; where a mask hides the pixel they are zero, where it lies in no bin they are anything.
struct AreaStrip {
  const double* counts = nullptr;    // true; these point to the numbers below, or to those of a frame
  const double* variance = nullptr;  // of them
  const double* recorded = nullptr;
  const double* dark = nullptr;  // null without
  bool any_hidden = false;
  bool hidden[longest_strip];  // only where any_hidden
  double buffer[4][longest_strip];
};

/// Makes strips; may be used by several threads, each with a strip of its own. What it is given must outlive it.
class AreaStrips {
 public:
  /// `skip`: pixels that are never looked at.
  AreaStrips(const AreaShares& shares, const Mask& skip, const AreaTerms& terms);

  /// Whether counts and their variance differ from what was recorded.
  bool dead() const { return dead_; }
  /// Whether the strip's numbers are those of a frame itself, which fill() then does not look at.
  bool direct(const AreaStrip& strip) const { return !dead_ && frames_.size() == 1 && !strip.any_hidden; }
  /// Fills a strip of n pixels, at most longest_strip; returns the first that should hold counts and does not, or -1.
  /// InputError: a rate that the dead time does not allow.
  Eigen::Index fill(Eigen::Index first, Eigen::Index n, AreaStrip& out) const;
  /// The first pixel of a filled strip that should hold counts and does not, or -1.
  Eigen::Index refused(Eigen::Index first, Eigen::Index n, const AreaStrip& strip) const;
  /// DataError that names what such a pixel holds, and where it is.
  void refuse(Eigen::Index pixel) const;

 private:
  struct Item {
    const double* counts;
    const DeadTimeTable* table;  // null where the dead time is corrected or switched off
  };
  void hide(Eigen::Index first, Eigen::Index n, AreaStrip& out) const;
  Eigen::Index correct(Eigen::Index first, Eigen::Index n, AreaStrip& out) const;

  const AreaShares& shares_;
  const bool* skip_;
  const AreaTerms& terms_;
  std::vector<Item> frames_;
  std::vector<const bool*> masks_;
  std::list<DeadTimeTable> tables_;  // one for each exposure time; stays where it is
  bool dead_ = false;
};

}  // namespace sievelight
