// SPDX-License-Identifier: GPL-3.0-or-later
// Undoing compression: a quarter of a million counts as a detector of few counts writes them.
#include "base/bitshuffle_encoder.hpp"
#include "kernel.hpp"
#include "sievelight/base/bit_planes.hpp"
#include "sievelight/base/bitshuffle.hpp"
#include "sievelight/frames/byte_offset.hpp"

#include <cstdint>
#include <cstring>
#include <random>

namespace sievelight {
namespace {

using bits::Bytes;

constexpr std::size_t chunk = 1 << 18;

// Poisson numbers of mean `mean`, 4 bytes each.
Bytes counts(std::size_t n, double mean) {
  std::mt19937_64 random(1);
  std::poisson_distribution<std::uint32_t> poisson(mean);
  std::vector<std::uint32_t> numbers(n);
  for (std::uint32_t& x : numbers) x = poisson(random);
  Bytes out(4 * n);
  std::memcpy(out.data(), numbers.data(), out.size());
  return out;
}

void per_element(benchmark::State& state, std::size_t n) {
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(n));
  state.SetBytesProcessed(state.iterations() * static_cast<std::int64_t>(4 * n));
}

// Blocks of 2048 elements, as files have them; the argument is the mean count.
void bit_planes(benchmark::State& state) {
  const std::size_t n = 2048;
  const Bytes in = counts(n, static_cast<double>(state.range(0))), planes = bits::planes_of(in, n, 4);
  Bytes out(in.size());
  planes_to_elements(planes.data(), n, 4, out.data());
  if (out != in) wrong(state, "the elements are not those that were packed");
  for (auto _ : state) {
    planes_to_elements(planes.data(), n, 4, out.data());
    benchmark::DoNotOptimize(out.data());
    benchmark::ClobberMemory();
  }
  per_element(state, n);
}
BENCHMARK(bit_planes)->Arg(1)->Arg(100)->Arg(100000);

void bit_planes_narrow(benchmark::State& state) {
  const std::size_t n = 2048;
  const Bytes in = counts(n, static_cast<double>(state.range(0))), planes = bits::planes_of(in, n, 4);
  Bytes out(in.size());
  const std::size_t width = planes_to_narrow(planes.data(), n, out.data());
  for (std::size_t i = 0; i < n; ++i)
    if (std::memcmp(&out[i * width], &in[4 * i], width) != 0) wrong(state, "an element is not what was packed");
  for (auto _ : state) {
    benchmark::DoNotOptimize(planes_to_narrow(planes.data(), n, out.data()));
    benchmark::ClobberMemory();
  }
  per_element(state, n);
}
BENCHMARK(bit_planes_narrow)->Arg(1)->Arg(100)->Arg(100000);

void bitshuffle_lz4(benchmark::State& state) {
  const Bytes in = counts(chunk, static_cast<double>(state.range(0))), packed = bits::encode(in, 4, 2048, true, 2048);
  Bytes out(in.size());
  decode_bitshuffle_lz4(packed, 4, out);
  if (out != in) wrong(state, "the chunk is not the one that was packed");
  for (auto _ : state) {
    decode_bitshuffle_lz4(packed, 4, out);
    benchmark::DoNotOptimize(out.data());
    benchmark::ClobberMemory();
  }
  per_element(state, chunk);
  state.counters["packed / plain"] = static_cast<double>(packed.size()) / static_cast<double>(in.size());
}
BENCHMARK(bitshuffle_lz4)->Arg(1)->Arg(100)->Unit(benchmark::kMicrosecond);

// What the library for LZ4 takes for the same blocks without undoing the planes: the limit of the row above.
void lz4_alone(benchmark::State& state) {
  const Bytes in = counts(chunk, static_cast<double>(state.range(0))), packed = bits::encode(in, 4, 2048, true, 2048);
  char block[8192];
  for (auto _ : state) {
    for (std::size_t at = 12; at < packed.size();) {
      std::size_t length = 0;
      for (int k = 0; k < 4; ++k) length = length << 8 | packed[at++];
      if (LZ4_decompress_safe(reinterpret_cast<const char*>(&packed[at]), block, static_cast<int>(length),
                              sizeof block) != sizeof block)
        wrong(state, "a block has another size");
      at += length;
      benchmark::DoNotOptimize(block);
    }
  }
  per_element(state, chunk);
}
BENCHMARK(lz4_alone)->Arg(1)->Arg(100)->Unit(benchmark::kMicrosecond);

void byte_offset(benchmark::State& state) {
  const Bytes in = counts(chunk, 10);
  std::vector<std::int32_t> numbers(chunk);
  std::memcpy(numbers.data(), in.data(), in.size());
  Bytes packed;
  std::int32_t last = 0;
  for (const std::int32_t x : numbers) {  // steps between counts of about 10 fit one byte
    packed.push_back(static_cast<unsigned char>(x - last));
    last = x;
  }
  const StoredType type;
  if (decode_byte_offset(packed, chunk, type) != in) wrong(state, "the numbers are not those that were packed");
  for (auto _ : state) benchmark::DoNotOptimize(decode_byte_offset(packed, chunk, type));
  per_element(state, chunk);
}
BENCHMARK(byte_offset)->Unit(benchmark::kMicrosecond);

}  // namespace
}  // namespace sievelight
