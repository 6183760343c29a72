// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/matrix_vector.hpp"

#include "sievelight/base/every_cpu.hpp"

namespace sievelight {
namespace {

using Eigen::Index;

SIEVELIGHT_EVERY_CPU void add_columns(const double* __restrict a, Index rows, Index columns, const double* __restrict x,
                                      double* __restrict out) {
  Index j = 0;
  for (; j + 8 <= columns; j += 8) {
    const double* const c = a + j * rows;
    const double* const w = x + j;
    for (Index i = 0; i < rows; ++i) {
      const double four =
          (((out[i] + c[i] * w[0]) + c[i + rows] * w[1]) + c[i + 2 * rows] * w[2]) + c[i + 3 * rows] * w[3];
      out[i] = (((four + c[i + 4 * rows] * w[4]) + c[i + 5 * rows] * w[5]) + c[i + 6 * rows] * w[6]) +
               c[i + 7 * rows] * w[7];
    }
  }
  for (; j < columns; ++j)
    for (Index i = 0; i < rows; ++i) out[i] += a[j * rows + i] * x[j];
}

}  // namespace

void multiply(const Eigen::MatrixXd& a, const Eigen::VectorXd& x, Eigen::VectorXd& out) {
  eigen_assert(a.cols() == x.size() && out.data() != x.data());
  out.setZero(a.rows());
  add_columns(a.data(), a.rows(), a.cols(), x.data(), out.data());
}

}  // namespace sievelight
