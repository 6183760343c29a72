// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves in NXcanSAS files (NeXus application definition NXcanSAS 1.1; written from memory and from the example files
/// of the canSAS working group).
/// In a SASdata group: Q in 1/nm, I in the curve's unit, Idev = private and pointwise causes in quadrature. The
/// intensity's attribute scaling_factor names a field that is 1 and has the relative uncertainty of the cause
/// "absolute scale", where that cause is one factor for the whole curve. Beside these, for our own reading:
/// Idev_private, Q_low and Q_high (bin edges), and one field a cause, cause_1, cause_2, ..., with the attributes id and
/// kind, so that a later fit does not take a common error for point noise. Reading gives back the same numbers to the
/// last bit, and the same curve always gives the same bytes.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <limits>
#include <string>
#include <utility>
#include <vector>

namespace sievelight {

/// One processing step as NXcanSAS's SASprocess: its name, a sentence, and named terms.
struct ProcessStep {
  std::string name;
  std::string description;
  std::vector<std::pair<std::string, std::string>> terms;
};

/// What stands around the numbers.
struct CurveInfo {
  std::string title;
  std::string run;  // what the measurement is called; the title where empty
  std::string sample_name;
  double thickness_mm = std::numeric_limits<double>::quiet_NaN();
  double transmission = std::numeric_limits<double>::quiet_NaN();
  double wavelength_nm = std::numeric_limits<double>::quiet_NaN();
  double distance_mm = std::numeric_limits<double>::quiet_NaN();
  std::vector<ProcessStep> steps;
  std::vector<std::string> notes;  // on reading: what was assumed and why
};

struct NamedCurve {
  std::string name;  // entry/data group it came from
  Curve curve;
  CurveInfo info;
  bool has_uncertainty = true;
};

/// The id of the cause that NXcanSAS keeps as the scaling factor's uncertainty.
inline constexpr const char* absolute_scale_id = "absolute scale";

/// Writes one curve as a NXcanSAS file. DataError when the file cannot be written.
void write_nxcansas(const std::string& path, const Curve& curve, const CurveInfo& info);

/// Reads every SASdata of every SASentry of a file. Missing Idev gives zero uncertainty and a note; units are converted
/// (an intensity unit that is neither 1/length nor area per mass is kept as relative, with a note); points that are no
/// points (q not positive, numbers not finite) are left out and unsorted ones sorted, with a note. DataError when the
/// file holds none.
std::vector<NamedCurve> read_nxcansas(const std::string& path);

}  // namespace sievelight
