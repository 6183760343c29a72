// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/base/holm.hpp"
#include "sievelight/compare/compare.hpp"

using namespace sievelight;

namespace {

TwoSamples kind_from(const std::string& text) {
  return word<TwoSamples>(
      text, "kind of test",
      {{"welch", TwoSamples::welch}, {"pooled", TwoSamples::pooled}, {"paired", TwoSamples::paired}});
}

Scatter scatter_from(const std::string& text) {
  return word<Scatter>(text, "way to treat the scatter",
                       {{"per_batch", Scatter::per_batch}, {"pooled", Scatter::pooled}});
}

void bind_equivalence(py::module_& m) {
  using T = EquivalenceTest;
  py::class_<T>(m, "EquivalenceTest", "Two one-sided tests of a difference against limits.")
      .def_readonly("difference", &T::difference)
      .def_readonly("standard_error", &T::standard_error)
      .def_readonly("degrees_of_freedom", &T::degrees_of_freedom)
      .def_readonly("limits", &T::limits)
      .def_readonly("alpha", &T::alpha)
      .def_readonly("t_low", &T::t_low)
      .def_readonly("t_high", &T::t_high)
      .def_readonly("p_low", &T::p_low)
      .def_readonly("p_high", &T::p_high)
      .def_readonly("p_equivalent", &T::p_equivalent)
      .def_readonly("p_different", &T::p_different)
      .def_readonly("t_zero", &T::t_zero)
      .def_readonly("p_zero", &T::p_zero)
      .def_readonly("verdict_interval", &T::verdict_interval)
      .def_readonly("interval95", &T::interval95)
      .def_readonly("equivalent", &T::equivalent)
      .def_readonly("different", &T::different)
      .def_readonly("significant", &T::significant)
      .def("__repr__",
           [](const T& t) {
             return py::str("<EquivalenceTest: difference {:.4g} ± {:.2g}, limits {:.4g} to {:.4g}, {}>")
                 .format(t.difference, t.standard_error, t.limits.low, t.limits.high,
                         t.equivalent  ? "equivalent"
                         : t.different ? "different"
                                       : "undecided");
           })
      .def(py::pickle(
          [](const T& t) {
            return py::make_tuple(t.difference, t.standard_error, t.degrees_of_freedom, t.limits, t.alpha);
          },
          [](const py::tuple& t) {
            return equivalence_test(t[0].cast<double>(), t[1].cast<double>(), t[2].cast<double>(), t[3].cast<Range>(),
                                    t[4].cast<double>());
          }));
  m.def(
      "equivalence_test",
      [](const Eigen::VectorXd& a, const Eigen::VectorXd& b, std::pair<double, double> limits, const std::string& kind,
         double alpha) {
        return equivalence_test(a, b, {limits.first, limits.second}, kind_from(kind), alpha);
      },
      py::arg("a"), py::arg("b"), py::kw_only(), py::arg("limits"), py::arg("kind") = "welch", py::arg("alpha") = 0.05);
  m.def(
      "holm",
      [](const std::vector<double>& p, double alpha) {
        const HolmResult r = holm(p, alpha);
        return py::make_tuple(r.adjusted, r.claimed);
      },
      py::arg("p"), py::kw_only(), py::arg("alpha") = 0.05);
}

void bind_summary(py::module_& m) {
  using S = BatchSummary;
  py::class_<S>(m, "BatchSummary", "A batch: its samples, mean with bands, and scatter between samples.")
      .def_readonly("batch", &S::batch)
      .def_readonly("samples", &S::samples)
      .def_readonly("mean", &S::mean)
      .def_readonly("degrees_of_freedom", &S::degrees_of_freedom)
      .def_readonly("between_sample_sd", &S::between_sample_sd)
      .def_readonly("between_sample_sd95", &S::between_sample_sd95)
      .def_readonly("shared_u", &S::shared_u)
      .def_readonly("includes_scatter", &S::includes_scatter)
      .def("__repr__",
           [](const S& s) {
             return py::str(
                        "<BatchSummary {!r}: {} samples, mean {:.5g}, 95 % {:.5g} to {:.5g}, between-sample sd {:.2g}>")
                 .format(s.batch, s.samples, s.mean.value, s.mean.band95.low, s.mean.band95.high, s.between_sample_sd);
           })
      .def(pickle(&S::batch, &S::samples, &S::mean, &S::degrees_of_freedom, &S::between_sample_sd,
                  &S::between_sample_sd95, &S::shared_u, &S::includes_scatter));
}

void bind_pair(py::module_& m) {
  using P = BatchPair;
  py::class_<P>(m, "BatchPair", "A batch against the reference: the difference and the verdict.")
      .def_readonly("batch", &P::batch)
      .def_readonly("reference", &P::reference)
      .def_readonly("difference_percent", &P::difference_percent)
      .def_readonly("difference_percent_low", &P::difference_percent_low)
      .def_readonly("difference_percent_high", &P::difference_percent_high)
      .def_readonly("verdict_percent_low", &P::verdict_percent_low)
      .def_readonly("verdict_percent_high", &P::verdict_percent_high)
      .def_readonly("standard_error_percent", &P::standard_error_percent)
      .def_readonly("degrees_of_freedom", &P::degrees_of_freedom)
      .def_readonly("shared_share", &P::shared_share)
      .def_readonly("p_equivalent", &P::p_equivalent)
      .def_readonly("p_different", &P::p_different)
      .def_readonly("verdict_level", &P::verdict_level)
      .def_readonly("p_zero", &P::p_zero)
      .def_readonly("p_zero_holm", &P::p_zero_holm)
      .def_readonly("difference_significant", &P::difference_significant)
      .def_readonly("look", &P::look)
      .def_readonly("verdict", &P::verdict)
      .def_readonly("reason", &P::reason)
      .def("__repr__",
           [](const P& p) {
             return py::str("<BatchPair {!r} against {!r}: {:+.2f} %, 95 % {:+.2f} to {:+.2f} %, {}>")
                 .format(p.batch, p.reference, p.difference_percent, p.difference_percent_low,
                         p.difference_percent_high, p.verdict);
           })
      .def(pickle(&P::batch, &P::reference, &P::difference_percent, &P::difference_percent_low,
                  &P::difference_percent_high, &P::verdict_percent_low, &P::verdict_percent_high,
                  &P::standard_error_percent, &P::degrees_of_freedom, &P::shared_share, &P::p_equivalent,
                  &P::p_different, &P::verdict_level, &P::p_zero, &P::p_zero_holm, &P::difference_significant, &P::look,
                  &P::verdict, &P::reason));
}

void bind_distance(py::module_& m) {
  using D = DistributionDistance;
  py::class_<D>(m, "DistributionDistance", "How far apart two batches' distributions are, the noise's part removed.")
      .def_readonly("raw_nm", &D::raw_nm)
      .def_readonly("value_nm", &D::value_nm)
      .def_readonly("interval95_nm", &D::interval95_nm)
      .def_readonly("noise_nm", &D::noise_nm)
      .def_readonly("p_equal", &D::p_equal)
      .def_readonly("samples_a", &D::samples_a)
      .def_readonly("samples_b", &D::samples_b)
      .def("__repr__",
           [](const D& d) {
             return py::str(
                        "<DistributionDistance: {:.3g} nm, 95 % {:.3g} to {:.3g} nm (raw {:.3g}, noise alone {:.3g})>")
                 .format(d.value_nm, d.interval95_nm.low, d.interval95_nm.high, d.raw_nm, d.noise_nm);
           })
      .def(
          pickle(&D::raw_nm, &D::value_nm, &D::interval95_nm, &D::noise_nm, &D::p_equal, &D::samples_a, &D::samples_b));
  m.def(
      "distribution_distance",
      [](const Eigen::VectorXd& diameter_nm, const std::vector<Eigen::MatrixXd>& a,
         const std::vector<Eigen::MatrixXd>& b, int resamples, std::uint64_t seed) {
        return distribution_distance(diameter_nm, a, b, {resamples, seed});
      },
      py::arg("diameter_nm"), py::arg("a"), py::arg("b"), py::kw_only(), py::arg("resamples"), py::arg("seed"),
      no_gil());
  m.def(
      "wasserstein",
      py::overload_cast<const Eigen::VectorXd&, const Eigen::VectorXd&, const Eigen::VectorXd&, const Eigen::VectorXd&>(
          &wasserstein),
      py::arg("a"), py::arg("weight_a"), py::arg("b"), py::arg("weight_b"));
}

Spending spending_from(const std::string& text) {
  return word<Spending>(text, "way to spend the error",
                        {{"obrien_fleming", Spending::obrien_fleming}, {"pocock", Spending::pocock}});
}

void bind_sequential(py::module_& m) {
  using L = SequentialLimits;
  py::class_<L>(m, "SequentialLimits", "Limits of planned looks at a growing experiment.")
      .def_readonly("fraction", &L::fraction)
      .def_readonly("spent", &L::spent)
      .def_readonly("z", &L::z)
      .def_readonly("level", &L::level)
      .def(pickle(&L::fraction, &L::spent, &L::z, &L::level));
  m.def(
      "sequential_limits",
      [](const Eigen::VectorXd& fractions, double alpha, const std::string& spending) {
        return sequential_limits(fractions, alpha, spending_from(spending));
      },
      py::arg("fractions"), py::kw_only(), py::arg("alpha"), py::arg("spending"), no_gil());
  m.def("first_crossings", &first_crossings, py::arg("fractions"), py::arg("z"), no_gil());
}

void bind_sizing(py::module_& m) {
  py::class_<SizingStep>(m, "SizingStep", "What an experiment of so many samples a batch would say, as probabilities.")
      .def_readonly("samples", &SizingStep::samples)
      .def_readonly("equivalent", &SizingStep::equivalent)
      .def_readonly("different", &SizingStep::different)
      .def_readonly("undecided", &SizingStep::undecided)
      .def_readonly("mean_samples", &SizingStep::mean_samples)
      .def_readonly("looks", &SizingStep::looks);
  py::class_<Sizing>(m, "Sizing", "How many samples a batch a new experiment needs.")
      .def_readonly("samples", &Sizing::samples)
      .def_readonly("steps", &Sizing::steps)
      .def_readonly("limited_by_shared", &Sizing::limited_by_shared)
      .def("__repr__", [](const Sizing& s) {
        if (s.samples) return py::str("<Sizing: {} samples a batch>").format(*s.samples);
        return py::str(s.limited_by_shared ? "<Sizing: limited by errors that samples do not narrow>"
                                           : "<Sizing: out of reach>");
      });
  const SizingInput d;
  m.def(
      "size_experiment",
      [](double between_sd, double scatter_degrees, double own_u, double shared_u, double difference, double margin,
         double alpha, double power, int most_samples, int looks, const std::string& spending) {
        return size_experiment({between_sd, scatter_degrees, own_u, shared_u, difference, margin, alpha, power,
                                most_samples, looks, spending_from(spending)});
      },
      py::kw_only(), py::arg("between_sd"), py::arg("scatter_degrees") = d.scatter_degrees, py::arg("own_u") = d.own_u,
      py::arg("shared_u") = d.shared_u, py::arg("difference") = d.difference, py::arg("margin") = d.margin,
      py::arg("alpha") = d.alpha, py::arg("power") = d.power, py::arg("most_samples") = d.most_samples,
      py::arg("looks") = d.looks, py::arg("spending") = "obrien_fleming", no_gil());
}

}  // namespace

void bind_compare(py::module_& m) {
  bind_equivalence(m);
  bind_distance(m);
  bind_sequential(m);
  bind_sizing(m);
  bind_summary(m);
  bind_pair(m);
  using C = BatchComparison;
  py::class_<C>(m, "BatchComparison", "Batches against a reference: `batches` and `pairs`.")
      .def_readonly("quantity", &C::quantity)
      .def_readonly("reference", &C::reference)
      .def_readonly("margin_percent", &C::margin_percent)
      .def_readonly("alpha", &C::alpha)
      .def_readonly("log", &C::log)
      .def_readonly("batches", &C::batches)
      .def_readonly("pairs", &C::pairs)
      .def("__repr__",
           [](const C& c) {
             py::list pairs;
             for (const BatchPair& p : c.pairs) pairs.append(p.batch + ": " + p.verdict);
             return py::str("<BatchComparison of {} against {!r}, margin {:g} %: {}>")
                 .format(c.quantity, c.reference, c.margin_percent, py::str(", ").attr("join")(pairs));
           })
      .def(pickle(&C::quantity, &C::reference, &C::margin_percent, &C::alpha, &C::log, &C::batches, &C::pairs));
  const BatchOptions defaults;
  m.def(
      "compare_batches",
      [](const std::vector<std::string>& names, const std::vector<std::string>& batches, const Eigen::VectorXd& values,
         const Eigen::MatrixXd& covariance, const std::string& reference, const std::string& quantity, double margin,
         bool log, double alpha, const std::string& scatter, bool single_samples, const std::vector<int>& looks,
         const std::string& spending) {
        return compare_batches(names, batches, values, covariance,
                               {reference, quantity, margin, log, alpha, scatter_from(scatter), single_samples, looks,
                                spending_from(spending)});
      },
      py::kw_only(), py::arg("names"), py::arg("batches"), py::arg("values"), py::arg("covariance"),
      py::arg("reference"), py::arg("quantity") = defaults.quantity, py::arg("margin") = defaults.margin,
      py::arg("log") = defaults.log, py::arg("alpha") = defaults.alpha, py::arg("scatter") = "per_batch",
      py::arg("single_samples") = defaults.single_samples, py::arg("looks") = std::vector<int>{},
      py::arg("spending") = "obrien_fleming", no_gil());
  m.def(
      "means_of_batches",
      [](const std::vector<std::string>& batches, const Eigen::VectorXd& values, const Eigen::MatrixXd& covariance,
         const BatchComparison& comparison, const std::vector<std::string>& wanted) {
        BatchMeans found = means_of_batches(batches, values, covariance, comparison, wanted);
        return std::pair{std::move(found.mean), std::move(found.covariance)};
      },
      py::kw_only(), py::arg("batches"), py::arg("values"), py::arg("covariance"), py::arg("comparison"),
      py::arg("wanted"), no_gil());
  m.def(
      "errors_for_sizing",
      [](const std::vector<std::string>& batches, const Eigen::VectorXd& values, const Eigen::MatrixXd& covariance,
         const BatchComparison& comparison, const std::string& batch) -> std::optional<std::map<std::string, double>> {
        const auto found = errors_for_sizing(batches, values, covariance, comparison, batch);
        if (!found) return std::nullopt;
        return std::map<std::string, double>{
            {"between_sd", found->between_sd}, {"scatter_degrees", found->scatter_degrees},
            {"own_u", found->own_u},           {"shared_u", found->shared_u},
            {"margin", found->margin},         {"alpha", found->alpha}};
      },
      py::kw_only(), py::arg("batches"), py::arg("values"), py::arg("covariance"), py::arg("comparison"),
      py::arg("batch"), no_gil());
}
