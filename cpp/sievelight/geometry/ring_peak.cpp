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

/// Best of a grid of places and widths; the three linear parameters are solved for at each.
Start scan(const Profile& profile, double radius, double half_width, double sigma_px) {
  Start best;
  if (profile.offset.size() < 5) return best;
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
        const Eigen::Vector3d basis(1.0, slope_shape(profile.offset[i], radius), bell(profile.offset[i], c, sigma));
        normal.noalias() += profile.weight[i] * basis * basis.transpose();
        right.noalias() += profile.weight[i] * profile.mean[i] * basis;
      }
      const Eigen::LDLT<Eigen::Matrix3d> solver(normal);
      if (solver.info() != Eigen::Success || !(solver.rcond() > 1e-10)) continue;
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

struct Model {
  double radius, floor;  // floor of the variance: a background fitted below zero must not divide by it
  double value(const Parameters& p, double offset, Parameters* slope = nullptr) const {
    const double sigma = std::exp(p[4]), g = slope_shape(offset, radius), e = bell(offset, p[3], sigma);
    if (slope != nullptr) {
      const double t = (offset - p[3]) / sigma;
      *slope << 1.0, g, e, p[2] * e * t / sigma, p[2] * e * t * t;
    }
    return p[0] + p[1] * g + p[2] * e;
  }
};

Evaluation evaluate(const Model& model, const Parameters& p, std::span<const SectorSample> sector,
                    const std::vector<bool>& used) {
  Evaluation out;
  for (std::size_t i = 0; i < sector.size(); ++i) {
    if (!used[i]) continue;
    Parameters slope;
    const double m = model.value(p, sector[i].offset_px, &slope), v = std::max(m, model.floor);
    out.information.noalias() += slope * slope.transpose() / v;
    out.gradient.noalias() += slope * ((sector[i].counts - m) / v);
  }
  return out;
}

/// Fisher scoring with bounded steps. Returns false when it does not settle.
bool score(const Model& model, Parameters& p, bool free_sigma, double sigma_low, double sigma_high,
           std::span<const SectorSample> sector, const std::vector<bool>& used) {
  const Eigen::Index n = free_sigma ? 5 : 4;
  for (int iteration = 0; iteration < 30; ++iteration) {
    const Evaluation now = evaluate(model, p, sector, used);
    const Eigen::LDLT<Eigen::MatrixXd> solver(now.information.topLeftCorner(n, n));
    if (solver.info() != Eigen::Success || !(solver.rcond() > 1e-14)) return false;
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
  std::vector<bool> used = without_spots(sector, half_width_px);
  const Profile profile = bin_profile(sector, used, half_width_px);
  const Start start = scan(profile, radius_px, half_width_px, sigma_px);
  if (!(start.significance > 2.0)) return std::nullopt;
  double mean = 0.0;
  for (const double level : profile.mean) mean += level / static_cast<double>(profile.mean.size());
  const Model model{radius_px, std::max(0.05 * mean, 1e-12)};
  Parameters p = start.p;
  const double sigma_low = sigma_px > 0.0 ? 0.5 * sigma_px : 0.4,
               sigma_high = sigma_px > 0.0 ? 2.0 * sigma_px : std::max(1.2, half_width_px / 2.0);
  const bool free_sigma = start.significance > (sigma_px > 0.0 ? 10.0 : 5.0);
  double scatter2 = 1.0;  // squared residual per degree of freedom, in units of the Poisson variance
  for (int pass = 0; pass < 3; ++pass) {
    if (!score(model, p, free_sigma, sigma_low, sigma_high, sector, used)) return std::nullopt;
    std::vector<double> size(sector.size());
    for (std::size_t i = 0; i < sector.size(); ++i) {
      const double m = model.value(p, sector[i].offset_px);
      size[i] = std::abs(sector[i].counts - m) / std::sqrt(std::max(m, model.floor));
    }
    std::vector<double> sorted = size;
    std::ranges::nth_element(sorted, sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2));
    const double limit = 6.0 * std::max(1.0, 1.4826 * sorted[sorted.size() / 2]);
    bool changed = false;
    double sum2 = 0.0;
    std::size_t kept = 0;
    for (std::size_t i = 0; i < sector.size(); ++i) {
      // At a mean below one count a single count is many standard deviations, and yet as it should be.
      const double m = model.value(p, sector[i].offset_px);
      const bool keep = std::abs(sector[i].counts - m) <= limit * std::sqrt(std::max(m, 1.0));
      changed = changed || keep != used[i];
      used[i] = keep;
      if (keep) {
        sum2 += size[i] * size[i];
        ++kept;
      }
    }
    if (kept < 12) return std::nullopt;
    scatter2 = sum2 / static_cast<double>(kept - 5);
    if (!changed) break;
  }
  const double sigma = std::exp(p[4]);
  if (p[3] < profile.offset.front() + 0.5 * sigma || p[3] > profile.offset.back() - 0.5 * sigma) return std::nullopt;
  const Eigen::Index n = free_sigma ? 5 : 4;
  const Eigen::LDLT<Eigen::MatrixXd> solver(evaluate(model, p, sector, used).information.topLeftCorner(n, n));
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
