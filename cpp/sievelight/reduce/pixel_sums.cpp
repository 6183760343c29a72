// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/pixel_sums.hpp"

#include "sievelight/base/every_cpu.hpp"

#include <algorithm>
#include <cstring>
#include <limits>
#include <type_traits>

namespace sievelight {
namespace {

using Eigen::Index;

// Pixels looked over at a time: 1 KB of 32-bit counts, read from the first cache the second time.
constexpr Index strip = 256;
// Blocks of a frame whose sums of doubles are kept apart, and the size below which one block serves.
constexpr Index most_blocks = 16, small_frame = 200000;
// Memory of the whole sums: most of a first cache of 32 KB.
constexpr std::size_t cache_bytes = 36000;
constexpr Index most_copies = 4;

template <typename T>
SIEVELIGHT_EVERY_CPU T largest_of(const T* numbers, Index n) {
  T top = 0;
  for (Index i = 0; i < n; ++i) top = numbers[i] > top ? numbers[i] : top;
  return top;
}

SIEVELIGHT_EVERY_CPU bool all_finite(const double* numbers, Index n) {
  bool bad = false;
  for (Index i = 0; i < n; ++i) bad |= !((numbers[i] >= 0) & (numbers[i] <= std::numeric_limits<double>::max()));
  return !bad;
}

// Whole numbers are counts below the limit; doubles were sorted out before and must only be possible.
template <typename T>
bool all_counts(const T* numbers, Index n, std::uint64_t limit) {
  if constexpr (std::is_integral_v<T>)
    return largest_of(numbers, n) < limit;
  else
    return all_finite(numbers, n);
}

bool any_of(const bool* skip, Index n) { return std::memchr(skip, 1, static_cast<std::size_t>(n)) != nullptr; }

// Each of four neighbours goes into a copy of its own.
template <typename T, typename Slot, typename Sum>
void add_plain(const T* numbers, const Slot* slots, Index n, Sum* sums, Index slot_count, int copies) {
  Sum* a = sums;
  Sum* b = copies > 1 ? a + slot_count : a;
  Sum* c = copies > 2 ? b + slot_count : a;
  Sum* d = copies > 2 ? c + slot_count : b;
  Index i = 0;
  for (; i + 4 <= n; i += 4) {
    a[slots[i]] += numbers[i];
    b[slots[i + 1]] += numbers[i + 1];
    c[slots[i + 2]] += numbers[i + 2];
    d[slots[i + 3]] += numbers[i + 3];
  }
  for (; i < n; ++i) a[slots[i]] += numbers[i];
}

struct RichTerms {
  const DeadTimeTable::Entry* entries;
  double entry_count;
  const DeadTimeTable* table;
  const float* inverse_weight;
  const double* dark;
  double share;
};

// What one pixel adds to its cell.
template <bool dead, bool scatter, bool dark, typename T>
SIEVELIGHT_INLINE void add_pixel(T number, Index pixel, const RichTerms& terms, double* cell) {
  const double n = static_cast<double>(number);
  double counts = n, variance = n;
  if constexpr (dead) {
    DeadTimeTable::Entry entry;
    bool tabled = n < terms.entry_count;
    if constexpr (!std::is_integral_v<T>) tabled = tabled && n == static_cast<double>(static_cast<std::int64_t>(n));
    if (tabled) [[likely]]
      entry = terms.entries[static_cast<std::size_t>(number)];
    else
      entry = (*terms.table)(n);
    cell[0] += entry.recorded;
    cell[1] += entry.counts;
    cell[2] += entry.variance;
    cell[3] += entry.per_dead_time;
    counts = entry.counts;
    variance = entry.variance;
  } else {
    cell[0] += n;
  }
  if constexpr (scatter) {
    constexpr int at = dead ? 4 : 1;
    const double inverse = terms.inverse_weight[pixel];
    double net = counts, allowed = variance;
    if constexpr (dark) {
      net -= terms.share * terms.dark[pixel];
      allowed += terms.share * terms.share * terms.dark[pixel];
    }
    cell[at] += net * net * inverse;
    cell[at + 1] += allowed * inverse;
  }
}

template <bool dead, bool scatter, bool dark, typename T, typename Slot>
void add_rich(const T* numbers, const Slot* slots, Index first, Index n, Index unused, const RichTerms& terms,
              double* cells, double& largest) {
  constexpr Index width = !dead && !scatter ? 1 : dead && scatter ? 8 : 4;
  double top = largest;
  for (Index i = 0; i < n; ++i) {
    const auto slot = static_cast<Index>(slots[i]);
    if constexpr (dead) {
      if (slot == unused) continue;  // its rate may be impossible
      top = std::max(top, static_cast<double>(numbers[i]));
    }
    add_pixel<dead, scatter, dark>(numbers[i], first + i, terms, cells + slot * width);
  }
  largest = top;
}

// Calls use with the three answers as constants.
template <bool... known, typename Use>
void choose(const Use& use) {
  use(std::bool_constant<known>{}...);
}
template <bool... known, typename Use, typename... Rest>
void choose(const Use& use, bool next, Rest... rest) {
  if (next)
    choose<known..., true>(use, rest...);
  else
    choose<known..., false>(use, rest...);
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

RichTerms rich_terms(const SumTerms& t) {
  return {t.dead_time ? t.dead_time->data() : nullptr,
          t.dead_time ? static_cast<double>(t.dead_time->size()) : 0.0,
          t.dead_time,
          t.inverse_weight,
          t.dark,
          t.dark_share};
}

}  // namespace

std::vector<Index> pixel_blocks(Index rows, Index columns) {
  const Index blocks = rows * columns < small_frame ? 1 : std::min(rows, most_blocks);
  std::vector<Index> out;
  for (Index b = 0; b <= blocks; ++b) out.push_back(rows * b / blocks * columns);
  return out;
}

void PixelSums::begin(const SumTerms& terms, const std::vector<Index>& blocks) {
  terms_ = terms;
  blocks_ = blocks;
  block_ = 0;
  const bool dead = terms.dead_time != nullptr, scatter = terms.inverse_weight != nullptr;
  rich_ = dead || scatter;
  width_ = dead && scatter ? 8 : rich_ ? 4 : 1;
  square_at_ = scatter ? (dead ? 4 : 1) : -1;
  const auto slots = static_cast<std::size_t>(terms.slots->bins() + 1);
  copies_ = static_cast<int>(std::clamp<std::size_t>(cache_bytes / (slots * sizeof(double)), 1, most_copies));
  whole_.assign(rich_ ? 0 : slots * static_cast<std::size_t>(copies_), 0);
  const std::size_t cells = slots * static_cast<std::size_t>(rich_ ? width_ : copies_);
  if (dirty_ || cells_.size() != cells) cells_.assign(cells, 0.0);
  dirty_ = false;
  totals_.assign(slots * static_cast<std::size_t>(width_), 0.0);
  lost_.clear();
  tally_ = {};
  largest_ = 0.0;
  refused_.reset();
}

template <typename T, typename Slot>
void PixelSums::add_strip(const T* numbers, const Slot* slots, Index first, Index n) {
  const Index slot_count = terms_.slots->bins() + 1;
  if (!rich_) {
    if constexpr (std::is_integral_v<T>) return add_plain(numbers, slots, n, whole_.data(), slot_count, copies_);
    dirty_ = true;
    return add_plain(numbers, slots, n, cells_.data(), slot_count, copies_);
  }
  dirty_ = true;
  const RichTerms terms = rich_terms(terms_);
  choose(
      [&](auto dead, auto scatter, auto dark) {
        if constexpr (dead || scatter)
          add_rich<dead, scatter, dark && scatter>(numbers, slots, first, n, terms_.slots->unused(), terms,
                                                   cells_.data(), largest_);
      },
      terms_.dead_time != nullptr, terms_.inverse_weight != nullptr, terms_.dark != nullptr);
}

template <typename T>
void PixelSums::add_pixels(const T* numbers, Index first, Index n, std::uint64_t limit, const bool* skip) {
  terms_.slots->with([&](const auto* slots) {
    for (Index i = 0; i < n; ++i) {
      const Index pixel = first + i;
      if (static_cast<Index>(slots[pixel]) == terms_.slots->unused()) continue;
      if (skip && skip[i]) {
        lost_.push_back(pixel);
      } else if (!all_counts(numbers + i, 1, limit)) {
        if constexpr (std::is_integral_v<T>)
          lost_.push_back(pixel);
        else if (!refused_)
          refused_ = pixel;
      } else {
        add_strip(numbers + i, slots + pixel, pixel, 1);
      }
    }
  });
}

template <typename T>
void PixelSums::add_run(const T* numbers, Index first, Index n, const bool* skip, const StoredType* type,
                        double saturation) {
  const std::uint64_t limit = type ? count_limit(type->kind, saturation) : 0;
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
    const bool good = all_counts(from, length, limit);
    if (good && !(hidden && any_of(hidden, length))) {
      terms_.slots->with([&](const auto* slots) { add_strip(from, slots + at, at, length); });
    } else {
      if constexpr (std::is_integral_v<T>)
        if (!good) tally_strip(from, length, *type, saturation, tally_);
      add_pixels(from, at, length, limit, hidden);
    }
    done += length;
  }
}

void PixelSums::add(const StoredType& type, const StoredRun& run, double saturation, const bool* skip) {
  const auto direct = [&](auto zero) {
    add_run(reinterpret_cast<const decltype(zero)*>(run.numbers), run.first, run.n, skip, &type, saturation);
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
    if (skip)
      std::copy_n(skip + done, length, masked);
    else
      std::fill_n(masked, length, false);
    add_counts(type, run.numbers + static_cast<std::size_t>(done) * type.size, static_cast<std::size_t>(length),
               saturation, counts, masked, tally_);
    add(counts, run.first + done, length, masked);
  }
}

void PixelSums::add(const double* counts, Index first, Index n, const bool* skip) {
  add_run(counts, first, n, skip, nullptr, 0.0);
}

// Ends a block: its sums of doubles join those of the blocks before.
void PixelSums::fold() {
  if (!dirty_) return;
  dirty_ = false;
  const auto slots = static_cast<std::size_t>(terms_.slots->bins() + 1);
  if (rich_) {
    for (std::size_t i = 0; i < totals_.size(); ++i) totals_[i] += cells_[i];
  } else {
    for (std::size_t i = 0; i < slots; ++i) {
      double sum = 0.0;
      for (int c = 0; c < copies_; ++c) sum += cells_[static_cast<std::size_t>(c) * slots + i];
      totals_[i] += sum;
    }
  }
  std::fill(cells_.begin(), cells_.end(), 0.0);
}

void PixelSums::end() {
  fold();
  if (rich_) return;
  const auto slots = static_cast<std::size_t>(terms_.slots->bins() + 1);
  for (std::size_t i = 0; i < slots; ++i)
    for (int c = 1; c < copies_; ++c) whole_[i] += whole_[static_cast<std::size_t>(c) * slots + i];
  whole_.resize(slots);
}

void PixelSums::join(const PixelSums& next) {
  for (std::size_t i = 0; i < totals_.size(); ++i) totals_[i] += next.totals_[i];
  for (std::size_t i = 0; i < whole_.size(); ++i) whole_[i] += next.whole_[i];
  lost_.insert(lost_.end(), next.lost_.begin(), next.lost_.end());
  tally_ += next.tally_;
  largest_ = std::max(largest_, next.largest_);
  if (!refused_) refused_ = next.refused_;
}

double PixelSums::recorded(Index bin) const {
  return total(bin, 0) + (rich_ ? 0.0 : static_cast<double>(whole_[static_cast<std::size_t>(bin)]));
}
double PixelSums::counts(Index bin) const { return terms_.dead_time ? total(bin, 1) : recorded(bin); }
double PixelSums::variance(Index bin) const { return terms_.dead_time ? total(bin, 2) : recorded(bin); }
double PixelSums::per_dead_time(Index bin) const { return terms_.dead_time ? total(bin, 3) : 0.0; }
double PixelSums::square(Index bin) const { return square_at_ < 0 ? 0.0 : total(bin, square_at_); }
double PixelSums::expected(Index bin) const { return square_at_ < 0 ? 0.0 : total(bin, square_at_ + 1); }

}  // namespace sievelight
