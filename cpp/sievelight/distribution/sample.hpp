// SPDX-License-Identifier: GPL-3.0-or-later
/// Draws from the joint posterior of ln density and smoothness strength.
/// Coordinates: the generalised eigenvectors T of (prior, prior + data curvature), g = T c, in which the prior is
/// strength * sum p_i c_i^2 / 2 and the data are about sum h_i c_i^2 / 2. A draw is held as
/// xi_i = (c_i - centre_i) * sqrt(h_i + strength p_i), which is about N(0, 1) whatever the strength: directions that
/// the data know are centred, directions that only the prior knows are not, so both mix. One sweep is
///   1. Hamiltonian moves of xi: exact rotation for the N(0, 1) part, kicks for the rest;
///   2. Metropolis moves of ln(strength) at fixed xi (long), and the exact Gamma draw of strength at fixed g (free).
/// Sources: S. Duane et al. 1987, Phys. Lett. B 195, 216 (Hamiltonian sampling); A. Beskos et al. 2011, Stoch. Proc.
/// Appl. 121, 2201 (rotation for the Gaussian part); O. Papaspiliopoulos, G. Roberts, M. Skoeld 2007, Stat. Sci. 22, 59
/// (non-centred hierarchies). Citations from memory; the sampler is checked against a closed form in its test.
#pragma once

#include "sievelight/distribution/log_density.hpp"

#include <cstdint>
#include <memory>

namespace sievelight {

struct SampleOptions {
  int chains = 4;
  int warm_up = 200;       // sweeps before the coordinates are rebuilt from the draws, and half as many after
  std::uint64_t seed = 1;  //
};

/// Draws of one chain, one column a sweep.
struct Chain {
  Eigen::MatrixXd x;            // (p, draws) density in units of the reference level
  Eigen::VectorXd ln_strength;  // (draws)
  double acceptance = 0.0;      // share of Hamiltonian moves accepted
  double strength_acceptance = 0.0;
  double step = 0.0;  // angle of one kick
};

/// Chains that can be made longer. The result depends on the seed, never on the number of threads.
class Sampler {
 public:
  Sampler(const LogDensity& problem, const Range& ln_strength, const std::vector<MostProbable>& path,
          const SampleOptions& options);
  ~Sampler();
  Sampler(const Sampler&) = delete;
  Sampler& operator=(const Sampler&) = delete;
  Sampler(Sampler&&) noexcept;
  Sampler& operator=(Sampler&&) noexcept;
  /// Chains of this sampler; each can be advanced independently of the others, so callers may pool their threads.
  std::size_t count() const;
  /// Stage 1: from the start to the end of the first warm-up. Run for every chain, then call adapt() once.
  void warm_up(std::size_t chain);
  /// Rebuilds the coordinates from the mean curvature over the first warm-up of all chains.
  void adapt();
  /// Stage 2: the second warm-up on the first call, then `draws` more sweeps, kept.
  void advance(std::size_t chain, int draws);
  const std::vector<Chain>& chains() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace sievelight
