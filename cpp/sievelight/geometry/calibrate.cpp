// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/calibrate.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/geometry/calibration_warnings.hpp"
#include "sievelight/geometry/ring_fit.hpp"
#include "sievelight/geometry/ring_points.hpp"
#include "sievelight/geometry/ring_search.hpp"
#include "sievelight/geometry/ring_view.hpp"
#include "sievelight/geometry/unusable_pixels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

namespace sievelight {
namespace {

using Eigen::Index, Eigen::VectorXd;

constexpr double crowded_px = 2.5;  // rings closer than twice this cannot be told apart

/// Half of the room (px) between a ring and its nearer neighbour, less a tenth.
double room_px(const RingView& view, const VectorXd& two_theta, Index k) {
  const double radius = view.radius_px(two_theta[k]);
  double gap = k > 0 ? radius - view.radius_px(two_theta[k - 1]) : radius;
  if (k + 1 < two_theta.size()) gap = std::min(gap, view.radius_px(two_theta[k + 1]) - radius);
  return 0.45 * gap;
}

std::vector<RingWindow> make_windows(const DetectorGeometry& g, const VectorXd& two_theta, double half_width_px,
                                     const std::map<int, double>& sigma_px) {
  const RingView view(g);
  std::vector<double> known;
  for (const auto& [order, sigma] : sigma_px) known.push_back(sigma);
  std::ranges::sort(known);
  const double usual = known.empty() ? 0.0 : known[known.size() / 2];
  std::vector<RingWindow> windows;
  for (Index k = 0; k < two_theta.size(); ++k) {
    const double room = room_px(view, two_theta, k);
    if (room < crowded_px) continue;
    RingWindow w{.order = static_cast<int>(k) + 1, .two_theta_rad = two_theta[k]};
    const auto found = sigma_px.find(w.order);
    w.sigma_px = found != sigma_px.end() ? found->second : usual;
    w.half_width_px = std::min(room, w.sigma_px > 0.0 ? std::max(5.0 * w.sigma_px + 2.0, 5.0) : half_width_px);
    windows.push_back(w);
  }
  return windows;
}

std::map<int, double> ring_widths(const std::vector<RingPoint>& points) {
  std::map<int, std::vector<double>> all;
  for (const RingPoint& p : points) all[p.order].push_back(p.sigma_px);
  std::map<int, double> widths;
  for (auto& [order, list] : all) {
    std::ranges::nth_element(list, list.begin() + static_cast<std::ptrdiff_t>(list.size() / 2));
    widths[order] = list[list.size() / 2];
  }
  return widths;
}

std::set<int> orders_of(const std::vector<RingPoint>& points) {
  std::set<int> orders;
  for (const RingPoint& p : points) orders.insert(p.order);
  return orders;
}

/// Rings most of whose points the fit sets aside: another feature lies there.
std::set<int> disagreeing(const std::vector<RingPoint>& points, const RingFit& fit) {
  std::map<int, std::pair<int, int>> tally;  // kept, all
  for (std::size_t i = 0; i < points.size(); ++i) {
    tally[points[i].order].first += fit.used[i] ? 1 : 0;
    tally[points[i].order].second += 1;
  }
  std::set<int> out;
  for (const auto& [order, n] : tally)
    if (2 * n.first < n.second) out.insert(order);
  return out;
}

/// A few points without a common geometry are chance finds, not rings; of many the fit's own words say more.
RingFit fit_or_refuse(const RingScene& scene, const std::vector<RingPoint>& points, const DetectorGeometry& g,
                      bool tilt) {
  try {
    return fit_rings(points, scene.two_theta_rad, g, tilt);
  } catch (const Error&) {
    if (std::ssize(points) < 3 * least_ring_points) refuse_rings_not_found(scene, 0);
    throw;
  }
}

/// How far the points' predicted places move from one geometry to the other, px rms.
double moved_px(const DetectorGeometry& a, const DetectorGeometry& b, const std::vector<RingPoint>& points) {
  const RingView before(a), after(b);
  double sum = 0.0;
  for (const RingPoint& p : points) {
    const RingSight old = before.at(p.x_px, p.y_px);
    const double move = (after.at(p.x_px, p.y_px).two_theta_rad - old.two_theta_rad) / old.rad_per_px;
    sum += move * move;
  }
  return std::sqrt(sum / static_cast<double>(points.size()));
}

}  // namespace

RingCalibration calibrate_rings(const Image& counts, const Mask& masked, const DetectorGeometry& start,
                                const VectorXd& d_nm, const RingOptions& options) {
  check(start);
  if (counts.rows() < 8 || counts.cols() < 8)
    throw InputError(fmt::format("ring calibration: a frame of {} rows and {} columns", counts.rows(), counts.cols()),
                     "Ring calibration needs an area detector; for a strip give distance and centre in the study.");
  if (!(options.search_relative > 0.0 && options.search_relative <= 0.3 && options.search_px > 0.0 &&
        options.search_px <= 100.0 && options.max_order >= 0 && options.beam_fwhm_mm >= 0.0))
    throw InputError(fmt::format("ring calibration: search_relative {}, search_px {}, max_order {}, beam_fwhm_mm {}",
                                 options.search_relative, options.search_px, options.max_order, options.beam_fwhm_mm),
                     "search_relative lies in (0, 0.3], search_px in (0, 100], the others are not negative.");
  const Calibrant spacings = calibrant("", d_nm, 0.0);  // checks the list
  const VectorXd two_theta = ring_two_theta_rad(spacings.d_nm, start.wavelength_nm, options.max_order);
  const Mask unusable = unusable_pixels(counts, masked);
  const RingScene scene{counts, unusable, start, two_theta, options};
  refuse_frame_without_rings(scene);

  const RingSearchResult coarse =
      search_rings(counts, unusable, start, two_theta, {options.search_relative, options.search_px});
  const double beam_sigma_px = options.beam_fwhm_mm / 2.354820045 / RingView(start).pixel_mm();
  DetectorGeometry geometry = coarse.geometry;
  std::map<int, double> sigma_px;
  std::vector<RingPoint> points;
  RingFit fit;
  for (int round = 0; round < 10; ++round) {
    // The first window forgives what the search has left: its grid, and a tilt not yet known.
    const auto windows = make_windows(geometry, two_theta, std::max(8.0, 3.0 * coarse.half_width_px), sigma_px);
    points = find_ring_points(counts, unusable, geometry, windows, beam_sigma_px);
    if (std::ssize(points) < least_ring_points) refuse_rings_not_found(scene, points.size());
    sigma_px = ring_widths(points);
    const bool tilt = options.refine_tilt && round > 0 && orders_of(points).size() > 1;
    fit = fit_or_refuse(scene, points, geometry, tilt);
    const double moved = moved_px(geometry, fit.geometry, points);
    geometry = fit.geometry;
    // Away from what was searched, whatever the points are, they are not these rings.
    if (left_the_search(scene, geometry)) refuse_rings_not_found(scene, 0);
    if (round > 1 && moved < 2e-3) break;
  }
  const std::set<int> wrong = disagreeing(points, fit);
  if (!wrong.empty()) {
    std::erase_if(points, [&](const RingPoint& p) { return wrong.contains(p.order); });
    if (std::ssize(points) < least_ring_points) refuse_rings_not_found(scene, points.size());
    fit = fit_or_refuse(scene, points, geometry, options.refine_tilt && orders_of(points).size() > 1);
  }

  refuse_rings_that_disagree(scene, fit, points);

  RingCalibration result;
  result.geometry = fit.geometry;
  result.parameters = fit.parameters;
  result.covariance = fit.covariance;
  result.residual_px = fit.rms_px;
  result.dependence = fit.dependence;
  const Index used = std::ranges::count(fit.used, true);
  result.set_aside = std::ssize(points) - used;
  for (VectorXd* v : {&result.x_px, &result.y_px, &result.residuals_px}) v->resize(used);
  result.order.resize(used);
  std::map<int, double> arc;
  for (std::size_t i = 0, n = 0; i < points.size(); ++i) {
    if (!fit.used[i]) continue;
    const auto at = static_cast<Index>(n++);
    result.x_px[at] = points[i].x_px;
    result.y_px[at] = points[i].y_px;
    result.order[at] = points[i].order;
    result.residuals_px[at] = fit.residuals_px[static_cast<Index>(i)];
    arc[points[i].order] += degrees(points[i].sector_rad);
  }
  result.rings.resize(std::ssize(arc));
  result.arc_deg.resize(std::ssize(arc));
  Index at = 0;
  for (const auto& [order, covered] : arc) {
    result.rings[at] = order;
    result.arc_deg[at++] = covered;
  }
  result.warnings = calibration_warnings(scene, result, points, coarse, wrong);
  return result;
}

RingCalibration calibrate_rings(const Image& counts, const Mask& masked, const DetectorGeometry& start,
                                const Calibrant& calibrant, const RingOptions& options) {
  RingCalibration result = calibrate_rings(counts, masked, start, calibrant.d_nm, options);
  result.calibrant = calibrant.name;
  result.calibrant_relative_u = calibrant.relative_u;
  return result;
}

double standard_uncertainty(const RingCalibration& calibration, const std::string& parameter) {
  for (std::size_t i = 0; i < calibration.parameters.size(); ++i)
    if (calibration.parameters[i] == parameter) {
      const auto at = static_cast<Index>(i);
      return std::sqrt(calibration.covariance(at, at));
    }
  for (const char* known : {"distance_mm", "beam_center_x_px", "beam_center_y_px", "pitch_rad", "yaw_rad", "roll_rad"})
    if (parameter == known) return 0.0;
  throw InputError(fmt::format("ring calibration: '{}' is no parameter of a geometry", parameter),
                   "Parameters are distance_mm, beam_center_x_px, beam_center_y_px, pitch_rad, yaw_rad, roll_rad.");
}

}  // namespace sievelight
