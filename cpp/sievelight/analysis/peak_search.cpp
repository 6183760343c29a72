// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/peak_search.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace sievelight {
namespace {

using Eigen::ArrayXd;
using Eigen::Index;

constexpr double window_widths = 3.5;
constexpr double width_growth = 4.0;

void set_window(PeakSearchGroup& group, const ArrayXd& q) {
  double low = q[q.size() - 1], high = q[0];
  for (const PeakStart& s : group.starts) {
    low = std::min(low, s.q_per_nm - window_widths * s.fwhm_per_nm);
    high = std::max(high, s.q_per_nm + window_widths * s.fwhm_per_nm);
  }
  const Index n = q.size(), least = std::min<Index>(n, static_cast<Index>(3 * group.starts.size()) + 8);
  Index first = std::lower_bound(q.data(), q.data() + n, low) - q.data();
  Index last = std::upper_bound(q.data(), q.data() + n, high) - q.data();
  while (last - first < least) {
    if (first > 0) --first;
    if (last < n && last - first < least) ++last;
  }
  group.first = first;
  group.points = last - first;
}

int number_of_peaks(const std::vector<PeakSearchGroup>& groups) {
  std::size_t out = 0;
  for (const PeakSearchGroup& group : groups) out += group.fit.peaks.size();
  return static_cast<int>(out);
}

void fit_group(PeakSearchGroup& group, const std::vector<PeakSearchGroup>& all, const PeakSearchData& data,
               PeakProfile profile) {
  set_window(group, data.q);
  const ArrayXd known = known_peaks(all, &group, data.q);
  const auto part = [&](const ArrayXd& x) { return x.segment(group.first, group.points).eval(); };
  group.fit = fit_peak_group(part(data.q), part(data.intensity - known),
                             part(data.variance + (profile_tolerance * known).square()), group.starts, profile);
  if (group.fit.settled) group.starts = group.fit.peaks;
}

bool near(const PeakSearchGroup& group, const PeakCandidate& c) {
  for (const PeakStart& s : group.starts)
    if (std::abs(s.q_per_nm - c.q_per_nm) < 1.5 * (s.fwhm_per_nm + c.fwhm_per_nm)) return true;
  return false;
}

bool on_top(const std::vector<PeakSearchGroup>& groups, const PeakCandidate& c) {
  for (const PeakSearchGroup& group : groups)
    for (const PeakStart& s : group.starts)
      if (std::abs(s.q_per_nm - c.q_per_nm) < 0.7 * std::max(s.fwhm_per_nm, c.fwhm_per_nm)) return true;
  return false;
}

// False when a peak has become a bend of the background: half its q wide, or with another peak on top of it (what a
// profile misses of one peak is no second one), or far wider than the higher peak beside it. Peaks of one lattice share
// their domains; their widths grow with q^2 at most (distortion of the second kind).
bool stand_apart(const PeakSearchGroup& group, const std::vector<PeakSearchGroup>& others,
                 double largest_relative_width) {
  std::vector<PeakStart> all = group.fit.peaks;
  for (const PeakSearchGroup& other : others)
    if (&other != &group) all.insert(all.end(), other.fit.peaks.begin(), other.fit.peaks.end());
  const auto apart = [](const PeakStart& a, const PeakStart& b) { return std::abs(a.q_per_nm - b.q_per_nm); };
  for (std::size_t k = 0; k < group.fit.peaks.size(); ++k) {
    const PeakStart& p = all[k];
    if (p.fwhm_per_nm > 2.0 * largest_relative_width * p.q_per_nm) return false;
    const PeakStart* higher = nullptr;
    for (const PeakStart& o : all) {
      if (&o == &p) continue;
      if (apart(o, p) < 0.7 * std::max(o.fwhm_per_nm, p.fwhm_per_nm)) return false;
      if (o.height > p.height && (higher == nullptr || apart(o, p) < apart(*higher, p))) higher = &o;
    }
    if (higher != nullptr &&
        p.fwhm_per_nm > width_growth * higher->fwhm_per_nm * std::max(1.0, std::pow(p.q_per_nm / higher->q_per_nm, 2)))
      return false;
  }
  return true;
}

// Adds the candidate, fitted with its neighbours or beside them as they are; false when neither settles.
bool add(std::vector<PeakSearchGroup>& groups, const PeakCandidate& candidate, const PeakSearchData& data,
         const PeakOptions& options) {
  PeakSearchGroup alone;
  alone.starts.push_back({candidate.q_per_nm, candidate.fwhm_per_nm, candidate.height});
  alone.found.push_back(candidate);
  PeakSearchGroup joined = alone;
  std::vector<PeakSearchGroup> others;
  for (const PeakSearchGroup& group : groups) {
    if (!near(group, candidate)) {
      others.push_back(group);
      continue;
    }
    joined.starts.insert(joined.starts.end(), group.starts.begin(), group.starts.end());
    joined.found.insert(joined.found.end(), group.found.begin(), group.found.end());
  }
  const auto sensible = [&](PeakSearchGroup& group, const std::vector<PeakSearchGroup>& beside) {
    fit_group(group, beside, data, options.profile);
    return group.fit.settled && stand_apart(group, beside, options.largest_relative_width);
  };
  if (sensible(joined, others)) {
    others.push_back(std::move(joined));
    groups = std::move(others);
    return true;
  }
  if (others.size() == groups.size() || !sensible(alone, groups)) return false;
  groups.push_back(std::move(alone));
  return true;
}

}  // namespace

ArrayXd known_peaks(const std::vector<PeakSearchGroup>& groups, const PeakSearchGroup* without, const ArrayXd& q) {
  ArrayXd out = ArrayXd::Zero(q.size());
  for (const PeakSearchGroup& group : groups) {
    if (&group == without) continue;
    for (const PeakStart& p : group.fit.peaks)
      out += p.height * peak_shape((q - p.q_per_nm) / p.fwhm_per_nm, group.fit.eta);
  }
  return out;
}

// Scan, add the clearest, fit again, until chance could make the next.
PeakSearch search_peaks(const PeakSearchData& data, const PeakOptions& options) {
  PeakSearch out;
  PeakScan scan(data.q, data.intensity, data.variance,
                {options.false_alarm, options.background_tolerance, options.largest_relative_width});
  out.places = scan.places();
  std::vector<PeakSearchGroup>& groups = out.groups;
  std::vector<PeakCandidate> failed;
  // Where fits fail again and again there are bends and ripples left, and no peaks.
  int in_a_row = 0;
  for (int k = 0; k < 3 * options.most_peaks && in_a_row < 8; ++k) {
    if (number_of_peaks(groups) >= options.most_peaks) break;
    const auto next = scan.clearest();
    if (!next) break;
    if (on_top(groups, *next)) {  // what a profile leaves of its own peak is no second one
      scan.block(next->q_per_nm, 0.3 * next->fwhm_per_nm);
      continue;
    }
    const bool added = add(groups, *next, data, options);
    if (!added) failed.push_back(*next);
    in_a_row = added ? 0 : in_a_row + 1;
    // Where a fit failed there is no such peak to be had, though a narrow one may stand on a hump; and elsewhere the
    // scan should not pick at a peak's flanks.
    scan.block(next->q_per_nm, (added ? 0.5 : 1.0) * next->fwhm_per_nm, added ? 0.0 : 0.4 * next->fwhm_per_nm);
    const ArrayXd known = known_peaks(groups, nullptr, data.q);
    scan.update(data.intensity - known, data.variance + (profile_tolerance * known).square());
  }
  // What failed beside unknown neighbours may stand beside known ones.
  for (const PeakCandidate& again : failed)
    if (!on_top(groups, again) && !add(groups, again, data, options)) ++out.given_up;
  // The neighbours' tails are known better now.
  for (int pass = 0; pass < 2; ++pass)
    for (PeakSearchGroup& group : groups) {
      const PeakSearchGroup before = group;
      fit_group(group, groups, data, options.profile);
      if (!group.fit.settled || !stand_apart(group, groups, options.largest_relative_width)) group = before;
    }
  return out;
}

}  // namespace sievelight
