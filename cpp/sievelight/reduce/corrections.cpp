// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/corrections.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/large_pages.hpp"
#include "sievelight/base/parallel.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/reduce/block_sums.hpp"
#include "sievelight/reduce/plate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <vector>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr const char* pauw_2013 = "B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201";
constexpr const char* pauw_2017 = "B. R. Pauw et al., J. Appl. Cryst. 50 (2017) 1800";
constexpr const char* knoll = "G. F. Knoll, Radiation Detection and Measurement";
constexpr const char* sensor_id = "sensor efficiency";

void require_shape(const Image& image, const PixelMap& map, const std::string& what) {
  if (image.rows() != map.q_per_nm.rows() || image.cols() != map.q_per_nm.cols())
    throw InputError(fmt::format("{} has {} x {} pixels (rows x columns) but the pixel map has {} x {}.", what,
                                 image.rows(), image.cols(), map.q_per_nm.rows(), map.q_per_nm.cols()),
                     "Use images of the same detector, unbinned and not transposed.");
}

void require(const Absorber& a, const char* what) {
  if (!std::isfinite(a.mu_per_cm) || !std::isfinite(a.length_mm) || a.mu_per_cm < 0 || a.length_mm < 0 ||
      !(a.relative_u >= 0))
    throw InputError(fmt::format("the {} has mu = {} 1/cm, length {} mm and relative u = {}.", what, a.mu_per_cm,
                                 a.length_mm, a.relative_u),
                     "Give all zero or more: mu in 1/cm, the length in mm.");
}

// Numbers of the pixels first ... first + n - 1, written to the last argument.
using Strip = std::function<void(Index, Index, double*)>;

// What one parameter's standard uncertainty does to ln of a pixel's normalisation.
struct PixelCause {
  std::string id;
  Strip relative;
};

// The factor of one step for every pixel, and its value in the forward direction.
struct PixelFactor {
  Strip factor;
  double forward = 1.0;
  std::string parameters;
  std::string note;  // not empty = left out
  std::vector<PixelCause> causes = {};
};
PixelFactor not_done(const std::string& why) { return {{}, 1.0, {}, why}; }

// f(number of the pixel) for every pixel of an image.
template <typename Function>
Strip of_image(const Image& image, const Function& f) {
  return [&image, f](Index first, Index n, double* out) {
    const double* from = image.data() + first;
    for (Index i = 0; i < n; ++i) out[i] = f(from[i]);
  };
}

PixelFactor flat_field(const PixelMap&, const BinTable& table, const Corrections& c) {
  if (!c.flat_field) return not_done("no flat field was given");
  const FlatField& flat = *c.flat_field;
  const Eigen::MatrixXd sums =
      sum_blocks(table.index.rows(), table.index.cols(), 2, 1, [&](Index first, Index n, Eigen::MatrixXd& part) {
        for (Index i = first; i < first + n; ++i)
          if (table.index.data()[i] >= 0) {
            part(0, 0) += flat.response.data()[i];
            part(1, 0) += 1;
          }
      });
  const double mean = sums(0, 0) / sums(1, 0);
  return {of_image(flat.response, [mean](double response) { return response / mean; }),
          1.0,
          fmt::format("'{}', mean 1", flat.name),
          {}};
}

// d ln[1 - exp(-x)] / d ln x
double efficiency_slope(double x) { return x == 0.0 ? 1.0 : x / std::expm1(x); }

PixelFactor sensor(const PixelMap& map, const BinTable&, const Corrections& c) {
  if (!c.sensor) return not_done("no sensor material and thickness were given");
  require(*c.sensor, "sensor");
  const double mu = c.sensor->mu_per_cm, length = c.sensor->length_mm, u = c.sensor->relative_u;
  PixelFactor out;
  out.factor =
      of_image(map.cos_incidence, [mu, length](double cosine) { return sensor_efficiency(mu, length, cosine); });
  out.forward = sensor_efficiency(mu, length, 1.0);
  out.parameters = fmt::format("mu = {:.5g} 1/cm, thickness {:.4g} mm", mu, length);
  if (u > 0)
    out.causes.push_back({sensor_id, of_image(map.cos_incidence, [mu, length, u](double cosine) {
                            return u * efficiency_slope(mu * length / 10 / cosine);
                          })});
  return out;
}

std::string path_id(const Absorber& a) { return "flight path: " + (a.name.empty() ? "air" : a.name); }

PixelFactor flight_path(const PixelMap& map, const BinTable&, const Corrections& c) {
  if (c.flight_path.empty()) return not_done("no air or window was given (vacuum, or not known)");
  const double lambda = map.wavelength_nm;
  double depth = 0.0;  // mu times length of all, straight on
  PixelFactor out;
  for (const Absorber& a : c.flight_path) {
    require(a, "flight path");
    depth += a.mu_per_cm * a.length_mm / 10;
    out.parameters += fmt::format("{}{}mu = {:.5g} 1/cm, length {:.5g} mm", out.parameters.empty() ? "" : "; ",
                                  a.name.empty() ? "" : a.name + " ", a.mu_per_cm, a.length_mm);
    const double slope = -(a.relative_u * a.mu_per_cm * a.length_mm / 10);
    if (a.relative_u > 0)
      out.causes.push_back(
          {path_id(a), of_image(map.q_per_nm, [slope, lambda](double q) { return slope / cos_of_q(q, lambda); })});
  }
  out.factor = of_image(map.q_per_nm, [depth, lambda](double q) { return std::exp(-depth / cos_of_q(q, lambda)); });
  out.forward = std::exp(-depth);
  return out;
}

PixelFactor solid_angle(const PixelMap& map, const BinTable&, const Corrections&) {
  // Of all pixels the one nearest to the foot of the normal has the largest solid angle: the report's reference.
  const double largest = map.largest_solid_angle_sr, facing = map.facing_sr;
  return {of_image(map.cos_incidence, [facing](double cosine) { return PixelMap::solid_angle_of(cosine, facing); }),
          largest,
          fmt::format("largest {:.5g} sr", largest),
          {}};
}

PixelFactor polarised(const PixelMap& map, const BinTable&, const Corrections& c) {
  const double plane = radians(c.polarization_plane_deg), fraction = c.polarization_fraction, u = c.polarization_u;
  require_polarisation(fraction);
  const Strip factor = [&map, fraction, plane](Index first, Index n, double* out) {
    polarisation_of(map, first, n, fraction, plane, out);
  };
  PixelFactor out{
      factor, 1.0, fmt::format("share {:.4g} in the plane at {:.4g} degrees", fraction, c.polarization_plane_deg), {}};
  if (u > 0)  // dP/df = -sin^2 2theta cos 2chi
    out.causes.push_back({"polarisation", [&map, factor, plane, u](Index first, Index n, double* to) {
                            factor(first, n, to);
                            for (Index i = 0; i < n; ++i) {
                              const double cosine = cos_of_q(map.q_per_nm.data()[first + i], map.wavelength_nm);
                              to[i] = -u * (1.0 - cosine * cosine) *
                                      std::cos(2.0 * (map.azimuth_rad.data()[first + i] - plane)) / to[i];
                            }
                          }});
  return out;
}

PixelFactor pixel_factor(StepKind kind, const PixelMap& map, const BinTable& table, const Corrections& c) {
  if (switched_off(c.off, kind)) return not_done(switched_off_words);
  switch (kind) {
    case StepKind::flat_field:
      return flat_field(map, table, c);
    case StepKind::sensor_efficiency:
      return sensor(map, table, c);
    case StepKind::flight_path:
      return flight_path(map, table, c);
    case StepKind::solid_angle:
      return solid_angle(map, table, c);
    default:
      return polarised(map, table, c);
  }
}

[[noreturn]] void refuse_factor(const std::string& step, double value, Index pixel, Index columns) {
  throw InputError(fmt::format("the step '{}' gives {} at row {}, column {}; it must be positive.", step, value,
                               pixel / columns, pixel % columns),
                   "Check its parameters, or mask the pixel.");
}

}  // namespace

const std::vector<Step>& reduction_steps() {
  static const std::vector<Step> steps{
      {StepKind::mask, "mask", "pixels that cannot be trusted are left out",
       "drawn and found masks, gaps, defects, saturation", "none", "common practice"},
      {StepKind::counts, "counts", "u^2(N) = N of a bin; N + 1 where they are few", "none", "own counts: private",
       knoll},
      {StepKind::dead_time, "dead time", "n = m/(1 - m tau), or n = -W0(-m tau)/tau; per pixel and exposure",
       "tau, model", "tau: coherent; variance N/(1 - m tau)^2 or its paralyzable form: private", knoll},
      {StepKind::dark, "dark", "N - D t/t_D", "dark frame", "its counts: pointwise", pauw_2013},
      {StepKind::exposure, "exposure and flux", "divide by t Phi, or by the monitor", "t, Phi or monitor",
       "monitor, exposure, flux: coherent", pauw_2013},
      {StepKind::flat_field, "flat field", "divide by the response eta of the pixel, mean 1", "flat-field frame",
       "its counts: pointwise", pauw_2013},
      {StepKind::sensor_efficiency, "sensor efficiency", "divide by 1 - exp(-mu t / cos alpha)", "mu, t of the sensor",
       "mu t: coherent", pauw_2017},
      {StepKind::flight_path, "flight path", "divide by exp(-sum mu L / cos 2theta)", "mu, L of air and windows",
       "mu L of each: coherent", pauw_2017},
      {StepKind::solid_angle, "solid angle", "divide by p_x p_y cos(alpha) / r^2", "geometry", "the geometry's causes",
       pauw_2013},
      {StepKind::polarisation, "polarisation",
       "divide by f (1 - sin^2 2theta cos^2 chi) + (1 - f)(1 - sin^2 2theta sin^2 chi)", "f, plane", "f: coherent",
       pauw_2013},
      {StepKind::transmission, "transmission", "divide by T", "T of sample and cell", "T: coherent", pauw_2013},
      {StepKind::background, "background", "S_s/T_s - o f S_b/T_b", "background, f, T_b, walls",
       "its counts: pointwise; f, T_b: coherent", pauw_2017},
      {StepKind::self_absorption, "self-absorption",
       "divide by C, for a plate [1 - exp(-w)]/w, w = -ln T (cos b/cos gamma - 1)", "shape of the sample, T",
       "T: coherent", pauw_2013},
      {StepKind::thickness, "thickness", "divide by the path d, or by the mass per area m_A = -ln T/(mu/rho)",
       "d, or composition, or m_A", "d, m_A, mu/rho: coherent", pauw_2013},
      {StepKind::absolute_scale, "absolute scale", "multiply by k", "standard, or flux from the direct beam",
       "table, counts: coherent",
       "A. J. Allen, F. Zhang, R. J. Kline, W. F. Guthrie, J. Ilavsky, J. Appl. Cryst. 50 (2017) 462"},
      {StepKind::dispersant, "dispersant", "I - (1 - phi) I_d", "dispersant's curve, 1 - phi",
       "its counts: pointwise; 1 - phi: coherent", pauw_2017}};
  return steps;
}

StepKind step_to_switch_off(const std::string& name) {
  std::vector<std::string> names;
  for (const Step& s : reduction_steps()) {
    if (s.kind == StepKind::mask || s.kind == StepKind::counts || s.kind == StepKind::exposure) {
      if (s.name == name)
        throw InputError(fmt::format("the step '{}' cannot be switched off.", name),
                         "Without it the numbers mean nothing; leave the mask out of the study to see what it does.");
      continue;
    }
    if (s.name == name) return s.kind;
    names.push_back(s.name);
  }
  throw InputError(fmt::format("'{}' is no step of a reduction.", name),
                   fmt::format("The steps: {}.", fmt::join(names, ", ")));
}

bool switched_off(const std::vector<StepKind>& steps, StepKind kind) {
  return std::find(steps.begin(), steps.end(), kind) != steps.end();
}

const Step& step(StepKind kind) {
  return *std::find_if(reduction_steps().begin(), reduction_steps().end(),
                       [&](const Step& s) { return s.kind == kind; });
}

StepEffect left_out(StepKind kind, const std::string& why) {
  const Step& s = step(kind);
  return {s.name, s.equation, s.source, false, {}, why, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0};
}

StepEffect applied(StepKind kind, const std::string& parameters, const std::array<double, 3>& f,
                   const std::array<double, 3>& u) {
  const Step& s = step(kind);
  return {s.name, s.equation, s.source, true, parameters, {}, f[0], f[1], f[2], u[0], u[1], u[2]};
}

std::vector<StepEffect> whole_chain(const std::vector<StepEffect>& averaging, const std::vector<StepEffect>& absolute) {
  std::vector<StepEffect> out = averaging;
  out.insert(out.end(), absolute.begin(), absolute.end());
  double low = 1, mid = 1, high = 1;  // what later subtractions left of the intensity
  for (auto e = out.rbegin(); e != out.rend(); ++e) {
    if (!e->applied) continue;
    e->relative_u_low /= std::abs(low);
    e->relative_u_mid /= std::abs(mid);
    e->relative_u_high /= std::abs(high);
    if (e->name != step(StepKind::background).name && e->name != step(StepKind::dispersant).name) continue;
    // Intensities that a subtraction brings to zero have no relative uncertainty: the column then shows a huge one.
    const auto shrink = [](double& total, double factor) { total *= factor == 0.0 ? 1e-12 : factor; };
    shrink(low, e->factor_low);
    shrink(mid, e->factor_mid);
    shrink(high, e->factor_high);
  }
  return out;
}

Factor forward_response(const Corrections& c, double cos_incidence) {
  if (!(cos_incidence > 0 && cos_incidence <= 1))
    throw InputError(fmt::format("the direct beam meets the detector under a cosine of {}.", cos_incidence),
                     "Give the cosine between beam and detector normal, above 0 and at most 1.");
  Factor out;
  if (c.sensor && !switched_off(c.off, StepKind::sensor_efficiency)) {
    require(*c.sensor, "sensor");
    const double value = sensor_efficiency(c.sensor->mu_per_cm, c.sensor->length_mm, cos_incidence);
    Factor f{value, {}};
    if (c.sensor->relative_u > 0)
      f.causes[sensor_id] = value * c.sensor->relative_u *
                            efficiency_slope(c.sensor->mu_per_cm * c.sensor->length_mm / 10 / cos_incidence);
    out = multiply(out, f);
  }
  if (!switched_off(c.off, StepKind::flight_path))
    for (const Absorber& a : c.flight_path) {
      require(a, "flight path");
      const double depth = a.mu_per_cm * a.length_mm / 10, value = std::exp(-depth);
      Factor f{value, {}};
      if (a.relative_u > 0) f.causes[path_id(a)] = -value * a.relative_u * depth;
      out = multiply(out, f);
    }
  return out;
}

FlatField flat_field_from_counts(const Frame& frame, const std::string& name, const Image& solid_angle_sr,
                                 const Frame* dark) {
  if (dark && (dark->counts.rows() != frame.counts.rows() || dark->counts.cols() != frame.counts.cols() ||
               !(dark->exposure_s > 0) || !(frame.exposure_s > 0)))
    throw InputError(
        fmt::format("the flat field '{}' ({} x {} pixels, {} s) and its dark ({} x {}, {} s) do not match.", name,
                    frame.counts.rows(), frame.counts.cols(), frame.exposure_s, dark->counts.rows(),
                    dark->counts.cols(), dark->exposure_s),
        "Use a dark of the same detector, and give both exposures.");
  const double share = dark ? frame.exposure_s / dark->exposure_s : 0.0;
  if (solid_angle_sr.size() != 0 &&
      (solid_angle_sr.rows() != frame.counts.rows() || solid_angle_sr.cols() != frame.counts.cols()))
    throw InputError(
        fmt::format("the flat field '{}' has {} x {} pixels but the solid angles have {} x {}.", name,
                    frame.counts.rows(), frame.counts.cols(), solid_angle_sr.rows(), solid_angle_sr.cols()),
        "Use the pixel map of the same detector.");
  FlatField flat{name, frame.counts, Image::Zero(frame.counts.rows(), frame.counts.cols())};
  for (Eigen::Index i = 0; i < frame.counts.size(); ++i) {
    const double dark_counts = dark ? dark->counts.data()[i] : 0.0, all = frame.counts.data()[i];
    const double counts = all - share * dark_counts;
    const bool good = counts > 0 && std::isfinite(counts) && (frame.masked.size() == 0 || !frame.masked.data()[i]);
    flat.response.data()[i] = good ? counts : 0.0;
    if (good && solid_angle_sr.size() != 0) flat.response.data()[i] /= solid_angle_sr.data()[i];
    if (good) flat.relative_u.data()[i] = std::sqrt(all + share * share * dark_counts) / counts;
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
                            const std::array<Index, 3>& report_bins) {
  const Index rows = map.q_per_nm.rows(), columns = map.q_per_nm.cols(), bins = table.pixels.size();
  Normalisation out{Image(rows, columns), {}, {}};
  prefer_large_pages(out.per_pixel);
  std::vector<PixelFactor> factors;
  std::vector<const Step*> steps;
  std::vector<std::pair<std::size_t, const PixelCause*>> causes;  // with the index of their step's effect
  for (const Step& s : reduction_steps()) {
    if (s.kind < StepKind::flat_field || s.kind > StepKind::polarisation) continue;
    PixelFactor f = pixel_factor(s.kind, map, table, c);
    out.effects.push_back(f.note.empty() ? applied(s.kind, f.parameters, {0, 0, 0}) : left_out(s.kind, f.note));
    factors.push_back(std::move(f));
    steps.push_back(&s);
  }
  for (std::size_t k = 0; k < factors.size(); ++k)
    for (const PixelCause& cause : factors[k].causes) causes.emplace_back(k, &cause);

  // One pass: of each bin the weight and what each cause does to it (a bin's normalisation is the sum of its pixels',
  // so its relative change is their mean, weighted as they are), and behind the bins one column a step with the
  // effects.
  const auto terms = static_cast<Index>(std::max<std::size_t>(3, 1 + causes.size())),
             step_count = static_cast<Index>(factors.size());
  const std::int32_t* index = table.index.data();
  const Eigen::MatrixXd sums =
      sum_blocks(rows, columns, terms, bins + step_count, [&](Index begin, Index count, Eigen::MatrixXd& part) {
        double value[longest_strip];
        for_strips(begin, count, [&](Index first, Index n) {
          double* weight = out.per_pixel.data() + first;
          std::fill_n(weight, n, 1.0);
          for (std::size_t k = 0; k < factors.size(); ++k) {
            if (!factors[k].note.empty()) continue;
            factors[k].factor(first, n, value);
            for (Index i = 0; i < n; ++i) {
              const std::int32_t bin = index[first + i];
              if (bin < 0) continue;
              if (!(value[i] > 0) || !(value[i] <= std::numeric_limits<double>::max()))
                refuse_factor(steps[k]->name, value[i], first + i, columns);
              weight[i] *= value[i];
              for (Index r = 0; r < 3; ++r)
                if (bin == report_bins[static_cast<std::size_t>(r)])
                  part(r, bins + static_cast<Index>(k)) += factors[k].forward / value[i] / table.pixels[bin];
            }
          }
          if (causes.empty()) return;
          for (Index i = 0; i < n; ++i)
            if (index[first + i] >= 0) part(0, index[first + i]) += weight[i];
          for (std::size_t k = 0; k < causes.size(); ++k) {
            causes[k].second->relative(first, n, value);
            for (Index i = 0; i < n; ++i)
              if (index[first + i] >= 0) part(static_cast<Index>(k) + 1, index[first + i]) += weight[i] * value[i];
          }
        });
      });
  for (Index k = 0; k < step_count; ++k) {
    StepEffect& e = out.effects[static_cast<std::size_t>(k)];
    if (!e.applied) continue;
    e.factor_low = sums(0, bins + k);
    e.factor_mid = sums(1, bins + k);
    e.factor_high = sums(2, bins + k);
  }
  const Eigen::ArrayXd weight = sums.row(0).head(bins).transpose();
  for (std::size_t k = 0; k < causes.size(); ++k) {
    const Eigen::ArrayXd sum = sums.row(static_cast<Index>(k) + 1).head(bins).transpose();
    out.causes.push_back({causes[k].second->id, (weight > 0).select(sum / weight, 0.0)});
    StepEffect& e = out.effects[causes[k].first];
    const Eigen::VectorXd& relative = out.causes.back().relative;
    e.relative_u_low = std::hypot(e.relative_u_low, relative[report_bins[0]]);
    e.relative_u_mid = std::hypot(e.relative_u_mid, relative[report_bins[1]]);
    e.relative_u_high = std::hypot(e.relative_u_high, relative[report_bins[2]]);
  }
  return out;
}

}  // namespace sievelight
