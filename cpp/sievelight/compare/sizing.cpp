// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/sizing.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/compare/equivalence.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

namespace sievelight {
namespace {

constexpr int experiments = 4000;  // a step: the probability is known to 0.8 %
constexpr std::uint64_t seed = 20;

SizingStep simulate(const SizingInput& in, int n) {
  std::mt19937_64 random(seed + static_cast<std::uint64_t>(n));
  std::normal_distribution<double> normal;
  std::chi_squared_distribution<double> chi2(n - 1.0);
  const double one = in.between_sd * in.between_sd + in.own_u * in.own_u, shared = in.shared_u * in.shared_u;
  SizingStep out;
  out.samples = n;
  for (int k = 0; k < experiments; ++k) {
    const double d = in.difference + std::sqrt(2 * one / n + shared) * normal(random);
    const auto of_mean = [&] { return std::max(one * chi2(random) / (n - 1.0), in.own_u * in.own_u) / n; };
    const double a = of_mean(), b = of_mean(), total = a + b + shared;
    const double degrees =
        a * a + b * b > 0 ? total * total * (n - 1.0) / (a * a + b * b) : std::numeric_limits<double>::infinity();
    if (!(total > 0)) continue;
    const EquivalenceTest t = equivalence_test(d, std::sqrt(total), degrees, {-in.margin, in.margin}, in.alpha);
    out.equivalent += t.equivalent ? 1.0 / experiments : 0.0;
    out.different += t.different ? 1.0 / experiments : 0.0;
  }
  out.undecided = 1 - out.equivalent - out.different;
  out.mean_samples = n;
  out.looks = {n};
  return out;
}

// Sums of one batch's logarithms as samples come in.
struct Sums {
  double n = 0, sum = 0, squares = 0;
  void add(double y) { n += 1, sum += y, squares += y * y; }
  double variance() const { return n > 1 ? std::max(0.0, (squares - sum * sum / n) / (n - 1)) : 0.0; }
};

// Experiments that grow from look to look and end at the first verdict. The error that the batches do not share is
// there from the first look on.
SizingStep simulate_looks(const SizingInput& in, int n) {
  SizingStep out;
  out.samples = n;
  for (int k = 1; k <= in.looks; ++k) {
    const int at = std::max(2, static_cast<int>(std::lround(static_cast<double>(n) * k / in.looks)));
    if (out.looks.empty() || at > out.looks.back()) out.looks.push_back(at);
  }
  Eigen::VectorXd fractions(static_cast<Eigen::Index>(out.looks.size()));
  for (std::size_t k = 0; k < out.looks.size(); ++k)
    fractions[static_cast<Eigen::Index>(k)] = static_cast<double>(out.looks[k]) / out.looks.back();
  const SequentialLimits limits = sequential_limits(fractions, in.alpha, in.spending);
  std::mt19937_64 random(seed + 1000 + static_cast<std::uint64_t>(n));
  std::normal_distribution<double> normal;
  const double sd = std::hypot(in.between_sd, in.own_u), shared = in.shared_u * in.shared_u;
  for (int e = 0; e < experiments; ++e) {
    const double common = in.shared_u * normal(random);
    Sums a, b;
    for (std::size_t k = 0; k < out.looks.size(); ++k) {
      while (a.n < out.looks[k]) a.add(sd * normal(random)), b.add(in.difference + common + sd * normal(random));
      const double va = std::max(a.variance(), in.own_u * in.own_u) / a.n,
                   vb = std::max(b.variance(), in.own_u * in.own_u) / b.n, total = va + vb + shared;
      const bool last = k + 1 == out.looks.size();
      bool equivalent = false, different = false;
      if (total > 0) {
        const double degrees = va * va + vb * vb > 0 ? total * total * (a.n - 1) / (va * va + vb * vb)
                                                     : std::numeric_limits<double>::infinity();
        const EquivalenceTest t = equivalence_test(b.sum / b.n - a.sum / a.n, std::sqrt(total), degrees,
                                                   {-in.margin, in.margin}, limits.level[static_cast<Eigen::Index>(k)]);
        equivalent = t.equivalent;
        different = t.different;
      }
      if (!equivalent && !different && !last) continue;
      out.equivalent += equivalent ? 1.0 / experiments : 0.0;
      out.different += different ? 1.0 / experiments : 0.0;
      out.mean_samples += static_cast<double>(out.looks[k]) / experiments;
      break;
    }
  }
  out.undecided = 1 - out.equivalent - out.different;
  return out;
}

}  // namespace

Sizing size_experiment(const SizingInput& given) {
  SizingInput in = given;
  for (const double v : {in.between_sd, in.own_u, in.shared_u, in.scatter_degrees})
    if (!(v >= 0) || !std::isfinite(v))
      throw InputError(fmt::format("a standard deviation is {}.", v), "Give numbers that are not negative.");
  if (!(in.margin > 0) || !(in.alpha > 0 && in.alpha < 0.5) || !(in.power > in.alpha && in.power < 1) ||
      in.most_samples < 2 || !std::isfinite(in.difference) || in.looks < 1 || in.looks > 20)
    throw InputError(fmt::format("margin {}, alpha {}, power {}, at most {} samples, {} looks.", in.margin, in.alpha,
                                 in.power, in.most_samples, in.looks),
                     "Margin above zero, alpha below 0.5, power between alpha and 1, two samples or more, 1 to 20 "
                     "looks.");
  if (!(in.between_sd + in.own_u + in.shared_u > 0))
    throw InputError("nothing varies: neither samples nor measurements.", "Give the scatter seen between samples.");
  if (in.scatter_degrees > 0)
    in.between_sd *= std::sqrt(in.scatter_degrees / gsl_cdf_chisq_Pinv(0.2, in.scatter_degrees));
  // With endless samples the shared part alone is left: is that decided?
  Sizing out;
  const auto decides = [&](const SizingStep& s) { return 1 - s.undecided >= in.power; };
  SizingInput endless = in;
  endless.between_sd = endless.own_u = 0;
  if (in.shared_u > 0) out.limited_by_shared = !decides(simulate(endless, 1000));
  for (int n = 2; n <= in.most_samples && !out.limited_by_shared; n += n < 12 ? 1 : n < 24 ? 2 : 4) {
    out.steps.push_back(in.looks > 1 ? simulate_looks(in, n) : simulate(in, n));
    if (!decides(out.steps.back())) continue;
    out.samples = n;
    break;
  }
  return out;
}

}  // namespace sievelight
