// SPDX-License-Identifier: GPL-3.0-or-later
/// From averaged counts to dSigma/dOmega: transmission, background, self-absorption, thickness, absolute scale.
/// I = (k/d) (1/C) [ S_s / T_s - o f S_b / T_b ], T with everything in the beam relative to the empty beam.
/// The background's counts become a pointwise cause, because other samples subtract the same numbers; every scale is a
/// coherent cause; signs are kept, so what sample and background share cancels as far as it does in nature.
/// C (self-absorption) and o (walls seen through the sample) vary with the angle only and are applied at the q of the
/// bin; the difference from applying them to pixels is measured in the tests.
/// Start at absolute_curve(); background_factor.hpp fits f where a file gives neither transmission nor monitor.
/// Source: B. R. Pauw et al., J. Appl. Cryst. 50 (2017) 1800; ISO 17867; the plate's angles are derived (plate.hpp).
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/reduce/corrections.hpp"
#include "sievelight/reduce/plate.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// An averaged measurement and what is known of it.
struct Measured {
  std::string name;
  Curve curve;                              // S
  std::optional<Factor> transmission = {};  // absent = 1, with a note
};

struct AbsoluteOptions {
  std::optional<double> thickness_mm = {};    // of the sample along the beam
  double thickness_u_mm = 0.0;                // coherent cause "thickness: <sample>"
  std::optional<Factor> absolute_scale = {};  // k; with S per photon flux, Factor{1.0} says that S is absolute already
  Factor background_scale = {};               // f, e.g. {1.0, {{"background scale: <background>", u}}}
  bool self_absorption = false;               // plate normal to the beam; needs both transmissions and the wavelength
  WallPosition walls = WallPosition::ignore;
  double wavelength_nm = 0.0;  // only for the two above
};

struct Absolute {
  Curve curve;                    // in 1/cm when thickness and scale are known, else relative
  std::vector<StepEffect> steps;  // transmission ... absolute scale
  std::vector<std::string> notes;
};

/// The sample alone, or minus the background. InputError: transmissions out of range, thickness not above zero, no bin
/// in common, or mean q of common bins apart by more than a tenth of the bin.
Absolute absolute_curve(const Measured& sample, const std::optional<Measured>& background = {},
                        const AbsoluteOptions& options = {});

/// curve - factor * other (a dispersant or matrix, reduced to the same units): `name` goes into the id of the counts.
Curve subtract_scaled(const Curve& curve, const Curve& other, const Factor& factor, const std::string& name);

}  // namespace sievelight
