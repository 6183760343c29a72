// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/compare/batch_errors.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

const std::vector<std::string> batches = {"A", "A", "B", "B", "B"};
const Eigen::VectorXd values = (Eigen::VectorXd(5) << 10, 10.2, 12, 12.3, 11.8).finished();

// Every sample a private 1 % and a shared 2 %.
Eigen::MatrixXd errors() {
  return 4e-4 * values * values.transpose() + 1e-4 * Eigen::MatrixXd(values.cwiseAbs2().asDiagonal());
}
BatchComparison compared() {
  return compare_batches({"1", "2", "3", "4", "5"}, batches, values, errors(), {.reference = "A"});
}

// By hand: a mean of n samples has 1 % / sqrt n of private error, 2 % shared with the other, and its scatter sd^2 / n.
TEST(BatchErrors, MeansKeepWhatBatchesShare) {
  const BatchComparison c = compared();
  const BatchMeans m = means_of_batches(batches, values, errors(), c, {"A", "B"});
  const double a = c.batches[0].mean.value, b = c.batches[1].mean.value;
  EXPECT_NEAR(m.mean[0], std::sqrt(10 * 10.2), 1e-12);
  EXPECT_NEAR(m.covariance(0, 1), 4e-4 * a * b, 1e-12);
  EXPECT_NEAR(m.covariance(0, 0), a * a * (4e-4 + 1e-4 / 2) + std::pow(c.batches[0].between_sample_sd, 2) / 2, 1e-12);
  EXPECT_NEAR(m.covariance(1, 1), b * b * (4e-4 + 1e-4 / 3) + std::pow(c.batches[1].between_sample_sd, 2) / 3, 1e-12);
  EXPECT_EQ(means_of_batches(batches, values, errors(), c, {"B"}).mean.size(), 1);
}

// The scatter is the root mean square of the two relative ones, 1 + 2 degrees of freedom; the shared 2 % cancels in the
// difference and is not of a sample's own error.
TEST(BatchErrors, SizingTakesTheErrorsApart) {
  const BatchComparison c = compared();
  const auto in = errors_for_sizing(batches, values, errors(), c, "B");
  ASSERT_TRUE(in);
  const double a = c.batches[0].between_sample_sd / c.batches[0].mean.value,
               b = c.batches[1].between_sample_sd / c.batches[1].mean.value;
  EXPECT_NEAR(in->between_sd, std::sqrt((a * a + b * b) / 2), 1e-12);
  EXPECT_EQ(in->scatter_degrees, 3);
  EXPECT_NEAR(in->own_u, 0.01, 1e-12);
  EXPECT_NEAR(in->shared_u, 0.0, 1e-6);
  EXPECT_NEAR(in->margin, std::log(1.05), 1e-12);
  EXPECT_NEAR(in->alpha, 0.05, 1e-12);
}

TEST(BatchErrors, NothingIsKnownOfSingleSamples) {
  const Eigen::VectorXd two = values.head(2);
  const std::vector<std::string> each = {"A", "B"};
  const BatchComparison c =
      compare_batches({"1", "2"}, each, two, Eigen::MatrixXd::Identity(2, 2) * 1e-4, {.reference = "A"});
  EXPECT_FALSE(errors_for_sizing(each, two, Eigen::MatrixXd::Identity(2, 2) * 1e-4, c, "B"));
}

TEST(BatchErrors, RefuseWhatWasNotCompared) {
  const BatchComparison c = compared();
  EXPECT_THROW(means_of_batches(batches, values, errors(), c, {"C"}), InputError);
  EXPECT_THROW(errors_for_sizing(batches, values, errors(), c, "A"), InputError);
  EXPECT_THROW(means_of_batches({"A"}, values, errors(), c, {"A"}), InputError);
}

}  // namespace
}  // namespace sievelight
