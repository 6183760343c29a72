// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_fit.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/geometry/ring_view.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index, Eigen::VectorXd, Eigen::MatrixXd;

double DetectorGeometry::*const fields[] = {&DetectorGeometry::distance_mm, &DetectorGeometry::beam_center_x_px,
                                            &DetectorGeometry::beam_center_y_px, &DetectorGeometry::pitch_rad,
                                            &DetectorGeometry::yaw_rad};
const char* const field_names[] = {"distance_mm", "beam_center_x_px", "beam_center_y_px", "pitch_rad", "yaw_rad"};

struct Problem {
  const std::vector<RingPoint>& points;
  const VectorXd& two_theta_rad;
  Index parameters;

  VectorXd residuals(const DetectorGeometry& g) const {
    const RingView view(g);
    VectorXd r(std::ssize(points));
    for (Index i = 0; i < r.size(); ++i) {
      const RingPoint& p = points[static_cast<std::size_t>(i)];
      r[i] = view.at(p.x_px, p.y_px).offset_px(two_theta_rad[p.order - 1]);
    }
    return r;
  }

  /// Central differences; the steps move a ring by some 1e-4 px, far above rounding and far below curvature.
  MatrixXd slopes(const DetectorGeometry& g) const {
    const double steps[] = {1e-6 * g.distance_mm, 1e-4, 1e-4, 1e-6, 1e-6};
    MatrixXd j(std::ssize(points), parameters);
    for (Index p = 0; p < parameters; ++p) {
      DetectorGeometry up = g, down = g;
      up.*fields[p] += steps[p];
      down.*fields[p] -= steps[p];
      j.col(p) = (residuals(up) - residuals(down)) / (2.0 * steps[p]);
    }
    return j;
  }
};

double median_size(const VectorXd& values, const std::vector<bool>& used) {
  std::vector<double> size;
  for (Index i = 0; i < values.size(); ++i)
    if (used[static_cast<std::size_t>(i)]) size.push_back(std::abs(values[i]));
  if (size.empty()) return 0.0;
  const auto middle = size.begin() + static_cast<std::ptrdiff_t>(size.size() / 2);
  std::ranges::nth_element(size, middle);
  return *middle;
}

/// Common scatter s that makes the weighted sum of squares of the points used equal to its degrees of freedom.
double common_scatter(const VectorXd& r, const VectorXd& u, const std::vector<bool>& used, double freedom) {
  const auto excess = [&](double s) {
    double sum = 0.0;
    for (Index i = 0; i < r.size(); ++i)
      if (used[static_cast<std::size_t>(i)]) sum += r[i] * r[i] / (u[i] * u[i] + s * s);
    return sum - freedom;
  };
  if (excess(0.0) <= 0.0) return 0.0;
  double low = 0.0, high = 1e-3;
  while (excess(high) > 0.0) high *= 2.0;
  for (int i = 0; i < 60; ++i) (excess(0.5 * (low + high)) > 0.0 ? low : high) = 0.5 * (low + high);
  return 0.5 * (low + high);
}

/// One weighted Gauss-Newton step; the size of the move in pixels (rms over the points) is returned.
double step(const Problem& problem, const VectorXd& r, const VectorXd& root_weight, DetectorGeometry& g) {
  const MatrixXd j = problem.slopes(g);
  const MatrixXd weighted = root_weight.asDiagonal() * j;
  const VectorXd move = weighted.colPivHouseholderQr().solve(-root_weight.cwiseProduct(r));
  if (!move.allFinite())
    throw NumericalError("ring calibration: the least-squares step is not finite",
                         "Check the start; with few points or short arcs do not refine the tilt.");
  // Half a step where a whole one would leave the possible: distance halved, tilt beyond 30 degrees more.
  double part = 1.0;
  if (std::abs(move[0]) > 0.3 * g.distance_mm) part = 0.3 * g.distance_mm / std::abs(move[0]);
  for (Index p = 3; p < move.size(); ++p) part = std::min(part, 0.5 / std::max(std::abs(move[p]), 0.5));
  for (Index p = 0; p < move.size(); ++p) g.*fields[p] += part * move[p];
  return part * (j * move).norm() / std::sqrt(static_cast<double>(r.size()));
}

/// Correlation of neighbours on a ring, from the residuals in units of their standard deviation; 0 unless it stands
/// out.
double neighbour_correlation(const std::vector<RingPoint>& points, const VectorXd& t, const std::vector<bool>& used) {
  double product = 0.0, square = 0.0, pairs = 0.0, n = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!used[i]) continue;
    const auto at = static_cast<Index>(i);
    square += t[at] * t[at];
    n += 1.0;
    if (i + 1 == points.size() || !used[i + 1] || points[i + 1].order != points[i].order) continue;
    if (points[i + 1].azimuth_rad - points[i].azimuth_rad > 1.6 * points[i].sector_rad) continue;
    product += t[at] * t[at + 1];
    pairs += 1.0;
  }
  if (pairs < 8.0 || square <= 0.0) return 0.0;
  const double r = (product / pairs) / (square / n);
  return r > 2.0 / std::sqrt(pairs) ? std::min(r, 0.95) : 0.0;
}

}  // namespace

RingFit fit_rings(const std::vector<RingPoint>& points, const VectorXd& two_theta_rad, const DetectorGeometry& start,
                  bool tilt) {
  const Problem problem{points, two_theta_rad, tilt ? 5 : 3};
  const Index m = std::ssize(points), p = problem.parameters;
  if (m < p + 3)
    throw DataError(fmt::format("ring calibration: {} ring points for {} parameters", m, p),
                    "A longer exposure, a smaller mask or fewer parameters are needed.");
  VectorXd u(m);
  for (Index i = 0; i < m; ++i) u[i] = std::max(points[static_cast<std::size_t>(i)].u_px, 1e-4);

  RingFit fit;
  fit.geometry = start;
  fit.used.assign(points.size(), true);
  VectorXd r = problem.residuals(fit.geometry), total = u;
  double moved = 1e300;
  for (int iteration = 0; iteration < 100 && moved > 1e-7; ++iteration) {
    // The scatter beyond the counts comes from the middle half of the residuals, so outliers do not set it.
    const double typical = 1.4826 * median_size(r, fit.used), counted = median_size(u, fit.used);
    const double extra2 = std::max(0.0, typical * typical - counted * counted);
    VectorXd root_weight(m);
    for (Index i = 0; i < m; ++i) total[i] = std::sqrt(u[i] * u[i] + extra2);
    const double scale = std::max(1.4826 * median_size(r.cwiseQuotient(total), fit.used), 1e-12);
    for (Index i = 0; i < m; ++i) {
      const double t = std::abs(r[i]) / (total[i] * scale);
      const double bisquare = t < 6.0 ? 1.0 - t * t / 36.0 : 0.0;
      const double huber = t < 1.345 ? 1.0 : std::sqrt(1.345 / t);
      root_weight[i] = (iteration < 8 ? huber : bisquare) / total[i];
    }
    const double now = step(problem, r, root_weight, fit.geometry);
    moved = iteration < 10 ? 1e300 : now;
    r = problem.residuals(fit.geometry);
  }
  if (!(moved < 0.02 * std::max(1.0, median_size(r, fit.used))))
    throw NumericalError(
        fmt::format("ring calibration: the robust fit still moves by {:.2g} px after 100 steps", moved),
        "Check that the start is within 5 % and 10 px and that the rings are the calibrant's.");

  const double scale = std::max(1.4826 * median_size(r.cwiseQuotient(total), fit.used), 1e-12);
  Index kept = 0;
  for (Index i = 0; i < m; ++i) {
    const bool keep = std::abs(r[i]) <= 4.5 * scale * total[i];
    fit.used[static_cast<std::size_t>(i)] = keep;
    kept += keep ? 1 : 0;
  }
  if (kept < p + 3)
    throw NumericalError(fmt::format("ring calibration: {} of {} ring points agree on a geometry", kept, m),
                         "Check that wavelength, distance and calibrant are the right ones.");
  const double freedom = static_cast<double>(kept - p);
  VectorXd root_weight = VectorXd::Zero(m);
  for (int iteration = 0; iteration < 20; ++iteration) {
    const double s = common_scatter(r, u, fit.used, freedom);
    for (Index i = 0; i < m; ++i)
      if (fit.used[static_cast<std::size_t>(i)]) root_weight[i] = 1.0 / std::hypot(u[i], s);
    const double now = step(problem, r, root_weight, fit.geometry);
    r = problem.residuals(fit.geometry);
    if (now < 1e-8) break;
  }
  check(fit.geometry);

  const VectorXd t = root_weight.cwiseProduct(r);
  fit.chi2 = t.squaredNorm();
  const double correlation = neighbour_correlation(points, t, fit.used);
  fit.dependence = (1.0 + correlation) / (1.0 - correlation);
  const MatrixXd weighted = root_weight.asDiagonal() * problem.slopes(fit.geometry);
  // Columns brought to one length first: mm, pixels and radians differ by orders of magnitude.
  const VectorXd length = weighted.colwise().norm();
  const MatrixXd unit = weighted * length.cwiseInverse().asDiagonal();
  const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(unit.transpose() * unit);
  if (!(eigen.eigenvalues()[0] > 1e-12))
    throw NumericalError("ring calibration: the rings in view do not tell the parameters apart",
                         "Do not refine the tilt, or bring more of the rings onto the detector.");
  const MatrixXd inverse =
      eigen.eigenvectors() * eigen.eigenvalues().cwiseInverse().asDiagonal() * eigen.eigenvectors().transpose();
  fit.covariance = fit.dependence * fit.chi2 / freedom *
                   (length.cwiseInverse().asDiagonal() * inverse * length.cwiseInverse().asDiagonal());
  fit.parameters.assign(field_names, field_names + p);
  fit.residuals_px = r;
  double sum2 = 0.0;
  for (Index i = 0; i < m; ++i)
    if (fit.used[static_cast<std::size_t>(i)]) sum2 += r[i] * r[i];
  fit.rms_px = std::sqrt(sum2 / static_cast<double>(kept));
  return fit;
}

}  // namespace sievelight
