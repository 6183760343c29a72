// SPDX-License-Identifier: GPL-3.0-or-later
/// What a referee would ask about an inversion, as warnings and notes; and what is refused outright.
#pragma once

#include "sievelight/distribution/invert.hpp"
#include "sievelight/distribution/model_fit.hpp"

namespace sievelight {

/// What was assumed rather than found: shape, interference, slit, exponent.
std::vector<std::string> assumptions(const KernelOptions& model, const InvertOptions& options);

/// InputError when no size of the window is one that the q range supports.
void refuse_unsupported(const Range& window, const Range& supported);
/// NumericalError when a flat level (and K q^-p, where the model has it) describes the curve within its uncertainties
/// (chi^2 with a probability above 1 %): sizes found in it would be those of the prior.
void refuse_flat(const FitData& data);

/// Peaks of order (curve_peaks.hpp): NumericalError where they carry the curve; a warning that names their windows
/// where they only disturb it. Says nothing of curves of a slit or with too few points, in which they are not looked
/// for.
void refuse_order(const Curve& usable, std::vector<std::string>& warnings);

/// Window against what q supports.
void judge_support(const Range& window, const Range& supported, std::vector<std::string>& warnings);
/// Gaps between points beyond which the oscillations of a size of the window are no longer sampled (pi / gap; sampling
/// theorem, P. B. Moore 1980, J. Appl. Cryst. 13, 168, from memory) and which stand out against the other steps.
void judge_gaps(const Curve& usable, const Range& window, std::vector<std::string>& warnings);
/// chi^2 against the stated uncertainties. @param widened factor that was put on them.
void judge_noise(const Goodness& fit, double widened, const KernelOptions& model, SizeDistribution& out);
/// Volume at the edges, a median in a gap between modes.
void judge_range(const SizeDistribution& r, std::vector<std::string>& warnings);
/// Runs of residuals; fills runs_probability.
void judge_residuals(SizeDistribution& out);
/// Whether the number found with the sizes is known at all, or ended at its limit.
void judge_also_fitted(AlsoFit what, SizeDistribution& out);

}  // namespace sievelight
