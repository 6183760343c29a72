// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/equivalence.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/compare/student.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

void require_values(const Eigen::VectorXd& values, const char* which) {
  if (values.size() < 2)
    throw InputError(fmt::format("sample {} has {} values; its scatter needs two.", which, values.size()),
                     "Measure more samples, or give the difference with its standard error.");
  for (Eigen::Index i = 0; i < values.size(); ++i)
    if (!std::isfinite(values[i]))
      throw InputError(fmt::format("value {} of sample {} is {}.", i, which, values[i]),
                       "Leave out what has no value.");
}

double variance(const Eigen::VectorXd& values) {
  return (values.array() - values.mean()).square().sum() / static_cast<double>(values.size() - 1);
}

}  // namespace

EquivalenceTest equivalence_test(double difference, double standard_error, double degrees_of_freedom, Range limits,
                                 double alpha) {
  if (!(limits.low < limits.high))
    throw InputError(fmt::format("the limits are {} and {}.", limits.low, limits.high), "Give the lower one first.");
  if (!(alpha > 0.0) || !(alpha < 0.5))
    throw InputError(fmt::format("alpha is {}; it must lie between 0 and 0.5.", alpha), "0.05 is usual.");
  if (!(standard_error > 0.0) || !std::isfinite(standard_error) || !std::isfinite(difference) ||
      !(degrees_of_freedom > 0.0))
    throw InputError(fmt::format("the difference is {}, its standard error {}, with {} degrees of freedom.", difference,
                                 standard_error, degrees_of_freedom),
                     "Values that do not scatter at all and have no uncertainty say nothing; give their uncertainty.");
  EquivalenceTest out;
  out.difference = difference;
  out.standard_error = standard_error;
  out.degrees_of_freedom = degrees_of_freedom;
  out.limits = limits;
  out.alpha = alpha;
  out.t_low = (difference - limits.low) / standard_error;
  out.t_high = (difference - limits.high) / standard_error;
  out.p_low = student_upper(out.t_low, degrees_of_freedom);
  out.p_high = student_upper(-out.t_high, degrees_of_freedom);
  out.p_equivalent = std::max(out.p_low, out.p_high);
  out.p_different =
      std::min(student_upper(-out.t_low, degrees_of_freedom), student_upper(out.t_high, degrees_of_freedom));
  out.t_zero = difference / standard_error;
  out.p_zero = 2.0 * student_upper(std::abs(out.t_zero), degrees_of_freedom);
  const auto interval = [&](double outside) {
    const double half = student_quantile(1.0 - 0.5 * outside, degrees_of_freedom) * standard_error;
    return Range{difference - half, difference + half};
  };
  out.verdict_interval = interval(2.0 * alpha);
  out.interval95 = interval(0.05);
  out.equivalent = out.verdict_interval.low > limits.low && out.verdict_interval.high < limits.high;
  out.different = out.verdict_interval.low > limits.high || out.verdict_interval.high < limits.low;
  out.significant = !interval(alpha).contains(0.0);
  return out;
}

EquivalenceTest equivalence_test(const Eigen::VectorXd& a, const Eigen::VectorXd& b, Range limits, TwoSamples kind,
                                 double alpha) {
  require_values(a, "a");
  require_values(b, "b");
  const auto n = static_cast<double>(a.size()), m = static_cast<double>(b.size());
  if (kind == TwoSamples::paired) {
    if (a.size() != b.size())
      throw InputError(fmt::format("{} values cannot be paired with {}.", a.size(), b.size()),
                       "Give one value of each sample for every pair.");
    return equivalence_test((b - a).mean(), std::sqrt(variance(b - a) / n), n - 1.0, limits, alpha);
  }
  const double difference = b.mean() - a.mean(), va = variance(a) / n, vb = variance(b) / m;
  if (kind == TwoSamples::pooled) {
    const double pooled = (variance(a) * (n - 1.0) + variance(b) * (m - 1.0)) / (n + m - 2.0);
    return equivalence_test(difference, std::sqrt(pooled * (1.0 / n + 1.0 / m)), n + m - 2.0, limits, alpha);
  }
  const double degrees = (va + vb) * (va + vb) / (va * va / (n - 1.0) + vb * vb / (m - 1.0));
  return equivalence_test(difference, std::sqrt(va + vb), degrees, limits, alpha);
}

}  // namespace sievelight
