// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/area_strips.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/count_rules.hpp"

#include <fmt/format.h>

#include <cstring>
#include <limits>

namespace sievelight {
namespace {

using Eigen::Index;

bool is_count(double number) { return number >= 0 && number <= std::numeric_limits<double>::max(); }

// Asks for the numbers of the next strip while this one is worked on.
void ask_ahead(const double* counts, Index n) {
  constexpr Index line = 8;
  for (Index i = 0; i < n; i += line) __builtin_prefetch(counts + n + i);
}

}  // namespace

AreaStrips::AreaStrips(const AreaShares& shares, const Mask& skip, const AreaTerms& terms)
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

void AreaStrips::hide(Index first, Index n, AreaStrip& out) const {
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

Index AreaStrips::fill(Index first, Index n, AreaStrip& out) const {
  hide(first, n, out);
  if (!direct(out) && !dead_)
    for (const Item& f : frames_) {
      ask_ahead(f.counts + first, n);
      if (all_counts(f.counts + first, n)) continue;
      const Index bad = refused(first, n, out);
      if (bad >= 0) return bad;
      break;
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
    const Index bad = correct(first, n, out);
    if (bad >= 0) return bad;
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

Index AreaStrips::refused(Index first, Index n, const AreaStrip& strip) const {
  for (Index i = 0; i < n; ++i) {
    if (skip_[first + i] || (strip.any_hidden && strip.hidden[i])) continue;
    for (const Item& f : frames_)
      if (!is_count(f.counts[first + i])) return first + i;
  }
  return -1;
}

void AreaStrips::refuse(Index pixel) const {
  const Index columns = terms_.frames[0]->counts.cols();
  for (const Item& f : frames_)
    if (const double n = f.counts[pixel]; !is_count(n))
      throw DataError(fmt::format("the counts of '{}' are {} at row {}, column {}, a pixel that is not masked.",
                                  terms_.name, n, pixel / columns, pixel % columns),
                      "Mask the pixel; readers of frames mask negative and not finite values.");
}

// True counts and their variance; returns as fill().
Index AreaStrips::correct(Index first, Index n, AreaStrip& out) const {
  double *true_counts = out.buffer[0], *variance = out.buffer[1];
  std::fill_n(true_counts, n, 0.0);
  std::fill_n(variance, n, 0.0);
  for (const Item& f : frames_) {
    const double* counts = f.counts + first;
    ask_ahead(counts, n);
    if (f.table && f.table->add_common(counts, static_cast<std::size_t>(n), true_counts, variance)) continue;
    const Index bad = refused(first, n, out);
    if (bad >= 0) return bad;
    for (Index i = 0; i < n; ++i) {
      // The rate of a pixel that is not used may be impossible.
      if ((out.any_hidden && out.hidden[i]) || !shares_.used(first + i)) continue;
      const DeadTimeTable::Entry e = f.table ? (*f.table)(counts[i]) : DeadTimeTable::Entry{0, counts[i], counts[i], 0};
      true_counts[i] += e.counts;
      variance[i] += e.variance;
    }
  }
  if (out.any_hidden)
    for (Index i = 0; i < n; ++i)
      if (out.hidden[i]) true_counts[i] = variance[i] = 0.0;
  return -1;
}

}  // namespace sievelight
