// SPDX-License-Identifier: GPL-3.0-or-later
/// The corrections of a reduction, in their declared order, as data: name, equation, source, parameters, effect.
/// Steps up to the polarisation act on pixels, the rest on the averaged curve (absolute_curve()). The normalisation of
/// a pixel is the product of what it would count from a flat unit intensity: h = t Phi DeltaOmega P A epsilon eta.
/// Source of the scheme: B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201; B. R. Pauw, A. J. Smith, T. Snow, N.
/// J. Terrill, A. F. Thuenemann, J. Appl. Cryst. 50 (2017) 1800.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/frames/frame.hpp"
#include "sievelight/geometry/pixel_map.hpp"
#include "sievelight/reduce/bins.hpp"
#include "sievelight/reduce/dead_time.hpp"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace sievelight {

enum class StepKind {
  mask,
  counts,
  dead_time,
  dark,
  exposure,
  flat_field,
  sensor_efficiency,
  flight_path,
  solid_angle,
  polarisation,
  transmission,
  background,
  self_absorption,
  thickness,
  absolute_scale,
  dispersant
};

struct Step {
  StepKind kind = StepKind::mask;
  std::string name;         // in the trade's words
  std::string equation;     // what is done
  std::string parameters;   // what it needs to know
  std::string uncertainty;  // which causes of error it adds, and their kind
  std::string source;
};

/// Every step in the order in which it acts.
const std::vector<Step>& reduction_steps();
const Step& step(StepKind kind);
/// The step with this name; InputError listing the names, and for those that a reduction cannot do without
/// (mask, counts, exposure and flux).
StepKind step_to_switch_off(const std::string& name);
bool switched_off(const std::vector<StepKind>& steps, StepKind kind);
inline constexpr const char* switched_off_words = "switched off";

/// What one step did to one measurement: the factor it put on the intensity at the lowest, middle and highest q used,
/// and the relative standard uncertainty it added to the intensity as it then was.
/// Factors of the solid angle, sensor and air are relative to the forward direction.
struct StepEffect {
  std::string name, equation, source;
  bool applied = false;
  std::string parameters;  // the values used
  std::string note;        // why it was left out, or what to know
  double factor_low = 1.0, factor_mid = 1.0, factor_high = 1.0;
  double relative_u_low = 0.0, relative_u_mid = 0.0, relative_u_high = 0.0;
};
StepEffect left_out(StepKind kind, const std::string& why);
StepEffect applied(StepKind kind, const std::string& parameters, const std::array<double, 3>& factors,
                   const std::array<double, 3>& relative_u = {0, 0, 0});
/// The whole chain of a measurement in one list: what was added to the averaged intensity before the background went
/// off is restated relative to the intensity after it, so that the column of uncertainties speaks of one number.
std::vector<StepEffect> whole_chain(const std::vector<StepEffect>& averaging, const std::vector<StepEffect>& absolute);

/// A plate that absorbs: linear attenuation coefficient and thickness along the beam.
struct Absorber {
  double mu_per_cm = 0.0;
  double length_mm = 0.0;
  double relative_u = 0.0;  // of mu times length: coherent cause "sensor efficiency" or "flight path: <name>"
  std::string name = {};    // of a gas or window
};

/// Response of the pixels to equal illumination; any scale, brought to mean 1 over the pixels used.
struct FlatField {
  std::string name;
  Image response;    // (rows, columns); pixels at or below zero are left out
  Image relative_u;  // (rows, columns) standard uncertainty relative to the response, or empty
};
/// A flat field from counts of a source that shines evenly on the detector, or (with `solid_angle_sr`) from one at the
/// sample's place that shines evenly in all directions: response = (counts - D t/t_D) / solid angle, relative u from
/// the counts of both. InputError for a dark or solid angles of another size, and a dark without exposure.
FlatField flat_field_from_counts(const Frame& frame, const std::string& name, const Image& solid_angle_sr = {},
                                 const Frame* dark = nullptr);

/// What the corrections of the pixels need to know. Absent = not done, and the report says so; `off` holds what a study
/// switches off although it is known.
struct Corrections {
  std::optional<DeadTime> dead_time = {};
  std::optional<FlatField> flat_field = {};
  std::optional<Absorber> sensor = {};     // mu and thickness of the sensor: its efficiency at oblique incidence
  std::vector<Absorber> flight_path = {};  // air, gas and windows between sample and detector, across the beam
  double polarization_fraction = 0.5;      // share whose field lies in the plane below, 0.5 = unpolarised
  double polarization_u = 0.0;             // coherent cause "polarisation"
  double polarization_plane_deg = 0.0;     // from +x towards +y; 0 = horizontal
  std::vector<StepKind> off = {};
};

/// What a ray straight on meets on the way into the counts: air, windows and the sensor, whose normal stands askew by
/// arccos(cos_incidence); with the causes under the ids that the pixels carry. Turns counts of the direct beam into
/// photons at the sample.
Factor forward_response(const Corrections& corrections, double cos_incidence = 1.0);

/// Mask plus the pixels without a flat-field response. InputError when shapes differ.
Mask usable_mask(const PixelMap& map, const Mask& masked, const Corrections& corrections);

/// Relative effect of one parameter's standard uncertainty on the normalisation of every bin.
struct BinCause {
  std::string id;
  Eigen::VectorXd relative;  // (bins) signed
};

/// Normalisation of every pixel without exposure and flux, and the effect of each step that made it.
struct Normalisation {
  Image per_pixel;                  // (rows, columns); 1 where the pixel is unused
  std::vector<StepEffect> effects;  // flat field ... polarisation, in the declared order
  std::vector<BinCause> causes;     // of the parameters that carry an uncertainty
};
/// `report_bins`: the three bins (low, middle, high) at which the effects are stated.
Normalisation normalisation(const PixelMap& map, const BinTable& table, const Corrections& corrections,
                            const std::array<Eigen::Index, 3>& report_bins);

}  // namespace sievelight
