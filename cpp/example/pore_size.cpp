// SPDX-License-Identifier: GPL-3.0-or-later
/// The library without Python: a curve of polydisperse spheres is made, written as NXcanSAS, read back and inverted.
/// Usage: pore_size FOLDER   (where the curve file may be written)
#include <sievelight/sievelight.hpp>

#include <cmath>
#include <iostream>
#include <random>

int main(int argc, char** argv) {
  using namespace sievelight;
  try {
    // Spheres of 12 nm diameter (volume-weighted median), log-normal with s = 0.2, 1 % noise.
    const double median_nm = 12.0, s = 0.2, contrast_per_cm2 = 1.864e11, volume_fraction = 0.05;
    Curve curve;
    curve.unit = IntensityUnit::per_cm;
    const Eigen::VectorXd edges = log_edges(0.08, 2.0, 120);
    curve.q_low_per_nm = edges.head(120);
    curve.q_high_per_nm = edges.tail(120);
    curve.q_per_nm = (curve.q_low_per_nm + curve.q_high_per_nm) / 2.0;
    curve.intensity.setZero(120);
    double weights = 0.0;
    for (int step = -60; step <= 60; ++step) {
      const double z = step / 15.0, weight = std::exp(-z * z / 2), diameter_nm = median_nm * std::exp(s * z);
      const double volume_nm3 = pi / 6 * std::pow(diameter_nm, 3);
      weights += weight;
      for (Eigen::Index i = 0; i < curve.size(); ++i)
        // contrast^2 (1/cm^4) x nm^3 -> 1/cm: 1e-21
        curve.intensity[i] += weight * volume_fraction * contrast_per_cm2 * contrast_per_cm2 * 1e-21 * volume_nm3 *
                              sphere_form_factor(curve.q_per_nm[i] * diameter_nm / 2);
    }
    curve.intensity /= weights;
    curve.private_u = 0.01 * curve.intensity.array() + 1e-4;
    std::mt19937_64 random(1);
    std::normal_distribution<double> normal;
    for (Eigen::Index i = 0; i < curve.size(); ++i) curve.intensity[i] += curve.private_u[i] * normal(random);

    const std::string path = std::string(argc > 1 ? argv[1] : ".") + "/example-curve.h5";
    CurveInfo info;
    info.title = "example";
    write_nxcansas(path, curve, info);
    InvertOptions options;
    options.contrast_per_cm2 = contrast_per_cm2;
    const SizeDistribution sizes = invert(read_nxcansas(path).front().curve, options);
    std::cout << "x50 = " << sizes.x50_nm.value << " nm, 95 %: " << sizes.x50_nm.band95.low << " to "
              << sizes.x50_nm.band95.high << " nm; true " << median_nm << " nm\n";
    return std::abs(sizes.x50_nm.value - median_nm) < 0.02 * median_nm ? 0 : 1;
  } catch (const Error& error) {
    std::cerr << error.what() << '\n';
    return 2;
  }
}
