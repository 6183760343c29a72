// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/peak_scan.hpp"

#include "sievelight/analysis/peak_fit.hpp"
#include "sievelight/base/units.hpp"

#include <gsl/gsl_cdf.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <vector>

namespace sievelight {
namespace {

using Eigen::ArrayXd;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using Mask = Eigen::Array<bool, Eigen::Dynamic, 1>;

constexpr double widths_each_side = 2.5;

struct Look {
  bool possible = false;
  Index first = 0;
  VectorXd filter;  // unit vector over the window
  double z = 0.0;   // against the points' variance and the background's tolerance
  double raw_z = 0.0;
  double height = 0.0;
};

// One place and one width.
Look look(const ArrayXd& q, const ArrayXd& intensity, const ArrayXd& variance, Index at, double width,
          double tolerance) {
  const Index n = q.size();
  const double q0 = q[at];
  const double* const begin = q.data();
  Index first = std::lower_bound(begin, begin + n, q0 - widths_each_side * width) - begin;
  Index last = std::upper_bound(begin, begin + n, q0 + widths_each_side * width) - begin;  // one behind
  first = std::max<Index>(0, std::min(first, at - 4));
  last = std::min<Index>(n, std::max(last, at + 5));
  const Index m = last - first;
  Look out;
  if (m < 8) return out;
  const ArrayXd t = (q.segment(first, m) - q0) / width;
  // A peak has a flank and some background on both sides, and more than one point: a lone high point is a spike.
  if ((t.abs() <= 0.6).count() < 2 || (t < -0.8).count() < 2 || (t > 0.8).count() < 2) return out;
  const ArrayXd y = intensity.segment(first, m), v = variance.segment(first, m);
  const ArrayXd root = v.sqrt().inverse();
  const ArrayXd shape = smooth_shape(q.segment(first, m), y, v, t.abs() > 0.9);
  const Index terms = m >= 10 ? 4 : 3;
  const ArrayXd x = (q.segment(first, m) / q0).log() / (widths_each_side * width / q0);
  MatrixXd base(m, terms);
  ArrayXd column = root * shape;
  for (Index k = 0; k < terms; ++k, column *= x) base.col(k) = column;
  // Gram-Schmidt, twice is enough.
  for (Index k = 0; k < terms; ++k) {
    for (int pass = 0; pass < 2; ++pass)
      for (Index j = 0; j < k; ++j) base.col(k) -= base.col(j).dot(base.col(k)) * base.col(j);
    const double length = base.col(k).norm();
    if (!(length > 0.0)) return out;
    base.col(k) /= length;
  }
  VectorXd peak = (root * peak_shape(t, 0.0)).matrix();
  const double whole = peak.norm();
  const VectorXd leaning = base * (base.transpose() * peak);
  peak -= leaning;
  const double left = peak.norm();
  if (!(left > 0.1 * whole)) return out;  // cannot be told from the background
  out.filter = peak / left;
  const VectorXd data = (root * y).matrix();
  const double along = out.filter.dot(data);
  const VectorXd smooth = base * (base.transpose() * data);
  const VectorXd misfit = data - smooth - along * out.filter;
  const double freedom = static_cast<double>(m - terms - 1);
  const double chi2 = misfit.squaredNorm();
  // Scatter beyond what chance allows: the errors are too small, or the shape is another one.
  const double excess = gsl_cdf_chisq_Q(chi2, freedom) < 0.01 ? std::max(1.0, chi2 / freedom) : 1.0;
  out.height = along / left;
  const double u2 = excess / (left * left);
  const double under = std::abs(smooth[at - first] - out.height * leaning[at - first]) / root[at - first];
  out.raw_z = out.height / std::sqrt(u2);
  out.z = out.height / std::sqrt(u2 + std::pow(tolerance * under, 2));
  out.first = first;
  out.possible = std::isfinite(out.z);
  return out;
}

double angle(const Look& a, const Look& b) {
  const Index low = std::max(a.first, b.first);
  const Index high = std::min(a.first + a.filter.size(), b.first + b.filter.size());
  if (high <= low) return 0.5 * pi;
  const double cosine = a.filter.segment(low - a.first, high - low).dot(b.filter.segment(low - b.first, high - low));
  return std::acos(std::clamp(cosine, -1.0, 1.0));
}

}  // namespace

std::optional<PeakCandidate> clearest_peak(const ArrayXd& q, const ArrayXd& intensity, const ArrayXd& variance,
                                           const Mask& blocked, const PeakScanOptions& options) {
  const Index n = q.size();
  struct Hit {
    Index at;
    double width, z, raw_z, height;
  };
  std::vector<Hit> hits;
  double segments = 0.0, kappa = 0.0;
  const double finest = ((q.tail(n - 1) - q.head(n - 1)) / q.tail(n - 1)).minCoeff();
  for (double relative = options.largest_relative_width; relative > 1.5 * finest; relative /= 1.5) {
    Look before;
    double q_before = 0.0;
    for (Index i = 2; i < n - 2; ++i) {
      const double width = relative * q[i];
      if (before.possible && q[i] - q_before < 0.15 * width) continue;  // a fine grid need not be walked point by point
      Look here = look(q, intensity, variance, i, width, options.background_tolerance);
      if (here.possible) {
        if (before.possible)
          kappa += angle(before, here);
        else
          segments += 1.0;
        if (here.z > 3.0 && !blocked[i]) hits.push_back({i, width, here.z, here.raw_z, here.height});
      }
      before = std::move(here);
      q_before = q[i];
    }
  }
  const auto by_chance = [&](double z) {
    return std::min(1.0, segments * gsl_cdf_ugaussian_Q(z) + kappa / (2.0 * pi) * std::exp(-0.5 * z * z));
  };
  const Hit* best = nullptr;
  for (const Hit& hit : hits)
    if (by_chance(hit.z) < options.false_alarm && (best == nullptr || hit.raw_z > best->raw_z)) best = &hit;
  if (best == nullptr) return std::nullopt;
  PeakCandidate out{best->at, q[best->at], best->width, best->height, best->z, by_chance(best->z), 0.0};
  const double tail = gsl_cdf_ugaussian_Q(best->z);
  // Far out in the tail the ratio of the two terms is kappa z / sqrt(2 pi).
  out.places = tail > 1e-300 ? out.false_alarm / tail : segments + kappa * best->z / std::sqrt(2.0 * pi);
  return out;
}

}  // namespace sievelight
