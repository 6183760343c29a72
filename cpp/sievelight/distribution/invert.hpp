// SPDX-License-Identifier: GPL-3.0-or-later
/// From a curve to a size distribution with bands.
/// Model: I(q) = contrast^2 sum_j x_j A_j(q) + flat level (either sign) + [K q^-p] + coherent shifts + noise, with
/// x = e^g > 0 the volume per ln D. Default method: draws of g from its posterior under two smoothness priors (order 2
/// and order 3 differences of g), half each, with the strength drawn too (smoothness.hpp, sample.hpp). Pooling the two
/// was the only choice of those tried by simulation whose 95 % bands held the truth 92-98 % of the time for smooth
/// shapes; edges sharper than the resolution (a box) remain under-covered by a percent in x10 and x90.
/// What a dilute sum fits is phi (1 - phi); with a hard-sphere interaction it is phi. Shape, interaction, slit and the
/// exponent p stand in `kernel` (KernelOptions); the shape is an assumption that the curve does not prove, and `notes`
/// of the result says so. Pointwise uncertainties that prove too small (chi^2) are widened; `warnings` says so, and
/// everything else that a referee would ask about.
#pragma once

#include "sievelight/distribution/also_fit.hpp"
#include "sievelight/distribution/kernel.hpp"
#include "sievelight/distribution/quick_methods.hpp"
#include "sievelight/distribution/size_distribution.hpp"

#include <cstdint>
#include <optional>

namespace sievelight {

enum class FractionRoot { smaller, larger };

struct InvertOptions {
  std::optional<Range> diameter_nm;  // size window; default: what q supports
  double contrast_per_cm2 = 0.0;     // scattering-length-density difference, 1/cm^2; 0: unknown
  bool power_law = false;            // add K q^-p, K >= 0, for scattering of much larger things
  InversionMethod method = InversionMethod::sampled;
  std::uint64_t seed = 1;
  int draws = 2400;                     // kept, over both priors; more follow while they are not yet worth enough
  std::optional<Range> q_range_per_nm;  // points used; default all
  FractionRoot root = FractionRoot::smaller;
  GridOptions grid;
  KernelOptions kernel;
  /// The hard spheres' volume fraction (`kernel.interaction` gives their radius; its fraction is not used) or the
  /// exponent p (with `power_law`), found with the sizes by the sampled method: a handful of models instead of one.
  AlsoFit also_fit = AlsoFit::nothing;
  /// Look for peaks of an ordered structure first: where they carry the curve, no sizes are given.
  bool look_for_order = true;
};

/// The kernel that invert() would make for this curve and these options; reuse it for curves on the same bins.
Kernel make_kernel(const Curve& curve, const InvertOptions& options);

/// InputError for a curve or options that cannot be inverted; NumericalError when nothing scatters, or when peaks of an
/// ordered structure carry the curve.
SizeDistribution invert(const Curve& curve, const InvertOptions& options = {});
/// The same with a kernel made before, whose shape, interaction, slit and exponent hold. InputError when it belongs to
/// other q values, or without a slit to a curve of one.
SizeDistribution invert(const Curve& curve, const Kernel& kernel, const InvertOptions& options = {});

}  // namespace sievelight
