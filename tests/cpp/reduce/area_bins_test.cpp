// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/area_bins.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::Index;
using Eigen::VectorXd;

TEST(AreaBins, MakesAnIsotropicScattererFlat) {
  DetectorGeometry g = small_detector();
  g.distance_mm = 80;
  g.pitch_rad = radians(-15);
  const PixelMap map = pixel_map(g, 60, 70);
  AverageOptions options;
  options.corrections.sensor = Absorber{30.0, 0.45};
  Frame frame;
  frame.exposure_s = 3.0;
  frame.counts = 3.0 * 7e5 * map.solid_angle_sr() * polarisation(map, 0.5) *
                 map.cos_incidence.unaryExpr([](double c) { return 1 - std::exp(-1.35 / c); });
  const Frame dark = expected_frame(map, Image::Ones(60, 70), 30.0, [](double) { return 40.0; });
  frame.counts += 120.0;
  const AreaAveraged a =
      AreaAverager(g, {}, 60, 70, log_edges(0.01, 6.0, 80), options).average({&frame}, {.name = "s", .dark = &dark});
  for (Index i = 0; i < a.intensity.size(); ++i) EXPECT_NEAR(a.intensity[i] / 7e5, 1.0, 1e-9);
  EXPECT_HOLDS(a.notes[0], "for pictures");
}

// The truth: the same detector with every pixel split 20 x 20, pixel centres binned. A curve that falls by a fifth over
// a pixel, bins a fifth of a pixel wide, 3 to 15 pixels from the beam, no noise. In per cent of the curve, mean and
// scatter from bin to bin: against the bin's own mean and against the law at the q that is reported.
TEST(AreaBins, AndPixelCentresAgainstFinePixelsNearTheBeam) {
  DetectorGeometry g = small_detector(), fine = g;
  const int split = 20;
  fine.pixel_size_x_mm /= split;
  fine.pixel_size_y_mm /= split;
  fine.beam_center_x_px = (g.beam_center_x_px + 0.5) * split - 0.5;
  fine.beam_center_y_px = (g.beam_center_y_px + 0.5) * split - 0.5;
  const PixelMap map = pixel_map(g, 60, 70), fine_map = pixel_map(fine, 60 * split, 70 * split);
  const double per_pixel = q_per_nm(g, g.beam_center_x_px + 1, g.beam_center_y_px);
  const auto law = [&](double q) { return std::exp(-q / (4 * per_pixel)); };  // falls by a fifth over a pixel
  AverageOptions bare;
  bare.corrections.off = {StepKind::solid_angle, StepKind::polarisation};
  const VectorXd edges = linear_edges(3 * per_pixel, 15 * per_pixel, 60);
  Frame frame;  // what a real pixel counts is the mean over its area
  frame.exposure_s = 1.0;
  frame.counts = Image::Zero(60, 70);
  Frame fine_frame;
  fine_frame.exposure_s = 1.0;
  fine_frame.counts = fine_map.q_per_nm.unaryExpr(law);
  for (Index row = 0; row < fine_frame.counts.rows(); ++row)
    for (Index column = 0; column < fine_frame.counts.cols(); ++column)
      frame.counts(row / split, column / split) += fine_frame.counts(row, column) / (split * split);
  const Averaged truth = average({&fine_frame}, fine_map, {}, edges, bare, {.check_scatter = false});
  const Averaged centres = average({&frame}, map, {}, edges, bare, {.check_scatter = false});
  const AreaAveraged areas = AreaAverager(g, {}, 60, 70, edges, bare).average({&frame});
  ASSERT_EQ(truth.bin.size(), 60);
  ASSERT_EQ(areas.bin.size(), 60);
  // Bins at the ends of the table are fed from one side only.
  const auto inner = [](int bin) { return bin >= 5 && bin < 55; };
  struct Error {
    double mean = 0, sd = 0;
  };
  const auto error = [&](const VectorXd& value, const Eigen::VectorXi& bin, const VectorXd* q) {
    double sum = 0, square = 0, n = 0;
    for (Index i = 0; i < bin.size(); ++i) {
      if (!inner(bin[i])) continue;
      const double off = 100 * (value[i] / (q ? law((*q)[i]) : truth.curve.intensity[bin[i]]) - 1);
      sum += off;
      square += off * off;
      ++n;
    }
    return Error{sum / n, std::sqrt(square / n - sum * sum / n / n)};
  };
  const Error centre_in_bin = error(centres.curve.intensity, centres.bin, nullptr),
              area_in_bin = error(areas.intensity, areas.bin, nullptr),
              centre_at_q = error(centres.curve.intensity, centres.bin, &centres.curve.q_per_nm),
              area_at_q = error(areas.intensity, areas.bin, &areas.q_per_nm);
  RecordProperty("centre_in_bin", fmt::format("{:.3f} +- {:.3f} %", centre_in_bin.mean, centre_in_bin.sd));
  RecordProperty("area_in_bin", fmt::format("{:.3f} +- {:.3f} %", area_in_bin.mean, area_in_bin.sd));
  RecordProperty("centre_at_q", fmt::format("{:.3f} +- {:.3f} %", centre_at_q.mean, centre_at_q.sd));
  RecordProperty("area_at_q", fmt::format("{:.3f} +- {:.3f} %", area_at_q.mean, area_at_q.sd));
  // At its q the area-weighted curve hardly scatters, but it is high by the blur: the detector's and its own, (1/2)
  // (1/12 + 1/12) pixel^2 I''/I = 1/192. Pixel centres carry the detector's blur alone and are the more accurate.
  EXPECT_LT(area_at_q.sd, centre_at_q.sd / 3);
  EXPECT_NEAR(area_at_q.mean, 100.0 / 192, 10.0 / 192);
  EXPECT_LT(centre_at_q.mean, 0.5 * area_at_q.mean);
  // Against the middle of the bin both are worse: it is the q of the pixels that belongs to S.
  EXPECT_GT(area_in_bin.sd, 10 * area_at_q.sd);
  EXPECT_GT(centre_in_bin.sd, 3 * centre_at_q.sd);
}

// Counting: the scatter of 3000 draws has the variances and the covariances of neighbours that the result states.
TEST(AreaBins, CovarianceIsThatOfRepeatedMeasurements) {
  const DetectorGeometry g = small_detector();
  const PixelMap map = pixel_map(g, 60, 70);
  const VectorXd edges = linear_edges(0.1, 0.4, 40);
  const AreaAverager averager(g, {}, 60, 70, edges);
  const Frame expected = expected_frame(map, map.solid_angle_sr(), 1.0, [](double) { return 2e7; });
  std::mt19937_64 random(61);
  const int repeats = 3000;
  Eigen::MatrixXd values(40, repeats), claimed;
  for (int r = 0; r < repeats; ++r) {
    const Frame f = poisson_frame(expected, random);
    const AreaAveraged a = averager.average({&f});
    ASSERT_EQ(a.intensity.size(), 40);
    values.col(r) = a.intensity;
    if (r == 0) claimed = Eigen::MatrixXd::Zero(40, a.covariance.cols());
    claimed += a.covariance / repeats;
  }
  const AreaAveraged flat = averager.average({&expected});
  const VectorXd mean = values.rowwise().mean();
  const Eigen::MatrixXd away = values.colwise() - mean;
  double correlation = 0;
  ASSERT_GE(claimed.cols(), 2);
  for (Index k = 0; k < 40; ++k)
    for (Index j = 0; j < claimed.cols() && k + j < 40; ++j) {
      const double seen = away.row(k).dot(away.row(k + j)) / (repeats - 1);
      // A sample covariance is known to sqrt((1 + rho^2)/n) of the product of the two sd; five of it for 150 numbers.
      EXPECT_NEAR(seen, claimed(k, j), 5 * std::sqrt(2.0 / repeats * claimed(k, 0) * claimed(k + j, 0)))
          << k << " " << j;
      if (j == 1) correlation = std::max(correlation, claimed(k, 1) / std::sqrt(claimed(k, 0) * claimed(k + 1, 0)));
    }
  RecordProperty("largest_correlation", fmt::format("{:.3g}", correlation));
  EXPECT_GT(correlation, 0.2);  // neighbours do go together
  for (Index k = 0; k < 40; ++k) EXPECT_NEAR(mean[k], flat.intensity[k], 5 * flat.u[k] / std::sqrt(repeats));
}

TEST(AreaBins, LeaveOutWhatIsSwitchedOff) {
  const DetectorGeometry g = small_detector();
  const PixelMap map = pixel_map(g, 60, 70);
  AverageOptions options;
  options.corrections.dead_time = DeadTime{1e-3, DeadTimeModel::non_paralyzable};
  options.corrections.flat_field = FlatField{"lamp", Image::Ones(60, 70), {}};
  options.corrections.flat_field->response.topRows(20) = 2.0;
  options.corrections.off = {StepKind::dead_time, StepKind::flat_field, StepKind::dark};
  const Frame frame =
      expected_frame(map, map.solid_angle_sr() * polarisation(map, 0.5), 1.0, [](double) { return 7e6; });
  const Frame dark = expected_frame(map, Image::Ones(60, 70), 1.0, [](double) { return 1.0; });
  const AreaAveraged a =
      AreaAverager(g, {}, 60, 70, linear_edges(0.1, 0.4, 20), options).average({&frame}, {.dark = &dark});
  for (Index i = 0; i < a.intensity.size(); ++i) EXPECT_NEAR(a.intensity[i] / 7e6, 1.0, 1e-12);
}

// Pixels that only a frame's mask hides: the same as if the geometry's mask had hidden them. Tolerance: sums that were
// taken away again, 1e-16 of some thousand pixels.
TEST(AreaBins, TakeAFramesMaskLikeTheGeometrys) {
  const DetectorGeometry g = small_detector();
  const PixelMap map = pixel_map(g, 60, 70);
  const VectorXd edges = linear_edges(0.0, 1.5, 40);
  Mask hidden = Mask::Constant(60, 70, false);
  hidden.middleRows(10, 7) = true;
  hidden.rightCols(20) = true;
  // All that lies beyond 1 1/nm: whole bins are emptied, and a bin at the edge keeps parts of few pixels.
  hidden = hidden || map.q_per_nm > 1.0;
  std::mt19937_64 random(5);
  Frame frame = poisson_frame(
      expected_frame(map, map.solid_angle_sr(), 2.0, [](double q) { return 2e7 * std::exp(-q); }), random);
  const AreaAveraged theirs = AreaAverager(g, hidden, 60, 70, edges).average({&frame});
  frame.masked = hidden;
  const AreaAverager bare(g, {}, 60, 70, edges);
  const AreaAveraged mine = bare.average({&frame});
  ASSERT_EQ(mine.bin, theirs.bin);
  EXPECT_LT(mine.bin.size(), 30);
  EXPECT_TRUE(mine.q_per_nm.isApprox(theirs.q_per_nm, 1e-12));
  EXPECT_TRUE(mine.intensity.isApprox(theirs.intensity, 1e-12));
  EXPECT_TRUE(mine.pixel_area.isApprox(theirs.pixel_area, 1e-12));
  ASSERT_EQ(mine.covariance.cols(), theirs.covariance.cols());
  EXPECT_TRUE(mine.covariance.isApprox(theirs.covariance, 1e-12));
  frame.masked.setConstant(true);
  EXPECT_HOLDS(message<InputError>([&] { bare.average({&frame}, {.name = "Z"}); }), "masks of 'Z' hide every pixel");
}

TEST(AreaBins, RefusesWhatItCannotDo) {
  const DetectorGeometry g = small_detector();
  const VectorXd edges = linear_edges(0.1, 0.4, 40);
  AverageOptions sector;
  sector.sectors = {{0, 1}};
  EXPECT_HOLDS(message<InputError>([&] { AreaAverager(g, {}, 60, 70, edges, sector); }), "sectors");
  EXPECT_HOLDS(message<InputError>([&] { AreaAverager(g, {}, 60, 70, linear_edges(50, 60, 4)); }),
               "no pixel lies in the bins from q = 50 to 60");
  const AreaAverager averager(g, {}, 60, 70, edges);
  Frame frame;
  frame.counts = Image::Ones(60, 70);
  EXPECT_HOLDS(message<InputError>([&] { averager.average({&frame}, {.name = "Z"}); }), "exposure of 'Z' is nan");
  frame.exposure_s = 1.0;
  EXPECT_HOLDS(message<InputError>([&] { averager.average({&frame}, {.normalise_by = NormaliseBy::monitor}); }),
               "by the monitor");
  frame.counts(3, 4) = -1;
  EXPECT_HOLDS(message<DataError>([&] { averager.average({&frame}); }), "are -1 at row 3, column 4");
}

}  // namespace
}  // namespace sievelight
