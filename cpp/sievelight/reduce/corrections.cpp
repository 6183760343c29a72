// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/corrections.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/reduce/plate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

constexpr const char* pauw_2013 = "B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201";
constexpr const char* pauw_2017 = "B. R. Pauw et al., J. Appl. Cryst. 50 (2017) 1800";
constexpr const char* knoll = "G. F. Knoll, Radiation Detection and Measurement";

void require_shape(const Image& image, const PixelMap& map, const std::string& what) {
  if (image.rows() != map.q_per_nm.rows() || image.cols() != map.q_per_nm.cols())
    throw InputError(fmt::format("{} has {} x {} pixels (rows x columns) but the pixel map has {} x {}.", what,
                                 image.rows(), image.cols(), map.q_per_nm.rows(), map.q_per_nm.cols()),
                     "Use images of the same detector, unbinned and not transposed.");
}

void require(const Absorber& a, const char* what) {
  if (!std::isfinite(a.mu_per_cm) || !std::isfinite(a.length_mm) || a.mu_per_cm < 0 || a.length_mm < 0)
    throw InputError(fmt::format("the {} has mu = {} 1/cm and length {} mm.", what, a.mu_per_cm, a.length_mm),
                     "Give both, zero or more: mu in 1/cm, the length in mm.");
}

// The factor of one step for every pixel, and its value in the forward direction.
struct PixelFactor {
  Image factor;
  double forward = 1.0;
  std::string parameters;
  std::string note;  // not empty = left out
};

PixelFactor flat_field(const PixelMap& map, const BinTable& table, const Corrections& c) {
  if (!c.flat_field) return {{}, 1.0, {}, "no flat field was given"};
  const FlatField& flat = *c.flat_field;
  double sum = 0;
  Eigen::Index used = 0;
  for (Eigen::Index i = 0; i < map.q_per_nm.size(); ++i)
    if (table.index.data()[i] >= 0) {
      sum += flat.response.data()[i];
      ++used;
    }
  return {flat.response / (sum / static_cast<double>(used)), 1.0, fmt::format("'{}', mean 1", flat.name), {}};
}

PixelFactor sensor(const PixelMap& map, const Corrections& c) {
  if (!c.sensor) return {{}, 1.0, {}, "no sensor material and thickness were given"};
  require(*c.sensor, "sensor");
  const auto [mu, length] = *c.sensor;
  return {map.cos_incidence.unaryExpr([mu, length](double cosine) { return sensor_efficiency(mu, length, cosine); }),
          sensor_efficiency(mu, length, 1.0),
          fmt::format("mu = {:.5g} 1/cm, thickness {:.4g} mm", mu, length),
          {}};
}

PixelFactor flight_path(const PixelMap& map, const Corrections& c) {
  if (!c.flight_path) return {{}, 1.0, {}, "no air path was given (vacuum, or not known)"};
  require(*c.flight_path, "flight path");
  const auto [mu, length] = *c.flight_path;
  return {map.cos_two_theta.unaryExpr([mu, length](double cosine) { return oblique_transmission(mu, length, cosine); }),
          oblique_transmission(mu, length, 1.0),
          fmt::format("mu = {:.5g} 1/cm, length {:.5g} mm", mu, length),
          {}};
}

PixelFactor solid_angle(const PixelMap& map, const Corrections& c) {
  if (!c.solid_angle) return {{}, 1.0, {}, "switched off"};
  // Of all pixels the one nearest to the foot of the normal has the largest solid angle: the report's reference.
  const double largest = map.solid_angle_sr.maxCoeff();
  return {map.solid_angle_sr, largest, fmt::format("largest {:.5g} sr", largest), {}};
}

PixelFactor polarised(const PixelMap& map, const Corrections& c) {
  if (!c.polarization_fraction) return {{}, 1.0, {}, "switched off"};
  return {polarisation(map, *c.polarization_fraction),
          1.0,
          fmt::format("horizontal share {:.4g}", *c.polarization_fraction),
          {}};
}

PixelFactor pixel_factor(StepKind kind, const PixelMap& map, const BinTable& table, const Corrections& c) {
  switch (kind) {
    case StepKind::flat_field:
      return flat_field(map, table, c);
    case StepKind::sensor_efficiency:
      return sensor(map, c);
    case StepKind::flight_path:
      return flight_path(map, c);
    case StepKind::solid_angle:
      return solid_angle(map, c);
    default:
      return polarised(map, c);
  }
}

}  // namespace

const std::vector<Step>& reduction_steps() {
  static const std::vector<Step> steps{
      {StepKind::mask, "mask", "pixels that cannot be trusted are left out", "common practice"},
      {StepKind::dead_time, "dead time", "n = m/(1 - m tau), or n = -W0(-m tau)/tau; per pixel and exposure", knoll},
      {StepKind::dark, "dark", "N - D t/t_D", pauw_2013},
      {StepKind::exposure, "exposure and flux", "divide by t Phi, or by the monitor", pauw_2013},
      {StepKind::flat_field, "flat field", "divide by the response eta of the pixel, mean 1", pauw_2013},
      {StepKind::sensor_efficiency, "sensor efficiency", "divide by 1 - exp(-mu t / cos alpha)", pauw_2017},
      {StepKind::flight_path, "flight path", "divide by exp(-mu L / cos 2theta)", pauw_2017},
      {StepKind::solid_angle, "solid angle", "divide by p_x p_y cos(alpha) / r^2", pauw_2013},
      {StepKind::polarisation, "polarisation",
       "divide by f (1 - sin^2 2theta cos^2 chi) + (1 - f)(1 - sin^2 2theta sin^2 chi)", pauw_2013},
      {StepKind::transmission, "transmission", "divide by T", pauw_2013},
      {StepKind::background, "background", "S_s/T_s - o S_b/T_b", pauw_2017},
      {StepKind::self_absorption, "self-absorption", "divide by [1 - exp(-w)]/w, w = -ln T (1/cos 2theta - 1)",
       pauw_2013},
      {StepKind::thickness, "thickness", "divide by d", pauw_2013},
      {StepKind::absolute_scale, "absolute scale", "multiply by k",
       "A. J. Allen, F. Zhang, R. J. Kline, W. F. Guthrie, J. Ilavsky, J. Appl. Cryst. 50 (2017) 462"}};
  return steps;
}

const Step& step(StepKind kind) {
  return *std::find_if(reduction_steps().begin(), reduction_steps().end(),
                       [&](const Step& s) { return s.kind == kind; });
}

StepEffect left_out(StepKind kind, const std::string& why) {
  const Step& s = step(kind);
  return {s.name, s.equation, s.source, false, {}, why, 1.0, 1.0, 1.0};
}

StepEffect applied(StepKind kind, const std::string& parameters, const std::array<double, 3>& factors) {
  const Step& s = step(kind);
  return {s.name, s.equation, s.source, true, parameters, {}, factors[0], factors[1], factors[2]};
}

FlatField flat_field_from_counts(const Frame& frame, const std::string& name, const Image& solid_angle_sr) {
  if (solid_angle_sr.size() != 0 &&
      (solid_angle_sr.rows() != frame.counts.rows() || solid_angle_sr.cols() != frame.counts.cols()))
    throw InputError(
        fmt::format("the flat field '{}' has {} x {} pixels but the solid angles have {} x {}.", name,
                    frame.counts.rows(), frame.counts.cols(), solid_angle_sr.rows(), solid_angle_sr.cols()),
        "Use the pixel map of the same detector.");
  FlatField flat{name, frame.counts, Image::Zero(frame.counts.rows(), frame.counts.cols())};
  for (Eigen::Index i = 0; i < frame.counts.size(); ++i) {
    const double counts = frame.counts.data()[i];
    const bool good = counts > 0 && std::isfinite(counts) && (frame.masked.size() == 0 || !frame.masked.data()[i]);
    flat.response.data()[i] = good ? counts : 0.0;
    if (good && solid_angle_sr.size() != 0) flat.response.data()[i] /= solid_angle_sr.data()[i];
    if (good) flat.relative_u.data()[i] = 1 / std::sqrt(counts);
  }
  return flat;
}

Mask usable_mask(const PixelMap& map, const Mask& masked, const Corrections& c) {
  if (masked.size() != 0 && (masked.rows() != map.q_per_nm.rows() || masked.cols() != map.q_per_nm.cols()))
    throw InputError(fmt::format("the mask has {} x {} pixels (rows x columns) but the pixel map has {} x {}.",
                                 masked.rows(), masked.cols(), map.q_per_nm.rows(), map.q_per_nm.cols()),
                     "Use the mask of this detector, unbinned and not transposed.");
  Mask out = masked.size() != 0 ? masked : Mask::Constant(map.q_per_nm.rows(), map.q_per_nm.cols(), false);
  if (!c.flat_field) return out;
  require_shape(c.flat_field->response, map, fmt::format("the flat field '{}'", c.flat_field->name));
  if (c.flat_field->relative_u.size() != 0)
    require_shape(c.flat_field->relative_u, map,
                  fmt::format("the uncertainty of the flat field '{}'", c.flat_field->name));
  return out || !(c.flat_field->response > 0.0 && c.flat_field->response.isFinite());
}

Normalisation normalisation(const PixelMap& map, const BinTable& table, const Corrections& c,
                            const std::array<Eigen::Index, 3>& report_bins) {
  Normalisation out{Image::Ones(map.q_per_nm.rows(), map.q_per_nm.cols()), {}};
  for (const Step& s : reduction_steps()) {
    if (s.kind < StepKind::flat_field || s.kind > StepKind::polarisation) continue;
    const PixelFactor f = pixel_factor(s.kind, map, table, c);
    if (!f.note.empty()) {
      out.effects.push_back(left_out(s.kind, f.note));
      continue;
    }
    std::array<double, 3> effect{0, 0, 0};
    for (Eigen::Index i = 0; i < map.q_per_nm.size(); ++i) {
      const std::int32_t bin = table.index.data()[i];
      if (bin < 0) continue;
      const double value = f.factor.data()[i];
      if (!(value > 0) || !std::isfinite(value))
        throw InputError(fmt::format("the step '{}' gives {} at row {}, column {}; it must be positive.", s.name, value,
                                     i / map.q_per_nm.cols(), i % map.q_per_nm.cols()),
                         "Check its parameters, or mask the pixel.");
      out.per_pixel.data()[i] *= value;
      for (std::size_t k = 0; k < 3; ++k)
        if (bin == report_bins[k]) effect[k] += f.forward / value / table.pixels[bin];
    }
    out.effects.push_back(applied(s.kind, f.parameters, effect));
  }
  return out;
}

}  // namespace sievelight
