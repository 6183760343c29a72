// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/parallel.hpp"
#include "sievelight/reduce/measured.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <memory>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

int digits(Index number) { return number < 10 ? 1 : 1 + digits(number / 10); }

}  // namespace

std::vector<Averaged> Averager::average_each(const FrameFile& file, const std::vector<Index>& indices,
                                             const ExposureOptions& options) const {
  const std::vector<Index> wanted = file.require_indices(indices);
  std::vector<ExposureOptions> each(wanted.size(), options);
  for (std::size_t i = 0; i < wanted.size(); ++i)
    each[i].name = fmt::format("{}-{:0{}d}", options.name, wanted[i], std::max(3, digits(wanted.back())));
  std::vector<Averaged> out(wanted.size());
  const std::unique_ptr<StoredStream> stream = file.stream();
  if (!stream) {
    for (std::size_t i = 0; i < wanted.size(); ++i) {
      const Frame frame = file.read(wanted[i]);
      out[i] = average({&frame}, each[i]);
    }
    return out;
  }
  if (file.rows() != weight_.rows() || file.columns() != weight_.cols())
    refuse_shape(fmt::format("the frame of '{}'", options.name), file.rows(), file.columns(), weight_);

  // What is the same for all: the mask, the dark and, as a rule, the exposure.
  const auto of = [](const VectorXd& values, Index i) {
    return values.size() == 0 ? std::numeric_limits<double>::quiet_NaN() : values[i];
  };
  const auto begun = [&](std::size_t i) {
    Measured m = begin(each[i]);
    std::optional<double> monitor;
    if (file.monitors().size() != 0) monitor = file.monitors()[wanted[i]];
    add_amount(m, of(file.exposures_s(), wanted[i]), monitor, 1, file.metadata());
    return m;
  };
  const Measured first = begun(0);
  const Mask skip = unite_masks({&file.masked()}, first.options.dark);
  const PixelInputs shared = inputs(first, skip);
  const double saturation = file.metadata().saturation_value.value_or(std::numeric_limits<double>::infinity());
  const std::vector<Index> blocks = pixel_blocks(file.rows(), file.columns());

  // Exposures that are stored in one piece go to one thread.
  std::vector<std::size_t> groups{0};
  for (std::size_t i = 1; i < wanted.size(); ++i)
    if (wanted[i] / stream->together() != wanted[i - 1] / stream->together()) groups.push_back(i);
  groups.push_back(wanted.size());
  struct Worker {
    StoredStream::Buffers buffers;
    PixelSums sums;
    WholeSums whole;
    DeadTimeTable dead_time;
    double table_exposure_s = -1.0;
  };
  std::vector<Worker> workers(std::min(groups.size() - 1, thread_count()));
  parallel_for_threads(
      groups.size() - 1,
      [&](std::size_t thread, std::size_t group) {
        Worker& w = workers[thread];
        for (std::size_t i = groups[group]; i < groups[group + 1]; ++i) {
          Measured m = begun(i);
          PixelInputs in = shared;
          in.name = each[i].name;
          const double exposure_s = of(file.exposures_s(), wanted[i]);
          if (m.dead_time) {
            if (w.table_exposure_s != exposure_s) w.dead_time = {*m.dead_time, exposure_s};
            w.table_exposure_s = exposure_s;
            in.dead_time = &w.dead_time;
          }
          const SumTerms terms = sum_terms(in, exposure_s);
          begin_whole(terms, w.whole);
          w.sums.begin(terms, blocks, w.whole);
          stream->read(wanted[i], w.buffers, [&](const StoredRun& run) {
            w.sums.add(stream->type(), run, saturation, in.skip ? in.skip->data() + run.first : nullptr);
          });
          w.whole.end();
          w.sums.end(w.whole);
          file.require_counts(fmt::format("Frame {}", wanted[i]), w.sums.tally());
          m.tally_notes = describe(w.sums.tally(), saturation);
          add_sums(m, collect(w.sums, in), exposure_s);
          out[i] = finish(m);
        }
      },
      workers.size());
  return out;
}

}  // namespace sievelight
