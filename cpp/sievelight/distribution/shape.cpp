// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/shape.hpp"

#include "sievelight/distribution/sphere.hpp"

namespace sievelight {

Eigen::ArrayXd form_factors(const Shape& shape, double q_per_nm, const Eigen::ArrayXd& size_nm) {
  if (shape.form_factors) return shape.form_factors(q_per_nm, size_nm);
  Eigen::ArrayXd out(size_nm.size());
  for (Eigen::Index j = 0; j < out.size(); ++j) out[j] = shape.form_factor(q_per_nm, size_nm[j]);
  return out;
}

Shape sphere() {
  Shape out;
  out.name = "sphere";
  out.form_factor = [](double q_per_nm, double diameter_nm) {
    return sphere_form_factor(0.5 * q_per_nm * diameter_nm);
  };
  out.volume_nm3 = sphere_volume_nm3;
  out.packs_as_spheres = true;
  return out;
}

}  // namespace sievelight
