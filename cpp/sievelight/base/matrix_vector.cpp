// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/matrix_vector.hpp"

#include "sievelight/base/every_cpu.hpp"
#include "sievelight/base/four.hpp"

#include <algorithm>

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

// Twelve rows of four products at once: their sums fill the registers of a processor with sixteen of them, and what is
// read serves four or twelve times.
constexpr Index tile_rows = 12, tile_columns = 4;

SIEVELIGHT_EVERY_CPU void fill_tiles(const double* __restrict a, Index rows, Index inner, const double* __restrict b,
                                     Index columns, double* __restrict out) {
  // The last tile of a row or column overlaps the one before it, and finds the same numbers.
  for (Index c = 0; c < columns; c += tile_columns) {
    const Index column = std::min(c, columns - tile_columns);
    const double* const w = b + column * inner;
    for (Index r = 0; r < rows; r += tile_rows) {
      const Index row = std::min(r, rows - tile_rows);
      Four sum[tile_columns][3] = {};
      for (Index k = 0; k < inner; ++k) {
        const double* const from = a + k * rows + row;
        const Four low = *reinterpret_cast<const Four*>(from), mid = *reinterpret_cast<const Four*>(from + 4),
                   high = *reinterpret_cast<const Four*>(from + 8);
        for (Index j = 0; j < tile_columns; ++j) {
          const double x = w[j * inner + k];
          sum[j][0] += low * x;
          sum[j][1] += mid * x;
          sum[j][2] += high * x;
        }
      }
      for (Index j = 0; j < tile_columns; ++j)
        for (Index part = 0; part < 3; ++part)
          *reinterpret_cast<Four*>(out + (column + j) * rows + row + 4 * part) = sum[j][part];
    }
  }
}

}  // namespace

void multiply(const Eigen::MatrixXd& a, const Eigen::VectorXd& x, Eigen::VectorXd& out) {
  eigen_assert(a.cols() == x.size() && out.data() != x.data());
  out.setZero(a.rows());
  add_columns(a.data(), a.rows(), a.cols(), x.data(), out.data());
}

void multiply(const Eigen::MatrixXd& a, const Eigen::Ref<const Eigen::MatrixXd>& b, Eigen::Ref<Eigen::MatrixXd> out) {
  eigen_assert(a.cols() == b.rows() && out.rows() == a.rows() && out.cols() == b.cols());
  eigen_assert(b.outerStride() == b.rows() && out.outerStride() == out.rows());
  if (a.rows() >= tile_rows && b.cols() >= tile_columns) {
    fill_tiles(a.data(), a.rows(), a.cols(), b.data(), b.cols(), out.data());
    return;
  }
  out.setZero();
  for (Index j = 0; j < b.cols(); ++j)
    add_columns(a.data(), a.rows(), a.cols(), b.data() + j * b.rows(), out.data() + j * out.rows());
}

}  // namespace sievelight
