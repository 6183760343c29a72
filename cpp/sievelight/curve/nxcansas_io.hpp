// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves in NXcanSAS files (NeXus application definition NXcanSAS 1.1).
/// Q in 1/nm, I in 1/cm, Idev = private and pointwise causes in quadrature; the scale's uncertainty stands on the
/// intensity as the attributes scaling_factor and its uncertainty; every other cause has a vector of its own, so that a
/// later fit does not take a common error for point noise.
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

/// Writes one curve as a NXcanSAS file. DataError when the file cannot be written.
void write_nxcansas(const std::string& path, const Curve& curve, const CurveInfo& info);

/// Reads every SASdata of every SASentry of a file. Missing Idev gives zero uncertainty and a note; units are converted
/// (an intensity unit that is not 1/length is kept as relative, with a note). DataError when the file holds none.
std::vector<NamedCurve> read_nxcansas(const std::string& path);

}  // namespace sievelight
