// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_guess.hpp"

#include "sievelight/base/units.hpp"
#include "sievelight/geometry/center_guess.hpp"
#include "sievelight/geometry/ring_hypothesis.hpp"
#include "sievelight/geometry/ring_view.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::ArrayXd, Eigen::Index;

constexpr int sector_count = 24;
constexpr double apart = 0.03;      // distances closer than this, relative, are one explanation
constexpr double closest_px = 5.0;  // rings closer than this cannot be told apart

/// Distance and common shift of the radii that one explanation assumes.
struct Trial {
  double scale_px = 0.0;  // distance over the pixel's size
  double shift_px = 0.0;
  RingMatch match;
  double gain = -1e300;
};

RingHypothesis rings_at(const ArrayXd& tangent, double scale_px, double shift_px) {
  RingHypothesis h;
  for (Index k = 0; k < tangent.size(); ++k)
    h.rings.push_back({static_cast<int>(k) + 1, scale_px * tangent[k] + shift_px});
  h.complete_to_px = 1.01 * h.rings.back().position_px + 3.0;
  return h;
}

/// Least squares of radius = scale tangent + shift over the matched peaks; the shift is kept with fewer than three.
void refine(Trial& t, const std::vector<LinePeak>& peaks, const ArrayXd& tangent, bool shifting) {
  double w = 0.0, x = 0.0, y = 0.0, xx = 0.0, xy = 0.0;
  int n = 0;
  for (std::size_t i = 0; i < peaks.size(); ++i) {
    if (t.match.order[i] == 0) continue;
    const double weight = 1.0 / (peaks[i].u_px * peaks[i].u_px), tk = tangent[t.match.order[i] - 1];
    w += weight;
    x += weight * tk;
    y += weight * peaks[i].position_px;
    xx += weight * tk * tk;
    xy += weight * tk * peaks[i].position_px;
    ++n;
  }
  if (n == 0) return;
  const double determinant = w * xx - x * x;
  if (shifting && n > 2 && determinant > 1e-9 * w * xx) {
    t.scale_px = (w * xy - x * y) / determinant;
    t.shift_px = (y - t.scale_px * x) / w;
  } else {
    t.scale_px = (xy - t.shift_px * x) / xx;
  }
}

Trial judge(const std::vector<LinePeak>& peaks, const LineProfile& profile, const ArrayXd& tangent, double scale_px,
            double shift_px) {
  Trial t;
  t.scale_px = scale_px;
  t.shift_px = shift_px;
  t.match = match_rings(peaks, profile, rings_at(tangent, scale_px, shift_px));
  t.gain = t.match.log_gain - 0.5 * std::pow(shift_px / 6.0, 2);
  return t;
}

/// All explanations with a gain, the best first.
std::vector<Trial> explain(const std::vector<LinePeak>& peaks, const LineProfile& profile, const ArrayXd& tangent,
                           bool shifting, double low_scale_px, double high_scale_px) {
  std::vector<Trial> trials;
  for (const LinePeak& p : peaks)
    for (Index k = 0; k < tangent.size(); ++k)
      for (double shift = shifting ? -12.0 : 0.0; shift <= 12.0; shift += 2.0) {
        const double scale = (p.position_px - shift) / tangent[k];
        if (!(scale >= low_scale_px && scale <= high_scale_px)) continue;
        Trial t = judge(peaks, profile, tangent, scale, shift);
        for (int again = 0; again < 2 && t.match.matched > 0; ++again) {
          Trial next = t;
          refine(next, peaks, tangent, shifting);
          next = judge(peaks, profile, tangent, next.scale_px, next.shift_px);
          if (next.gain <= t.gain) break;
          t = next;
        }
        // Rings so close together that any peak is near one explain nothing.
        const double spacing = tangent.size() > 1 ? t.scale_px * (tangent[1] - tangent[0]) : t.scale_px * tangent[0];
        if (t.gain > 0.0 && spacing > closest_px) trials.push_back(t);
        if (!shifting) break;
      }
  std::ranges::sort(trials, std::ranges::greater{}, &Trial::gain);
  std::vector<Trial> kept;
  for (const Trial& t : trials) {
    const bool known = std::ranges::any_of(
        kept, [&](const Trial& other) { return std::abs(t.scale_px / other.scale_px - 1.0) < apart; });
    if (!known) kept.push_back(t);
    if (kept.size() == 4) break;
  }
  return kept;
}

/// Peak ratios of ordered pores, relative to the first: sqrt(h^2 + hk + k^2) of the plane group p6mm and the sequences
/// of Ia-3d and Im-3m (International Tables for Crystallography A; peaks seen in practice).
struct Order {
  const char* name;
  std::vector<double> squares;
};
const std::array<Order, 3>& ordered_pores() {
  static const std::array<Order, 3> list{{{"hexagonally ordered pores (1 : sqrt 3 : 2)", {1, 3, 4, 7, 9, 12}},
                                          {"cubically ordered pores (Ia-3d)", {6, 8, 14, 16, 20, 22, 24, 26}},
                                          {"cubically ordered pores (Im-3m)", {2, 4, 6, 8, 10, 12, 14}}}};
  return list;
}

}  // namespace

PolarProfile polar_profile(const Image& counts, const Mask& unusable, const DetectorGeometry& geometry) {
  const RingView view(geometry);
  const double scale = geometry.distance_mm / view.pixel_mm();
  PolarProfile p;
  std::vector<std::array<double, 2 * sector_count>> bins;
  for (Index y = 0; y < counts.rows(); ++y)
    for (Index x = 0; x < counts.cols(); ++x) {
      if (unusable(y, x)) continue;
      const double column = static_cast<double>(x), row = static_cast<double>(y);
      const double radius = view.tan_two_theta(column, row) * scale;
      if (!(radius >= 0.0 && radius < 2e4)) continue;
      const auto bin = static_cast<std::size_t>(radius);
      if (bin >= bins.size()) bins.resize(bin + 1);
      const double turn = std::atan2((row - geometry.beam_center_y_px) * geometry.pixel_size_y_mm,
                                     (column - geometry.beam_center_x_px) * geometry.pixel_size_x_mm) /
                              (2.0 * pi) +
                          0.5;
      const auto sector = static_cast<std::size_t>(std::clamp(turn * sector_count, 0.0, sector_count - 0.5));
      bins[bin][2 * sector] += counts(y, x);
      bins[bin][2 * sector + 1] += 1.0;
    }
  const auto n = std::ssize(bins);
  const LineProfile empty{ArrayXd::Zero(n), ArrayXd::Zero(n)};
  p.all = empty;
  p.sectors.assign(sector_count, empty);
  for (Index i = 0; i < n; ++i)
    for (std::size_t s = 0; s < sector_count; ++s) {
      const double sum = bins[static_cast<std::size_t>(i)][2 * s],
                   pixels = bins[static_cast<std::size_t>(i)][2 * s + 1];
      p.sectors[s].counts[i] = sum;
      p.sectors[s].pixels[i] = pixels;
      p.all.counts[i] += sum;
      p.all.pixels[i] += pixels;
    }
  return p;
}

std::vector<LinePeak> ring_like_peaks(const PolarProfile& profile) {
  std::vector<LinePeak> peaks = find_line_peaks(profile.all);
  std::erase_if(peaks, [&](const LinePeak& p) {
    double in_view = 0.0, positive = 0.0;
    for (const LineProfile& s : profile.sectors) {
      const LineContrast c = line_contrast(s, p.position_px, p.half_width_px, 4.0);
      if (!std::isfinite(c.noise)) continue;
      in_view += 1.0;
      positive += c.contrast > 0.0 ? 1.0 : 0.0;
    }
    return positive < 0.7 * in_view;
  });
  return peaks;
}

RingGuess guess_rings(const Image& counts, const Mask& unusable, const RingKnowledge& known,
                      const Eigen::VectorXd& two_theta_rad) {
  const double pixel_mm = std::sqrt(known.pixel_size_x_mm * known.pixel_size_y_mm);
  CenterGuessOptions options;
  options.aspect = known.pixel_size_y_mm / known.pixel_size_x_mm;
  options.near_px = known.beam_center_px;
  const std::vector<CenterGuess> centers = guess_centers(make_blocks(counts, unusable), options);
  const ArrayXd tangent = two_theta_rad.array().tan();
  double low = 0.0, high = 1e300;
  if (known.distance_mm) {
    low = *known.distance_mm * (1.0 - known.distance_relative) / pixel_mm;
    high = *known.distance_mm * (1.0 + known.distance_relative) / pixel_mm;
  }
  RingGuess best;
  double best_gain = -1.0;
  for (const CenterGuess& c : centers) {
    // Chance finds rings about any place; about the right one the frame is sharp.
    if (c.sharpness < 0.4 * centers.front().sharpness) break;
    DetectorGeometry g{.wavelength_nm = known.wavelength_nm,
                       .distance_mm = 1000.0,
                       .beam_center_x_px = c.x_px,
                       .beam_center_y_px = c.y_px,
                       .pixel_size_x_mm = known.pixel_size_x_mm,
                       .pixel_size_y_mm = known.pixel_size_y_mm};
    const PolarProfile profile = polar_profile(counts, unusable, g);
    const std::vector<LinePeak> peaks = ring_like_peaks(profile);
    // Only arcs in view: less than half of the directions at the usual peak.
    bool arcs = false;
    if (!peaks.empty()) {
      const LinePeak& usual = peaks[peaks.size() / 2];
      arcs = std::ranges::count_if(profile.sectors, [&](const LineProfile& s) {
               return std::isfinite(line_contrast(s, usual.position_px, usual.half_width_px, 4.0).noise);
             }) < sector_count / 2;
    }
    const double middle_x = 0.5 * static_cast<double>(counts.cols() - 1),
                 middle_y = 0.5 * static_cast<double>(counts.rows() - 1);
    const std::vector<Trial> trials = explain(peaks, profile.all, tangent, arcs, low, high);
    const double gain = trials.empty() ? 0.0 : trials.front().gain;
    if (gain <= best_gain) continue;
    best_gain = gain;
    best = {};
    best.peaks = peaks;
    best.center_x_px = c.x_px;
    best.center_y_px = c.y_px;
    for (const Trial& t : trials) {
      DetectorGeometry e = g;
      e.distance_mm = t.scale_px * pixel_mm;
      // All radii too long by the shift: the centre lies too far away by as much.
      const double dx = middle_x - c.x_px, dy = middle_y - c.y_px, away = std::max(std::hypot(dx, dy), 1e-9);
      e.beam_center_x_px += t.shift_px * dx / away;
      e.beam_center_y_px += t.shift_px * dy / away;
      best.explanations.push_back({e, t.gain, t.match.matched, t.match.missing, t.match.strays, t.match.order});
    }
    for (const Order& o : ordered_pores()) {
      ArrayXd ratios(std::ssize(o.squares));
      for (Index i = 0; i < ratios.size(); ++i) ratios[i] = std::sqrt(o.squares[static_cast<std::size_t>(i)]);
      const std::vector<Trial> others = explain(peaks, profile.all, ratios, false, 0.0, 1e300);
      if (others.empty() || others.front().match.matched < 3) continue;
      bool all = true;  // of the rings that the calibrant explains
      for (std::size_t i = 0; i < peaks.size() && !trials.empty(); ++i)
        all = all && (trials.front().match.order[i] == 0 || others.front().match.order[i] > 0);
      if (all && others.front().gain > best.other_gain) {
        best.other_gain = others.front().gain;
        best.other = o.name;
      }
    }
  }
  return best;
}

}  // namespace sievelight
