// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/looks.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gauss_rule.hpp"

#include <algorithm>
#include <cmath>
#include <memory>

namespace sievelight {
namespace {

double normal_below(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

}  // namespace

std::size_t points_for(double phase, std::size_t at_least) {
  return at_least + static_cast<std::size_t>(0.35 * std::min(phase, 200.0));
}

Looks bin_looks(const Curve& curve, Eigen::Index i, double longest_nm, bool annulus, double more_blur_per_nm) {
  const double q = curve.q_per_nm[i];
  const bool bins = curve.q_low_per_nm.size() > 0;
  const double low = bins ? curve.q_low_per_nm[i] : q, high = bins ? curve.q_high_per_nm[i] : q;
  const double own = curve.q_resolution_per_nm.size() > 0 ? curve.q_resolution_per_nm[i] : 0.0;
  const double blur = more_blur_per_nm > 0 ? std::hypot(own, more_blur_per_nm) : own;
  if (high <= low && blur <= 0) return {{q}, {1.0}};
  Looks out;
  const double reach = more_blur_per_nm > 0 ? 6.5 : 5.0;
  const double from = low - reach * blur, to = high + reach * blur;
  // Two smooth edges within a bin many widths wide need points in each width.
  const std::size_t edges =
      more_blur_per_nm > 0 ? 20 + static_cast<std::size_t>(1.5 * std::min(30.0, (high - low) / blur)) : 14;
  const GaussRule& gauss = gauss_rule(points_for((to - from) * longest_nm, blur > 0 ? edges : 4));
  double sum = 0;
  for (std::size_t k = 0; k < gauss.at.size(); ++k) {
    const double at = from + (to - from) * gauss.at[k];
    const bool box = high > low;
    double weight = gauss.weight[k] * (box && annulus ? std::abs(at) : 1.0);
    // A box seen through a Gaussian: the share of the bin that reaches this q.
    if (blur > 0)
      weight *= box ? normal_below((at - low) / blur) - normal_below((at - high) / blur)
                    : std::exp(-0.5 * (at - q) * (at - q) / (blur * blur));
    out.at.push_back(std::abs(at));
    out.weight.push_back(weight);
    sum += weight;
  }
  for (double& weight : out.weight) weight /= sum;
  return out;
}

SlitLooks::SlitLooks(const SlitProfile& profile, double longest_nm) : map_(profile) {
  check(profile);
  if (profile.infinite)
    throw InputError("sizes through an infinite slit: its flat background would be infinite too.",
                     "Give the length profile of the beam; one much longer than q_max serves.");
  width_sd_ = profile.width_sd;
  SlitProfile measured = profile;
  measured.width_sd = 0;
  width_ = width_rule(measured);
  if (profile.length) length_ = folded(*profile.length);
  // Rules of 12 points: 10 rad of the longest particle's oscillation between two of them is no trouble.
  longest_step_ = 10.0 / (longest_nm * map_.q_slope(0.0));
}

double SlitLooks::width_per_nm(double q) const { return width_sd_ > 0 ? width_sd_ * map_.q_slope(map_.place(q)) : 0.0; }

void SlitLooks::visit(double q, const std::function<void(double, double)>& visit) const {
  const double place = map_.place(q);
  const GaussRule& gauss = gauss_rule(12);
  for (std::size_t k = 0; k < width_.at.size(); ++k) {
    const double x = std::abs(place + width_.at[k]);
    if (length_.position.size() == 0) {
      visit(map_.q_per_nm(x), width_.weight[k]);
      continue;
    }
    for (Eigen::Index p = 0; p + 1 < length_.position.size(); ++p) {
      double low = length_.position[p];
      const double end = length_.position[p + 1];
      if (!(length_.weight[p] > 0 || length_.weight[p + 1] > 0) || end - low < 1e-10 * end) continue;
      while (low < end) {
        // Short against the distance from the beam too, so that a power law is smooth on every part.
        const double step = std::min(longest_step_, 0.5 * std::hypot(std::max(x, 0.1 * place), low));
        const double high = std::min(end, low + step);
        for (std::size_t g = 0; g < gauss.at.size(); ++g) {
          const double l = low + (high - low) * gauss.at[g];
          visit(map_.q_per_nm(std::hypot(x, l)), width_.weight[k] * gauss.weight[g] * (high - low) * value(length_, l));
        }
        low = high;
      }
    }
  }
}

double SlitLooks::lowest_per_nm(double q) const {
  const double place = map_.place(q), reach = -*std::min_element(width_.at.begin(), width_.at.end());
  return map_.q_per_nm(std::max(place - std::max(reach, 0.0), 0.0));
}

double SlitLooks::highest_per_nm(double q) const {
  const double place = map_.place(q) + std::max(*std::max_element(width_.at.begin(), width_.at.end()), 0.0);
  const Eigen::Index n = length_.position.size();
  // From the far side of the beam, too, where the width reaches across it.
  const double across = -*std::min_element(width_.at.begin(), width_.at.end());
  return map_.q_per_nm(std::hypot(std::max(place, across), n > 0 ? length_.position[n - 1] : 0.0));
}

}  // namespace sievelight
