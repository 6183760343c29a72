// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/matrix_vector.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace sievelight {
namespace {

// Against the sums written out, in the order of the columns: bit for bit, whatever the processor and the shape.
TEST(MatrixVector, SumsInTheOrderOfTheColumns) {
  for (const Eigen::Index rows : {1, 2, 7, 8, 9, 25, 111})
    for (const Eigen::Index columns : {1, 3, 4, 5, 8, 110}) {
      const Eigen::MatrixXd a = Eigen::MatrixXd::Random(rows, columns);
      const Eigen::VectorXd x = Eigen::VectorXd::Random(columns);
      Eigen::VectorXd out = Eigen::VectorXd::Constant(3, 7.0);
      multiply(a, x, out);
      ASSERT_EQ(out.size(), rows);
      for (Eigen::Index i = 0; i < rows; ++i) {
        double sum = 0;
        for (Eigen::Index j = 0; j < columns; ++j) sum += a(i, j) * x[j];
        EXPECT_EQ(out[i], sum) << rows << " x " << columns << ", row " << i;
      }
      // And against Eigen, whose order is another: both are within the rounding of so many terms of at most one.
      EXPECT_LE((out - a * x).cwiseAbs().maxCoeff(),
                2 * static_cast<double>(columns * columns) * std::numeric_limits<double>::epsilon());
    }
}

// The product of two matrices is that of its columns, bit for bit, at the edges of its tiles too.
TEST(MatrixVector, ProductIsThatOfTheColumns) {
  for (const Eigen::Index rows : {3, 11, 12, 13, 24, 111})
    for (const Eigen::Index inner : {1, 5, 110})
      for (const Eigen::Index columns : {1, 3, 4, 5, 9}) {
        const Eigen::MatrixXd a = Eigen::MatrixXd::Random(rows, inner), b = Eigen::MatrixXd::Random(inner, columns);
        Eigen::MatrixXd all = Eigen::MatrixXd::Constant(rows, columns + 2, 7.0);
        multiply(a, b, all.middleCols(1, columns));
        EXPECT_TRUE((all.leftCols(1).array() == 7.0).all() && (all.rightCols(1).array() == 7.0).all());
        const Eigen::MatrixXd out = all.middleCols(1, columns);
        Eigen::VectorXd column;
        for (Eigen::Index j = 0; j < columns; ++j) {
          multiply(a, b.col(j), column);
          EXPECT_EQ(out.col(j), column) << rows << " x " << inner << " x " << columns << ", column " << j;
        }
      }
}

}  // namespace
}  // namespace sievelight
