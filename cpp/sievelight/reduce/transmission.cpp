// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/transmission.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {
namespace {

double total_u(const Factor& f) {
  double variance = 0;
  for (const auto& [id, u] : f.causes) variance += u * u;
  return std::sqrt(variance);
}

void require(const Reading& r, const char* what, const std::string& name) {
  if (!(r.value > 0) || !std::isfinite(r.value) || !(r.u >= 0) || !std::isfinite(r.u))
    throw InputError(fmt::format("the {} of '{}' is {} with u = {}.", what, name, r.value, r.u),
                     "A reading must be above zero, its standard uncertainty zero or more.");
}

Factor reading(const Reading& r, const std::string& id) {
  Factor out{r.value, {}};
  if (r.u > 0) out.causes[id] = r.u;
  return out;
}

// The independent parts of one id join in quadrature: inside one transmission their signs say nothing.
Factor ratio(const std::string& id, const Reading& above, const Reading& below) {
  const double value = above.value / below.value;
  return reading({value, value * std::hypot(above.u / above.value, below.u / below.value)}, id);
}

Transmission finish(const std::string& name, const Factor& factor, const std::string& method) {
  Transmission out{name, factor, total_u(factor), method, {}};
  check_transmission(out);
  if (out.u == 0.0) out.notes.push_back("no uncertainty was given: it is taken as zero");
  if (out.factor.value > 1.0)
    out.notes.push_back(fmt::format("T = {:.5g} exceeds 1 within its uncertainty", out.factor.value));
  return out;
}

}  // namespace

BeamRate beam_rate(const Frame& frame, const std::string& name, const DirectBeamOptions& o) {
  if (!(frame.exposure_s > 0) || !std::isfinite(frame.exposure_s))
    throw InputError(fmt::format("the direct beam of '{}' has an exposure of {} s.", name, frame.exposure_s),
                     "Give its exposure_s, above zero.");
  const bool correct = o.dead_time && !frame.metadata.countrate_correction_applied;
  if (correct && frame.exposures != 1)
    throw InputError(
        fmt::format("the direct beam of '{}' is a sum of {} exposures and its dead time is to be corrected.", name,
                    frame.exposures),
        "Give a single exposure: counts lost depend on the rate in each.");
  double counts = 0, variance = 0;
  BeamRate out;
  Eigen::Index masked = 0;
  for (Eigen::Index row = 0; row < frame.counts.rows(); ++row)
    for (Eigen::Index column = 0; column < frame.counts.cols(); ++column) {
      const double dx = static_cast<double>(column) - o.beam_center_x_px;
      const double dy = static_cast<double>(row) - o.beam_center_y_px;
      if (dx * dx + dy * dy > o.radius_px * o.radius_px) continue;
      ++out.pixels;
      if (frame.masked.size() != 0 && frame.masked(row, column)) {
        ++masked;
        continue;
      }
      const double n = frame.counts(row, column);
      const TrueCounts value = correct ? correct_dead_time(n, frame.exposure_s, *o.dead_time) : TrueCounts{n, n, 0.0};
      counts += value.counts - o.dark_per_s * frame.exposure_s;
      variance += value.variance;
    }
  if (out.pixels == 0)
    throw InputError(fmt::format("no pixel lies within {} pixels of the beam centre ({}, {}).", o.radius_px,
                                 o.beam_center_x_px, o.beam_center_y_px),
                     "Check the beam centre (column, row) and the acceptance radius.");
  if (masked > 0)
    throw InputError(
        fmt::format("{} of the {} pixels around the beam centre are masked in '{}'.", masked, out.pixels, name),
        "If they are saturated, this exposure cannot give a transmission: repeat it with an attenuator, "
        "through the instrument's interlocked procedure; otherwise choose a radius without masked pixels.");
  if (!(counts > 0) || !std::isfinite(counts))
    throw InputError(fmt::format("the direct beam of '{}' holds {} counts within {} pixels of the centre.", name,
                                 counts, o.radius_px),
                     "Check the beam centre, the beamstop and the dark rate.");
  out.per_s = counts / frame.exposure_s;
  out.u_per_s = std::sqrt(variance) / frame.exposure_s;
  return out;
}

void check_transmission(const Transmission& t) {
  const double value = t.factor.value, u = t.u;
  if (!std::isfinite(value) || !(value > 0) || value > 1 + 3 * u)
    throw InputError(
        fmt::format("the transmission is {:.6g} (u = {:.3g}) for '{}'; it must lie in (0, 1].", value, u, t.name),
        "Check that the monitor readings of the empty beam and of the sample are not swapped.");
}

Transmission given_transmission(const std::string& name, double value, double u) {
  if (!(u >= 0) || !std::isfinite(u))
    throw InputError(fmt::format("the uncertainty of the transmission of '{}' is {}.", name, u),
                     "Give a standard uncertainty, zero or more.");
  return finish(name, reading({value, u}, "transmission: " + name), "given");
}

Transmission transmission_from_monitors(const std::string& name, Reading incident, Reading transmitted,
                                        const std::string& empty_name, Reading empty_incident,
                                        Reading empty_transmitted) {
  require(incident, "incident intensity", name);
  require(transmitted, "transmitted intensity", name);
  require(empty_incident, "incident intensity", empty_name);
  require(empty_transmitted, "transmitted intensity", empty_name);
  return finish(name,
                divide(ratio("transmission: " + name, transmitted, incident),
                       ratio("empty beam: " + empty_name, empty_transmitted, empty_incident)),
                "monitor readings relative to the empty beam; absorption, and scattering beyond the monitor's window");
}

Transmission transmission_from_frames(const std::string& name, const Frame& sample, const std::string& empty_name,
                                      const Frame& empty, const DirectBeamOptions& o) {
  if (sample.counts.rows() != empty.counts.rows() || sample.counts.cols() != empty.counts.cols())
    throw InputError(
        fmt::format("the direct beam of '{}' has {} x {} pixels, that of '{}' has {} x {}.", name, sample.counts.rows(),
                    sample.counts.cols(), empty_name, empty.counts.rows(), empty.counts.cols()),
        "Use exposures of the same detector.");
  require(o.attenuator, "attenuator's transmission", name);
  require(o.empty_attenuator, "attenuator's transmission", empty_name);
  const BeamRate through = beam_rate(sample, name, o), without = beam_rate(empty, empty_name, o);
  Factor t = divide(reading({through.per_s, through.u_per_s}, "transmission: " + name),
                    reading({without.per_s, without.u_per_s}, "empty beam: " + empty_name));
  if (!o.same_attenuator)
    // One attenuator calibration for every sample measured this way, so it stays one common cause.
    t = multiply(t, divide(reading(o.empty_attenuator, "attenuator: " + empty_name),
                           reading(o.attenuator, "attenuator: sample")));
  return finish(
      name, t,
      fmt::format("direct beam, {} pixels within {:.4g} pixels of the centre; absorption, and scattering beyond "
                  "that radius",
                  through.pixels, o.radius_px));
}

}  // namespace sievelight
