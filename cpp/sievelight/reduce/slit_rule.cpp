// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/slit_rule.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>

namespace sievelight {

SlitMap::SlitMap(const SlitProfile& profile) {
  if (!profile.geometry) return;
  four_pi_over_lambda_ = 4 * pi / profile.geometry->wavelength_nm;
  distance_mm_ = profile.geometry->distance_mm;
}

double SlitMap::place(double q) const {
  if (distance_mm_ == 0) return q;
  const double sine = q / four_pi_over_lambda_;
  if (!(sine < std::numbers::sqrt2 / 2))
    throw InputError(fmt::format("q = {:.4g} 1/nm is not scattered forwards at this wavelength.", q),
                     "Check the wavelength, and that q is in 1/nm.");
  return distance_mm_ * std::tan(2 * std::asin(sine));
}

double SlitMap::q_per_nm(double place) const {
  if (distance_mm_ == 0) return place;
  return four_pi_over_lambda_ * std::sin(0.5 * std::atan(place / distance_mm_));
}

double SlitMap::q_slope(double place) const {
  if (distance_mm_ == 0) return 1.0;
  const double t = place / distance_mm_;
  return four_pi_over_lambda_ * std::cos(0.5 * std::atan(t)) / (2 * distance_mm_ * (1 + t * t));
}

double value(const LineWeight& p, double x) {
  const Eigen::Index n = p.position.size();
  if (n == 0 || x < p.position[0] || x > p.position[n - 1]) return 0.0;
  const auto at = std::upper_bound(p.position.begin(), p.position.end(), x);
  const Eigen::Index k = std::clamp<Eigen::Index>(at - p.position.begin(), 1, n - 1);
  const double t = (x - p.position[k - 1]) / (p.position[k] - p.position[k - 1]);
  return p.weight[k - 1] + t * (p.weight[k] - p.weight[k - 1]);
}

LineWeight folded(const LineWeight& length) {
  std::vector<double> knots{0.0};
  for (const double x : length.position) knots.push_back(std::abs(x));
  // A profile that ends in a step falls to zero just behind it.
  for (const double x : {length.position[0], length.position[length.position.size() - 1]})
    knots.push_back(std::abs(x) * (1 + 1e-12));
  std::sort(knots.begin(), knots.end());
  knots.erase(std::unique(knots.begin(), knots.end()), knots.end());
  LineWeight out{Eigen::VectorXd(static_cast<Eigen::Index>(knots.size())), {}};
  out.weight.resize(out.position.size());
  for (Eigen::Index i = 0; i < out.position.size(); ++i) {
    out.position[i] = knots[static_cast<std::size_t>(i)];
    out.weight[i] = value(length, out.position[i]) + value(length, -out.position[i]);
  }
  return out;
}

WidthRule width_rule(const SlitProfile& profile) {
  WidthRule out;
  if (profile.width) {
    const GaussRule& gauss = gauss_rule(6);
    const LineWeight& w = *profile.width;
    for (Eigen::Index k = 0; k + 1 < w.position.size(); ++k)
      for (std::size_t g = 0; g < gauss.at.size(); ++g) {
        const double step = w.position[k + 1] - w.position[k], at = w.position[k] + gauss.at[g] * step;
        out.at.push_back(at);
        out.weight.push_back(gauss.weight[g] * step * value(w, at));
      }
  } else if (profile.width_sd > 0) {
    // Equal steps of half a standard deviation out to 8: for smooth curves exact to rounding (the rule's error is
    // exp(-2 pi^2/0.5^2), what lies outside 1e-15).
    for (int k = -16; k <= 16; ++k) {
      out.at.push_back(0.5 * k * profile.width_sd);
      out.weight.push_back(std::exp(-0.125 * k * k));
    }
  } else {
    return {{0.0}, {1.0}};
  }
  double sum = 0;
  for (const double weight : out.weight) sum += weight;
  for (double& weight : out.weight) weight /= sum;
  return out;
}

}  // namespace sievelight
