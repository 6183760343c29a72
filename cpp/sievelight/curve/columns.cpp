// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/columns.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <map>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

double q_factor(const std::string& unit, const std::string& where) {
  try {
    return unit_factor(unit, Quantity::inverse_length_per_nm);
  } catch (const InputError& error) {
    throw DataError(unit.empty() ? fmt::format("q of {} has no unit.", where)
                                 : fmt::format("q of {} has the unit '{}', which is not understood.", where, unit),
                    error.mend());
  }
}

void require_length(const VectorXd& column, Index n, const char* name, const std::string& where) {
  if (column.size() != n)
    throw DataError(fmt::format("{} of {} has {} values where q has {}.", name, where, column.size(), n),
                    "Check that the file was written completely.");
}

// Points of equal q become one.
void merge_equal(Curve& curve, bool weighted, std::vector<std::string>& notes) {
  const Index n = curve.size();
  std::vector<Index> first;  // of each run of equal q
  for (Index i = 0; i < n; ++i)
    if (i == 0 || curve.q_per_nm[i] != curve.q_per_nm[i - 1]) first.push_back(i);
  if (static_cast<Index>(first.size()) == n) return;
  notes.push_back(fmt::format("{} points share their q with another; their mean is taken{}",
                              n - static_cast<Index>(first.size()),
                              weighted ? ", weighted by their uncertainties" : ""));
  first.push_back(n);
  const Curve old = curve;
  const auto m = static_cast<Index>(first.size()) - 1;
  for (VectorXd* v : {&curve.q_per_nm, &curve.intensity, &curve.private_u}) v->resize(m);
  constexpr VectorXd Curve::*blurs[] = {&Curve::q_resolution_per_nm, &Curve::slit_length_per_nm,
                                        &Curve::slit_width_per_nm};
  for (const auto blur : blurs)
    if ((old.*blur).size() == n) (curve.*blur).resize(m);
  for (Index k = 0; k < m; ++k) {
    const Index at = first[static_cast<std::size_t>(k)], count = first[static_cast<std::size_t>(k) + 1] - at;
    const VectorXd u = old.private_u.segment(at, count);
    const bool by_u = weighted && (u.array() > 0).all();
    VectorXd weight = by_u ? VectorXd(u.array().square().inverse()) : VectorXd(VectorXd::Ones(count));
    weight /= weight.sum();
    curve.q_per_nm[k] = old.q_per_nm[at];
    curve.intensity[k] = weight.dot(old.intensity.segment(at, count));
    curve.private_u[k] = weight.cwiseProduct(u).norm();
    for (const auto blur : blurs)
      if ((old.*blur).size() == n) (curve.*blur)[k] = (old.*blur)[at];
  }
}

}  // namespace

IntensityScale understand_intensity_unit(const std::string& unit, std::vector<std::string>& notes) {
  static const std::map<std::string, double> per_gram{{"cm2/g", 1.0},    {"cm^2/g", 1.0}, {"cm2.g-1", 1.0},
                                                      {"cm^2g^-1", 1.0}, {"m2/g", 1e4},   {"m^2/g", 1e4},
                                                      {"cm2/gram", 1.0}};
  std::string plain;
  for (const char c : unit)
    if (!std::isspace(static_cast<unsigned char>(c)))
      plain += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  if (const auto found = per_gram.find(plain); found != per_gram.end())
    return {IntensityUnit::cm2_per_g, found->second};
  if (plain.empty()) {
    notes.push_back("the intensity has no unit; taken as relative");
    return {};
  }
  if (plain == "relative" || plain == "arbitrary" || plain == "a.u.") return {};
  try {
    return {IntensityUnit::per_cm, unit_factor(unit, Quantity::intensity_per_cm)};
  } catch (const InputError&) {
    notes.push_back(
        fmt::format("the intensity's unit '{}' is neither 1/length nor area per mass; taken as relative, "
                    "so no absolute number follows from this curve",
                    unit));
    return {};
  }
}

void fill_curve(const Columns& columns, const std::string& where, NamedCurve& out) {
  std::vector<std::string>& notes = out.info.notes;
  const Index n = columns.q.size();
  require_length(columns.intensity, n, "the intensity", where);
  if (columns.intensity_u) require_length(*columns.intensity_u, n, "the uncertainty", where);
  if (columns.q_resolution) require_length(*columns.q_resolution, n, "the q resolution", where);
  if (columns.slit_length) require_length(*columns.slit_length, n, "the slit length (dQl)", where);
  if (columns.slit_width) require_length(*columns.slit_width, n, "the slit width (dQw)", where);
  const IntensityScale scale = understand_intensity_unit(columns.intensity_unit, notes);
  out.has_uncertainty = columns.intensity_u && columns.intensity_u->array().isFinite().any();
  if (!out.has_uncertainty)
    notes.push_back("the file gives no uncertainty of the intensity; zero is kept, which is not an uncertainty");

  std::vector<Index> keep;
  for (Index i = 0; i < n; ++i) {
    const bool good_q = std::isfinite(columns.q[i]) && columns.q[i] > 0;
    const bool good_u =
        !out.has_uncertainty || (std::isfinite((*columns.intensity_u)[i]) && (*columns.intensity_u)[i] >= 0);
    if (good_q && std::isfinite(columns.intensity[i]) && good_u) keep.push_back(i);
  }
  if (keep.empty())
    throw DataError(fmt::format("{} holds no usable point among {}.", where, n),
                    "A point needs q > 0, a finite intensity and an uncertainty that is not negative.");
  if (static_cast<Index>(keep.size()) < n)
    notes.push_back(fmt::format("{} of {} points left out: q not positive, or a number missing or not finite",
                                n - static_cast<Index>(keep.size()), n));
  const auto rises = [&](Index a, Index b) { return columns.q[a] < columns.q[b]; };
  if (!std::is_sorted(keep.begin(), keep.end(), rises)) {
    std::stable_sort(keep.begin(), keep.end(), rises);
    notes.push_back("the points were not in the order of q; sorted");
  }

  const double to_per_nm = q_factor(columns.q_unit, where);
  Curve& curve = out.curve;
  curve = Curve{};
  curve.unit = scale.unit;
  curve.q_per_nm = columns.q(keep) * to_per_nm;
  curve.intensity = columns.intensity(keep) * scale.factor;
  curve.private_u = VectorXd::Zero(curve.size());
  if (out.has_uncertainty) curve.private_u = (*columns.intensity_u)(keep)*scale.factor;
  const auto blur = [&](const std::optional<VectorXd>& given, const std::optional<std::string>& unit,
                        const char* what) -> VectorXd {
    if (!given) return {};
    VectorXd values = (*given)(keep) * (unit ? q_factor(*unit, fmt::format("{} of {}", what, where)) : to_per_nm);
    if ((values.array() >= 0).all() && values.allFinite()) return values;
    notes.push_back(fmt::format("{} is negative or missing in places; left out", what));
    return {};
  };
  curve.q_resolution_per_nm = blur(columns.q_resolution, columns.q_resolution_unit, "the q resolution");
  curve.slit_length_per_nm = blur(columns.slit_length, columns.slit_length_unit, "the slit length (dQl)");
  curve.slit_width_per_nm = blur(columns.slit_width, columns.slit_width_unit, "the slit width (dQw)");
  // Some writers fill the columns with zeros for a pinhole.
  const auto all_zero = [](const VectorXd& size) { return !(size.array() > 0).any(); };
  if (all_zero(curve.slit_length_per_nm)) {
    curve.slit_length_per_nm.resize(0);
    if (all_zero(curve.slit_width_per_nm)) curve.slit_width_per_nm.resize(0);
  }
  // A slit that has one of the two.
  if (curve.slit_length_per_nm.size() == 0 && curve.slit_width_per_nm.size() > 0) {
    if (curve.q_resolution_per_nm.size() == 0) curve.q_resolution_per_nm = curve.slit_width_per_nm;
    curve.slit_width_per_nm.resize(0);
    notes.push_back("the file gives a slit width (dQw) and no length (dQl); taken as the q resolution");
  }
  if (curve.slit_length_per_nm.size() > 0 && curve.slit_width_per_nm.size() == 0) {
    curve.slit_width_per_nm = VectorXd::Zero(curve.size());
    notes.push_back("the file gives a slit length (dQl) and no width (dQw); the width is taken as 0");
  }
  if (curve.has_slit()) notes.push_back("the curve is smeared by a slit; dQl and dQw are taken as standard deviations");
  merge_equal(curve, out.has_uncertainty, notes);
  if (out.has_uncertainty && (curve.private_u.array() == 0).any())
    notes.push_back(fmt::format("{} points have an uncertainty of zero", (curve.private_u.array() == 0).count()));
  check(curve);
}

}  // namespace sievelight
