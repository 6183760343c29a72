// SPDX-License-Identifier: GPL-3.0-or-later
/// The result of an inversion: a volume-weighted size distribution whose bands mean what they say.
/// Sizes are diameters of spheres, or what `notes` says for another shape. Bands are central 68.27 % and 95 % posterior
/// intervals, point by point. The density is reported as seen through a Gaussian of standard deviation `smoothing_ln_d`
/// in ln D: the data never resolve finer, and a band without its width means nothing. Scalar summaries are of the
/// density without it.
#pragma once

#include "sievelight/base/range.hpp"

#include <Eigen/Core>
#include <map>
#include <string>
#include <vector>

namespace sievelight {

/// A curve over the sizes or over q with its bands.
struct Band {
  Eigen::VectorXd median, low68, high68, low95, high95;
};

struct SizeDistribution {
  std::string method;  // "sampled" or "evidence"
  std::string shape;   // in words, such as "sphere"
  Range window_nm;     // sizes the summaries speak about, diameters
  double smoothing_ln_d = 0.1;
  std::string intensity_unit = "relative";  // of the curve: "1/cm", "cm2/g" or "relative"

  Eigen::VectorXd diameter_nm;                                          // (m) nodes of the window
  Eigen::VectorXd q3_per_nm, q3_low68, q3_high68, q3_low95, q3_high95;  // (m) density, 1/nm; integral over window is 1
  // (m) cumulative Q3 without smoothing, 0 ... 1
  Eigen::VectorXd cumulative, cumulative_low68, cumulative_high68, cumulative_low95, cumulative_high95;

  // (m, up to 100) draws of the cumulative, evenly taken: for distances between distributions.
  Eigen::MatrixXd cumulative_draws;

  // The density weighted by "number" (q0), "surface" (q2) and "intensity" (q6, as spheres scatter at q = 0), 1/nm, each
  // with integral 1 over the window (ISO 9276-1, -2).
  std::map<std::string, Band> weighted;

  // (m, m) [i, j]: volume per ln D reported at size i, smoothed, for one extra unit present at node j; linearised at
  // the most probable density, so it is nearly zero where there is no volume to begin with.
  Eigen::MatrixXd resolution_kernel;
  // (m) full width at half maximum of its columns, in ln D: two sharp sizes that differ by less than the factor
  // exp(width) cannot be told apart. NaN where the response has no peak within the window, as where no volume lies.
  Eigen::VectorXd resolution_ln_d;

  // Of the window's volume: percentiles and mean (ISO 9276-2 x_{1,3}) of the diameter, sd/mean.
  Estimate x10_nm, x50_nm, x90_nm, mean_nm, relative_width;
  // Needs contrast and 1/cm, else NaN. What a dilute sum of pores fits is phi (1 - phi); volume_fraction is the
  // declared root of it. With a hard-sphere interaction the fit is phi itself. specific_surface is that of the shape
  // (6 phi(1-phi) / x_{1,2} for spheres), the surface that Porod's law would see, per bulk
  // volume.
  Estimate phi_one_minus_phi, volume_fraction, specific_surface_m2_per_cm3;
  // Other means: weighted by surface (x_{1,2}) and by number (x_{1,0}); mean chord of the pores, 4 V/S = 2/3 x_{1,2};
  // spheres per cm^3 of bulk volume (needs contrast and 1/cm). The number-weighted ones rest on the smallest sizes that
  // the window holds, which hardly scatter: read their bands.
  Estimate surface_mean_nm, number_mean_nm, pore_chord_nm, number_per_cm3;
  // Radius of gyration that Guinier's law would see of these spheres: hold it against a Guinier fit.
  Estimate rg_nm;
  // Share of the window's volume in the pore classes of IUPAC (M. Thommes et al., Pure Appl. Chem. 87 (2015) 1051):
  // below 2 nm, 2 to 50 nm, above 50 nm. NaN for a class that the window does not reach into: it cannot be seen.
  Estimate micropore_share, mesopore_share, macropore_share;
  std::string root = "smaller";  // of phi (1 - phi): "smaller" or "larger"
  Estimate background;           // flat level, in the curve's unit, of either sign
  Estimate power_law_k;          // K of K q^-p, curve's unit times 1/nm^p; NaN unless fitted
  double power_exponent = 4.0;   // p; the median where it was fitted
  // "hard_sphere_fraction" or "power_exponent", where it was found with the sizes.
  std::map<std::string, Estimate> also_fitted;

  Eigen::VectorXd q_per_nm, measured;                                 // (n) points used
  Eigen::VectorXd fit, fit_low68, fit_high68, fit_low95, fit_high95;  // (n) curve as the instrument would show it
  Eigen::VectorXd residual;                                           // (n) (measured - fit) / pointwise u
  double chi2_per_point = 0.0;                                        // with the uncertainties as given
  double effective_parameters = 0.0;                                  //
  double runs_probability = 1.0;  // that noise leaves residuals with as few changes of sign
  double noise_scale = 1.0;       // factor put on the pointwise uncertainties, >= 1

  double probability_two_modes = 0.0;  // or more, with a prominence of 5 % in the volume per ln D
  Eigen::VectorXd modes_nm;            // maxima of the median density per nm; more than one only if P > 0.95
  bool x50_in_gap = false;             // the median lies in an empty valley: quote the modes instead
  double outside_share = 0.0;          // median share of volume outside the window or in its outermost cells

  // Smoothness strength per order of difference, natural log, in units of the node spacing.
  std::map<std::string, Estimate> ln_strength;
  // Per quantity: split R-hat (worse of the two priors) and effective number of draws (sum of both).
  std::map<std::string, double> r_hat, effective_draws;
  bool converged = true;
  std::vector<std::string> warnings;
  std::vector<std::string> notes;  // what was assumed: the shape, the interference, the slit

  std::map<std::string, Eigen::VectorXd> draws;  // name -> draws of each summary, pooled
  // name -> (n of the curve given) d summary / d intensity; J_a C_ab J_b^T is the covariance between two curves'
  // summaries through the causes of error that they share. Zero at points that were not used.
  std::map<std::string, Eigen::VectorXd> influence;
};

/// Calls visit(name, pointer to member) for every field, so that bindings and pickling cannot forget one.
template <typename Visit>
void for_each_field(Visit&& visit) {
  using R = SizeDistribution;
  visit("method", &R::method);
  visit("shape", &R::shape);
  visit("window_nm", &R::window_nm);
  visit("smoothing_ln_d", &R::smoothing_ln_d);
  visit("intensity_unit", &R::intensity_unit);
  visit("diameter_nm", &R::diameter_nm);
  visit("q3_per_nm", &R::q3_per_nm);
  visit("q3_low68", &R::q3_low68);
  visit("q3_high68", &R::q3_high68);
  visit("q3_low95", &R::q3_low95);
  visit("q3_high95", &R::q3_high95);
  visit("cumulative", &R::cumulative);
  visit("cumulative_low68", &R::cumulative_low68);
  visit("cumulative_high68", &R::cumulative_high68);
  visit("cumulative_low95", &R::cumulative_low95);
  visit("cumulative_high95", &R::cumulative_high95);
  visit("cumulative_draws", &R::cumulative_draws);
  visit("weighted", &R::weighted);
  visit("resolution_kernel", &R::resolution_kernel);
  visit("resolution_ln_d", &R::resolution_ln_d);
  visit("x10_nm", &R::x10_nm);
  visit("x50_nm", &R::x50_nm);
  visit("x90_nm", &R::x90_nm);
  visit("mean_nm", &R::mean_nm);
  visit("relative_width", &R::relative_width);
  visit("phi_one_minus_phi", &R::phi_one_minus_phi);
  visit("volume_fraction", &R::volume_fraction);
  visit("specific_surface_m2_per_cm3", &R::specific_surface_m2_per_cm3);
  visit("surface_mean_nm", &R::surface_mean_nm);
  visit("number_mean_nm", &R::number_mean_nm);
  visit("pore_chord_nm", &R::pore_chord_nm);
  visit("number_per_cm3", &R::number_per_cm3);
  visit("rg_nm", &R::rg_nm);
  visit("micropore_share", &R::micropore_share);
  visit("mesopore_share", &R::mesopore_share);
  visit("macropore_share", &R::macropore_share);
  visit("root", &R::root);
  visit("background", &R::background);
  visit("power_law_k", &R::power_law_k);
  visit("power_exponent", &R::power_exponent);
  visit("also_fitted", &R::also_fitted);
  visit("q_per_nm", &R::q_per_nm);
  visit("measured", &R::measured);
  visit("fit", &R::fit);
  visit("fit_low68", &R::fit_low68);
  visit("fit_high68", &R::fit_high68);
  visit("fit_low95", &R::fit_low95);
  visit("fit_high95", &R::fit_high95);
  visit("residual", &R::residual);
  visit("chi2_per_point", &R::chi2_per_point);
  visit("effective_parameters", &R::effective_parameters);
  visit("runs_probability", &R::runs_probability);
  visit("noise_scale", &R::noise_scale);
  visit("probability_two_modes", &R::probability_two_modes);
  visit("modes_nm", &R::modes_nm);
  visit("x50_in_gap", &R::x50_in_gap);
  visit("outside_share", &R::outside_share);
  visit("ln_strength", &R::ln_strength);
  visit("r_hat", &R::r_hat);
  visit("effective_draws", &R::effective_draws);
  visit("converged", &R::converged);
  visit("warnings", &R::warnings);
  visit("notes", &R::notes);
  visit("draws", &R::draws);
  visit("influence", &R::influence);
}

}  // namespace sievelight
