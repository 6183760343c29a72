// SPDX-License-Identifier: GPL-3.0-or-later
/// From averaged counts to dSigma/dOmega: transmission, background, self-absorption, thickness, absolute scale.
/// I = (k/d) (1/C) [ S_s / T_s - o f S_b / T_b ], T with everything in the beam relative to the empty beam. For powders
/// of unknown packing d gives way to the mass per area, measured or from composition: m_A = -ln T / (mu/rho), with T of
/// the sample alone; then I is per gram, and with a density per volume again.
/// The background's counts become a pointwise cause, because other samples subtract the same numbers; every scale is a
/// coherent cause; signs are kept, so what sample and background share cancels as far as it does in nature (of a powder
/// thickness and transmission are one cause: relative effect (1 + 1/ln T) u(T)/T).
/// C (self-absorption) and o (walls seen through the sample) vary with the direction only; a bin gets their mean over
/// its pixels (sample_shape.hpp).
/// Start at absolute_curve(); background_factor.hpp fits f where a file gives neither transmission nor monitor;
/// dispersant() takes a solvent or matrix off afterwards.
/// Source: B. R. Pauw et al., J. Appl. Cryst. 50 (2017) 1800; ISO 17867; the angles are derived (plate.hpp,
/// capillary.hpp).
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/reduce/corrections.hpp"
#include "sievelight/reduce/sample_shape.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

/// An averaged measurement and what is known of it.
struct Measured {
  std::string name;
  Curve curve;                              // S
  std::optional<Factor> transmission = {};  // absent = 1, with a note
  Eigen::MatrixXd azimuth_share = {};       // (n, azimuth_parts) of its bins, from Averaged; empty = even
};

/// How much of a powder stands in the beam.
struct PowderMass {
  std::optional<Factor> per_area_g_per_cm2 = {};     // weighed; or
  std::optional<Factor> attenuation_cm2_per_g = {};  // mu/rho of its composition, with the transmission
  std::optional<Factor> density_g_per_cm3 = {};      // turns "per gram" into "per volume": grain or bulk
};

struct AbsoluteOptions {
  std::optional<double> thickness_mm = {};    // of the sample (a capillary's inner diameter)
  double thickness_u_mm = 0.0;                // coherent cause "thickness: <sample>"
  std::optional<PowderMass> powder = {};      // instead of a thickness
  std::optional<Factor> absolute_scale = {};  // k; with S per photon flux, Factor{1.0} says that S is absolute already
  Factor background_scale = {};               // f, e.g. {1.0, {{"background scale: <background>", u}}}
  std::optional<SampleShape> shape = {};      // absent = no angle-dependent corrections; needs T and the wavelength
  double wavelength_nm = 0.0;                 // only for the shape
  std::vector<StepKind> off = {};
};

struct Absolute {
  Curve curve;                    // in 1/cm or cm2/g when thickness (or mass) and scale are known, else relative
  std::vector<StepEffect> steps;  // transmission ... dispersant
  std::vector<std::string> notes;
  double path_mm = 0.0;  // through the sample, 0 when unknown
};

/// The sample alone, or minus the background. InputError: transmissions out of range, thickness not above zero, no bin
/// in common, or mean q of common bins apart by more than a tenth of the bin, a powder without T or mass.
Absolute absolute_curve(const Measured& sample, const std::optional<Measured>& background = {},
                        const AbsoluteOptions& options = {});

/// The sample's curve minus its dispersant's, reduced to the same unit: I - share * I_d, share = 1 - phi. `name` of the
/// dispersant goes into the id of its counts. InputError when the units differ.
Absolute dispersant(const Absolute& sample, const Curve& dispersant, const Factor& share, const std::string& name);

}  // namespace sievelight
