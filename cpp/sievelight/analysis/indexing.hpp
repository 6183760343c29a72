// SPDX-License-Identifier: GPL-3.0-or-later
/// Which lattice do the peaks belong to, and what is its parameter?
/// For each symmetry, trial lattices put some peak on some low reflection; peaks then go to the nearest reflection
/// within 4 u, and one parameter kappa = 2 pi / a is fitted to all by weighted least squares, q_k = kappa r_k:
///   kappa = sum(w r q) / sum(w r^2), w = 1 / u_k^2,  a = 2 pi / kappa,  chi2 = sum w (q - kappa r)^2.
/// u_k holds the position's own u and 2 s^2 / q, s the peak's sd: a smooth factor q^-p under a symmetric peak moves its
/// top by p s^2 / q, and p is between 0 and 4. All tops move together then, so it enters a as one cause, "peak shape".
/// Another 2 % of the width stands for a profile that is none of the fitted ones (common practice): "peak profile".
/// Candidates are weighed by a plain likelihood, with equal odds beforehand: a reflection that the lattice allows below
/// its last observed one is seen with probability 0.85 (a strong one, anywhere in range, 0.95), a peak that fits no
/// reflection costs as a stray one (0.05 per unit of ln q), and positions count with their normal density. Reflections
/// above the last observed one may be weak and count neither way. `share` is the resulting probability among the
/// symmetries listed. The visibilities are common practice, not measurement: read `share` as an ordering that knows how
/// clear it is. One peak decides nothing but a spacing.
/// Source: the fit is textbook; weighing by how few reflections stay unseen goes back to P. M. de Wolff, J. Appl.
/// Cryst. 1 (1968) 108 (from memory); the shift of the top is derived in the test.
#pragma once

#include "sievelight/analysis/curve_peaks.hpp"
#include "sievelight/analysis/lattice.hpp"

#include <optional>
#include <string>
#include <vector>

namespace sievelight {

struct IndexedPeak {
  int peak = 0;  // which of the peaks given, from 0
  Reflection reflection;
  double q_per_nm = 0.0;   // observed
  double deviation = 0.0;  // (observed - calculated) / u
};

struct LatticeCandidate {
  Symmetry symmetry = Symmetry::lamellar;
  CurveEstimate lattice_nm;  // a (lamellar: the period); no influence where positions came without a curve
  double chi2 = 0.0;
  int degrees_of_freedom = 0;
  double chi2_probability = 1.0;
  std::vector<IndexedPeak> indexed;
  std::vector<int> unindexed;       // peaks that fit no reflection
  std::vector<Reflection> missing;  // allowed below the last observed one, or strong and in range, but not seen
  bool misses_strong = false;
  bool explains = false;  // every peak indexed, chi2 probability above 1e-3, no strong reflection missing
  double share = 0.0;     // of the probability among the symmetries listed
};

struct Indexing {
  std::vector<LatticeCandidate> candidates;  // most probable first
  bool decided = false;                      // one explains all and has a share of 0.95 or more
  std::string verdict;                       // in words
  CurveEstimate spacing_nm;                  // 2 pi / q of the first peak: needs no symmetry
  std::vector<std::string> warnings;
};

struct IndexingOptions {
  std::vector<Symmetry> symmetries = known_symmetries();
  double q_scale_relative_u = 0.0;  // of the q scale, where the curve does not carry it: cause "q scale"
};

/// Peaks of the curve. InputError when there are none, or no symmetry is given.
Indexing index_peaks(const Curve& curve, const CurvePeaks& peaks, const IndexingOptions& options = {});

/// Positions from elsewhere: q and standard uncertainty (k) each, independent; seen within `q_range_per_nm`.
/// InputError unless q rises, is positive and finite, and every u is positive.
Indexing index_positions(const Eigen::VectorXd& q_per_nm, const Eigen::VectorXd& u_per_nm, Range q_range_per_nm,
                         const IndexingOptions& options = {});

}  // namespace sievelight
