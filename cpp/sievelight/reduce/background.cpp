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
using Eigen::MatrixXd;
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

// A factor of the angle and how it follows the two transmissions.
struct AngleFactor {
  VectorXd value, by_log_t, by_log_walls;  // (n) the factor; d factor / d ln T of the sample, of the walls
};

Curve apply_angle(const Curve& curve, const AngleFactor& f, const Factor& t, const Factor& walls) {
  Curve out = curve;
  out.intensity.array() *= f.value.array();
  out.private_u.array() *= f.value.array().abs();
  for (auto& [id, cause] : out.causes) cause.u.array() *= f.value.array();
  const auto follow = [&](const Factor& ratio, const VectorXd& slope) {
    for (const auto& [id, u] : ratio.causes) {
      auto [mine, fresh] = out.causes.try_emplace(id, Cause{CauseKind::coherent, VectorXd::Zero(curve.size())});
      mine->second.u.array() += curve.intensity.array() * slope.array() * (u / ratio.value);
    }
  };
  follow(t, f.by_log_t);
  follow(walls, f.by_log_walls);
  return out;
}

// Both factors and their slopes; the slopes by differences, since a capillary has no formula.
struct Angles {
  AngleFactor sample, walls;  // sample: 1/C
  double path_ratio = 1.0, path_by_log_t = 0.0;
};

Angles angles_of(const SampleShape& shape, double t, double tw, const VectorXd& cosine, const MatrixXd& shares) {
  constexpr double h = 1e-4;
  const auto at = [&](double a, double b) {
    return angle_factors(shape, t * std::exp(a), tw * std::exp(b), cosine, shares);
  };
  const AngleFactors mid = at(0, 0), below = at(-2 * h, 0), near = at(-h, 0), wall = at(0, -h);
  // One-sided, second order: T + h may lie beyond 1.
  const auto slope = [&](const VectorXd& f0, const VectorXd& f1, const VectorXd& f2) -> VectorXd {
    return (3 * f0 - 4 * f1 + f2) / (2 * h);
  };
  const auto inverse_of = [](const VectorXd& v) -> VectorXd { return v.cwiseInverse(); };
  Angles out;
  out.sample = {inverse_of(mid.sample),
                slope(inverse_of(mid.sample), inverse_of(near.sample), inverse_of(below.sample)),
                (inverse_of(mid.sample) - inverse_of(wall.sample)) / h};
  out.walls = {mid.walls, slope(mid.walls, near.walls, below.walls), VectorXd::Zero(cosine.size())};
  out.path_ratio = mid.path_ratio;
  out.path_by_log_t = (3 * mid.path_ratio - 4 * near.path_ratio + below.path_ratio) / (2 * h);
  return out;
}

// How a number that depends on ln T carries the causes of T.
Factor follow_log(double value, double by_log_t, const Factor& t) {
  Factor out{value, {}};
  for (const auto& [id, u] : t.causes) out.causes[id] = by_log_t * u / t.value;
  return out;
}

std::array<double, 3> ends(const VectorXd& v) { return {v[0], v[v.size() / 2], v[v.size() - 1]}; }
std::array<double, 3> ends(double k) { return {k, k, k}; }
std::array<double, 3> relative(const Factor& f) {
  double variance = 0;
  for (const auto& [id, u] : f.causes) variance += u * u;
  return ends(std::sqrt(variance) / std::abs(f.value));
}

// What a subtraction adds: its point errors and causes, relative to what is left.
std::array<double, 3> added(const Curve& taken, const Curve& net) {
  const VectorXd u = total_u(taken), left = net.intensity.cwiseAbs();
  return ends((left.array() > 0).select(u.array() / left.array(), 0.0).matrix());
}

VectorXd left_of(const Curve& net, const Curve& before) {
  return (before.intensity.array() == 0).select(1.0, net.intensity.array() / before.intensity.array()).matrix();
}

void require_density(const Factor& f, const char* what, const std::string& name) {
  if (!(f.value > 0) || !std::isfinite(f.value))
    throw InputError(fmt::format("the {} of '{}' is {}.", what, name, f.value), "Give it above zero.");
}

// One reduction from averaged counts, step by step in the declared order; each step appends what it did.
class Chain {
 public:
  Chain(const Measured& sample, const std::optional<Measured>& background, const AbsoluteOptions& o)
      : sample_(sample), background_(background), o_(o) {}

  Absolute run() {
    check(sample_.curve);
    if (sample_.curve.size() == 0)
      throw InputError(fmt::format("the curve of '{}' is empty.", sample_.name), "Check mask and q range.");
    mine_ = sample_.curve;
    shares_ = sample_.azimuth_share;
    if (background_) {
      check(background_->curve);
      std::tie(mine_, theirs_) = on_common_bins(sample_.curve, background_->curve, &out_.notes);
      if (shares_.size() != 0 && mine_.size() != sample_.curve.size()) shares_ = common_shares();
    }
    divide_by_transmission();
    prepare_angles();
    subtract_background();
    self_absorption();
    per_volume_or_gram();
    absolute_scale();
    out_.steps.push_back(left_out(StepKind::dispersant, "no dispersant was given"));
    out_.curve = std::move(mine_);
    return std::move(out_);
  }

 private:
  bool off(StepKind kind) const { return switched_off(o_.off, kind); }

  MatrixXd common_shares() const {
    std::vector<Index> rows;
    for (Index i = 0, k = 0; i < sample_.curve.size() && k < mine_.size(); ++i)
      if (sample_.curve.q_per_nm[i] == mine_.q_per_nm[k]) {
        rows.push_back(i);
        ++k;
      }
    return shares_(rows, Eigen::all);
  }

  void divide_by_transmission() {
    t_ = transmission_of(sample_, out_.notes);
    known_ = sample_.transmission.has_value();
    if (off(StepKind::transmission)) {
      out_.steps.push_back(left_out(StepKind::transmission, switched_off_words));
      return;
    }
    mine_ = scale(mine_, inverse(t_));
    out_.steps.push_back(
        known_ ? applied(StepKind::transmission, fmt::format("T = {:.6g}", t_.value), ends(1 / t_.value), relative(t_))
               : left_out(StepKind::transmission, "no transmission was given"));
  }

  // Transmission of the sample without its cell decides how obliquely it absorbs and how much of a powder there is.
  void prepare_angles() {
    own_ = t_;
    if (background_) {
      tb_ = transmission_of(*background_, out_.notes);
      if (background_->transmission && known_) own_ = divide(t_, tb_);
    }
    if (!o_.shape || off(StepKind::self_absorption)) return;
    if (!known_)
      throw InputError(fmt::format("self-absorption of '{}' was asked for without its transmission.", sample_.name),
                       "Give the transmission, or switch the step self-absorption off.");
    const VectorXd cosine = mine_.q_per_nm.unaryExpr([&](double q) { return cos_two_theta(q, o_.wavelength_nm); });
    angles_ = angles_of(*o_.shape, own_.value, tb_.value, cosine, shares_);
  }

  void subtract_background() {
    if (!background_ || off(StepKind::background)) {
      out_.steps.push_back(
          left_out(StepKind::background, background_ ? switched_off_words : "no background was given"));
      return;
    }
    theirs_ = scale(shared(theirs_, background_->name), o_.background_scale);
    if (!off(StepKind::transmission)) theirs_ = scale(theirs_, inverse(tb_));
    if (angles_) theirs_ = apply_angle(theirs_, angles_->walls, own_, tb_);
    Curve net = subtract(mine_, theirs_);
    out_.steps.push_back(
        applied(StepKind::background,
                fmt::format("'{}', T = {:.6g}, scale {:.6g}", background_->name, tb_.value, o_.background_scale.value),
                ends(left_of(net, mine_)), added(theirs_, net)));
    mine_ = std::move(net);
  }

  void self_absorption() {
    if (!angles_) {
      out_.steps.push_back(
          left_out(StepKind::self_absorption, o_.shape ? switched_off_words : "the shape of the sample was not given"));
      return;
    }
    mine_ = apply_angle(mine_, angles_->sample, own_, tb_);
    VectorXd u = VectorXd::Zero(mine_.size());
    for (const auto& [id, ut] : own_.causes)
      u = (u.array().square() + (angles_->sample.by_log_t.array() * ut / own_.value).square()).sqrt();
    out_.steps.push_back(applied(StepKind::self_absorption,
                                 fmt::format("{}, T of the sample alone {:.6g}", describe(*o_.shape), own_.value),
                                 ends(angles_->sample.value), ends(u.cwiseQuotient(angles_->sample.value))));
  }

  void per_volume_or_gram() {
    if (off(StepKind::thickness)) {
      out_.steps.push_back(left_out(StepKind::thickness, switched_off_words));
    } else if (o_.thickness_mm) {
      divide_by_path();
    } else if (o_.powder && (o_.powder->per_area_g_per_cm2 || o_.powder->attenuation_cm2_per_g)) {
      divide_by_mass();
    } else {
      out_.steps.push_back(left_out(StepKind::thickness, "neither thickness nor mass per area was given"));
    }
  }

  void divide_by_path() {
    if (!(*o_.thickness_mm > 0) || !std::isfinite(*o_.thickness_mm) || !(o_.thickness_u_mm >= 0))
      throw InputError(fmt::format("the thickness of '{}' is {} mm with u = {} mm.", sample_.name, *o_.thickness_mm,
                                   o_.thickness_u_mm),
                       "Give it above zero, with a standard uncertainty of zero or more.");
    Factor d{*o_.thickness_mm / 10, {}};  // cm
    if (o_.thickness_u_mm > 0) d.causes["thickness: " + sample_.name] = o_.thickness_u_mm / 10;
    std::string said = fmt::format("d = {:.6g} mm", *o_.thickness_mm);
    if (angles_ && angles_->path_ratio != 1.0) {
      d = multiply(d, follow_log(angles_->path_ratio, angles_->path_by_log_t, own_));
      said = fmt::format("path {:.6g} mm of {:.6g} mm", 10 * d.value, *o_.thickness_mm);
    }
    out_.path_mm = 10 * d.value;
    mine_ = scale(mine_, inverse(d));
    unit_ = IntensityUnit::per_cm;
    out_.steps.push_back(applied(StepKind::thickness, said, ends(1 / d.value), relative(d)));
  }

  void divide_by_mass() {
    const PowderMass& powder = *o_.powder;
    Factor mass;
    std::string said;
    if (powder.per_area_g_per_cm2) {
      mass = *powder.per_area_g_per_cm2;
      require_density(mass, "mass per area", sample_.name);
      said = fmt::format("m_A = {:.5g} g/cm2, weighed", mass.value);
    } else {
      const Factor& mu = *powder.attenuation_cm2_per_g;
      require_density(mu, "mass attenuation", sample_.name);
      if (!known_ || !(own_.value < 1))
        throw InputError(fmt::format("the mass per area of '{}' needs the transmission of the sample alone; it is {}.",
                                     sample_.name, known_ ? fmt::format("{:.6g}", own_.value) : "not known"),
                         "Give transmissions of sample and empty cell, or the mass and the area.");
      mass = divide(follow_log(-std::log(own_.value), -1.0, own_), mu);
      said = fmt::format("m_A = -ln({:.5g}) / {:.5g} cm2/g = {:.5g} g/cm2", own_.value, mu.value, mass.value);
    }
    mine_ = scale(mine_, inverse(mass));
    Factor whole = mass;
    unit_ = IntensityUnit::cm2_per_g;
    if (powder.density_g_per_cm3) {
      require_density(*powder.density_g_per_cm3, "density", sample_.name);
      mine_ = scale(mine_, *powder.density_g_per_cm3);
      whole = divide(mass, *powder.density_g_per_cm3);
      out_.path_mm = 10 * whole.value;
      said += fmt::format(", density {:.5g} g/cm3", powder.density_g_per_cm3->value);
      unit_ = IntensityUnit::per_cm;
    }
    out_.steps.push_back(applied(StepKind::thickness, said, ends(1 / whole.value), relative(whole)));
  }

  void absolute_scale() {
    const bool scaled = o_.absolute_scale && !off(StepKind::absolute_scale);
    if (scaled) {
      require_density(*o_.absolute_scale, "absolute scale", sample_.name);
      mine_ = scale(mine_, *o_.absolute_scale);
      out_.steps.push_back(applied(StepKind::absolute_scale, fmt::format("k = {:.6g}", o_.absolute_scale->value),
                                   ends(o_.absolute_scale->value), relative(*o_.absolute_scale)));
    } else {
      out_.steps.push_back(
          left_out(StepKind::absolute_scale, o_.absolute_scale ? switched_off_words : "no absolute scale was given"));
    }
    mine_.unit = scaled ? unit_ : IntensityUnit::relative;
    if (mine_.unit == IntensityUnit::relative)
      out_.notes.push_back("thickness or absolute scale is missing: the intensity is relative");
  }

  const Measured& sample_;
  const std::optional<Measured>& background_;
  const AbsoluteOptions& o_;
  Absolute out_;
  Curve mine_, theirs_;
  MatrixXd shares_;
  Factor t_, tb_, own_;
  bool known_ = false;
  std::optional<Angles> angles_;
  IntensityUnit unit_ = IntensityUnit::relative;
};

}  // namespace

Absolute absolute_curve(const Measured& sample, const std::optional<Measured>& background, const AbsoluteOptions& o) {
  return Chain(sample, background, o).run();
}

Absolute dispersant(const Absolute& sample, const Curve& other, const Factor& share, const std::string& name) {
  if (sample.curve.unit != other.unit)
    throw InputError(fmt::format("the sample is in {} and its dispersant '{}' in {}.",
                                 sievelight::name(sample.curve.unit), name, sievelight::name(other.unit)),
                     "Reduce both to the same unit: give both their thickness and one absolute scale.");
  if (!(share.value >= 0 && share.value <= 1))
    throw InputError(fmt::format("the share of the dispersant '{}' is {}.", name, share.value),
                     "Give 1 - phi, between 0 and 1.");
  Absolute out = sample;
  const auto [mine, theirs] = on_common_bins(sample.curve, other, &out.notes);
  const Curve taken = scale(shared(theirs, name), share);
  out.curve = subtract(mine, taken);
  const StepEffect effect = applied(StepKind::dispersant, fmt::format("'{}', share {:.6g}", name, share.value),
                                    ends(left_of(out.curve, mine)), added(taken, out.curve));
  for (StepEffect& e : out.steps)
    if (e.name == effect.name) e = effect;
  return out;
}

}  // namespace sievelight
