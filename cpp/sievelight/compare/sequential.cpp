// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/sequential.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/gauss_rule.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;

// The density of the score B(t) = z sqrt t of experiments that go on, on the nodes of a rule.
struct Going {
  std::vector<double> at, mass;  // mass: density times weight
  double t = 0.0;
};

// P(B(t) >= b) of those that go on.
double beyond(const Going& now, double t, double b) {
  if (now.at.empty()) return gsl_cdf_ugaussian_Q(b / std::sqrt(t));
  const double sd = std::sqrt(t - now.t);
  double sum = 0.0;
  for (std::size_t i = 0; i < now.at.size(); ++i) sum += now.mass[i] * gsl_cdf_ugaussian_Q((b - now.at[i]) / sd);
  return sum;
}

// Those that go on after a look with limit b: eight standard deviations down, in panels of two of the step's, on each
// of which a rule of 10 points integrates the step's normal density to 1e-9.
Going go_on(const Going& now, double t, double b) {
  const double low = -8.5 * std::sqrt(t), step = std::sqrt(t - now.t);
  const double high = std::min(b, -low);
  const int panels = std::clamp(static_cast<int>(std::ceil(0.5 * (high - low) / step)), 6, 100);
  const GaussRule& rule = gauss_rule(10);
  Going out;
  out.t = t;
  for (int p = 0; p < panels; ++p)
    for (std::size_t i = 0; i < rule.at.size(); ++i) {
      const double width = (high - low) / panels, x = low + width * (p + rule.at[i]);
      double density = 0.0;
      if (now.at.empty())
        density = gsl_ran_gaussian_pdf(x, std::sqrt(t));
      else
        for (std::size_t j = 0; j < now.at.size(); ++j)
          density += now.mass[j] * gsl_ran_gaussian_pdf(x - now.at[j], step);
      out.at.push_back(x);
      out.mass.push_back(density * width * rule.weight[i]);
    }
  return out;
}

void check_fractions(const Eigen::VectorXd& t) {
  bool sound = t.size() >= 1 && t.size() <= 20 && std::abs(t[t.size() - 1] - 1) < 1e-12 && t[0] > 0;
  for (Index k = 0; sound && k + 1 < t.size(); ++k) sound = t[k + 1] > t[k] + 1e-6;
  if (!sound)
    throw InputError(fmt::format("{} looks, the last at {} of the planned information.", t.size(),
                                 t.size() > 0 ? t[t.size() - 1] : 0.0),
                     "Give 1 to 20 rising fractions that end at 1.");
}

double spent(double t, double alpha, Spending spending) {
  if (spending == Spending::pocock) return alpha * std::log1p((std::numbers::e - 1) * t);
  return 2 * gsl_cdf_ugaussian_Q(gsl_cdf_ugaussian_Qinv(alpha / 2) / std::sqrt(t));
}

}  // namespace

Eigen::VectorXd first_crossings(const Eigen::VectorXd& fractions, const Eigen::VectorXd& z) {
  check_fractions(fractions);
  if (z.size() != fractions.size())
    throw InputError(fmt::format("{} limits for {} looks.", z.size(), fractions.size()), "Give one limit a look.");
  Eigen::VectorXd out(z.size());
  Going now;
  for (Index k = 0; k < z.size(); ++k) {
    const double b = z[k] * std::sqrt(fractions[k]);
    out[k] = beyond(now, fractions[k], b);
    if (k + 1 < z.size()) now = go_on(now, fractions[k], b);
  }
  return out;
}

SequentialLimits sequential_limits(const Eigen::VectorXd& fractions, double alpha, Spending spending) {
  check_fractions(fractions);
  if (!(alpha > 0 && alpha < 0.5))
    throw InputError(fmt::format("alpha is {}; it must lie between 0 and 0.5.", alpha), "0.05 is usual.");
  const Index count = fractions.size();
  SequentialLimits out{fractions, Eigen::VectorXd(count), Eigen::VectorXd(count), Eigen::VectorXd(count)};
  Going now;
  double before = 0.0;
  for (Index k = 0; k < count; ++k) {
    const double t = fractions[k];
    out.spent[k] = k + 1 == count ? alpha : spent(t, alpha, spending);
    const double wanted = out.spent[k] - before;
    before = out.spent[k];
    // Beyond eight standard deviations nothing is spent that matters; the limit stays there.
    double low = -8.0 * std::sqrt(t), high = 8.2 * std::sqrt(t);
    for (int step = 0; step < 60 && high - low > 1e-10; ++step) {
      const double middle = 0.5 * (low + high);
      (beyond(now, t, middle) > wanted ? low : high) = middle;
    }
    out.z[k] = high / std::sqrt(t);
    out.level[k] = gsl_cdf_ugaussian_Q(out.z[k]);
    if (k + 1 < count) now = go_on(now, t, high);
  }
  return out;
}

}  // namespace sievelight
