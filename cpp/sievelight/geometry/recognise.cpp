// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/recognise.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/geometry/calibrant.hpp"
#include "sievelight/geometry/ring_guess.hpp"
#include "sievelight/geometry/unusable_pixels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr double common_factor = 0.03, scatter = 0.005;

/// Radial profile on an axis of q, in bins of about one pixel, whole and in sectors of the azimuth.
PolarProfile profile_in_q(const Image& counts, const PixelMap& map, const Mask& unusable, double step) {
  const double q_max = map.q_per_nm.maxCoeff();
  const auto n = static_cast<Index>(q_max / step) + 1;
  PolarProfile p;
  const LineProfile empty{Eigen::ArrayXd::Zero(n), Eigen::ArrayXd::Zero(n)};
  p.all = empty;
  p.sectors.assign(24, empty);
  for (Index y = 0; y < counts.rows(); ++y)
    for (Index x = 0; x < counts.cols(); ++x) {
      if (unusable(y, x)) continue;
      const auto bin = static_cast<Index>(map.q_per_nm(y, x) / step);
      const auto sector =
          static_cast<std::size_t>(std::clamp((map.azimuth_rad(y, x) / (2.0 * pi) + 0.5) * 24.0, 0.0, 23.5));
      for (LineProfile* line : {&p.all, &p.sectors[sector]}) {
        line->counts[bin] += counts(y, x);
        line->pixels[bin] += 1.0;
      }
    }
  return p;
}

/// Steepest change of q per pixel at the corners and in the middle: one bin of the profile.
double q_per_pixel(const Image& q) {
  double steepest = 0.0;
  const Index rows = q.rows(), columns = q.cols();
  for (const Index y : {Index{1}, rows / 2, rows - 2})
    for (const Index x : {Index{1}, columns / 2, columns - 2})
      steepest = std::max(steepest, 0.5 * std::hypot(q(y, x + 1) - q(y, x - 1), q(y + 1, x) - q(y - 1, x)));
  return steepest;
}

/// Whether the peaks (places in q and their widths) are those of a list of rings.
bool are_rings_of(const std::vector<LinePeak>& peaks, double step, const Calibrant& material,
                  const LineProfile& profile) {
  const Eigen::ArrayXd q = 2.0 * pi / material.d_nm.array();
  for (const LinePeak& anchor : peaks) {
    const double at = anchor.position_px * step;
    for (Index k = 0; k < q.size(); ++k) {
      const double factor = at / q[k];
      if (std::abs(factor - 1.0) > common_factor) continue;
      // Which rings are met, and whether anything else stands among them.
      std::vector<bool> met(static_cast<std::size_t>(q.size()), false);
      Index first = q.size(), last = -1, matched = 0;
      double first_width = 0.0;
      bool sharp = true;
      for (const LinePeak& p : peaks) {
        const double place = p.position_px * step;
        for (Index j = 0; j < q.size(); ++j) {
          if (std::abs(place / (factor * q[j]) - 1.0) > scatter + step / place) continue;
          const double room =
              factor * std::min(j > 0 ? q[j] - q[j - 1] : q[j], j + 1 < q.size() ? q[j + 1] - q[j] : q[j]);
          if (met[static_cast<std::size_t>(j)]) continue;
          met[static_cast<std::size_t>(j)] = true;
          ++matched;
          sharp = sharp && p.fwhm_px * step < 0.34 * room;
          if (j < first) {
            first = j;
            first_width = p.fwhm_px / p.position_px;
          }
          last = std::max(last, j);
        }
      }
      if (matched < (first_width > 0.04 ? 3 : 2) || !sharp) continue;
      // Of widely spaced lists every ring between the first and the last one met has to be there; of crowded ones half.
      if (static_cast<double>(matched) <
          (material.name == "silver behenate" ? 0.99 : 0.5) * static_cast<double>(last - first + 1))
        continue;
      // The first ring in view is among them.
      bool earlier = false;
      for (Index j = 0; j < first; ++j) {
        const double place = factor * q[j] / step;
        earlier = earlier || std::isfinite(line_contrast(profile, place, 3.0).noise);
      }
      if (earlier && material.name == "silver behenate") continue;
      const bool stray = std::ranges::any_of(peaks, [&](const LinePeak& p) {
        const double place = p.position_px * step;
        if (place < 0.97 * factor * q[first] || place > factor * q[last]) return false;
        return !(q.unaryExpr([&](double ring) { return std::abs(place / (factor * ring) - 1.0); }).minCoeff() <=
                 scatter + step / place);
      });
      if (!stray) return true;
    }
  }
  return false;
}

}  // namespace

std::string looks_like_calibrant(const Image& counts, const PixelMap& map, const Mask& masked) {
  if (map.q_per_nm.rows() != counts.rows() || map.q_per_nm.cols() != counts.cols())
    throw InputError(fmt::format("looks_like_calibrant: a map of {} rows and {} columns for counts of {} and {}",
                                 map.q_per_nm.rows(), map.q_per_nm.cols(), counts.rows(), counts.cols()),
                     "Make the map with the frame's own shape.");
  const Mask unusable = unusable_pixels(counts, masked);
  if (unusable.all()) return "";
  if (counts.rows() < 8 || counts.cols() < 8) return "";
  const double step = q_per_pixel(map.q_per_nm);
  if (!(step > 0.0)) return "";
  const PolarProfile profile = profile_in_q(counts, map, unusable, step);
  const std::vector<LinePeak> peaks = ring_like_peaks(profile);
  if (peaks.size() < 2) return "";
  for (const std::string& name : known_calibrants())
    if (are_rings_of(peaks, step, calibrant(name), profile.all)) return name;
  return "";
}

}  // namespace sievelight
