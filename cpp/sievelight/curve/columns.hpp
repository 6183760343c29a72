// SPDX-License-Identifier: GPL-3.0-or-later
/// From the columns of any file to a curve: units, missing errors, order of the points.
#pragma once

#include "sievelight/curve/nxcansas_io.hpp"

#include <optional>

namespace sievelight {

/// Columns as a file gives them; numbers may be NaN where the file has none.
struct Columns {
  Eigen::VectorXd q, intensity;
  std::optional<Eigen::VectorXd> intensity_u, q_resolution, slit_length, slit_width;
  std::string q_unit, intensity_unit;
  std::optional<std::string> q_resolution_unit, slit_length_unit, slit_width_unit;  // that of q where absent
};

/// A unit of intensity and the factor that brings numbers into it. What is neither 1/length nor area per mass becomes
/// relative, and a note says so.
struct IntensityScale {
  IntensityUnit unit = IntensityUnit::relative;
  double factor = 1.0;
};
IntensityScale understand_intensity_unit(const std::string& unit, std::vector<std::string>& notes);

/// Fills curve, has_uncertainty and notes of `out` from columns. Points without q > 0, with numbers that are not finite
/// or with a negative uncertainty are left out, points are sorted by q, and of equal q the mean is taken (weighted by
/// 1/u^2 where known); each with a note. Without any uncertainty, private_u is zero and has_uncertainty false.
/// DataError naming `where` when columns differ in length, q has no understandable unit, or no point is left.
void fill_curve(const Columns& columns, const std::string& where, NamedCurve& out);

}  // namespace sievelight
