// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/smear.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gauss_rule.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/reduce/slit_rule.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

constexpr double infinity = std::numeric_limits<double>::infinity();

// Which samples stand for I(q), and how much each.
class Sampled {
 public:
  Sampled(const VectorXd& q, const SmearOptions& options)
      : log_q_(q.array().log()),
        cubic_(options.interpolation == Interpolation::cubic && q.size() >= 4),
        exponent_(options.high_q_exponent) {}

  // `part` is the interval between samples that holds q: -1 below the first, n - 1 beyond the last.
  template <typename Row>
  void add(double q, Index part, double weight, Row&& row, double& beyond) const {
    const Index n = log_q_.size();
    if (part < 0) {
      row[0] += weight;
      return;
    }
    const double x = std::log(q);
    if (part >= n - 1) {
      const double share = weight * std::exp(exponent_ * (log_q_[n - 1] - x));
      row[n - 1] += share;
      beyond += share;
      return;
    }
    const Index first = cubic_ ? std::clamp<Index>(part - 1, 0, n - 4) : part, count = cubic_ ? 4 : 2;
    for (Index j = first; j < first + count; ++j) {
      double lagrange = 1;
      for (Index k = first; k < first + count; ++k)
        if (k != j) lagrange *= (x - log_q_[k]) / (log_q_[j] - log_q_[k]);
      row[j] += weight * lagrange;
    }
  }

 private:
  VectorXd log_q_;
  bool cubic_;
  double exponent_;
};

class Rows {
 public:
  Rows(const VectorXd& q_in, const SlitProfile& profile, const SmearOptions& options)
      : profile_(profile), map_(profile), width_(width_rule(profile)), sampled_(q_in, options), place_(q_in.size()) {
    if (profile.length) length_ = folded(*profile.length);
    for (Index j = 0; j < q_in.size(); ++j) place_[j] = map_.place(q_in[j]);
  }

  template <typename Row>
  void fill(double q, Row&& row, double& beyond) const {
    const double place = map_.place(q);
    for (std::size_t k = 0; k < width_.at.size(); ++k)
      along(std::abs(place + width_.at[k]), width_.weight[k], row, beyond);
  }

 private:
  Index part_of(double place) const {
    return std::upper_bound(place_.begin(), place_.end(), place) - place_.begin() - 1;
  }

  // The integral along the line for one place across it.
  template <typename Row>
  void along(double x, double weight, Row&& row, double& beyond) const {
    if (!profile_.length && !profile_.infinite) {
      sampled_.add(map_.q_per_nm(x), part_of(x), weight, row, beyond);
      return;
    }
    const double end = profile_.infinite ? infinity : length_.position[length_.position.size() - 1];
    // Where the integrand has a kink: a knot of the profile, or a sample.
    std::vector<double> cuts{0.0};
    for (const double l : length_.position) cuts.push_back(l);
    for (const double at : place_)
      if (at > x && at * at - x * x < end * end) cuts.push_back(std::sqrt((at - x) * (at + x)));
    std::sort(cuts.begin(), cuts.end());
    cuts.erase(std::unique(cuts.begin(), cuts.end()), cuts.end());
    const auto segment = [&](double low, double high) {
      const GaussRule& gauss = gauss_rule(8);
      const double middle = 0.5 * (low + high);
      const Index part = part_of(std::hypot(x, middle));
      for (std::size_t g = 0; g < gauss.at.size(); ++g) {
        const double l = low + (high - low) * gauss.at[g];
        const double w = profile_.infinite ? 2.0 : value(length_, l);
        if (w > 0)
          sampled_.add(map_.q_per_nm(std::hypot(x, l)), part, weight * w * gauss.weight[g] * (high - low), row, beyond);
      }
    };
    for (std::size_t c = 0; c + 1 < cuts.size(); ++c) {
      // Where no sample cuts it, a long piece is cut so that a power law stays smooth on each part.
      double low = cuts[c];
      while (low < cuts[c + 1]) {
        const double high = std::min(cuts[c + 1], low + 0.3 * std::hypot(x, low));
        segment(low, high);
        low = high;
      }
    }
    if (!profile_.infinite) return;
    // The rest, to infinity: l = low + scale t/(1 - t).
    const double low = cuts.back(), scale = std::hypot(x, low);
    const GaussRule& gauss = gauss_rule(32);
    for (std::size_t g = 0; g < gauss.at.size(); ++g) {
      const double t = gauss.at[g], l = low + scale * t / (1 - t);
      sampled_.add(std::hypot(x, l), part_of(std::hypot(x, l)),
                   weight * 2 * gauss.weight[g] * scale / ((1 - t) * (1 - t)), row, beyond);
    }
  }

  SlitProfile profile_;
  SlitMap map_;
  WidthRule width_;
  Sampled sampled_;
  VectorXd place_;  // of the samples, in the detector plane
  LineWeight length_;
};

}  // namespace

SmearingMatrix smearing_matrix(const VectorXd& q_out, const VectorXd& q_in, const SlitProfile& profile,
                               const SmearOptions& options) {
  check(profile);
  const Index n = q_in.size(), m = q_out.size();
  if (n < 2) throw InputError(fmt::format("the curve has {} samples.", n), "Give two or more.");
  for (Index j = 0; j < n; ++j)
    if (!std::isfinite(q_in[j]) || q_in[j] <= 0 || (j > 0 && q_in[j] <= q_in[j - 1]))
      throw InputError(fmt::format("the samples' q do not rise from above 0 at point {} ({}).", j, q_in[j]),
                       "Sort them, and leave out q = 0.");
  for (Index i = 0; i < m; ++i)
    if (!std::isfinite(q_out[i]) || q_out[i] <= 0)
      throw InputError(fmt::format("q is {} at point {}; it must be positive.", q_out[i], i), "Leave out q = 0.");
  if (!std::isfinite(options.high_q_exponent) || (profile.infinite && options.high_q_exponent <= 1))
    throw InputError(fmt::format("the exponent beyond the last sample is {}.", options.high_q_exponent),
                     "Give the fall of I as a positive exponent, above 1 for an infinite slit.");
  gauss_rule(1);  // built before the threads start
  SmearingMatrix out{q_out, q_in, Eigen::MatrixXd::Zero(m, n), VectorXd::Zero(m)};
  const Rows rows(q_in, profile, options);
  parallel_for(static_cast<std::size_t>(m), [&](std::size_t i) {
    const auto r = static_cast<Index>(i);
    VectorXd row = VectorXd::Zero(n);
    double beyond = 0;
    rows.fill(q_out[r], row, beyond);
    out.matrix.row(r) = row.transpose();
    out.beyond[r] = beyond;
  });
  return out;
}

}  // namespace sievelight
