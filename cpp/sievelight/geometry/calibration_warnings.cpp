// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/calibration_warnings.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/geometry/ring_fit.hpp"
#include "sievelight/geometry/ring_view.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>

namespace sievelight {
namespace {

using Eigen::Index, Eigen::VectorXd;

constexpr double short_arc_deg = 60.0;
constexpr double large_scatter_px = 0.3;  // beyond the counts' own

struct Reach {
  double low_px = 1e300, high_px = 0.0;
};

/// Smallest and largest radius of a usable pixel (px on an untilted detector).
Reach radii_in_view(const RingScene& scene) {
  const RingView view(scene.start);
  Reach reach;
  for (Index y = 0; y < scene.counts.rows(); ++y)
    for (Index x = 0; x < scene.counts.cols(); ++x) {
      if (scene.unusable(y, x)) continue;
      const double t = view.tan_two_theta(static_cast<double>(x), static_cast<double>(y));
      if (t < 0.0) continue;
      const double radius = t * scene.start.distance_mm / view.pixel_mm();
      reach.low_px = std::min(reach.low_px, radius);
      reach.high_px = std::max(reach.high_px, radius);
    }
  return reach;
}

std::string list_rings(const RingScene& scene, double low_px, double high_px) {
  const RingView view(scene.start);
  std::vector<std::string> words;
  for (Index k = 0; k < scene.two_theta_rad.size(); ++k)
    if (const double r = view.radius_px(scene.two_theta_rad[k]); r >= low_px && r <= high_px)
      words.push_back(fmt::format("{} at {:.1f} px", k + 1, r));
  if (words.size() > 8) {
    words.resize(8);
    words.push_back("...");
  }
  return fmt::format("{}", fmt::join(words, ", "));
}

/// Median width (one standard deviation) of the points' peaks.
double usual_width_px(const std::vector<RingPoint>& points) {
  std::vector<double> width;
  for (const RingPoint& p : points) width.push_back(p.sigma_px);
  const auto middle = width.begin() + static_cast<std::ptrdiff_t>(width.size() / 2);
  std::ranges::nth_element(width, middle);
  return *middle;
}

/// The fit with the tilt set free, where that can be done; chi2 in the units of its own scatter.
void warn_of_a_tilt(const RingScene& scene, const RingCalibration& result, const std::vector<RingPoint>& points,
                    std::vector<std::string>& warnings) {
  if (scene.options.refine_tilt || result.rings.size() < 2 || points.size() < 20) return;
  try {
    const RingFit flat = fit_rings(points, scene.two_theta_rad, result.geometry, false),
                  tilted = fit_rings(points, scene.two_theta_rad, result.geometry, true);
    const double m = static_cast<double>(std::ranges::count(tilted.used, true));
    // F test of the two angles (P. R. Bevington, Data Reduction and Error Analysis for the Physical Sciences), on as
    // many independent points as there are: beyond 7.6 once in a thousand by chance, with many points.
    const double gain = (flat.rms_px * flat.rms_px) / (tilted.rms_px * tilted.rms_px) - 1.0;
    if (gain > 0.1 && 0.5 * gain * m / tilted.dependence > 7.6)
      warnings.push_back(
          fmt::format("the rings fit better with a tilt: pitch {:.2f} and yaw {:.2f} degrees bring the residual from "
                      "{:.3f} to {:.3f} "
                      "px and the distance to {:.2f} mm; consider refining the tilt",
                      degrees(tilted.geometry.pitch_rad), degrees(tilted.geometry.yaw_rad), flat.rms_px, tilted.rms_px,
                      tilted.geometry.distance_mm));
  } catch (const Error&) {
    return;  // the tilt cannot be told: nothing to warn of
  }
}

void warn_of_parameters(const RingScene& scene, const RingCalibration& result, std::vector<std::string>& warnings) {
  if (result.rings.size() == 1)
    warnings.push_back(
        fmt::format("only one ring (order {}) was found: distance and wavelength rest on its radius alone "
                    "and a tilt cannot be told from a shift of the centre",
                    result.rings[0]));
  if (scene.options.refine_tilt && result.parameters.size() < 5)
    warnings.push_back("the tilt was asked for but kept as given: it takes two rings");
  if (result.arc_deg.maxCoeff() < short_arc_deg)
    warnings.push_back(
        fmt::format("the longest arc of a ring spans {:.0f} degrees: distance and centre are strongly "
                    "correlated; move the detector or the beam point so that more of a ring is in view",
                    result.arc_deg.maxCoeff()));
  if (result.parameters.size() == 5) {
    const double u_pitch = std::sqrt(result.covariance(3, 3)), u_yaw = std::sqrt(result.covariance(4, 4));
    if (std::abs(result.geometry.pitch_rad) < 2.0 * u_pitch && std::abs(result.geometry.yaw_rad) < 2.0 * u_yaw)
      warnings.push_back(fmt::format(
          "the tilt is not determined: pitch {:.3f} +- {:.3f}, yaw {:.3f} +- {:.3f} degrees; "
          "keeping it at zero gives a surer distance",
          degrees(result.geometry.pitch_rad), degrees(u_pitch), degrees(result.geometry.yaw_rad), degrees(u_yaw)));
  }
}

void warn_of_rings(const RingScene& scene, const RingCalibration& result, const std::vector<RingPoint>& points,
                   const std::set<int>& disagreeing, std::vector<std::string>& warnings) {
  for (const int order : disagreeing)
    warnings.push_back(
        fmt::format("ring {} was left out: what stands at its place disagrees with the other rings; "
                    "another feature may overlap it",
                    order));
  double counted2 = 0.0;
  for (const RingPoint& p : points) counted2 += p.u_px * p.u_px / static_cast<double>(points.size());
  if (const double scatter2 = result.residual_px * result.residual_px - counted2;
      scatter2 > large_scatter_px * large_scatter_px)
    warnings.push_back(
        fmt::format("the points scatter by {:.2f} px about their rings where the counts explain {:.2f} px: check the "
                    "calibrant, a tilt, and the pixel size",
                    result.residual_px, std::sqrt(counted2)));
  std::map<int, std::pair<double, double>> rings;
  for (Index i = 0; i < result.order.size(); ++i) {
    rings[result.order[i]].first += result.residuals_px[i];
    rings[result.order[i]].second += 1.0;
  }
  for (const auto& [order, ring] : rings)
    if (const double mean = ring.first / ring.second; std::abs(mean) > 0.3 && result.rings.size() > 1)
      warnings.push_back(fmt::format("ring {} lies {:.2f} px {} its place: check the spacings, or a tilt", order,
                                     std::abs(mean), mean > 0.0 ? "outside" : "inside"));
  const VectorXd arc = visible_arc_deg(scene, result.geometry);
  std::vector<int> missing;
  Index visible = 0;
  for (Index k = 0; k < arc.size(); ++k) {
    if (arc[k] < 20.0) continue;
    ++visible;
    const int order = static_cast<int>(k) + 1;
    if (std::ranges::find(result.rings, order) == result.rings.end() && !disagreeing.contains(order))
      missing.push_back(order);
  }
  if (2 * std::ssize(missing) > visible)
    warnings.push_back(
        fmt::format("{} of {} rings in view were found (missing: {}): check calibrant, wavelength and "
                    "distance; if they are right, expose longer",
                    visible - std::ssize(missing), visible, fmt::join(missing, ", ")));
}

}  // namespace

VectorXd visible_arc_deg(const RingScene& scene, const DetectorGeometry& geometry) {
  const RingView view(geometry);
  const Index n = scene.two_theta_rad.size();
  const VectorXd tangent = scene.two_theta_rad.array().tan();
  VectorXd pixels = VectorXd::Zero(n), radius(n);
  for (Index k = 0; k < n; ++k) radius[k] = view.radius_px(scene.two_theta_rad[k]);
  for (Index y = 0; y < scene.counts.rows(); ++y)
    for (Index x = 0; x < scene.counts.cols(); ++x) {
      if (scene.unusable(y, x)) continue;
      const double t = view.tan_two_theta(static_cast<double>(x), static_cast<double>(y));
      const Index above = std::lower_bound(tangent.begin(), tangent.end(), t) - tangent.begin();
      for (const Index k : {above - 1, above})
        if (k >= 0 && k < n && std::abs(t / tangent[k] - 1.0) * radius[k] <= 1.0) pixels[k] += 1.0;
    }
  // A band two pixels wide holds two pixels per pixel of arc.
  return (pixels.array() / (2.0 * radius.array()) * 180.0 / pi).min(360.0);
}

void refuse_frame_without_rings(const RingScene& scene) {
  const Reach reach = radii_in_view(scene);
  if (reach.high_px <= 0.0)
    throw DataError("ring calibration: no usable pixel in the frame", "Check the mask and the frame's counts.");
  const double low = (reach.low_px - 1.5 * scene.options.search_px) / (1.0 + scene.options.search_relative),
               high = (reach.high_px + 1.5 * scene.options.search_px) / (1.0 - scene.options.search_relative);
  const RingView view(scene.start);
  for (const double angle : scene.two_theta_rad)
    if (const double r = view.radius_px(angle); r >= low && r <= high) return;
  throw DataError(
      fmt::format("ring calibration: no ring falls onto the frame: its usable pixels span radii of {:.1f} to {:.1f} px "
                  "and the first rings lie at: order {}",
                  reach.low_px, reach.high_px, list_rings(scene, 0.0, 1e300)),
      fmt::format("Check wavelength ({} nm), distance ({} mm), pixel size and beam centre, or choose a calibrant whose "
                  "rings are in view.",
                  scene.start.wavelength_nm, scene.start.distance_mm));
}

void refuse_rings_not_found(const RingScene& scene, std::size_t points) {
  const Reach reach = radii_in_view(scene);
  throw DataError(
      fmt::format(
          "ring calibration: no ring stands out ({} ring points agree; {} are needed). Looked for order {}, with the "
          "distance within {:.0f} % of {} mm and the centre within {:.0f} px of ({:.1f}, {:.1f}); usable pixels "
          "span radii of {:.1f} to {:.1f} px",
          points, least_ring_points,
          list_rings(scene, (reach.low_px - scene.options.search_px) / (1.0 + scene.options.search_relative),
                     (reach.high_px + scene.options.search_px) / (1.0 - scene.options.search_relative)),
          100.0 * scene.options.search_relative, scene.start.distance_mm, scene.options.search_px,
          scene.start.beam_center_x_px, scene.start.beam_center_y_px, reach.low_px, reach.high_px),
      fmt::format("Check the wavelength ({} nm), the distance and the beam centre, that this frame really shows the "
                  "calibrant, and that it is exposed long enough; widen the search if the start is further off.",
                  scene.start.wavelength_nm));
}

bool left_the_search(const RingScene& scene, const DetectorGeometry& g) {
  return std::abs(g.distance_mm / scene.start.distance_mm - 1.0) > 1.5 * scene.options.search_relative ||
         std::hypot(g.beam_center_x_px - scene.start.beam_center_x_px,
                    g.beam_center_y_px - scene.start.beam_center_y_px) > 1.5 * std::sqrt(2.0) * scene.options.search_px;
}

void refuse_rings_that_disagree(const RingScene& scene, const RingFit& fit, const std::vector<RingPoint>& points) {
  const double width = usual_width_px(points);
  if (fit.rms_px <= std::max(2.0, width)) return;
  throw DataError(
      fmt::format("ring calibration: the features found do not lie on the calibrant's rings: {} points, {:.1f} px "
                  "rms off with a width of {:.1f} px, at best at a distance of {:.1f} mm",
                  points.size(), fit.rms_px, width, fit.geometry.distance_mm),
      fmt::format("Check that this frame shows the calibrant, the wavelength ({} nm) and the pixel size; a "
                  "strong tilt must be given or refined.",
                  scene.start.wavelength_nm));
}

std::vector<std::string> calibration_warnings(const RingScene& scene, const RingCalibration& result,
                                              const std::vector<RingPoint>& points, const RingSearchResult& coarse,
                                              const std::set<int>& disagreeing) {
  std::vector<std::string> warnings;
  warn_of_parameters(scene, result, warnings);
  warn_of_rings(scene, result, points, disagreeing, warnings);
  warn_of_a_tilt(scene, result, points, warnings);
  const double radius = RingView(result.geometry).radius_px(scene.two_theta_rad[result.rings[0] - 1]);
  if (const double width = usual_width_px(points); width > 0.05 * radius)
    warnings.push_back(
        fmt::format("the rings are broad: {:.0f} % of the first one's radius (full width at half maximum); "
                    "a hump of another sample can look like that",
                    235.5 * width / radius));
  const DetectorGeometry &a = scene.start, &b = result.geometry;
  const double stretch = b.distance_mm / a.distance_mm - 1.0,
               shift = std::hypot(b.beam_center_x_px - a.beam_center_x_px, b.beam_center_y_px - a.beam_center_y_px);
  if (coarse.at_edge || std::abs(stretch) > scene.options.search_relative)
    warnings.push_back(
        fmt::format("the best match lies at the edge of the search (distance {:+.1f} %, centre moved by "
                    "{:.1f} px): check the nominal values or widen the search",
                    100.0 * stretch, shift));
  return warnings;
}

}  // namespace sievelight
