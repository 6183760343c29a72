// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/ring_peak.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <vector>

namespace sievelight {
namespace {

using Parameters = Eigen::Matrix<double, 5, 1>;  // b0, b1, amplitude, center, ln sigma

double slope_shape(double offset, double radius) {
  const double ratio = radius / std::max(radius + offset, 0.1 * radius), ratio2 = ratio * ratio;
  return 0.25 * radius * (1.0 - ratio2 * ratio2);
}

double bell(double offset, double center, double sigma) {
  const double t = (offset - center) / sigma;
  return std::exp(-0.5 * t * t);
}

struct Profile {
  std::vector<double> offset, mean, weight;
};

/// Means in bins of one pixel: enough to find the peak, not to measure it.
Profile bin_profile(std::span<const SectorSample> sector, const std::vector<bool>& use, double half_width) {
  const auto bins = static_cast<std::size_t>(std::ceil(2.0 * half_width)) + 1;
  std::vector<double> sum(bins, 0.0), n(bins, 0.0), place(bins, 0.0);
  for (std::size_t i = 0; i < sector.size(); ++i) {
    if (!use[i]) continue;
    const SectorSample& s = sector[i];
    const auto bin = static_cast<std::size_t>(std::clamp(s.offset_px + half_width, 0.0, 2.0 * half_width));
    sum[bin] += s.counts;
    place[bin] += s.offset_px;
    n[bin] += 1.0;
  }
  Profile profile;
  for (std::size_t i = 0; i < bins; ++i)
    if (n[i] > 0.0) {
      profile.offset.push_back(place[i] / n[i]);
      profile.mean.push_back(sum[i] / n[i]);
      profile.weight.push_back(n[i] * n[i] / (sum[i] + 1.0));
    }
  return profile;
}

/// Which pixels may take part at the start: not those far above the rest at the same distance from the ring, such as a
/// cluster of hot pixels or a single crystal's spot. The upper quartile stands for the rest, since a sharp ring is
/// steep.
std::vector<bool> without_spots(std::span<const SectorSample> sector, double half_width) {
  const auto bins = static_cast<std::size_t>(std::ceil(2.0 * half_width)) + 1;
  const auto bin_of = [&](const SectorSample& s) {
    return static_cast<std::size_t>(std::clamp(s.offset_px + half_width, 0.0, 2.0 * half_width));
  };
  std::vector<std::vector<double>> counts(bins);
  for (const SectorSample& s : sector) counts[bin_of(s)].push_back(s.counts);
  std::vector<double> limit(bins, 1e300);
  for (std::size_t i = 0; i < bins; ++i) {
    if (counts[i].size() < 4) continue;
    const auto quartile = counts[i].begin() + static_cast<std::ptrdiff_t>(3 * (counts[i].size() - 1) / 4);
    std::ranges::nth_element(counts[i], quartile);
    limit[i] = 4.0 * *quartile + 8.0 * std::sqrt(*quartile + 1.0);
  }
  std::vector<bool> use(sector.size());
  for (std::size_t i = 0; i < sector.size(); ++i) use[i] = sector[i].counts <= limit[bin_of(sector[i])];
  return use;
}

struct Start {
  Parameters p = Parameters::Zero();
  double significance = 0.0;
};

/// Pivots of one size: what is solved for is determined by the data.
template <class Solver>
bool determined(const Solver& solver, double least) {
  const auto pivots = solver.vectorD().array().abs().eval();
  return solver.info() == Eigen::Success && pivots.minCoeff() > least * pivots.maxCoeff();
}

/// Best of a grid of places and widths; the three linear parameters are solved for at each.
Start scan(const Profile& profile, double radius, double half_width, double sigma_px) {
  Start best;
  if (profile.offset.size() < 5) return best;
  std::vector<double> slope;
  for (const double offset : profile.offset) slope.push_back(slope_shape(offset, radius));
  std::vector<double> widths{sigma_px};
  if (sigma_px <= 0.0) {
    widths.clear();
    for (double s = 0.8; s <= std::max(1.0, half_width / 3.0); s *= 1.6) widths.push_back(s);
  }
  for (const double sigma : widths)
    for (double c = profile.offset.front() + sigma; c <= profile.offset.back() - sigma; c += 0.5) {
      Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
      Eigen::Vector3d right = Eigen::Vector3d::Zero();
      for (std::size_t i = 0; i < profile.offset.size(); ++i) {
        const Eigen::Vector3d basis(1.0, slope[i], bell(profile.offset[i], c, sigma));
        normal.noalias() += profile.weight[i] * basis * basis.transpose();
        right.noalias() += profile.weight[i] * profile.mean[i] * basis;
      }
      const Eigen::LDLT<Eigen::Matrix3d> solver(normal);
      if (!determined(solver, 1e-10)) continue;
      const Eigen::Vector3d b = solver.solve(right);
      const double variance = solver.solve(Eigen::Vector3d::UnitZ().eval()).z();
      if (!(variance > 0.0)) continue;
      if (const double z = b.z() / std::sqrt(variance); z > best.significance) {
        best.significance = z;
        best.p << b.x(), b.y(), b.z(), c, std::log(sigma);
      }
    }
  return best;
}

struct Evaluation {
  Eigen::Matrix<double, 5, 5> information = Eigen::Matrix<double, 5, 5>::Zero();
  Parameters gradient = Parameters::Zero();
};

/// The pixels of a sector in columns.
struct Pixels {
  Eigen::ArrayXd offset, counts, slope;  // px, counts, shape of the background's slope
  Pixels(std::span<const SectorSample> sector, double radius)
      : offset(size(sector)), counts(size(sector)), slope(size(sector)) {
    for (Eigen::Index i = 0; i < offset.size(); ++i) {
      const SectorSample& s = sector[static_cast<std::size_t>(i)];
      offset[i] = s.offset_px;
      counts[i] = s.counts;
      slope[i] = slope_shape(s.offset_px, radius);
    }
  }
  static Eigen::Index size(std::span<const SectorSample> sector) { return static_cast<Eigen::Index>(sector.size()); }

  Eigen::ArrayXd model(const Parameters& p) const {
    return p[0] + p[1] * slope + p[2] * (-0.5 * ((offset - p[3]) * std::exp(-p[4])).square()).exp();
  }
};

/// `used`: 1 or 0 for each pixel; `floor` of the variance: a background fitted below zero must not divide by it.
Evaluation evaluate(const Pixels& pixels, const Parameters& p, const Eigen::ArrayXd& used, double floor) {
  const double per_sigma = std::exp(-p[4]);
  const Eigen::ArrayXd t = (pixels.offset - p[3]) * per_sigma, e = (-0.5 * t.square()).exp();
  Eigen::Matrix<double, Eigen::Dynamic, 5> slopes(t.size(), 5);
  slopes.col(0).setOnes();
  slopes.col(1) = pixels.slope;
  slopes.col(2) = e;
  slopes.col(3) = p[2] * per_sigma * e * t;
  slopes.col(4) = p[2] * e * t.square();
  const Eigen::ArrayXd m = p[0] + p[1] * pixels.slope + p[2] * e, weight = used / m.max(floor);
  const Eigen::Matrix<double, Eigen::Dynamic, 5> weighted = slopes.array().colwise() * weight;
  Evaluation out;
  out.information.noalias() = weighted.transpose() * slopes;
  out.gradient.noalias() = weighted.transpose() * (pixels.counts - m).matrix();
  return out;
}

/// Fisher scoring with bounded steps. Returns false when it does not settle.
bool score(const Pixels& pixels, Parameters& p, bool free_sigma, double sigma_low, double sigma_high,
           const Eigen::ArrayXd& used, double floor) {
  const Eigen::Index n = free_sigma ? 5 : 4;
  for (int iteration = 0; iteration < 30; ++iteration) {
    const Evaluation now = evaluate(pixels, p, used, floor);
    const Eigen::LDLT<Eigen::MatrixXd> solver(now.information.topLeftCorner(n, n));
    if (!determined(solver, 1e-14)) return false;
    Eigen::VectorXd step = solver.solve(now.gradient.head(n));
    if (!step.allFinite()) return false;
    const double sigma = std::exp(p[4]);
    // Longer steps leave the range where the bell is nearly quadratic.
    double shorten = std::min(1.0, 0.5 * sigma / std::max(std::abs(step[3]), 1e-300));
    if (free_sigma) shorten = std::min(shorten, 0.3 / std::max(std::abs(step[4]), 1e-300));
    step *= shorten;
    p.head(n) += step;
    p[4] = std::clamp(p[4], std::log(sigma_low), std::log(sigma_high));
    if (!(p[2] > 0.0)) return false;
    if (shorten == 1.0 && std::abs(step[3]) < 1e-4 * sigma) return true;
  }
  return false;
}

}  // namespace

std::optional<RingPeak> fit_ring_peak(std::span<const SectorSample> sector, double radius_px, double half_width_px,
                                      double sigma_px) {
  if (sector.size() < 12) return std::nullopt;
  const std::vector<bool> at_start = without_spots(sector, half_width_px);
  const Profile profile = bin_profile(sector, at_start, half_width_px);
  const Start start = scan(profile, radius_px, half_width_px, sigma_px);
  if (!(start.significance > 2.0)) return std::nullopt;
  double mean = 0.0;
  for (const double level : profile.mean) mean += level / static_cast<double>(profile.mean.size());
  const double floor = std::max(0.05 * mean, 1e-12);
  const Pixels pixels(sector, radius_px);
  Eigen::ArrayXd used(pixels.offset.size());
  std::ranges::copy(at_start, used.data());
  Parameters p = start.p;
  const double sigma_low = sigma_px > 0.0 ? 0.5 * sigma_px : 0.4,
               sigma_high = sigma_px > 0.0 ? 2.0 * sigma_px : std::max(1.2, half_width_px / 2.0);
  const bool free_sigma = start.significance > (sigma_px > 0.0 ? 10.0 : 5.0);
  double scatter2 = 1.0;  // squared residual per degree of freedom, in units of the Poisson variance
  for (int pass = 0; pass < 3; ++pass) {
    if (!score(pixels, p, free_sigma, sigma_low, sigma_high, used, floor)) return std::nullopt;
    const Eigen::ArrayXd m = pixels.model(p), off = (pixels.counts - m).abs(), size = off / m.max(floor).sqrt();
    Eigen::ArrayXd sorted = size;
    double* middle = sorted.data() + sorted.size() / 2;
    std::nth_element(sorted.data(), middle, sorted.data() + sorted.size());
    const double limit = 6.0 * std::max(1.0, 1.4826 * *middle);
    // At a mean below one count a single count is many standard deviations, and yet as it should be.
    const Eigen::ArrayXd keep = (off <= limit * m.max(1.0).sqrt()).cast<double>();
    const bool changed = (keep != used).any();
    used = keep;
    const double kept = used.sum();
    if (kept < 12.0) return std::nullopt;
    scatter2 = (used * size.square()).sum() / (kept - 5.0);
    if (!changed) break;
  }
  const double sigma = std::exp(p[4]);
  if (p[3] < profile.offset.front() + 0.5 * sigma || p[3] > profile.offset.back() - 0.5 * sigma) return std::nullopt;
  const Eigen::Index n = free_sigma ? 5 : 4;
  const Eigen::LDLT<Eigen::MatrixXd> solver(evaluate(pixels, p, used, floor).information.topLeftCorner(n, n));
  const Eigen::MatrixXd covariance = solver.solve(Eigen::MatrixXd::Identity(n, n)) * std::max(1.0, scatter2);
  RingPeak peak;
  peak.offset_px = p[3];
  peak.u_px = std::sqrt(covariance(3, 3));
  peak.sigma_px = sigma;
  peak.amplitude = p[2];
  peak.background = p[0] + p[1] * slope_shape(p[3], radius_px);
  peak.significance = p[2] / std::sqrt(covariance(2, 2));
  if (!std::isfinite(peak.u_px) || !std::isfinite(peak.significance)) return std::nullopt;
  return peak;
}

}  // namespace sievelight
