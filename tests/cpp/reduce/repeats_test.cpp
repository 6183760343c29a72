// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/repeats.hpp"

#include "reduce/synthetic.hpp"

#include <fmt/format.h>

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::Index;
using Eigen::VectorXd;

// Averaged exposures straight from bins: 60 bins from 300 x mean counts down to mean.
struct Set {
  std::vector<Averaged> exposures;
  std::vector<const Averaged*> pointers() const {
    std::vector<const Averaged*> out;
    for (const Averaged& a : exposures) out.push_back(&a);
    return out;
  }
};

using Change = std::function<double(int exposure, double q)>;

Set draw(int exposures, double mean, std::mt19937_64& random, const Change& change, double dark = 0.0) {
  const VectorXd edges = log_edges(0.1, 2.0, 60);
  Set out;
  for (int k = 0; k < exposures; ++k) {
    Averaged a;
    a.name = fmt::format("frame {}", k);
    a.curve = curve_on_bins(
        edges, [](double q) { return 1 + 300 * std::exp(-q * q * 30); }, 0.0);
    a.normalisation = VectorXd::Constant(60, mean * (k % 2 == 0 ? 1.0 : 1.5));  // unequal exposures
    a.dark_counts = VectorXd::Constant(60, dark * a.normalisation[0]);
    a.bin = Eigen::VectorXi::LinSpaced(60, 0, 59);
    a.counts.resize(60);
    for (Index i = 0; i < 60; ++i) {
      const double expected = a.normalisation[i] * a.curve.intensity[i] * change(k, a.curve.q_per_nm[i]);
      a.counts[i] = static_cast<double>(std::poisson_distribution<long>(expected + a.dark_counts[i])(random));
      a.curve.intensity[i] = (a.counts[i] - a.dark_counts[i]) / a.normalisation[i];
    }
    out.exposures.push_back(std::move(a));
  }
  return out;
}

double same(int, double) { return 1.0; }

// Counting: 4000 sets of exposures that are repeats, 2 to 10 of them, from a fifth of a count to 60 000 in a bin, with
// and without dark. At alpha = 0.05 and 0.01 the share of sets with any claim is at most alpha: four binomial standard
// deviations above are allowed.
TEST(Repeats, FalseAlarmsAreNoMoreThanAlpha) {
  std::mt19937_64 random(51);
  const int sets = 4000;
  for (const double alpha : {0.05, 0.01}) {
    int alarms = 0;
    for (int r = 0; r < sets; ++r) {
      const int exposures = std::array{2, 3, 5, 10}[r % 4];
      const double mean = std::array{0.2, 2.0, 20.0, 200.0, 0.05}[r % 5];
      alarms += !compare_repeats(draw(exposures, mean, random, same, r % 3 == 0 ? 1.0 : 0.0).pointers(), {alpha}).agree;
    }
    RecordProperty(fmt::format("alarms_of_{}_at_{}", sets, alpha), alarms);
    EXPECT_LE(alarms, alpha * sets + 4 * std::sqrt(alpha * (1 - alpha) * sets)) << alpha;
    if (alpha == 0.05) {
      EXPECT_GE(alarms, 1);
    }
  }
}

// Power at 1e5 counts an exposure (0.3 % of the scale): a bubble that takes 5 % of one exposure of five.
TEST(Repeats, ABubbleIsSetAside) {
  std::mt19937_64 random(52);
  int found = 0, others = 0;
  for (int r = 0; r < 100; ++r) {
    const Set s = draw(5, 30.0, random, [](int k, double) { return k == 3 ? 0.95 : 1.0; });
    const RepeatReport report = compare_repeats(s.pointers());
    found += report.set_aside == std::vector<int>{3};
    for (const int k : report.set_aside) others += k != 3;
  }
  RecordProperty("found_of_100", found);
  EXPECT_GE(found, 97);
  EXPECT_LE(others, 3);
  const RepeatReport one =
      compare_repeats(draw(5, 30.0, random, [](int k, double) { return k == 3 ? 0.95 : 1.0; }).pointers());
  EXPECT_NEAR(one.exposures[3].scale, 0.95, 4 * one.exposures[3].scale_u);
  EXPECT_TRUE(one.exposures[3].set_aside && one.exposures[3].differs);
  ASSERT_EQ(one.findings.size(), 1u);
  EXPECT_HOLDS(one.findings[0], "exposure 3 ('frame 3') differs from the others and should be set aside");
}

// A drift of 2 % over ten exposures of 1e5 counts is a trend, not an exposure to set aside.
TEST(Repeats, ADriftIsATrend) {
  std::mt19937_64 random(53);
  int found = 0, aside = 0;
  for (int r = 0; r < 100; ++r) {
    const RepeatReport report =
        compare_repeats(draw(10, 30.0, random, [](int k, double) { return 1 + 0.02 * k / 9; }).pointers());
    found += report.scale_trend->claimed;
    aside += !report.set_aside.empty();
    if (r == 0) {
      EXPECT_NEAR(report.scale_trend->change_percent, 2.0, 4 * report.scale_trend->u_percent);
    }
  }
  RecordProperty("found_of_100", found);
  EXPECT_GE(found, 90);
  EXPECT_LE(aside, 5);
}

TEST(Repeats, DamageGrowsAtLowQ) {
  std::mt19937_64 random(54);
  int found = 0;
  for (int r = 0; r < 50; ++r) {
    const RepeatReport report = compare_repeats(
        draw(6, 30.0, random, [](int k, double q) { return 1 + 0.08 * k / 5 * (q < 0.15); }).pointers());
    found += report.low_q_trend->claimed && report.set_aside.empty();
    if (found == 1) {
      EXPECT_HOLDS(report.findings.back(), "radiation damage");
    }
  }
  RecordProperty("found_of_50", found);
  EXPECT_GE(found, 45);
}

TEST(Repeats, TwoCanDifferButNotSayWhich) {
  std::mt19937_64 random(55);
  const Change half = [](int k, double) { return k == 1 ? 0.5 : 1.0; };
  const RepeatReport report = compare_repeats(draw(2, 30.0, random, half).pointers());
  EXPECT_FALSE(report.agree);
  EXPECT_TRUE(report.set_aside.empty());
  EXPECT_FALSE(report.scale_trend.has_value());
  EXPECT_HOLDS(report.findings.at(0), "two cannot say which is wrong");
  // Four in two camps: no majority.
  const RepeatReport camps =
      compare_repeats(draw(4, 30.0, random, [](int k, double) { return k == 0 || k == 3 ? 0.5 : 1.0; }).pointers());
  EXPECT_HOLDS(camps.findings.back(), "no majority of the 4 exposures agrees");
}

// A monitor that scatters by 3 % explains scales that differ by as much, but no change of shape.
TEST(Repeats, TheMonitorsScatterIsAllowedFor) {
  std::mt19937_64 random(56);
  std::normal_distribution<double> scatter(1.0, 0.03);
  int plain = 0, allowed = 0;
  for (int r = 0; r < 100; ++r) {
    double factor[4];
    for (double& f : factor) f = scatter(random);
    Set s = draw(4, 30.0, random, [&](int k, double) { return factor[k]; });
    plain += !compare_repeats(s.pointers()).agree;
    for (Averaged& a : s.exposures)
      a.curve.causes["monitor: " + a.name] = {CauseKind::coherent, -0.03 * a.curve.intensity};
    allowed += !compare_repeats(s.pointers()).agree;
  }
  EXPECT_GE(plain, 90);
  EXPECT_LE(allowed, 5);  // one expected
  const Set shape = draw(4, 30.0, random, [](int k, double q) { return k == 2 && q < 0.2 ? 1.2 : 1.0; });
  EXPECT_EQ(compare_repeats(shape.pointers(), {.scale_relative_u = 0.1}).set_aside, std::vector<int>{2});
}

TEST(Repeats, RefusesWhatCannotBeCompared) {
  std::mt19937_64 random(57);
  Set s = draw(2, 30.0, random, same);
  EXPECT_HOLDS(message<InputError>([&] { compare_repeats({&s.exposures[0]}); }), "1 exposure was given");
  s.exposures[1].curve.q_high_per_nm *= 1.1;
  EXPECT_HOLDS(message<InputError>([&] { compare_repeats(s.pointers()); }), "on the same edges");
  s.exposures[1].bin.array() += 100;
  EXPECT_HOLDS(message<InputError>([&] { compare_repeats(s.pointers()); }), "no bin in common");
  EXPECT_HOLDS(message<InputError>([&] { compare_repeats(s.pointers(), {.alpha = 2}); }), "alpha is 2");
}

}  // namespace
}  // namespace sievelight
