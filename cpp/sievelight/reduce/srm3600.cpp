// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/srm3600.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace sievelight {
namespace {

struct Point {
  double q_per_nm, intensity_per_cm, expanded_uncertainty_per_cm, standard_uncertainty_per_cm;
};

// NIST SRM 3600, certificate Table 1: q in 1/nm, dSigma/dOmega, its expanded uncertainty (coverage factor 2.4231) and
// its standard uncertainty, in 1/cm.
constexpr Point table[] = {
    {0.0827568, 34.933380, 2.183336, 0.901092}, {0.0888450, 34.427156, 2.151697, 0.888034},
    {0.0954735, 34.042170, 2.127636, 0.878103}, {0.1026900, 33.698553, 2.106160, 0.869240},
    {0.1105780, 33.352529, 2.084533, 0.860314}, {0.1191830, 33.027533, 2.064221, 0.851931},
    {0.1286110, 32.665045, 2.041565, 0.842581}, {0.1389340, 32.306665, 2.019167, 0.833337},
    {0.1502510, 31.970485, 1.998155, 0.824665}, {0.1626850, 31.559099, 1.972444, 0.814053},
    {0.1763650, 31.183763, 1.948985, 0.804372}, {0.1914320, 30.861805, 1.928863, 0.796067},
    {0.2080510, 30.514300, 1.907144, 0.787103}, {0.2264220, 30.084982, 1.880311, 0.776029},
    {0.2467500, 29.690414, 1.855651, 0.765852}, {0.2692890, 29.249965, 1.828123, 0.754490},
    {0.2943170, 28.889970, 1.805623, 0.745204}, {0.3221560, 28.449341, 1.778084, 0.733839},
    {0.3531810, 28.065980, 1.754124, 0.723950}, {0.3878270, 27.704965, 1.731560, 0.714638},
    {0.4265880, 27.331304, 1.708207, 0.704999}, {0.4700390, 26.974065, 1.685879, 0.695784},
    {0.5188580, 26.676952, 1.667309, 0.688121}, {0.5738140, 26.401158, 1.650072, 0.681007},
    {0.6358290, 26.177427, 1.636089, 0.675236}, {0.7059620, 25.904683, 1.619043, 0.668200},
    {0.7854840, 25.528734, 1.595546, 0.658503}, {0.8758630, 24.917743, 1.557359, 0.642743},
    {0.9788540, 23.946472, 1.496655, 0.617689}, {1.0965500, 22.472101, 1.404506, 0.579658},
    {1.1431200, 21.777228, 1.361077, 0.561734}, {1.1839500, 21.112938, 1.319559, 0.544599},
    {1.2262400, 20.401110, 1.275069, 0.526238}, {1.2314200, 20.287060, 1.267941, 0.523296},
    {1.2700400, 19.685107, 1.230319, 0.507769}, {1.3154000, 18.909809, 1.181863, 0.487770},
    {1.3623900, 18.089242, 1.130578, 0.466604}, {1.3864300, 17.679572, 1.104973, 0.456037},
    {1.4110500, 17.264117, 1.079007, 0.445321}, {1.4614500, 16.372848, 1.023303, 0.422331},
    {1.5136500, 15.458350, 0.966147, 0.398742}, {1.5651300, 14.587700, 0.911731, 0.376284},
    {1.5677100, 14.563071, 0.910192, 0.375648}, {1.6237100, 13.616671, 0.851042, 0.351236},
    {1.6817000, 12.668549, 0.791784, 0.326780}, {1.7417700, 11.752287, 0.734518, 0.303145},
    {1.7718100, 11.311460, 0.706966, 0.291774}, {1.8039800, 10.862157, 0.678885, 0.280185},
    {1.8684100, 9.961979, 0.622624, 0.256965},  {1.9351500, 9.116906, 0.569807, 0.235167},
    {2.0042700, 8.325578, 0.520349, 0.214755},  {2.0116500, 8.224897, 0.514056, 0.212158},
    {2.0758600, 7.541931, 0.471371, 0.194541},  {2.1500000, 6.854391, 0.428399, 0.176806},
    {2.2267900, 6.216070, 0.388504, 0.160341},  {2.2909500, 5.715911, 0.357244, 0.147439},
    {2.3063300, 5.582366, 0.348898, 0.143995},  {2.3887100, 4.999113, 0.312445, 0.128950},
    {2.4740200, 4.463604, 0.278975, 0.115137},
};

IntensityStandard make() {
  constexpr Eigen::Index n = std::size(table);
  IntensityStandard s{"NIST SRM 3600 glassy carbon",
                      Eigen::VectorXd(n),
                      Eigen::VectorXd(n),
                      Eigen::VectorXd(n),
                      Eigen::VectorXd(n),
                      0.0,
                      1.055,
                      "NIST SRM 3600; A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462"};
  for (Eigen::Index i = 0; i < n; ++i) {
    s.q_per_nm[i] = table[i].q_per_nm;
    s.intensity_per_cm[i] = table[i].intensity_per_cm;
    s.expanded_uncertainty_per_cm[i] = table[i].expanded_uncertainty_per_cm;
    s.standard_uncertainty_per_cm[i] = table[i].standard_uncertainty_per_cm;
  }
  s.relative_u = s.standard_uncertainty_per_cm.cwiseQuotient(s.intensity_per_cm).mean();
  return s;
}

// Segment [i, i + 1] of the table that holds q.
Eigen::Index segment(const IntensityStandard& s, double q) {
  const Eigen::Index n = s.q_per_nm.size();
  if (!(q >= s.q_per_nm[0] && q <= s.q_per_nm[n - 1]))
    throw InputError(fmt::format("q = {} 1/nm is outside the certified range of {}.", q, s.name),
                     fmt::format("It reaches from {} to {} 1/nm.", s.q_per_nm[0], s.q_per_nm[n - 1]));
  const double* first = s.q_per_nm.data();
  return std::clamp<Eigen::Index>(std::upper_bound(first, first + n, q) - first - 1, 0, n - 2);
}

double on_segment(const IntensityStandard& s, Eigen::Index i, double q) {
  const double share = (q - s.q_per_nm[i]) / (s.q_per_nm[i + 1] - s.q_per_nm[i]);
  return s.intensity_per_cm[i] + share * (s.intensity_per_cm[i + 1] - s.intensity_per_cm[i]);
}

}  // namespace

const IntensityStandard& srm3600() {
  static const IntensityStandard standard = make();
  return standard;
}

double certified_intensity_per_cm(const IntensityStandard& s, double q) { return on_segment(s, segment(s, q), q); }

double certified_mean_per_cm(const IntensityStandard& s, double q, Range bin) {
  const Eigen::Index first = segment(s, bin.low), last = segment(s, bin.high);
  double weight = 0, mean_q = 0, mean_i = 0;
  for (Eigen::Index i = first; i <= last; ++i) {
    const double a = std::max(bin.low, s.q_per_nm[i]), b = std::min(bin.high, s.q_per_nm[i + 1]);
    if (!(b > a)) continue;
    // Simpson's rule is exact for q^2 and q I(q), I straight inside a segment.
    const double m = 0.5 * (a + b), h = (b - a) / 6;
    weight += h * (a + 4 * m + b);
    mean_q += h * (a * a + 4 * m * m + b * b);
    mean_i += h * (a * on_segment(s, i, a) + 4 * m * on_segment(s, i, m) + b * on_segment(s, i, b));
  }
  const double here = certified_intensity_per_cm(s, q);
  if (!(weight > 0)) return here;
  return here + mean_i / weight - certified_intensity_per_cm(s, mean_q / weight);
}

}  // namespace sievelight
