// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/pixel_sums.hpp"

#include "sievelight/base/every_cpu.hpp"
#include "sievelight/base/four.hpp"
#include "sievelight/frames/frame_source.hpp"

#include <algorithm>
#include <cstring>
#include <limits>
#include <type_traits>

namespace sievelight {
namespace {

using Eigen::Index;

// Pixels looked over at a time: 1 KB of 32-bit counts, read from the first cache the second time.
constexpr Index strip = 256;

template <typename T>
SIEVELIGHT_EVERY_CPU T largest_of(const T* numbers, Index n) {
  T top = 0;
  for (Index i = 0; i < n; ++i) top = numbers[i] > top ? numbers[i] : top;
  return top;
}

template <typename T>
SIEVELIGHT_EVERY_CPU void widen(const T* numbers, Index n, std::uint32_t* wide) {
  for (Index i = 0; i < n; ++i) wide[i] = numbers[i];
}

template <typename T>
SIEVELIGHT_EVERY_CPU T smallest_of(const T* numbers, Index n) {
  T low = numbers[0];
  for (Index i = 1; i < n; ++i) low = numbers[i] < low ? numbers[i] : low;
  return low;
}

// Makes doubles whole numbers; false when one is negative, too large, fractional or none at all.
SIEVELIGHT_EVERY_CPU bool make_whole(const double* numbers, Index n, std::uint32_t* out) {
  constexpr double limit = 2147483648.0, round = 4503599627370496.0;  // 2^31; 2^52: adding it leaves no fraction
  std::int64_t good = 0;
  for (Index i = 0; i < n; ++i) {
    const double x = numbers[i];
    good += x >= 0 && x < limit && (x + round) - round == x ? std::int64_t{1} : std::int64_t{0};
  }
  if (good != n) return false;
  for (Index i = 0; i < n; ++i) out[i] = static_cast<std::uint32_t>(static_cast<std::int32_t>(numbers[i]));
  return true;
}

bool any_of(const bool* skip, Index n) { return std::memchr(skip, 1, static_cast<std::size_t>(n)) != nullptr; }

struct RichTerms {
  const DeadTimeTable* table;
  const float* inverse_weight;
  const double* dark;
  double share;
};

// Sum of squares and what is expected of it, from a pixel's true counts.
template <bool dark>
SIEVELIGHT_INLINE void scatter_of(double counts, double variance, Index pixel, const RichTerms& terms, double& square,
                                  double& expected) {
  const double inverse = terms.inverse_weight[pixel];
  double net = counts, allowed = variance;
  if constexpr (dark) {
    net -= terms.share * terms.dark[pixel];
    allowed += terms.share * terms.share * terms.dark[pixel];
  }
  square = net * net * inverse;
  expected = allowed * inverse;
}

template <bool dark>
SIEVELIGHT_INLINE void add_entry_scatter(const DeadTimeTable::Entry& e, Index pixel, const RichTerms& terms,
                                         double* cell) {
  double square, expected;
  scatter_of<dark>(e.counts, e.variance, pixel, terms, square, expected);
  add_four(cell + 4, Four{square, expected, 0.0, 0.0});
}

// Pixels whose recorded numbers all stand in the table.
template <bool scatter, bool dark, typename Slot>
SIEVELIGHT_EVERY_CPU void add_tabled(const std::uint32_t* numbers, const Slot* slots, Index first, Index n,
                                     const RichTerms& terms, double* cells) {
  const DeadTimeTable::Entry* entries = terms.table->data();
  for (Index i = 0; i < n; ++i) {
    const DeadTimeTable::Entry& entry = entries[static_cast<std::size_t>(numbers[i])];
    double* cell = cells + static_cast<Index>(slots[i]) * (scatter ? 8 : 4);
    add_four(cell, *reinterpret_cast<const Four*>(&entry));
    if constexpr (scatter) add_entry_scatter<dark>(entry, first + i, terms, cell);
  }
}

// Any recorded numbers; those of no bin are left out, since their rate may be impossible.
template <bool scatter, bool dark, typename T, typename Slot>
void add_computed(const T* numbers, const Slot* slots, Index first, Index n, Index unused, const RichTerms& terms,
                  double* cells) {
  for (Index i = 0; i < n; ++i) {
    if (static_cast<Index>(slots[i]) == unused) continue;
    const DeadTimeTable::Entry entry = (*terms.table)(static_cast<double>(numbers[i]));
    double* cell = cells + static_cast<Index>(slots[i]) * (scatter ? 8 : 4);
    add_four(cell, *reinterpret_cast<const Four*>(&entry));
    if constexpr (scatter) add_entry_scatter<dark>(entry, first + i, terms, cell);
  }
}

// A strip where only some pixels hold few counts.
template <typename Slot>
void add_mixed(const std::uint32_t* numbers, const Slot* slots, Index n, Index unused, const DeadTimeTable& table,
               WholeSums& whole, double* cells) {
  const std::size_t levels = whole.levels();
  whole.reserve(levels - 1);
  for (Index i = 0; i < n; ++i) {
    if (numbers[i] < levels) {
      whole.add_one(numbers[i], slots[i]);
    } else if (static_cast<Index>(slots[i]) != unused) {
      const DeadTimeTable::Entry entry = table(static_cast<std::size_t>(numbers[i]));
      add_four(cells + static_cast<Index>(slots[i]) * 4, *reinterpret_cast<const Four*>(&entry));
    }
  }
}

template <bool dark, typename T, typename Slot>
SIEVELIGHT_EVERY_CPU void add_scatter(const T* numbers, const Slot* slots, Index first, Index n, const RichTerms& terms,
                                      double* cells) {
  for (Index i = 0; i < n; ++i) {
    const double counts = static_cast<double>(numbers[i]);
    double square, expected;
    scatter_of<dark>(counts, counts, first + i, terms, square, expected);
    add_four(cells + static_cast<Index>(slots[i]) * 4, Four{counts, square, expected, 0.0});
  }
}

template <typename T, typename Slot>
double largest_used(const T* numbers, const Slot* slots, Index n, Index unused, double largest) {
  T top = 0;
  for (Index i = 0; i < n; ++i)
    if (static_cast<Index>(slots[i]) != unused && numbers[i] > top) top = numbers[i];
  return std::max(largest, static_cast<double>(top));
}

// What the count rules say of a strip that holds something else than counts.
template <typename T>
void tally_strip(const T* numbers, Index n, const StoredType& type, double saturation, CountTally& tally) {
  unsigned char wide[strip * sizeof(std::uint64_t)] = {};
  for (Index i = 0; i < n; ++i) std::memcpy(wide + static_cast<std::size_t>(i) * type.size, numbers + i, sizeof(T));
  double counts[strip] = {};
  bool masked[strip] = {};
  add_counts(type, wide, static_cast<std::size_t>(n), saturation, counts, masked, tally);
}

}  // namespace

void begin_whole(const SumTerms& terms, WholeSums& whole) {
  using Way = WholeSums::Way;
  // Moments reach far with exposures of seconds; a short one corrects even few counts by more than a quadratic term.
  constexpr std::size_t far = 64;
  const std::size_t quadratic = terms.dead_time ? terms.dead_time->quadratic_below() : 0;
  if (!terms.dead_time || terms.inverse_weight)
    whole.begin(*terms.slots, Way::sums);
  else if (quadratic >= far)
    whole.begin(*terms.slots, Way::moments, quadratic);
  else
    whole.begin(*terms.slots, Way::numbers);
}

void PixelSums::begin(const SumTerms& terms, const std::vector<Index>& blocks, WholeSums& whole) {
  terms_ = terms;
  whole_ = &whole;
  blocks_ = blocks;
  block_ = 0;
  const bool dead = terms.dead_time != nullptr, scatter = terms.inverse_weight != nullptr;
  width_ = dead && scatter ? 8 : dead || scatter ? 4 : 1;
  const auto cells = static_cast<std::size_t>((terms.slots->bins() + 1) * width_);
  if (dirty_ || cells_.size() != cells) cells_.assign(cells, 0.0);
  dirty_ = false;
  totals_.assign(cells, 0.0);
  lost_.clear();
  tally_ = {};
  largest_ = 0.0;
  refused_.reset();
}

template <typename T>
void PixelSums::add_strip(const T* numbers, Index first, Index n, T top) {
  if constexpr (std::is_integral_v<T>)
    if (!terms_.dead_time && !terms_.inverse_weight) return whole_->add(numbers, first, n, top);
  terms_.slots->with([&](const auto* table) {
    const auto* slots = table + first;
    if (terms_.dead_time) return add_dead(numbers, slots, first, n, top);
    dirty_ = true;
    const RichTerms terms{nullptr, terms_.inverse_weight, terms_.dark, terms_.dark_share};
    if (!terms.inverse_weight)
      for (Index i = 0; i < n; ++i) cells_[slots[i]] += static_cast<double>(numbers[i]);
    else if (terms.dark)
      add_scatter<true>(numbers, slots, first, n, terms, cells_.data());
    else
      add_scatter<false>(numbers, slots, first, n, terms, cells_.data());
  });
}

template <typename T, typename Slot>
void PixelSums::add_dead(const T* numbers, const Slot* slots, Index first, Index n, T top) {
  const RichTerms terms{terms_.dead_time, terms_.inverse_weight, terms_.dark, terms_.dark_share};
  const Index unused = terms_.slots->unused();
  if (static_cast<double>(top) > largest_) largest_ = largest_used(numbers, slots, n, unused, largest_);
  // Few counts go to the whole sums. What is decided for each pixel must not depend on its neighbours, or the order of
  // the sums would depend on how the pixels come.
  if constexpr (std::is_integral_v<T>) {
    if (top < whole_->levels()) return whole_->add_few(numbers, first, n, top);
    if (whole_->levels() > 0 && smallest_of(numbers, n) < whole_->levels()) {
      dirty_ = true;
      return add_mixed(numbers, slots, n, unused, *terms.table, *whole_, cells_.data());
    }
  }
  dirty_ = true;
  const auto add = [&](auto scatter, auto dark) {
    if constexpr (std::is_integral_v<T>)
      if (top < terms.table->size()) return add_tabled<scatter, dark>(numbers, slots, first, n, terms, cells_.data());
    add_computed<scatter, dark>(numbers, slots, first, n, unused, terms, cells_.data());
  };
  constexpr std::true_type yes;
  constexpr std::false_type no;
  if (!terms.inverse_weight) return add(no, no);
  if (!terms.dark) return add(yes, no);
  add(yes, yes);
}

template <typename T>
void PixelSums::add_run(const T* numbers, Index first, Index n, std::uint64_t limit, const bool* skip,
                        const StoredType* type, double saturation) {
  for (Index done = 0; done < n;) {
    const Index at = first + done;
    while (block_ + 2 < blocks_.size() && at >= blocks_[block_ + 1]) {
      fold();
      ++block_;
    }
    const Index to_edge = block_ + 2 < blocks_.size() ? blocks_[block_ + 1] - at : n;
    const Index length = std::min({strip, n - done, to_edge});
    const T* from = numbers + done;
    const bool* hidden = skip ? skip + done : nullptr;
    done += length;
    const T top = largest_of(from, length);
    bool good;
    if constexpr (std::is_integral_v<T>) {
      good = top < limit;
      if (!good) tally_strip(from, length, *type, saturation, tally_);
    } else {
      good = all_counts(from, length);
    }
    if (good && !(hidden && any_of(hidden, length))) {
      add_wide(from, at, length, top);
      continue;
    }
    for (Index i = 0; i < length; ++i) {
      const Index pixel = at + i;
      if ((*terms_.slots)[pixel] == terms_.slots->unused()) continue;
      if (hidden && hidden[i]) {
        lost_.push_back(pixel);
        continue;
      }
      if constexpr (std::is_integral_v<T>) {
        if (from[i] >= limit) {
          lost_.push_back(pixel);
          continue;
        }
      } else if (!all_counts(from + i, 1)) {
        if (!refused_) refused_ = pixel;
        continue;
      }
      add_wide(from + i, pixel, 1, from[i]);
    }
  }
}

template <typename T>
void PixelSums::add_wide(const T* numbers, Index first, Index n, T top) {
  if constexpr (sizeof(T) < sizeof(std::uint32_t)) {
    std::uint32_t wide[strip];
    widen(numbers, n, wide);
    add_strip<std::uint32_t>(wide, first, n, top);
  } else {
    add_strip(numbers, first, n, top);
  }
}

void PixelSums::add(const StoredType& type, const StoredRun& run, double saturation, const bool* skip) {
  const std::uint64_t limit = count_limit(type.kind, saturation);
  const auto direct = [&](auto zero) {
    add_run(reinterpret_cast<const decltype(zero)*>(run.numbers), run.first, run.n, limit, skip, &type, saturation);
  };
  const bool whole = type.kind != NumberKind::f32 && type.kind != NumberKind::f64;
  const bool plain = whole && !type.swapped && reinterpret_cast<std::uintptr_t>(run.numbers) % run.width == 0;
  // A negative number is a huge one without its sign, beyond the limit: the signed kinds need no code of their own.
  if (plain && run.width == 4) return direct(std::uint32_t{});
  if (plain && run.width == 2) return direct(std::uint16_t{});
  if (whole && run.width == 1) return direct(std::uint8_t{});
  // Other kinds are made doubles, a strip at a time.
  double counts[strip];
  bool masked[strip];
  for (Index done = 0; done < run.n; done += strip) {
    const Index length = std::min(strip, run.n - done);
    std::fill_n(counts, length, 0.0);
    if (skip != nullptr)
      std::copy_n(skip + done, length, masked);
    else
      std::fill_n(masked, length, false);
    add_counts(type, run.numbers + static_cast<std::size_t>(done) * type.size, static_cast<std::size_t>(length),
               saturation, counts, masked, tally_);
    add(counts, run.first + done, length, masked);
  }
}

void PixelSums::add(const double* counts, Index first, Index n, const bool* skip) {
  // Counts are whole as a rule: such strips go the way of the stored ones and give the same sums bit for bit.
  static const StoredType whole = plain_type(NumberKind::u32, false);
  constexpr std::uint64_t limit = std::uint64_t{1} << 32;
  std::uint32_t numbers[strip];
  for (Index done = 0; done < n; done += strip) {
    const Index length = std::min(strip, n - done);
    const bool* hidden = skip ? skip + done : nullptr;
    if (make_whole(counts + done, length, numbers))
      add_run(numbers, first + done, length, limit, hidden, &whole, 0.0);
    else
      add_run(counts + done, first + done, length, 0, hidden, nullptr, 0.0);
  }
}

// Ends a block: its sums of doubles join those of the blocks before.
void PixelSums::fold() {
  if (!dirty_) return;
  dirty_ = false;
  for (std::size_t i = 0; i < totals_.size(); ++i) totals_[i] += cells_[i];
  std::fill(cells_.begin(), cells_.end(), 0.0);
}

void PixelSums::join(PixelSums& next) {
  fold();
  next.fold();
  for (std::size_t i = 0; i < totals_.size(); ++i) totals_[i] += next.totals_[i];
  lost_.insert(lost_.end(), next.lost_.begin(), next.lost_.end());
  tally_ += next.tally_;
  largest_ = std::max(largest_, next.largest_);
  if (!refused_) refused_ = next.refused_;
}

void PixelSums::end(const WholeSums& whole) {
  fold();
  const Index bins = terms_.slots->bins();
  if (whole.way() == WholeSums::Way::sums) {
    for (Index k = 0; k < bins; ++k) totals_[static_cast<std::size_t>(k * width_)] += static_cast<double>(whole.sum(k));
  } else if (whole.way() == WholeSums::Way::moments) {
    for (Index k = 0; k < bins; ++k) {
      const DeadTimeTable::Entry entry =
          terms_.dead_time->of_moments(static_cast<double>(whole.sum(k)), static_cast<double>(whole.square(k)));
      add_four(totals_.data() + k * width_, *reinterpret_cast<const Four*>(&entry));
    }
  } else {
    for (std::size_t n = 0; n < whole.levels(); ++n) {
      const std::uint16_t* pixels = whole.pixels(n);
      const DeadTimeTable::Entry entry = (*terms_.dead_time)(n);
      const Four one = *reinterpret_cast<const Four*>(&entry);
      for (Index k = 0; k < bins; ++k) {
        const double many = pixels[k];
        if (many > 0) add_four(totals_.data() + k * width_, one * Four{many, many, many, many});
      }
    }
  }
}

double PixelSums::square(Index bin) const { return terms_.inverse_weight ? total(bin, terms_.dead_time ? 4 : 1) : 0.0; }
double PixelSums::expected(Index bin) const {
  return terms_.inverse_weight ? total(bin, terms_.dead_time ? 5 : 2) : 0.0;
}

}  // namespace sievelight
