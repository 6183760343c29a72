// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/exponential.hpp"

#include "sievelight/base/every_cpu.hpp"

#include <bit>
#include <cstdint>

namespace sievelight {

SIEVELIGHT_EVERY_CPU void exponentials(const double* x, Eigen::Index n, double* out) {
  constexpr double log2_e = 1.4426950408889634074, ln2_high = 6.93145751953125e-1, ln2_low = 1.42860682030941723212e-6;
  constexpr double rounder = 6755399441055744.0;  // 1.5 * 2^52: a sum with it has the nearest integer in its last bits
  for (Eigen::Index i = 0; i < n; ++i) {
    double at = x[i] < largest_exponent ? x[i] : largest_exponent;
    at = at > least_exponent ? at : least_exponent;
    const double rounded = at * log2_e + rounder, power = rounded - rounder;
    const double r = (at - power * ln2_high) - power * ln2_low, z = r * r;
    const double p = r * ((1.26177193074810590878e-4 * z + 3.02994407707441961300e-2) * z + 9.99999999999999999910e-1);
    const double q = ((3.00198505138664455042e-6 * z + 2.52448340349684104192e-3) * z + 2.27265548208155028766e-1) * z +
                     2.00000000000000000005;
    const double fraction = 1 + 2 * (p / (q - p));
    const auto exponent = (std::bit_cast<std::uint64_t>(rounded) + 1023) << 52;
    out[i] = fraction * std::bit_cast<double>(exponent);
  }
}

}  // namespace sievelight
