// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/calibrate_strip.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/geometry/ring_hypothesis.hpp"
#include "sievelight/geometry/ring_peak.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <set>

namespace sievelight {
namespace {

using Eigen::ArrayXd, Eigen::Index;

constexpr double least_gain = 5.0, least_margin = 2.0;  // odds of 150 to 1 and of 7 to 1
constexpr double beam_gain = 2.0;                       // something stands at the beam's place
constexpr double few_pixels = 1.5;                      // a window of the strip
constexpr std::size_t most_peaks = 10;
constexpr double closest_px = 5.0;

/// A strip along one axis.
struct Strip {
  ArrayXd counts;
  LineProfile profile;  // unusable pixels left out
  double pixel_mm;      // along the strip
};

Strip make_strip(const Image& counts, const Mask& masked, double pixel_mm) {
  if (masked.size() != 0 && (masked.rows() != counts.rows() || masked.cols() != counts.cols()))
    throw InputError(fmt::format("mask of {} rows and {} columns for counts of {} rows and {} columns", masked.rows(),
                                 masked.cols(), counts.rows(), counts.cols()),
                     "Give a mask of the frame's own shape (rows first), or none.");
  const Index n = counts.size();
  Strip s{Eigen::Map<const ArrayXd>(counts.data(), n), {ArrayXd::Zero(n), ArrayXd::Zero(n)}, pixel_mm};
  for (Index i = 0; i < n; ++i) {
    const double c = s.counts[i];
    if ((masked.size() != 0 && masked.data()[i]) || !std::isfinite(c) || c < 0.0) continue;
    // Hot: twice both neighbours and eight standard deviations above them, which no peak of two pixels or more is.
    const double beside = std::max(i > 0 ? s.counts[i - 1] : 0.0, i + 1 < n ? s.counts[i + 1] : 0.0);
    if (c > 2.0 * beside + 8.0 * std::sqrt(std::max(beside, 0.0) + 1.0)) continue;
    s.profile.counts[i] = c;
    s.profile.pixels[i] = 1.0;
  }
  return s;
}

struct Trial {
  double scale_px = 0.0, center_px = 0.0;  // distance over the pixel's size; the beam's place (bin edges at integers)
  RingMatch match;
  double gain = 0.0;
};

RingHypothesis both_sides(const ArrayXd& tangent, double scale_px, double center_px) {
  RingHypothesis h;
  for (Index k = 0; k < tangent.size(); ++k)
    for (const double side : {-1.0, 1.0})
      h.rings.push_back({static_cast<int>(k) + 1, center_px + side * scale_px * tangent[k]});
  h.center_px = center_px;
  h.complete_to_px = 1.01 * scale_px * tangent[tangent.size() - 1] + 3.0;
  h.least_pixels = few_pixels;
  return h;
}

Trial judge(const std::vector<LinePeak>& peaks, const Strip& strip, const ArrayXd& tangent, double scale_px,
            double center_px) {
  Trial t;
  t.scale_px = scale_px;
  t.center_px = center_px;
  t.match = match_rings(peaks, strip.profile, both_sides(tangent, scale_px, center_px));
  t.gain = t.match.log_gain;
  const double near = 0.15 * scale_px * tangent[0];
  bool beam = false;
  for (std::size_t i = 0; i < peaks.size(); ++i)
    beam = beam || (t.match.order[i] == 0 && std::abs(peaks[i].position_px - center_px) < near);
  const auto place = static_cast<Index>(std::floor(center_px));
  beam = beam || (place >= 0 && place < strip.profile.pixels.size() && strip.profile.pixels[place] == 0.0);
  if (beam) t.gain += beam_gain;
  return t;
}

/// Least squares of position = center + side scale tangent over the matched peaks; unchanged with fewer than two.
bool refine(Trial& t, const std::vector<LinePeak>& peaks, const ArrayXd& tangent) {
  Eigen::Matrix2d normal = Eigen::Matrix2d::Zero();
  Eigen::Vector2d right = Eigen::Vector2d::Zero();
  for (std::size_t i = 0; i < peaks.size(); ++i) {
    if (t.match.order[i] == 0) continue;
    const double side = peaks[i].position_px > t.center_px ? 1.0 : -1.0;
    const Eigen::Vector2d row(side * tangent[t.match.order[i] - 1], 1.0);
    normal += row * row.transpose();
    right += row * peaks[i].position_px;
  }
  const Eigen::LDLT<Eigen::Matrix2d> solver(normal);
  if (solver.info() != Eigen::Success || !(solver.rcond() > 1e-12)) return false;
  const Eigen::Vector2d p = solver.solve(right);
  t.scale_px = p[0];
  t.center_px = p[1];
  return p[0] > 0.0;
}

/// All explanations worth a word, the best first.
std::vector<Trial> explain(const std::vector<LinePeak>& all, const Strip& strip, const ArrayXd& tangent,
                           const RingKnowledge& known, double given_center_px) {
  std::vector<LinePeak> strongest = all;
  std::ranges::sort(strongest, std::ranges::greater{}, &LinePeak::significance);
  if (strongest.size() > most_peaks) strongest.resize(most_peaks);
  const double n = static_cast<double>(strip.counts.size());
  const double spacing_tangent = tangent.size() > 1 ? tangent[1] - tangent[0] : tangent[0];
  std::vector<Trial> trials;
  const auto possible = [&](double scale, double center) {
    if (!(scale * spacing_tangent > closest_px && center > -2.0 * n && center < 3.0 * n)) return false;
    if (known.distance_mm && std::abs(scale * strip.pixel_mm / *known.distance_mm - 1.0) > known.distance_relative)
      return false;
    return !known.beam_center_px || std::abs(center - given_center_px) <= 25.0;
  };
  for (std::size_t i = 0; i < strongest.size(); ++i)
    for (std::size_t j = i + 1; j < strongest.size(); ++j)
      for (Index k = 0; k < tangent.size(); ++k)
        for (Index l = 0; l < tangent.size(); ++l)
          for (int sides = 0; sides < 4; ++sides) {
            const double si = sides % 2 == 0 ? 1.0 : -1.0, sj = sides / 2 == 0 ? 1.0 : -1.0;
            const double run = sj * tangent[l] - si * tangent[k];
            if (std::abs(run) < 1e-9) continue;
            const double scale = (strongest[j].position_px - strongest[i].position_px) / run,
                         center = strongest[i].position_px - si * scale * tangent[k];
            if (!possible(scale, center)) continue;
            const Trial t = judge(all, strip, tangent, scale, center);
            if (t.gain > 0.0) trials.push_back(t);
          }
  std::ranges::sort(trials, std::ranges::greater{}, &Trial::gain);
  std::vector<Trial> kept;
  for (Trial t : trials) {
    if (kept.size() >= 4) break;
    const auto same = [&](const Trial& other) {
      return std::abs(t.scale_px / other.scale_px - 1.0) < 0.03 &&
             std::abs(t.center_px - other.center_px) < 0.3 * t.scale_px * spacing_tangent;
    };
    if (std::ranges::any_of(kept, same)) continue;
    Trial better = t;
    if (refine(better, all, tangent) && possible(better.scale_px, better.center_px)) {
      better = judge(all, strip, tangent, better.scale_px, better.center_px);
      if (better.gain > t.gain) t = better;
    }
    kept.push_back(t);
  }
  std::ranges::sort(kept, std::ranges::greater{}, &Trial::gain);
  return kept;
}

struct StripPoint {
  int order;
  double side, position_px, u_px;
};

/// Peaks fitted about their predicted places.
std::vector<StripPoint> fit_points(const Strip& strip, const std::vector<LinePeak>& peaks, const Trial& t,
                                   const ArrayXd& tangent) {
  std::vector<StripPoint> points;
  for (std::size_t i = 0; i < peaks.size(); ++i) {
    if (t.match.order[i] == 0) continue;
    const Index k = t.match.order[i] - 1;
    const double side = peaks[i].position_px > t.center_px ? 1.0 : -1.0, radius = t.scale_px * tangent[k];
    double room = k > 0 ? radius - t.scale_px * tangent[k - 1] : radius;
    if (k + 1 < tangent.size()) room = std::min(room, t.scale_px * tangent[k + 1] - radius);
    const double half = std::min(std::max(2.0 * peaks[i].fwhm_px + 2.0, 6.0), std::max(0.6 * room, 6.0));
    const double middle = peaks[i].position_px - 0.5;  // pixel centres at integers from here on
    std::vector<SectorSample> sector;
    for (Index x = 0; x < strip.counts.size(); ++x) {
      const double offset = side * (static_cast<double>(x) - middle);
      if (strip.profile.pixels[x] > 0.0 && std::abs(offset) <= half)
        sector.push_back({offset, strip.counts[x], static_cast<double>(x), 0.0});
    }
    if (const auto peak = fit_ring_peak(sector, std::max(radius, 2.0 * half), half))
      if (peak->significance > 4.0)
        points.push_back({static_cast<int>(k) + 1, side, middle + side * peak->offset_px, peak->u_px});
  }
  return points;
}

}  // namespace

RingCalibration calibrate_strip(const Image& counts, const Mask& masked, const RingKnowledge& known,
                                const Calibrant& calibrant, const RingOptions& options) {
  const bool row = counts.rows() == 1;
  if (!(row || counts.cols() == 1) || counts.size() < 16)
    throw InputError(
        fmt::format("strip calibration: a frame of {} rows and {} columns", counts.rows(), counts.cols()),
        "A strip is one row or one column of 16 pixels or more; use calibrate_rings for an area detector.");
  const auto positive = [](double v) { return std::isfinite(v) && v > 0.0; };
  if (!positive(known.wavelength_nm) || !positive(known.pixel_size_x_mm) || !positive(known.pixel_size_y_mm))
    throw InputError(fmt::format("strip calibration: wavelength {} nm, pixel size {} by {} mm", known.wavelength_nm,
                                 known.pixel_size_x_mm, known.pixel_size_y_mm),
                     "Wavelength and pixel size must be known; both are positive lengths.");
  const ArrayXd tangent = ring_two_theta_rad(calibrant.d_nm, known.wavelength_nm, options.max_order).array().tan();
  const Strip strip = make_strip(counts, masked, row ? known.pixel_size_x_mm : known.pixel_size_y_mm);
  LinePeakOptions look;
  look.widest = 0.0;
  look.falls_outwards = false;
  look.least_pixels = few_pixels;
  const std::vector<LinePeak> peaks = find_line_peaks(strip.profile, look);
  std::vector<std::string> places;
  for (const LinePeak& p : peaks) places.push_back(fmt::format("{:.1f}", p.position_px - 0.5));
  if (peaks.size() < 2)
    throw DataError(
        fmt::format("strip calibration: {} sharp peaks stand out on the strip; two are needed", peaks.size()),
        "Check that this frame shows the calibrant, and expose longer.");
  const double given =
      known.beam_center_px ? (row ? known.beam_center_px->first : known.beam_center_px->second) + 0.5 : 0.0;
  const std::vector<Trial> trials = explain(peaks, strip, tangent, known, given);
  if (trials.empty() || trials[0].gain < least_gain || trials[0].match.matched < 2)
    throw DataError(
        fmt::format("strip calibration: no distance and beam point make the peaks at {} px those of {}",
                    fmt::join(places, ", "), calibrant.name),
        fmt::format("Check that this frame shows {} and not a sample, the wavelength ({} nm) and the pixel size.",
                    calibrant.name, known.wavelength_nm));
  if (trials.size() > 1 && trials[0].gain - trials[1].gain < least_margin)
    throw DataError(
        fmt::format(
            "strip calibration: two geometries explain the peaks at {} px equally well: {:.1f} mm with the beam at "
            "{:.1f} px, and {:.1f} mm with the beam at {:.1f} px",
            fmt::join(places, ", "), trials[0].scale_px * strip.pixel_mm, trials[0].center_px - 0.5,
            trials[1].scale_px * strip.pixel_mm, trials[1].center_px - 0.5),
        "Give the beam point, known within 25 px, or the distance, known within 20 %.");

  const std::vector<StripPoint> points = fit_points(strip, peaks, trials[0], tangent);
  const Index m = std::ssize(points);
  if (m < 2)
    throw DataError(fmt::format("strip calibration: {} of the peaks at {} px could be measured; two are needed", m,
                                fmt::join(places, ", ")),
                    "Expose longer, or unmask what lies beside the peaks.");
  Eigen::MatrixXd design(m, 2);
  Eigen::VectorXd position(m), weight(m);
  for (Index i = 0; i < m; ++i) {
    const StripPoint& p = points[static_cast<std::size_t>(i)];
    design.row(i) << p.side * tangent[p.order - 1] / strip.pixel_mm, 1.0;
    position[i] = p.position_px;
    weight[i] = 1.0 / (p.u_px * p.u_px);
  }
  const Eigen::Matrix2d normal = design.transpose() * weight.asDiagonal() * design;
  const Eigen::LDLT<Eigen::Matrix2d> solver(normal);
  const Eigen::Vector2d fitted = solver.solve(design.transpose() * weight.cwiseProduct(position));
  if (solver.info() != Eigen::Success || !fitted.allFinite() || !(fitted[0] > 0.0))
    throw NumericalError("strip calibration: the least squares of distance and beam point have no solution",
                         "Peaks of two orders, or of both sides of the beam, are needed.");
  const Eigen::VectorXd residual = position - design * fitted;
  const double chi2 = residual.cwiseAbs2().cwiseProduct(weight).sum();

  RingCalibration result;
  result.geometry = {.wavelength_nm = known.wavelength_nm,
                     .distance_mm = fitted[0],
                     .beam_center_x_px = row ? fitted[1] : 0.0,
                     .beam_center_y_px = row ? 0.0 : fitted[1],
                     .pixel_size_x_mm = known.pixel_size_x_mm,
                     .pixel_size_y_mm = known.pixel_size_y_mm};
  check(result.geometry);
  result.parameters = {"distance_mm", row ? "beam_center_x_px" : "beam_center_y_px"};
  result.covariance =
      solver.solve(Eigen::Matrix2d::Identity()) * std::max(1.0, m > 2 ? chi2 / static_cast<double>(m - 2) : 1.0);
  result.residual_px = std::sqrt(residual.squaredNorm() / static_cast<double>(m));
  result.x_px = row ? position : Eigen::VectorXd::Zero(m);
  result.y_px = row ? Eigen::VectorXd::Zero(m) : position;
  result.order.resize(m);
  result.residuals_px.resize(m);
  std::set<int> orders;
  double left = 0.0, right = 0.0;
  for (Index i = 0; i < m; ++i) {
    const StripPoint& p = points[static_cast<std::size_t>(i)];
    result.order[i] = p.order;
    result.residuals_px[i] = p.side * residual[i];
    orders.insert(p.order);
    (p.side > 0.0 ? right : left) += 1.0;
  }
  result.rings.resize(std::ssize(orders));
  std::ranges::copy(orders, result.rings.begin());
  result.arc_deg = Eigen::VectorXd::Zero(result.rings.size());
  result.calibrant = calibrant.name;
  result.calibrant_relative_u = calibrant.relative_u;
  if (left == 0.0 || right == 0.0)
    result.warnings.push_back(
        "the peaks lie on one side of the beam: distance and beam point are strongly correlated, and a wrong count of "
        "the "
        "orders would move both; put the beam point where both sides are in view, or measure the direct beam");
  if (m <= 3)
    result.warnings.push_back(
        fmt::format("only {} peaks determine distance and beam point: little is left to check them by", m));
  if (m > 2 && chi2 > 9.0 * static_cast<double>(m - 2))
    result.warnings.push_back(
        fmt::format("the peaks scatter by {:.2f} px about their places, {:.0f} times what the counts explain: check "
                    "the calibrant, the "
                    "pixel size, a tilt, and a long line-shaped beam",
                    result.residual_px, std::sqrt(chi2 / static_cast<double>(m - 2))));
  return result;
}

}  // namespace sievelight
