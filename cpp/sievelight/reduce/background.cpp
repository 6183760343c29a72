// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/background.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/reduce/common_bins.hpp"
#include "sievelight/reduce/transmission.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

Curve shared(const Curve& curve, const std::string& name) {
  const std::string id = "counts: " + name;
  return curve.causes.contains(id) ? curve : share(curve, id);
}

Factor transmission_of(const Measured& m, std::vector<std::string>& notes) {
  if (!m.transmission) {
    notes.push_back(fmt::format("'{}' has no transmission; 1 is used", m.name));
    return {};
  }
  double variance = 0;
  for (const auto& [id, u] : m.transmission->causes) variance += u * u;
  check_transmission({m.name, *m.transmission, std::sqrt(variance), {}, {}});
  return *m.transmission;
}

Factor inverse(const Factor& f) { return divide(Factor{}, f); }

// Multiplies by a function of the angle that also depends on ln of a transmission ratio.
Curve apply_angle(const Curve& curve, const VectorXd& factor, const VectorXd& slope_per_log, const Factor& ratio) {
  Curve out = curve;
  out.intensity.array() *= factor.array();
  out.private_u.array() *= factor.array().abs();
  for (auto& [id, cause] : out.causes) cause.u.array() *= factor.array();
  for (const auto& [id, u] : ratio.causes) {
    auto [mine, fresh] = out.causes.try_emplace(id, Cause{CauseKind::coherent, VectorXd::Zero(curve.size())});
    mine->second.u.array() += curve.intensity.array() * slope_per_log.array() * (u / ratio.value);
  }
  return out;
}

std::array<double, 3> ends(const VectorXd& v) { return {v[0], v[v.size() / 2], v[v.size() - 1]}; }
std::array<double, 3> ends(double k) { return {k, k, k}; }

}  // namespace

Absolute absolute_curve(const Measured& sample, const std::optional<Measured>& background, const AbsoluteOptions& o) {
  Absolute out;
  check(sample.curve);
  if (sample.curve.size() == 0)
    throw InputError(fmt::format("the curve of '{}' is empty.", sample.name), "Check mask and q range.");
  const Factor t = transmission_of(sample, out.notes);
  Curve mine = sample.curve, theirs;
  if (background) {
    check(background->curve);
    std::tie(mine, theirs) = on_common_bins(sample.curve, background->curve, &out.notes);
  }
  mine = scale(mine, inverse(t));
  out.steps.push_back(sample.transmission
                          ? applied(StepKind::transmission, fmt::format("T = {:.6g}", t.value), ends(1 / t.value))
                          : left_out(StepKind::transmission, "no transmission was given"));

  // Transmission of the sample without its cell, which alone decides how obliquely it absorbs.
  Factor own = t;
  VectorXd cosine;
  const bool angles = o.self_absorption || (o.walls != WallPosition::ignore && background);
  if (angles) {
    if (!sample.transmission)
      throw InputError(fmt::format("self-absorption of '{}' was asked for without its transmission.", sample.name),
                       "Give the transmission, or switch the angle-dependent corrections off.");
    cosine = mine.q_per_nm.unaryExpr([&](double q) { return cos_two_theta(q, o.wavelength_nm); });
  }

  if (background) {
    const Factor tb = transmission_of(*background, out.notes);
    if (background->transmission) own = divide(t, tb);
    theirs = scale(shared(theirs, background->name), divide(o.background_scale, tb));
    if (angles && o.walls != WallPosition::ignore) {
      VectorXd factor(mine.size()), slope(mine.size());
      for (Index i = 0; i < mine.size(); ++i) {
        factor[i] = oblique_wall(own.value, cosine[i], o.walls);
        slope[i] = oblique_wall_slope(own.value, cosine[i], o.walls);
      }
      theirs = apply_angle(theirs, factor, slope, own);
    }
    Curve net = subtract(mine, theirs);
    out.steps.push_back(applied(
        StepKind::background,
        fmt::format("'{}', T = {:.6g}, scale {:.6g}", background->name, tb.value, o.background_scale.value),
        ends((mine.intensity.array() == 0).select(1.0, net.intensity.array() / mine.intensity.array()).matrix())));
    mine = std::move(net);
  } else {
    out.steps.push_back(left_out(StepKind::background, "no background was given"));
  }

  if (o.self_absorption) {
    VectorXd factor(mine.size()), slope(mine.size());
    for (Index i = 0; i < mine.size(); ++i) {
      factor[i] = 1 / plate_self_absorption(own.value, cosine[i]);
      slope[i] = -factor[i] * plate_self_absorption_slope(own.value, cosine[i]);
    }
    mine = apply_angle(mine, factor, slope, own);
    out.steps.push_back(
        applied(StepKind::self_absorption, fmt::format("T of the sample alone {:.6g}", own.value), ends(factor)));
  } else {
    out.steps.push_back(left_out(StepKind::self_absorption, "switched off"));
  }

  if (o.thickness_mm) {
    if (!(*o.thickness_mm > 0) || !std::isfinite(*o.thickness_mm) || !(o.thickness_u_mm >= 0))
      throw InputError(
          fmt::format("the thickness of '{}' is {} mm with u = {} mm.", sample.name, *o.thickness_mm, o.thickness_u_mm),
          "Give it above zero, with a standard uncertainty of zero or more.");
    Factor d{*o.thickness_mm / 10, {}};  // cm
    if (o.thickness_u_mm > 0) d.causes["thickness: " + sample.name] = o.thickness_u_mm / 10;
    mine = scale(mine, inverse(d));
    out.steps.push_back(
        applied(StepKind::thickness, fmt::format("d = {:.6g} mm", *o.thickness_mm), ends(10 / *o.thickness_mm)));
  } else {
    out.steps.push_back(left_out(StepKind::thickness, "no thickness was given"));
  }

  if (o.absolute_scale) {
    if (!(o.absolute_scale->value > 0) || !std::isfinite(o.absolute_scale->value))
      throw InputError(fmt::format("the absolute scale is {}.", o.absolute_scale->value), "It must be above zero.");
    mine = scale(mine, *o.absolute_scale);
    out.steps.push_back(applied(StepKind::absolute_scale, fmt::format("k = {:.6g}", o.absolute_scale->value),
                                ends(o.absolute_scale->value)));
  } else {
    out.steps.push_back(left_out(StepKind::absolute_scale, "no absolute scale was given"));
  }
  mine.unit = o.thickness_mm && o.absolute_scale ? IntensityUnit::per_cm : IntensityUnit::relative;
  if (mine.unit == IntensityUnit::relative)
    out.notes.push_back("thickness or absolute scale is missing: the intensity is relative");
  out.curve = std::move(mine);
  return out;
}

Curve subtract_scaled(const Curve& curve, const Curve& other, const Factor& factor, const std::string& name) {
  const auto [a, b] = on_common_bins(curve, other);
  return subtract(a, scale(shared(b, name), factor));
}

}  // namespace sievelight
