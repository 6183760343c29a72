// SPDX-License-Identifier: GPL-3.0-or-later
/// Student's t for any number of degrees of freedom above zero, infinity (the normal distribution) included.
/// Satterthwaite's degrees of freedom are seldom whole, and a part of the variance that is known adds none.
/// Computed by GSL; checked against printed tables and SciPy.
#pragma once

namespace sievelight {

/// P(T > t).
double student_upper(double t, double degrees_of_freedom);

/// t with P(T <= t) = p, 0 < p < 1.
double student_quantile(double p, double degrees_of_freedom);

}  // namespace sievelight
