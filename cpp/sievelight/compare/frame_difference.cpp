// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/frame_difference.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/curve/shared_points.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

namespace sievelight {
namespace {

using Eigen::Index;

// The relative scale r of a cause that is nothing but a scale, u = r I; nothing otherwise.
std::optional<double> scale_of(const Curve& curve, const std::string& id) {
  const auto found = curve.causes.find(id);
  if (found == curve.causes.end() || found->second.kind != CauseKind::coherent) return std::nullopt;
  const Eigen::VectorXd& u = found->second.u;
  const double r = u.dot(curve.intensity) / curve.intensity.squaredNorm();
  if ((u - r * curve.intensity).norm() > 1e-6 * u.norm()) return std::nullopt;
  return r;
}

Eigen::MatrixXd directions(const Curve& difference, const Curve& frame, const Curve& reference) {
  std::vector<Eigen::VectorXd> kept;
  for (const auto& [id, cause] : difference.causes) {
    if (cause.kind != CauseKind::coherent || cause.u.squaredNorm() == 0) continue;
    const auto mine = scale_of(frame, id), theirs = scale_of(reference, id);
    if (mine && theirs && std::abs(*mine - *theirs) <= 1e-3 * std::abs(*theirs)) continue;
    const bool scale_alone =
        (mine && !reference.causes.count(id)) || (theirs && !frame.causes.count(id)) || (mine && theirs);
    kept.push_back(scale_alone ? Eigen::VectorXd((mine.value_or(0) - theirs.value_or(0)) * reference.intensity)
                               : cause.u);
  }
  Eigen::MatrixXd out(difference.size(), static_cast<Index>(kept.size()));
  for (std::size_t k = 0; k < kept.size(); ++k) out.col(static_cast<Index>(k)) = kept[k];
  return out;
}

}  // namespace

std::vector<Curve> on_common_bins(const std::vector<Curve>& curves) {
  std::vector<std::size_t> held(static_cast<std::size_t>(curves.at(0).size()), 0);
  std::vector<SharedPoints> with_first;
  for (const Curve& c : curves) {
    with_first.push_back(shared_points("series", curves[0], c));
    const Eigen::VectorXd u = pointwise_u(c);
    for (std::size_t j = 0; j < with_first.back().in_a.size(); ++j)
      if (u[with_first.back().in_b[j]] > 0) ++held[static_cast<std::size_t>(with_first.back().in_a[j])];
  }
  std::vector<Curve> out;
  for (std::size_t k = 0; k < curves.size(); ++k) {
    std::vector<Index> points;
    for (std::size_t j = 0; j < with_first[k].in_a.size(); ++j)
      if (held[static_cast<std::size_t>(with_first[k].in_a[j])] == curves.size())
        points.push_back(with_first[k].in_b[j]);
    if (points.size() < 10)
      throw InputError(
          fmt::format("the frames of the series have {} bins with an uncertainty in common.", points.size()),
          "Reduce all frames with the same bins and much the same mask; ten are needed.");
    out.push_back(pick(curves[k], points));
  }
  return out;
}

Curve start_of_series(const std::vector<Curve>& curves, int count) {
  if (count < 1 || count > static_cast<int>(curves.size()))
    throw InputError(fmt::format("a start of {} frames in a series of {}.", count, curves.size()),
                     "Take one frame or more as the start, and no more than there are.");
  Curve sum = curves[0];
  for (int k = 1; k < count; ++k) sum = add(sum, curves[static_cast<std::size_t>(k)]);
  return count == 1 ? sum : scale(sum, {1.0 / count, {}});
}

BandMeans::BandMeans(const std::vector<Curve>& curves, int bands) {
  const Index n = curves.at(0).size();
  const Index count = bands > 0 ? std::min<Index>(bands, n) : n;
  for (Index b = 0; b <= count; ++b) first_.push_back(b * n / count);
  Eigen::VectorXd variance = Eigen::VectorXd::Zero(n);
  for (const Curve& c : curves) variance += pointwise_u(c).cwiseAbs2();
  weight_ = variance.cwiseInverse();
  for (Index b = 0; b < count; ++b) {
    auto band = weight_.segment(first_[static_cast<std::size_t>(b)],
                                first_[static_cast<std::size_t>(b) + 1] - first_[static_cast<std::size_t>(b)]);
    band /= band.sum();
  }
}

Eigen::MatrixXd BandMeans::of(const Eigen::MatrixXd& values) const {
  Eigen::MatrixXd out(size(), values.cols());
  for (Index b = 0; b < size(); ++b) {
    const Index from = first_[static_cast<std::size_t>(b)], count = first_[static_cast<std::size_t>(b) + 1] - from;
    out.row(b) = weight_.segment(from, count).transpose() * values.middleRows(from, count);
  }
  return out;
}

Eigen::VectorXd BandMeans::u_of(const Eigen::VectorXd& u) const {
  Eigen::VectorXd out(size());
  for (Index b = 0; b < size(); ++b) {
    const Index from = first_[static_cast<std::size_t>(b)], count = first_[static_cast<std::size_t>(b) + 1] - from;
    out[b] = weight_.segment(from, count).cwiseProduct(u.segment(from, count)).norm();
  }
  return out;
}

Eigen::MatrixXd BandMeans::back(const Eigen::MatrixXd& influences) const {
  Eigen::MatrixXd out(weight_.size(), influences.cols());
  for (Index b = 0; b < size(); ++b) {
    const Index from = first_[static_cast<std::size_t>(b)], count = first_[static_cast<std::size_t>(b) + 1] - from;
    out.middleRows(from, count) = weight_.segment(from, count) * influences.row(b);
  }
  return out;
}

FrameDifference frame_difference(const Curve& frame, const Curve& reference, const BandMeans& bands) {
  const Curve d = subtract(frame, reference);
  return {bands.of(d.intensity), bands.of(reference.intensity),
          Noise(bands.u_of(pointwise_u(d)), bands.of(directions(d, frame, reference)))};
}

}  // namespace sievelight
