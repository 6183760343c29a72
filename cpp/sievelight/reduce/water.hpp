// SPDX-License-Identifier: GPL-3.0-or-later
/// Water as a standard of absolute intensity: flat at small q, from its compressibility.
/// dSigma/dOmega(0) = r_e^2 n_e^2 k_B T kappa_T. Density and isothermal compressibility: G. S. Kell, J. Chem. Eng. Data
/// 20 (1975) 97. The published value 0.01632 1/cm at 20 C (D. Orthaber, A. Bergmann, O. Glatter, J. Appl. Cryst. 33
/// (2000) 218) lies 0.63 % below: it corresponds to a compressibility near the adiabatic one. Half that difference is
/// the relative standard uncertainty carried here.
#pragma once

#include "sievelight/reduce/srm3600.hpp"

namespace sievelight {

/// g/cm3 and 1/Pa at atmospheric pressure. InputError outside 0 to 100 C.
double water_density_g_per_cm3(double temperature_C);
double water_compressibility_per_Pa(double temperature_C);
/// dSigma/dOmega(q -> 0) in 1/cm; its minimum stands at 21.7 C, so 20 to 25 C differ by 0.05 %.
double water_intensity_per_cm(double temperature_C);

/// The standard from 0.3 to 2.5 1/nm: below, a cell's own scattering drowns it; above, the structure of the liquid
/// begins to rise (common practice).
IntensityStandard water_standard(double temperature_C);

}  // namespace sievelight
