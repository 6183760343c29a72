// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/kernel.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"
#include "sievelight/distribution/core_shell.hpp"
#include "sievelight/distribution/cylinder.hpp"
#include "sievelight/distribution/sphere.hpp"
#include "sievelight/distribution/spheroid.hpp"
#include "sievelight/reduce/slit_rule.hpp"

#include <gsl/gsl_integration.h>
#include <gtest/gtest.h>

#include <functional>
#include <memory>

namespace sievelight {
namespace {

double integrate(const std::function<double(double)>& f, double low, double high) {
  const std::unique_ptr<gsl_integration_cquad_workspace, decltype(&gsl_integration_cquad_workspace_free)> space(
      gsl_integration_cquad_workspace_alloc(200), gsl_integration_cquad_workspace_free);
  gsl_function call{[](double x, void* p) { return (*static_cast<const std::function<double(double)>*>(p))(x); },
                    const_cast<std::function<double(double)>*>(&f)};
  double out = 0;
  gsl_integration_cquad(&call, low, high, 0, 1e-10, space.get(), &out, nullptr, nullptr);
  return out;
}

Curve points(const std::vector<double>& q) {
  Curve c;
  c.q_per_nm = Eigen::Map<const Eigen::VectorXd>(q.data(), static_cast<Eigen::Index>(q.size()));
  c.intensity = Eigen::VectorXd::Ones(c.size());
  c.private_u = Eigen::VectorXd::Ones(c.size());
  return c;
}

SizeGrid fine_grid(double low, double high, int cells_per_decade) {
  GridOptions options;
  options.cells_per_decade = cells_per_decade;
  options.most_cells = 5000;
  return make_grid(0.02, 5.0, Range{low, high}, options);
}

SlitProfile line_of(const LineWeight& length, double width_sd = 0) {
  SlitProfile out;
  out.length = length;
  out.width_sd = width_sd;
  return out;
}

SlitProfile infinite_line() {
  SlitProfile out;
  out.infinite = true;
  return out;
}

// The kernel's curve for a number distribution N(R) per ln R: volume per ln D is N V.
Eigen::VectorXd normalised_curve(const Kernel& kernel, const std::function<double(double)>& number_of_radius) {
  Eigen::VectorXd x(kernel.grid.size());
  double forward = 0;
  for (Eigen::Index j = 0; j < x.size(); ++j) {
    const double d = kernel.grid.diameter_nm[j], v = sphere_volume_nm3(d);
    x[j] = number_of_radius(d / 2) * v;
    forward += kernel.grid.step * x[j] * v;
  }
  return scattering_per_cm(kernel, x, 0) / forward;
}

// Source: log-normal spheres, number median radius 10 nm, s = 0.3: <V^2 P>/<V^2> by adaptive quadrature to 1e-9 of the
// Hatch-Choate moments. 600 nodes a decade: linear interpolation between nodes widens the distribution by step^2/6 =
// 2.5e-6 in ln D variance, 3e-5 of 0.09.
TEST(Kernel, ReproducesLogNormalSpheres) {
  const Kernel kernel = make_kernel(points({0.01, 0.05, 0.1, 0.2, 0.5, 1.0}), fine_grid(4.0, 120.0, 600));
  const Eigen::VectorXd curve = normalised_curve(kernel, [](double r) {
    const double z = std::log(r / 10) / 0.3;
    return std::exp(-0.5 * z * z);
  });
  const double expected[] = {0.992979586919, 0.841241474775,   0.518588560929,
                             0.105991973693, 0.00170764622735, 0.000107474980302};
  for (int i = 0; i < 6; ++i) EXPECT_NEAR(curve[i] / expected[i], 1.0, 2e-4) << i;
}

// Source: Schulz-distributed spheres (Kotlarchyk and Chen 1983, J. Chem. Phys. 79, 2461), mean radius 10, relative
// width 0.2 (Z = 24), closed form evaluated with 25 digits. Tolerance as above.
TEST(Kernel, ReproducesSchulzSpheres) {
  const Kernel kernel = make_kernel(points({0.01, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0}), fine_grid(3.0, 80.0, 600));
  const Eigen::VectorXd curve = normalised_curve(kernel, [](double r) {
    return std::exp(25 * std::log(r / 10) - 25 * (r / 10 - 1));  // R^24 e^(-25 R/10), times R for the step in ln R
  });
  const double expected[] = {0.996830479726,   0.923618251066,    0.726878634238,  0.273949081418,
                             0.00419303651153, 0.000270181613287, 1.67438078008e-5};
  for (int i = 0; i < 7; ++i) EXPECT_NEAR(curve[i] / expected[i], 1.0, 3e-4) << i;
}

// A wide bin and one hat function, against adaptive quadrature over both (GSL), to six digits.
TEST(Kernel, AveragesOverTheBinAndTheCell) {
  Curve c = points({0.5, 1.1});
  c.q_low_per_nm = Eigen::Vector2d(0.45, 1.0);
  c.q_high_per_nm = Eigen::Vector2d(0.55, 1.2);
  const SizeGrid grid = make_grid(0.05, 1.2, Range{10.0, 60.0});
  const Kernel kernel = make_kernel(c, grid);
  for (const Eigen::Index j : {Eigen::Index{10}, grid.window_low + 5, grid.window_high}) {
    for (int i = 0; i < 2; ++i) {
      const auto over_q = [&](double d) {
        return integrate([&](double q) { return q * sphere_form_factor(0.5 * q * d); }, c.q_low_per_nm[i],
                         c.q_high_per_nm[i]) /
               integrate([](double q) { return q; }, c.q_low_per_nm[i], c.q_high_per_nm[i]);
      };
      const double centre = std::log(grid.diameter_nm[j]);
      const auto hat = [&](double u) {
        return (1 - std::abs(u - centre) / grid.step) * sphere_volume_nm3(std::exp(u)) * over_q(std::exp(u));
      };
      const double expected = integrate(hat, centre - grid.step, centre) + integrate(hat, centre, centre + grid.step);
      EXPECT_NEAR(kernel.volume_nm3(i, j) / expected, 1.0, 1e-6) << i << " " << j;
    }
  }
}

// A point seen with a Gaussian resolution, against adaptive quadrature over +-8 sd; the kernel cuts at 4.5 sd (7e-6 of
// the weight) and the strongly curved form factor near a minimum is the hardest place.
TEST(Kernel, FoldsTheResolutionIn) {
  Curve c = points({0.2, 0.45, 0.9});
  c.q_resolution_per_nm = Eigen::Vector3d(0.01, 0.015, 0.03);
  const SizeGrid grid = make_grid(0.05, 2.0, Range{10.0, 40.0});
  const Kernel kernel = make_kernel(c, grid);
  const Eigen::Index j = (grid.window_low + grid.window_high) / 2;
  const double centre = std::log(grid.diameter_nm[j]);
  for (int i = 0; i < 3; ++i) {
    const double q0 = c.q_per_nm[i], sd = c.q_resolution_per_nm[i];
    const auto seen = [&](double d) {
      return integrate(
          [&](double q) {
            const double z = (q - q0) / sd;
            return std::exp(-0.5 * z * z) / (sd * std::sqrt(2 * pi)) * sphere_form_factor(0.5 * q * d);
          },
          q0 - 8 * sd, q0 + 8 * sd);
    };
    const auto hat = [&](double u) {
      return (1 - std::abs(u - centre) / grid.step) * sphere_volume_nm3(std::exp(u)) * seen(std::exp(u));
    };
    const double expected = integrate(hat, centre - grid.step, centre) + integrate(hat, centre, centre + grid.step);
    EXPECT_NEAR(kernel.volume_nm3(i, j) / expected, 1.0, 1e-4) << i;
  }
}

// The mean of q^-4 over an annulus, weight q: (low^-2 - high^-2) / (high^2 - low^2).
TEST(Kernel, AveragesThePowerLawOverTheBin) {
  Curve c = points({0.1});
  c.q_low_per_nm = Eigen::VectorXd::Constant(1, 0.09);
  c.q_high_per_nm = Eigen::VectorXd::Constant(1, 0.11);
  const Kernel kernel = make_kernel(c, make_grid(0.05, 2.0));
  const double expected = (1 / (0.09 * 0.09) - 1 / (0.11 * 0.11)) / (0.11 * 0.11 - 0.09 * 0.09);
  EXPECT_NEAR(kernel.power_law[0] / expected, 1.0, 1e-4);
}

// Source: 1 vol% silica spheres of radius 10 nm in water (SLD 18.6408e10 and 9.40291e10 1/cm^2): phi V contrast^2 =
// 357.4655 1/cm. A narrow peak of volume 0.01 at 20 nm and q -> 0; the peak's width of 1 % changes <V> by 0.1 %.
TEST(Kernel, GivesAbsoluteIntensity) {
  const Kernel kernel = make_kernel(points({1e-3}), make_grid(0.05, 2.0, Range{19.0, 23.0}, {2000, 5000, 1.5, 1.5}));
  Eigen::VectorXd x(kernel.grid.size());
  for (Eigen::Index j = 0; j < x.size(); ++j) {
    const double z = std::log(kernel.grid.diameter_nm[j] / 20) / 0.01;
    x[j] = 0.01 * std::exp(-0.5 * z * z) / (0.01 * std::sqrt(2 * pi));
  }
  EXPECT_NEAR(scattering_per_cm(kernel, x, 18.6408e10 - 9.40291e10)[0] / 357.4655, 1.0, 1e-3);
}

TEST(Kernel, RefusesAnotherGrid) {
  const Kernel kernel = make_kernel(points({0.1, 0.2}), make_grid(0.05, 2.0));
  EXPECT_THROW(scattering_per_cm(kernel, Eigen::VectorXd::Ones(3), 0), InputError);
  EXPECT_TRUE(fits(kernel, points({0.1, 0.2})));
  EXPECT_FALSE(fits(kernel, points({0.1, 0.3})));
}

// A kernel without the slit would give wrong sizes without a word.
TEST(Kernel, RefusesACurveOfASlit) {
  Curve c = points({0.1, 0.2, 0.3});
  c.slit_length_per_nm = c.slit_width_per_nm = Eigen::Vector3d(0.1, 0.1, 0.1);
  EXPECT_THROW(make_kernel(c, fine_grid(4.0, 120.0, 10)), InputError);
}

// Against adaptive quadrature (GSL) over the same trapezoid of the kernel of a pinhole; 1e-6 of the value is what a
// curve of 0.1 % noise could never tell.
TEST(Kernel, IsSmearedAlongALongTrapezoid) {
  const SizeGrid grid = make_grid(0.1, 2.0, Range{5.0, 25.0}, {20, 200, 1.2, 1.2});
  KernelOptions options;
  options.slit = line_of(trapezoid(0.8, 1.6), 0.02);
  const std::vector<double> q{0.1, 0.35, 0.9, 1.7};
  const Kernel kernel = make_kernel(points(q), grid, options);
  for (const Eigen::Index j : {Eigen::Index{3}, grid.window_low + 9, grid.window_high}) {
    const auto pinhole = [&](double at) { return make_kernel(points({std::max(at, 1e-9)}), grid).volume_nm3(0, j); };
    // The width by its own sum: quadrature through both would take minutes. Trapezoid: height 1/(0.8 + 1.6).
    const WidthRule width = width_rule(*options.slit);
    const auto along = [&](double x) {
      const double flat = integrate([&](double l) { return pinhole(std::hypot(x, l)); }, 0.0, 0.8);
      const double slope = integrate([&](double l) { return (1.6 - l) / 0.8 * pinhole(std::hypot(x, l)); }, 0.8, 1.6);
      return 2 * (flat + slope) / 2.4;
    };
    for (std::size_t i = 0; i < q.size(); ++i) {
      double expected = 0;
      for (std::size_t w = 0; w < width.at.size(); ++w)
        if (width.weight[w] > 1e-9) expected += width.weight[w] * along(q[i] + width.at[w]);
      EXPECT_NEAR(kernel.volume_nm3(static_cast<Eigen::Index>(i), j) / expected, 1.0, 1e-6) << i << " " << j;
    }
  }
}

// Source: a box of half length L: (1/L) integral_0^L (q^2 + l^2)^-2 dl = [L/(2 q^2 (q^2 + L^2)) + atan(L/q)/(2 q^3)]/L,
// and for q^-3 L/(q^2 sqrt(q^2 + L^2))/L.
TEST(Kernel, SmearsThePowerLaw) {
  KernelOptions options;
  options.slit = line_of(trapezoid(1.0, 1.0));
  const double q[] = {0.1, 0.5, 1.0, 2.0}, expected[] = {785.068787647, 6.02859487118, 0.642699081699, 0.0539779755626};
  const SizeGrid grid = make_grid(0.1, 2.0);
  const Kernel four = make_kernel(points({0.1, 0.5, 1.0, 2.0}), grid, options);
  options.power_exponent = 3.0;
  const Kernel three = make_kernel(points({0.1, 0.5, 1.0, 2.0}), grid, options);
  for (int i = 0; i < 4; ++i) {
    EXPECT_NEAR(four.power_law[i] / expected[i], 1.0, 1e-9) << q[i];
    EXPECT_NEAR(three.power_law[i] * q[i] * q[i] * std::hypot(q[i], 1.0), 1.0, 1e-9) << q[i];
  }
}

// The mean of q^-3 over an annulus: 2 (1/low - 1/high)/(high^2 - low^2).
TEST(Kernel, TakesTheExponentOfRoughSurfaces) {
  Curve c = points({0.1});
  c.q_low_per_nm = Eigen::VectorXd::Constant(1, 0.09);
  c.q_high_per_nm = Eigen::VectorXd::Constant(1, 0.11);
  KernelOptions options;
  options.power_exponent = 3.0;
  const double expected = 2 * (1 / 0.09 - 1 / 0.11) / (0.11 * 0.11 - 0.09 * 0.09);
  EXPECT_NEAR(make_kernel(c, make_grid(0.05, 2.0), options).power_law[0] / expected, 1.0, 1e-5);
  options.power_exponent = 2.5;
  EXPECT_THROW(make_kernel(c, make_grid(0.05, 2.0), options), InputError);
}

// On narrow cells (0.4 % of D) the hat sees one structure factor, which changes there by less than 1e-4.
TEST(Kernel, MultipliesByTheStructureFactorOfEachSize) {
  const SizeGrid grid = fine_grid(10.0, 30.0, 600);
  const Curve c = points({0.05, 0.2, 0.45});
  KernelOptions options;
  options.interaction = HardSpheres{0.25, 1.1};
  const Kernel crowded = make_kernel(c, grid, options), dilute = make_kernel(c, grid);
  for (const Eigen::Index j : {grid.window_low + 7, grid.window_low + 150})
    for (Eigen::Index i = 0; i < 3; ++i)
      EXPECT_NEAR(crowded.volume_nm3(i, j) / dilute.volume_nm3(i, j),
                  hard_sphere_structure_factor(1.1 * c.q_per_nm[i] * grid.diameter_nm[j], 0.25), 3e-4)
          << i << " " << j;
  options.shape = lamella(200.0);
  EXPECT_THROW(make_kernel(c, grid, options), InputError);
}

// A table or moments in the kernel must give what the form factor itself gives.
TEST(Kernel, OfEveryShapeAgreesWithItsFormFactor) {
  const SizeGrid grid = make_grid(0.05, 2.0, Range{5.0, 40.0});
  const Curve c = points({0.05, 0.3, 1.9});
  for (const Shape& shape :
       {core_shell_sphere(0.2, 0.4), spheroid(0.4), cylinder(3.0), cylinder_of_length(300.0), lamella(250.0)}) {
    Shape plain = shape;
    plain.tabulate = false;
    plain.form_factors = nullptr;
    const Eigen::MatrixXd fast = make_kernel(c, grid, shape).volume_nm3, slow = make_kernel(c, grid, plain).volume_nm3;
    EXPECT_LT((fast.array() / slow.array() - 1).abs().maxCoeff(), 1e-9) << shape.name;
  }
}

TEST(Kernel, RefusesAnInfiniteSlit) {
  KernelOptions options;
  options.slit = infinite_line();
  EXPECT_THROW(make_kernel(points({0.1, 0.2}), make_grid(0.05, 2.0), options), InputError);
}

}  // namespace
}  // namespace sievelight
