// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/sum.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace sievelight {

Frame sum_frames(const std::vector<const Frame*>& frames) {
  if (frames.empty()) throw InputError("there are no frames to add.", "Give at least one.");
  Frame sum = *frames.front();
  for (std::size_t i = 1; i < frames.size(); ++i) {
    const Frame& next = *frames[i];
    if (next.counts.rows() != sum.counts.rows() || next.counts.cols() != sum.counts.cols())
      throw InputError(fmt::format("frame {} is {} x {} and the first {} x {} (rows x columns).", i, next.counts.rows(),
                                   next.counts.cols(), sum.counts.rows(), sum.counts.cols()),
                       "Add only frames of one detector, in one orientation and binning.");
    sum.counts += next.counts;
    sum.masked = sum.masked || next.masked;
    sum.exposure_s += next.exposure_s;
    sum.exposures += next.exposures;
    if (sum.monitor && next.monitor)
      *sum.monitor += *next.monitor;
    else
      sum.monitor.reset();
    std::vector<std::string>& notes = sum.metadata.notes;
    for (const std::string& note : next.metadata.notes)
      if (std::find(notes.begin(), notes.end(), note) == notes.end()) notes.push_back(note);
  }
  return sum;
}

}  // namespace sievelight
