// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves in NXcanSAS files (NeXus application definition NXcanSAS 1.1, read in its NXDL of 2024; the fields' names
/// below are its own). In a SASdata group: Q in 1/nm, I in the curve's unit, Idev = private and pointwise causes in
/// quadrature, Qdev the resolution, dQl and dQw a slit's length and width (each one standard deviation, as the
/// definition asks for), Q's attribute resolutions naming them. The intensity's attribute scaling_factor names a field
/// that is 1 and has the relative uncertainty of the cause "absolute scale", where that cause is one factor for the
/// whole curve. Beside these, for our own reading: Idev_private, Q_low and Q_high (bin edges), and one field a cause,
/// cause_1, cause_2, ..., with the attributes id and kind, so that a later fit does not take a common error for point
/// noise. Reading gives back the same numbers to the last bit, and the same curves always give the same bytes.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <array>
#include <limits>
#include <string>
#include <utility>
#include <vector>

namespace sievelight {

/// One processing step as NXcanSAS's SASprocess: its name, a sentence, named terms, and notes (SASprocessnote).
struct ProcessStep {
  std::string name;
  std::string description;
  std::vector<std::pair<std::string, std::string>> terms;
  std::vector<std::string> notes = {};
};

inline constexpr double not_known = std::numeric_limits<double>::quiet_NaN();

/// SASsource, SAScollimation and SASdetector; NaN or empty where not known.
struct InstrumentInfo {
  std::string probe;        // "x-ray", "neutron", ...: a word of NXsource's list
  std::string source_type;  // "Fixed Tube X-ray", "Rotating Anode X-ray", ...: a word of NXsource's list
  std::string beam_shape;   // of the beam that reaches the sample, in words ("point", "line")
  double wavelength_nm = not_known;
  double wavelength_spread = not_known;  // relative, one sd; in the file as incident_wavelength_spread, a FWHM in nm
  double collimation_length_mm = not_known;
  std::string detector_name;
  double distance_mm = not_known;                                           // SDD, sample to detector
  std::array<double, 2> beam_center_px{not_known, not_known};               // x, y; in the file in pixels
  std::array<double, 2> pixel_size_mm{not_known, not_known};                // x, y
  double pitch_deg = not_known, yaw_deg = not_known, roll_deg = not_known;  // of the detector
  double slit_length_per_nm = not_known;                                    // of the detector, in q
};

/// What stands around the numbers.
struct CurveInfo {
  std::string title;
  std::string run;  // what the measurement is called; the title where empty
  std::string sample_name;
  double thickness_mm = not_known;
  double transmission = not_known;
  double temperature_C = not_known;
  std::vector<std::string> sample_details;
  InstrumentInfo instrument;
  std::vector<ProcessStep> steps;
  std::vector<std::string> notes;  // on reading also: what was assumed and why
};

struct NamedCurve {
  std::string name;  // "entry/data": the groups it came from, or goes to
  Curve curve;
  CurveInfo info;
  bool has_uncertainty = true;
};

/// The id of the cause that NXcanSAS keeps as the scaling factor's uncertainty.
inline constexpr const char* absolute_scale_id = "absolute scale";

/// Writes one curve as a NXcanSAS file. InputError for a bad curve or a probe or source type that NXsource does not
/// list, DataError when the file cannot be written.
void write_nxcansas(const std::string& path, const Curve& curve, const CurveInfo& info);

/// Writes several, each named "entry/data" or "entry" as read_nxcansas gives them; curves of one entry stand next to
/// each other and share the first one's info. Letters that NeXus forbids in names become "_". InputError when two have
/// one name.
void write_nxcansas(const std::string& path, const std::vector<NamedCurve>& curves);

/// Reads every SASdata of every SASentry of a file. Missing Idev gives zero uncertainty and a note; units are converted
/// (an intensity unit that is neither 1/length nor area per mass is kept as relative, with a note); dQl and dQw are
/// taken as standard deviations; points that are no points (q not positive, numbers not finite) are left out and
/// unsorted ones sorted, with a note. DataError when the file holds none.
std::vector<NamedCurve> read_nxcansas(const std::string& path);

}  // namespace sievelight
