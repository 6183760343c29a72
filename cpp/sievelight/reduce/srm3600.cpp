// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/srm3600.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace sievelight {
namespace {

struct Point {
  double q_per_nm, intensity_per_cm, standard_uncertainty_per_cm;
};

// NIST SRM 3600, certificate Table 1 (q in 1/nm, dSigma/dOmega in 1/cm, standard uncertainty u_c in 1/cm; the
// certificate also gives the expanded uncertainty with k = 2.4231).
constexpr Point table[] = {
    {0.0827568, 34.933380, 0.901092}, {0.0888450, 34.427156, 0.888034}, {0.0954735, 34.042170, 0.878103},
    {0.1026900, 33.698553, 0.869240}, {0.1105780, 33.352529, 0.860314}, {0.1191830, 33.027533, 0.851931},
    {0.1286110, 32.665045, 0.842581}, {0.1389340, 32.306665, 0.833337}, {0.1502510, 31.970485, 0.824665},
    {0.1626850, 31.559099, 0.814053}, {0.1763650, 31.183763, 0.804372}, {0.1914320, 30.861805, 0.796067},
    {0.2080510, 30.514300, 0.787103}, {0.2264220, 30.084982, 0.776029}, {0.2467500, 29.690414, 0.765852},
    {0.2692890, 29.249965, 0.754490}, {0.2943170, 28.889970, 0.745204}, {0.3221560, 28.449341, 0.733839},
    {0.3531810, 28.065980, 0.723950}, {0.3878270, 27.704965, 0.714638}, {0.4265880, 27.331304, 0.704999},
    {0.4700390, 26.974065, 0.695784}, {0.5188580, 26.676952, 0.688121}, {0.5738140, 26.401158, 0.681007},
    {0.6358290, 26.177427, 0.675236}, {0.7059620, 25.904683, 0.668200}, {0.7854840, 25.528734, 0.658503},
    {0.8758630, 24.917743, 0.642743}, {0.9788540, 23.946472, 0.617689}, {1.0965500, 22.472101, 0.579658},
    {1.1431200, 21.777228, 0.561734}, {1.1839500, 21.112938, 0.544599}, {1.2262400, 20.401110, 0.526238},
    {1.2314200, 20.287060, 0.523296}, {1.2700400, 19.685107, 0.507769}, {1.3154000, 18.909809, 0.487770},
    {1.3623900, 18.089242, 0.466604}, {1.3864300, 17.679572, 0.456037}, {1.4110500, 17.264117, 0.445321},
    {1.4614500, 16.372848, 0.422331}, {1.5136500, 15.458350, 0.398742}, {1.5651300, 14.587700, 0.376284},
    {1.5677100, 14.563071, 0.375648}, {1.6237100, 13.616671, 0.351236}, {1.6817000, 12.668549, 0.326780},
    {1.7417700, 11.752287, 0.303145}, {1.7718100, 11.311460, 0.291774}, {1.8039800, 10.862157, 0.280185},
    {1.8684100, 9.961979, 0.256965},  {1.9351500, 9.116906, 0.235167},  {2.0042700, 8.325578, 0.214755},
    {2.0116500, 8.224897, 0.212158},  {2.0758600, 7.541931, 0.194541},  {2.1500000, 6.854391, 0.176806},
    {2.2267900, 6.216070, 0.160341},  {2.2909500, 5.715911, 0.147439},  {2.3063300, 5.582366, 0.143995},
    {2.3887100, 4.999113, 0.128950},  {2.4740200, 4.463604, 0.115137},
};

IntensityStandard make() {
  constexpr Eigen::Index n = std::size(table);
  IntensityStandard s{"NIST SRM 3600 glassy carbon",
                      Eigen::VectorXd(n),
                      Eigen::VectorXd(n),
                      Eigen::VectorXd(n),
                      0.0,
                      1.055,
                      "NIST SRM 3600; A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462"};
  for (Eigen::Index i = 0; i < n; ++i) {
    s.q_per_nm[i] = table[i].q_per_nm;
    s.intensity_per_cm[i] = table[i].intensity_per_cm;
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
