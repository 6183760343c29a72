// SPDX-License-Identifier: GPL-3.0-or-later
/// A matrix of a few hundred rows times a vector, thousands of times over: the innermost step of the sampler. Column by
/// column, eight at a time, so that every sum runs in the order of the columns whatever the width of the vector
/// instructions: the same bits on every processor, at the speed of the widest it has.
#pragma once

#include <Eigen/Core>

namespace sievelight {

/// out = a x. `out` is resized and must be neither of the two.
void multiply(const Eigen::MatrixXd& a, const Eigen::VectorXd& x, Eigen::VectorXd& out);

/// out = a b for many such vectors; the sums run in the order of the columns of `a`, as above. `out` has the shape of
/// the product already, and is none of the two; it and `b` may be columns of something larger.
void multiply(const Eigen::MatrixXd& a, const Eigen::Ref<const Eigen::MatrixXd>& b, Eigen::Ref<Eigen::MatrixXd> out);

}  // namespace sievelight
