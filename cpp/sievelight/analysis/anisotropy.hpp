// SPDX-License-Identifier: GPL-3.0-or-later
/// How strongly a pattern is oriented, and along which direction: two measures of an azimuthal profile.
/// In the plane, without a model: A = |sum I exp(2 i chi)| / sum I, 0 for a ring and 1 for a line, and the director,
/// the azimuth of most intensity (modulo 180 degrees). I = 1 + a cos 2(chi - chi0) has A = a/2. In space, for a pattern
/// with the symmetry of a fibre: S2 = <P2(cos phi)> weighted by I(phi) |sin phi|, phi = chi - director; 1 along the
/// director, -1/2 across it, 0 isotropic. I ~ cos^2n has S2 = 2 n/(2 n + 3). Both are ratios of sums that are linear in
/// the counts, with weights that do not depend on them: no bias from few counts. The length of noise is not zero,
/// however: A is reported as measured and with its noise taken off (A^2 is then unbiased), with intervals that hold at
/// any length (rice.hpp), and with the probability that an isotropic pattern gives as much. S2 about a director that
/// was fitted to the same noise is high by about its own u for an isotropic pattern; give the director (the draw
/// direction, say) where it is known. Gaps: A comes from a least-squares fit of 1, cos 2 chi, sin 2 chi (and cos 4 chi,
/// sin 4 chi) to the bins there are, which for full circles is the plain sum; S2 folds the pattern onto one quadrant by
/// its symmetry. Source of S2: P. H. Hermans, P. Platzek, Kolloid-Z. 88 (1939) 68 (from memory); of A: first even
/// Fourier coefficient, derivation.
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/reduce/azimuth.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

struct AnisotropyOptions {
  std::optional<double> director_deg = {};  // known direction; absent = from the profile
  bool fourth_harmonic = true;              // fit cos 4 chi and sin 4 chi too; matters only where azimuths are missing
};

struct Anisotropy {
  Estimate amplitude;             // A with its noise taken off, sqrt(max(0, A^2)); bands by Rice's distribution
  double amplitude_measured = 0;  // |sum I exp(2 i chi)| / sum I, high by noise
  double amplitude_squared = 0;   // A^2 without the share of noise; may be negative
  double amplitude_squared_u = 0;
  double isotropic_probability = 1;  // that an isotropic pattern gives as much or more
  double director_deg = 0;           // of most intensity, in [0, 180); as given, if given
  double director_u_deg = 0;         // of the fitted one; 0 if given; no more than 90/sqrt(3), that of no knowledge
  std::optional<Estimate> order_parameter;  // S2; absent where a gap stays open after folding
  double covered_share = 0;                 // of the circle that bins with pixels cover
  double chi2 = 0;                          // of the harmonics against the bins, expected counts as variance
  int degrees_of_freedom = 0;
  std::vector<std::string> warnings;
};

/// InputError: fewer bins than harmonics need, bins wider than 30 degrees, a director that is not finite, or no
/// intensity. NumericalError: gaps that leave the harmonics undetermined.
Anisotropy anisotropy(const AzimuthalProfile& profile, const AnisotropyOptions& options = {});

}  // namespace sievelight
