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

struct Seen {
  bool possible = false;
  Index first = 0;
  VectorXd filter;  // unit vector over the window
  double z = 0.0;   // against the points' variance and the background's tolerance
  double raw_z = 0.0;
  double height = 0.0;
};

// One place and one width.
Seen look(const ArrayXd& q, const ArrayXd& intensity, const ArrayXd& variance, Index at, double width,
          double tolerance) {
  const Index n = q.size();
  const double q0 = q[at];
  const double* const begin = q.data();
  Index first = std::lower_bound(begin, begin + n, q0 - widths_each_side * width) - begin;
  Index last = std::upper_bound(begin, begin + n, q0 + widths_each_side * width) - begin;  // one behind
  first = std::max<Index>(0, std::min(first, at - 4));
  last = std::min<Index>(n, std::max(last, at + 5));
  const Index m = last - first;
  Seen out;
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

double angle(const Seen& a, const Seen& b) {
  const Index low = std::max(a.first, b.first);
  const Index high = std::min(a.first + a.filter.size(), b.first + b.filter.size());
  if (high <= low) return 0.5 * pi;
  const double cosine = a.filter.segment(low - a.first, high - low).dot(b.filter.segment(low - b.first, high - low));
  return std::acos(std::clamp(cosine, -1.0, 1.0));
}

}  // namespace

PeakScan::PeakScan(const ArrayXd& q, const ArrayXd& intensity, const ArrayXd& variance, const PeakScanOptions& options)
    : options_(options), q_(q), intensity_(intensity), variance_(variance) {
  const Index n = q.size();
  const double finest = ((q.tail(n - 1) - q.head(n - 1)) / q.tail(n - 1)).minCoeff();
  for (double relative = options.largest_relative_width; relative > 1.5 * finest; relative /= 1.5) {
    Seen before;
    double q_before = 0.0;
    for (Index i = 2; i < n - 2; ++i) {
      const double width = relative * q[i];
      if (before.possible && q[i] - q_before < 0.15 * width) continue;  // a fine grid need not be walked point by point
      Seen here = look(q, intensity, variance, i, width, options.background_tolerance);
      if (here.possible) {
        if (before.possible)
          kappa_ += angle(before, here);
        else
          segments_ += 1.0;
        looks_.push_back({i, here.first, here.first + here.filter.size(), width, here.z, here.raw_z, here.height});
      }
      before = std::move(here);
      q_before = q[i];
    }
  }
}

void PeakScan::update(const ArrayXd& intensity, const ArrayXd& variance) {
  const Mask changed =
      (intensity - intensity_).square() > 1e-6 * variance_ || (variance - variance_).abs() > 1e-3 * variance_;
  intensity_ = changed.select(intensity, intensity_);
  variance_ = changed.select(variance, variance_);
  for (Look& l : looks_) {
    if (l.blocked || !changed.segment(l.first, l.last - l.first).any()) continue;
    const Seen again = look(q_, intensity_, variance_, l.at, l.width, options_.background_tolerance);
    l.z = again.possible ? again.z : 0.0;
    l.raw_z = again.raw_z;
    l.height = again.height;
  }
}

void PeakScan::block(double q, double reach, double least_width) {
  for (Look& l : looks_) l.blocked = l.blocked || (std::abs(q_[l.at] - q) < reach && l.width >= least_width);
}

double PeakScan::by_chance(double z) const {
  return std::min(1.0, segments_ * gsl_cdf_ugaussian_Q(z) + kappa_ / (2.0 * pi) * std::exp(-0.5 * z * z));
}

std::optional<PeakCandidate> PeakScan::clearest() const {
  const Look* best = nullptr;
  for (const Look& l : looks_)
    if (!l.blocked && l.z > 3.0 && by_chance(l.z) < options_.false_alarm && (best == nullptr || l.raw_z > best->raw_z))
      best = &l;
  if (best == nullptr) return std::nullopt;
  return PeakCandidate{best->at, q_[best->at], best->width, best->height, best->z, by_chance(best->z)};
}

double PeakScan::places() const {
  double low = 0.0, high = 38.0;  // by_chance falls with z
  for (int k = 0; k < 60; ++k) {
    const double middle = 0.5 * (low + high);
    (by_chance(middle) > options_.false_alarm ? low : high) = middle;
  }
  return by_chance(high) / gsl_cdf_ugaussian_Q(high);
}

}  // namespace sievelight
