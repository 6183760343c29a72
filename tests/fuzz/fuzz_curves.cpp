// SPDX-License-Identifier: GPL-3.0-or-later
#include "harness.hpp"
#include "library_look.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/material.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/curve/cansas_xml.hpp"
#include "sievelight/curve/read_curves.hpp"
#include "sievelight/curve/text_io.hpp"
#include "sievelight/frames/comment_header.hpp"

#include <cmath>

namespace sievelight::fuzz {
namespace {

// A reader gives a curve that check() accepts, or an error.
void must_hold(const NamedCurve& named) {
  try {
    check(named.curve);
  } catch (const InputError& error) {
    defect(std::string("a reader gave a curve that is none: ") + error.what());
  }
}

}  // namespace

void curve_nxcansas(Input input) {
  if (!library_survives(as_file(input))) return;
  try {
    for (const NamedCurve& named : read_nxcansas(scratch_path())) must_hold(named);
  } catch (const Error&) {
  }
}

void curve_xml(Input input) {
  try {
    for (const NamedCurve& named : read_cansas_xml(as_file(input))) must_hold(named);
  } catch (const Error&) {
  }
}

void curve_text(Input input) {
  for (const TextOptions& options : {TextOptions{}, TextOptions{"1/nm", "1/cm"}, TextOptions{"1/A", "relative"}}) try {
      must_hold(read_text_curve(as_file(input), options));
    } catch (const Error&) {
    }
}

void words(Input input) {
  const std::string text(input.begin(), input.end());
  try {
    const Material found = material(text);
    double total = 0;
    for (const double share : found.mass_share) total += share;
    if (!(std::abs(total - 1) < 1e-6)) defect("the shares of the elements do not add up to 1");
    if (found.density_g_per_cm3 > 0 && !std::isfinite(attenuation_per_cm(found, 0.154187)))
      defect("the attenuation is not finite");
  } catch (const Error&) {
  }
  for (const Quantity quantity :
       {Quantity::length_mm, Quantity::length_nm, Quantity::inverse_length_per_nm, Quantity::time_s,
        Quantity::angle_deg, Quantity::energy_keV, Quantity::intensity_per_cm})
    try {
      if (!(unit_factor(text, quantity) > 0)) defect("the factor of a unit is not positive");
    } catch (const Error&) {
    }
  FrameMetadata metadata;
  std::optional<double> exposure_s;
  read_comment_header(text, metadata, exposure_s);
  if (exposure_s && !(*exposure_s > 0)) defect("an exposure is not positive");
}

}  // namespace sievelight::fuzz
