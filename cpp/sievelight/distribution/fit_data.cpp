// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/fit_data.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/arithmetic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

// Root mean square of the points with the highest q: the size of level that a flat background could have.
double high_q_level(const Curve& curve) {
  const Eigen::Index count = std::max<Eigen::Index>(5, curve.size() / 5);
  return std::sqrt(curve.intensity.tail(count).squaredNorm() / static_cast<double>(count));
}

Noise make_noise(const FitData& data, const Eigen::VectorXd& u, const Eigen::MatrixXd& coherent) {
  const Eigen::Index n = u.size(), first = data.power_law_integrated ? 1 : 0;
  Eigen::MatrixXd shared(n, first + coherent.cols() + 1);
  if (first > 0) shared.col(0) = data.power_law;
  shared.middleCols(first, coherent.cols()) = coherent;
  shared.rightCols(1).setConstant(data.background_scale);
  return {u, shared};
}

}  // namespace

UsablePoints usable_points(const Curve& curve, const std::optional<Range>& q_range_per_nm) {
  check(curve);
  UsablePoints out;
  const Eigen::VectorXd u = pointwise_u(curve);
  Eigen::Index outside = 0, no_u = 0;
  for (Eigen::Index i = 0; i < curve.size(); ++i) {
    if (q_range_per_nm && !q_range_per_nm->contains(curve.q_per_nm[i]))
      ++outside;
    else if (!(u[i] > 0))
      ++no_u;
    else
      out.index.push_back(i);
  }
  if (out.index.size() < 12)
    throw InputError(fmt::format("{} of the curve's {} points can be fitted ({} outside the q range, {} without an "
                                 "uncertainty); a size distribution needs 12 or more.",
                                 out.index.size(), curve.size(), outside, no_u),
                     no_u > 0 ? "Give each point its standard uncertainty: the bands are made from it."
                              : "Widen the q range or use a curve with more points.");
  if (no_u > 0) out.warnings.push_back(fmt::format("{} points have no uncertainty and were left out.", no_u));
  out.curve = pick(curve, out.index);
  return out;
}

FitData make_fit_data(const Curve& usable, const Kernel& kernel, double contrast_per_cm2, bool power_law,
                      bool integrate_power_law) {
  if (!fits(kernel, usable))
    throw InputError(fmt::format("the kernel was made for {} other q values than the curve's {}.",
                                 kernel.q_per_nm.size(), usable.size()),
                     "Make the kernel from a curve on the same bins and the same q range.");
  FitData out;
  const Eigen::Index n = usable.size(), m = kernel.grid.size();
  out.intensity = usable.intensity;
  out.given_u = pointwise_u(usable);
  out.nodes = m;
  out.background_scale = 3 * high_q_level(usable) + 3 * out.given_u.tail(5).maxCoeff();
  const Eigen::MatrixXd sizes = kernel.volume_nm3 * (contrast_per_cm2 > 0 ? contrast_factor(contrast_per_cm2) : 1.0);
  out.columns.resize(n, m + (power_law ? 1 : 0));
  out.columns.leftCols(m) = sizes;
  if (power_law) {
    const Eigen::Index low = std::min<Eigen::Index>(5, n);
    out.power_law_scale =
        2 * (usable.intensity.head(low).cwiseAbs().array() / kernel.power_law.head(low).array()).maxCoeff();
    out.power_law = out.power_law_scale * kernel.power_law;
    out.columns.col(m) = out.power_law;
  }
  // A first fit without coherent causes gives the curve on which they are rebuilt: a scale error is invisible to it.
  const Noise plain = make_noise(out, out.given_u, Eigen::MatrixXd(n, 0));
  out.compressed = compress(plain, out.intensity, out.columns);
  out.start = preview(out.compressed, m);
  const double level = out.start.x.head(m).mean();
  if (!(level > 0))
    throw NumericalError("no scattering above the background was found; every size has zero volume.",
                         "Check the background subtraction and its scale, and the q range.");
  const Eigen::VectorXd model = out.columns * out.start.x, rest = out.intensity - model;
  const Eigen::VectorXd fitted = model + plain.shared() * plain.amplitudes(rest);
  out.coherent = smooth_coherent(usable, fitted);
  out.reference = level;
  out.columns.leftCols(m) *= level;
  out.start.x.head(m) /= level;
  if (out.coherent.u.cols() == 0 && !(power_law && integrate_power_law)) {
    // That first fit is the fit: only its unit changes.
    out.compressed.m.leftCols(m) *= level;
    out.start.root.topRows(m) /= level;
    out.noise = plain;
    return out;
  }
  if (power_law && integrate_power_law) {
    out.power_law_integrated = true;
    out.columns = out.columns.leftCols(m).eval();
    out.start.x = out.start.x.head(m).eval();
  }
  return widen(std::move(out), 1.0);
}

FitData widen(FitData data, double factor) {
  data.noise = make_noise(data, factor * data.given_u, data.coherent.u);
  data.compressed = compress(data.noise, data.intensity, data.columns);
  // The start of the sampled method is the first fit: one without coherent causes serves as well.
  if (!data.power_law_integrated) data.start = preview(data.compressed, data.nodes);
  return data;
}

}  // namespace sievelight
