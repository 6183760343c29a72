// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/shape.hpp"

#include "sievelight/distribution/sphere.hpp"

namespace sievelight {

Shape sphere() {
  return {"sphere",
          [](double q_per_nm, double diameter_nm) { return sphere_form_factor(0.5 * q_per_nm * diameter_nm); },
          sphere_volume_nm3};
}

}  // namespace sievelight
