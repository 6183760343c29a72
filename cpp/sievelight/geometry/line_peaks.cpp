// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/line_peaks.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace sievelight {
namespace {

using Eigen::ArrayXd, Eigen::Index;

constexpr double pixels_differ_by = 0.002;

/// Running sums, for windows with ends anywhere.
struct Sums {
  ArrayXd counts, pixels;  // (n + 1): all below position i

  explicit Sums(const LineProfile& p) : counts(p.counts.size() + 1), pixels(p.counts.size() + 1) {
    counts[0] = pixels[0] = 0.0;
    for (Index i = 0; i < p.counts.size(); ++i) {
      counts[i + 1] = counts[i] + p.counts[i];
      pixels[i + 1] = pixels[i] + p.pixels[i];
    }
  }

  static double upto(const ArrayXd& sums, double position) {
    if (position <= 0.0) return 0.0;
    const auto last = static_cast<double>(sums.size() - 1);
    if (position >= last) return sums[sums.size() - 1];
    const auto i = static_cast<Index>(position);
    return sums[i] + (position - static_cast<double>(i)) * (sums[i + 1] - sums[i]);
  }
  double counts_in(double low, double high) const { return upto(counts, high) - upto(counts, low); }
  double pixels_in(double low, double high) const { return upto(pixels, high) - upto(pixels, low); }
};

LineContrast contrast_of(const Sums& sums, double at, double w, double least_pixels) {
  const double n = sums.pixels_in(at - w, at + w), n_in = sums.pixels_in(at - 3.0 * w, at - w),
               n_out = sums.pixels_in(at + w, at + 3.0 * w);
  LineContrast c{.noise = std::numeric_limits<double>::infinity()};
  if (n < least_pixels || n_in < least_pixels || n_out < least_pixels) return c;
  // A flank of which only the nearer half is in view stands too near: on a slope it would feign a peak.
  const double far_in = sums.pixels_in(at - 3.0 * w, at - 2.0 * w),
               far_out = sums.pixels_in(at + 2.0 * w, at + 3.0 * w);
  if (far_in < 0.47 * n_in * std::clamp((at - 2.5 * w) / (at - 2.0 * w), 0.5, 1.0) || far_out < 0.3 * n_out) return c;
  const double sum = sums.counts_in(at - w, at + w), sum_in = sums.counts_in(at - 3.0 * w, at - w),
               sum_out = sums.counts_in(at + w, at + 3.0 * w);
  const double mean = sum / n;
  c.inner = sum_in / n_in;
  c.outer = sum_out / n_out;
  // A geometric mean of few counts is low by chance; then the plain mean.
  const bool enough = std::min(sum_in, sum_out) >= 30.0;
  const double flank = enough ? std::sqrt(c.inner * c.outer) : 0.5 * (c.inner + c.outer);
  c.contrast = mean - flank;
  const double share_in = enough ? 0.5 * flank / c.inner : 0.5, share_out = enough ? 0.5 * flank / c.outer : 0.5;
  c.noise = std::sqrt((sum + 1.0) / (n * n) + share_in * share_in * (sum_in + 1.0) / (n_in * n_in) +
                      share_out * share_out * (sum_out + 1.0) / (n_out * n_out) + std::pow(pixels_differ_by * mean, 2));
  c.flank_noise = std::sqrt((sum_in + 1.0) / (n_in * n_in) + (sum_out + 1.0) / (n_out * n_out));
  return c;
}

/// Position and width from the profile itself: where it crosses half of its height above the line between the flanks.
void measure(const LineProfile& p, LinePeak& peak, const LineContrast& c) {
  const auto n = p.counts.size();
  const double w = peak.half_width_px;
  const auto level = [&](Index i) { return p.pixels[i] > 0.0 ? p.counts[i] / p.pixels[i] : std::nan(""); };
  const auto base = [&](double x) {  // between the middles of the flanks, two half-widths off
    return c.inner + (c.outer - c.inner) * std::clamp((x - peak.position_px + 2.0 * w) / (4.0 * w), 0.0, 1.0);
  };
  const auto low = std::max<Index>(0, static_cast<Index>(peak.position_px - 2.0 * w)),
             high = std::min<Index>(n - 1, static_cast<Index>(peak.position_px + 2.0 * w));
  Index top = -1;
  double height = 0.0, weight = 0.0, place = 0.0;
  for (Index i = low; i <= high; ++i) {
    const double x = static_cast<double>(i) + 0.5, above = level(i) - base(x);
    if (std::isnan(above) || std::abs(x - peak.position_px) > std::max(w, 1.0)) continue;
    if (above > height) {
      height = above;
      top = i;
    }
    if (above > 0.0) {
      weight += above;
      place += above * x;
    }
  }
  peak.fwhm_px = 2.0 * w;
  if (top < 0) return;
  const auto crossing = [&](int way) {
    double before = height;
    for (Index i = top + way; i >= 0 && i < n && std::abs(static_cast<double>(i - top)) < 4.0 * w + 3.0; i += way) {
      const double above = level(i) - base(static_cast<double>(i) + 0.5);
      if (std::isnan(above)) break;
      if (above < 0.5 * height)
        return std::abs(static_cast<double>(i - top)) - (0.5 * height - above) / std::max(before - above, 1e-300);
      before = above;
    }
    return w;
  };
  const double below = crossing(-1), beyond = crossing(1);
  peak.fwhm_px = below + beyond;
  peak.position_px = place / weight;
}

}  // namespace

LineContrast line_contrast(const LineProfile& profile, double position_px, double half_width_px, double least_pixels) {
  // Only the part that the window and its flanks touch.
  const auto n = profile.counts.size();
  const auto first = std::clamp<Index>(static_cast<Index>(position_px - 3.0 * half_width_px) - 1, 0, n),
             last = std::clamp<Index>(static_cast<Index>(position_px + 3.0 * half_width_px) + 2, first, n);
  const LineProfile part{profile.counts.segment(first, last - first), profile.pixels.segment(first, last - first)};
  return contrast_of(Sums(part), position_px - static_cast<double>(first), half_width_px, least_pixels);
}

std::vector<LinePeak> find_line_peaks(const LineProfile& profile, const LinePeakOptions& options) {
  const Sums sums(profile);
  const auto n = static_cast<double>(profile.counts.size());
  std::vector<LinePeak> candidates;
  for (double w = 1.0; w <= options.widest_px; w *= 1.6) {
    const double step = std::max(0.5, 0.25 * w);
    std::vector<LinePeak> line;
    for (double at = w; at < n - w; at += step) {
      LinePeak peak{.position_px = at, .half_width_px = w};
      if (w <= 1.0 || options.widest <= 0.0 || w <= options.widest * at) {
        const LineContrast c = contrast_of(sums, at, w, options.least_pixels);
        const double rise = c.outer - c.inner;
        const bool rim =
            options.falls_outwards && (rise > c.contrast || (c.inner < 0.6 * c.outer && rise > 4.0 * c.flank_noise));
        if (std::isfinite(c.noise) && !rim) {
          peak.contrast = c.contrast;
          peak.significance = c.contrast / c.noise;
        }
      }
      line.push_back(peak);
    }
    for (std::size_t i = 0; i < line.size(); ++i) {
      const double z = line[i].significance;
      if (z >= options.least_significance && (i == 0 || z >= line[i - 1].significance) &&
          (i + 1 == line.size() || z > line[i + 1].significance))
        candidates.push_back(line[i]);
    }
  }
  // By contrast, which is best in a window of two standard deviations of the peak, and not by significance, which
  // prefers windows so wide that they hold two peaks; the least significant give way.
  std::ranges::sort(candidates, std::ranges::greater{}, [&](const LinePeak& p) {
    return p.contrast * p.significance / (p.significance + options.least_significance);
  });
  std::vector<LinePeak> peaks;
  for (LinePeak& c : candidates) {
    const bool taken = std::ranges::any_of(peaks, [&](const LinePeak& p) {
      return std::abs(p.position_px - c.position_px) < std::max({p.half_width_px, c.half_width_px, p.fwhm_px}) + 1.0;
    });
    if (taken) continue;
    measure(profile, c, contrast_of(sums, c.position_px, c.half_width_px, options.least_pixels));
    c.u_px = std::max(0.3, c.fwhm_px / c.significance);
    peaks.push_back(c);
  }
  // The contrast of a bell falls beyond windows of twice its standard deviation, that of a shoulder goes on rising.
  std::erase_if(peaks, [&](const LinePeak& p) {
    const LineContrast here = contrast_of(sums, p.position_px, p.half_width_px, options.least_pixels),
                       wider = contrast_of(sums, p.position_px, 1.6 * p.half_width_px, options.least_pixels);
    return (std::isfinite(wider.noise) && wider.contrast > here.contrast) ||
           (options.widest > 0.0 && p.fwhm_px > 2.0 * options.widest * p.position_px);
  });
  std::ranges::sort(peaks, {}, &LinePeak::position_px);
  return peaks;
}

}  // namespace sievelight
