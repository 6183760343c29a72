// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/direct_beam_scale.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {

AbsoluteScale scale_from_direct_beam(const std::string& name, const Frame& beam, const DirectBeamOptions& o,
                                     const Corrections& corrections, bool by_monitor) {
  if (by_monitor && !(beam.monitor && *beam.monitor > 0))
    throw InputError(fmt::format("the direct beam of '{}' has no monitor reading.", name),
                     "Give its monitor, or normalise the study by the exposure.");
  const BeamRate rate = beam_rate(beam, name, o);
  Factor attenuator{o.attenuator.value, {}};
  if (!(attenuator.value > 0 && attenuator.value <= 1))
    throw InputError(fmt::format("the attenuator of '{}' has a transmission of {}.", name, attenuator.value),
                     "Give attenuator_transmission, above 0 and at most 1.");
  if (o.attenuator.u > 0) attenuator.causes["attenuator: " + name] = o.attenuator.u;
  Factor flux{rate.per_s, {{"absolute scale: counts", rate.u_per_s}}};
  flux = divide(divide(flux, attenuator), forward_response(corrections, o.cos_incidence));
  if (by_monitor) flux = divide(flux, Factor{*beam.monitor / beam.exposure_s, {}});
  AbsoluteScale out;
  out.factor = divide(Factor{}, flux);
  for (const auto& [id, u] : out.factor.causes) out.u = std::hypot(out.u, u);
  out.relative_u = out.u / out.factor.value;
  return out;
}

}  // namespace sievelight
