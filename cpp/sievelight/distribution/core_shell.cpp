// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/core_shell.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/sphere.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

double core_shell_form_factor(double q, double outer_nm, double core_nm, double s) {
  const double share = core_nm / outer_nm;
  const double f = (1 - s) * share * share * share * sphere_amplitude(q * core_nm) + s * sphere_amplitude(q * outer_nm);
  return f * f;
}

Shape shell(std::string name, std::function<double(double, double)> form_factor, double s) {
  if (!std::isfinite(s))
    throw InputError(fmt::format("the contrast of the shell over that of the core is {}.", s),
                     "Give a number: 0 for a shell like the matrix, 1 for one like the core.");
  Shape out;
  out.name = std::move(name);
  out.form_factor = std::move(form_factor);
  out.volume_nm3 = sphere_volume_nm3;
  out.size = "outer diameter";
  out.packs_as_spheres = true;
  return out;
}

}  // namespace

Shape core_shell_sphere(double shell_ratio, double s) {
  if (!(shell_ratio > 0 && shell_ratio < 1))
    throw InputError(fmt::format("the shell is {} of the outer radius thick.", shell_ratio),
                     "Give a ratio between 0 and 1.");
  return shell(
      fmt::format("core-shell sphere (shell {:g} of the radius, contrast {:g} of the core's)", shell_ratio, s),
      [=](double q, double d) { return core_shell_form_factor(q, 0.5 * d, 0.5 * d * (1 - shell_ratio), s); }, s);
}

Shape core_shell_sphere_of_thickness(double shell_nm, double s) {
  if (!(shell_nm > 0) || !std::isfinite(shell_nm))
    throw InputError(fmt::format("the shell is {} nm thick.", shell_nm), "Give a positive thickness.");
  return shell(
      fmt::format("core-shell sphere (shell of {:g} nm, contrast {:g} of the core's)", shell_nm, s),
      [=](double q, double d) { return core_shell_form_factor(q, 0.5 * d, std::max(0.5 * d - shell_nm, 0.0), s); }, s);
}

}  // namespace sievelight
