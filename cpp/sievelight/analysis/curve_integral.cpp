// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/curve_integral.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gauss_rule.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

// The flat start's level: points up to this factor above the first q.
constexpr double flat_reach = 1.1;
// A rule of 3 points and one more for each radian: sin(qr) to better than 1e-6.
std::size_t points_for(double radians) { return static_cast<std::size_t>(std::clamp(3.0 + radians, 3.0, 64.0)); }

}  // namespace

CurveIntegral::CurveIntegral(const Curve& curve, const std::optional<GuinierFit>& guinier, const PorodFit& porod,
                             double largest_r_nm, bool data_through_window)
    : curve_(curve), guinier_(guinier), porod_(porod), first_(guinier ? guinier->first : 0), join_(porod.first) {
  const Eigen::Index n = curve.size();
  if (porod.constant.influence.size() != n || (guinier && guinier->i0.influence.size() != n))
    throw InputError(fmt::format("the fits do not belong to this curve of {} points.", n),
                     "Fit Guinier's and Porod's law to the same curve that the integral is asked of.");
  if (porod.first <= first_)
    throw InputError(fmt::format("the Porod window starts at q = {:.4g} 1/nm, not above the first point used, {:.4g}.",
                                 curve.q_per_nm[porod.first], curve.q_per_nm[first_]),
                     "Give fit_porod a q_range_per_nm at higher q.");
  if (data_through_window) join_ += porod.points - 1;
  const Eigen::VectorXd& q = curve.q_per_nm;
  const double q1 = q[first_];
  // Below: panels of ten radians at most, 24 points each.
  const auto panels = 1 + static_cast<Eigen::Index>(q1 * largest_r_nm / 10.0);
  const GaussRule& rule = gauss_rule(24);
  low_q_.resize(24 * panels);
  low_weight_.resize(24 * panels);
  for (Eigen::Index p = 0; p < panels; ++p)
    for (Eigen::Index k = 0; k < 24; ++k) {
      const auto i = static_cast<std::size_t>(k);
      low_q_[24 * p + k] = q1 * (static_cast<double>(p) + rule.at[i]) / static_cast<double>(panels);
      low_weight_[24 * p + k] = q1 * rule.weight[i] / static_cast<double>(panels);
    }
  low_weight_ = low_weight_.cwiseProduct(low_q_.cwiseAbs2());
  for (Eigen::Index i = first_; i < join(); ++i) {
    const double width = q[i + 1] - q[i];
    const GaussRule& inner = gauss_rule(points_for(width * largest_r_nm));
    for (std::size_t k = 0; k < inner.at.size(); ++k)
      nodes_.push_back({i, q[i] + width * inner.at[k], inner.at[k], width * inner.weight[k]});
  }
}

CurveSum CurveIntegral::below(const Weight& k) const {
  const Eigen::VectorXd weight = low_weight_.cwiseProduct(low_q_.unaryExpr(k));
  CurveSum out{0.0, Eigen::VectorXd::Zero(curve_.size())};
  if (guinier_) {
    const double rg = guinier_->rg_nm.value, i0 = guinier_->i0.value;
    const Eigen::ArrayXd q2 = low_q_.array().square(), law = (-q2 * (rg * rg / 3.0)).exp();
    const double per_i0 = weight.dot(law.matrix());
    out.value = i0 * per_i0;
    out.influence = per_i0 * guinier_->i0.influence -
                    (i0 * 2.0 * rg / 3.0 * weight.dot((law * q2).matrix())) * guinier_->rg_nm.influence;
  } else {
    Eigen::Index few = 1;
    while (first_ + few < join() && curve_.q_per_nm[first_ + few] <= flat_reach * curve_.q_per_nm[first_]) ++few;
    out.value = weight.sum() * curve_.intensity.segment(first_, few).mean();
    out.influence.segment(first_, few).setConstant(weight.sum() / static_cast<double>(few));
  }
  const CurveSum background = background_sum(porod_, low_q_, weight);
  out.value -= background.value;
  out.influence -= background.influence;
  return out;
}

CurveSum CurveIntegral::data(const Weight& k) const {
  CurveSum out{0.0, Eigen::VectorXd::Zero(curve_.size())};
  for (const Node& node : nodes_) {
    const double w = node.weight * k(node.q);
    out.influence[node.interval] += w * (1.0 - node.upper_share);
    out.influence[node.interval + 1] += w * node.upper_share;
  }
  out.influence = out.influence.cwiseProduct(curve_.q_per_nm.cwiseAbs2());
  const CurveSum background = background_sum(porod_, curve_.q_per_nm, out.influence);
  out.value = out.influence.dot(curve_.intensity) - background.value;
  out.influence -= background.influence;
  return out;
}

}  // namespace sievelight
