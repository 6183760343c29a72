// SPDX-License-Identifier: GPL-3.0-or-later
// Without libFuzzer: every harness on its corpus, then on mutations of it that are the same in every run.
//   replay CORPUS [MUTATIONS [HARNESS]]
// A crash is told with the file and the number of the mutation; `replay CORPUS MUTATIONS HARNESS` finds it again.
#include "harness.hpp"
#include "library_look.hpp"

#include <sys/resource.h>

#include <algorithm>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <vector>

#include <unistd.h>

#if defined(__SANITIZE_ADDRESS__)
#define WITH_ADDRESS_SANITIZER 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define WITH_ADDRESS_SANITIZER 1
#endif
#endif

namespace {

using sievelight::fuzz::Harness;
using Bytes = std::vector<std::uint8_t>;

char at_work[512] = "nothing";

void tell(int signal) {
  // Only what a signal handler may do.
  static constexpr char words[] = "\nDEFECT: a signal ended the replay at ";
  [[maybe_unused]] auto written = ::write(2, words, sizeof words - 1);
  written = ::write(2, at_work, std::strlen(at_work));
  written = ::write(2, "\n", 1);
  std::signal(signal, SIG_DFL);
  std::raise(signal);
}

Bytes read(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

void put(Bytes& bytes, std::size_t at, std::uint64_t value, std::size_t width, bool swapped) {
  for (std::size_t i = 0; i < width && at + i < bytes.size(); ++i)
    bytes[at + i] = static_cast<std::uint8_t>(value >> 8 * (swapped ? width - 1 - i : i));
}

// What breaks readers: single bits, sizes at the edge of their type, parts cut out, doubled or moved, early ends.
void mutate(Bytes& bytes, const Bytes& other, std::mt19937_64& random) {
  static constexpr std::uint64_t edges[] = {0,
                                            1,
                                            7,
                                            0x7f,
                                            0x80,
                                            0xff,
                                            0x7fff,
                                            0x8000,
                                            0xffff,
                                            0x7fffffff,
                                            0x80000000,
                                            0xffffffff,
                                            0x7fffffffffffffff,
                                            0x8000000000000000,
                                            0xffffffffffffffff};
  const auto below = [&](std::size_t n) { return n == 0 ? 0 : static_cast<std::size_t>(random() % n); };
  for (std::size_t times = 1 + below(4); times > 0 && !bytes.empty(); --times) {
    const std::size_t at = below(bytes.size()), n = std::min(bytes.size() - at, 1 + below(32));
    const auto from = bytes.begin() + static_cast<std::ptrdiff_t>(at);
    switch (below(7)) {
      case 0:
        bytes[at] ^= static_cast<std::uint8_t>(1u << below(8));
        break;
      case 1:
        bytes[at] = static_cast<std::uint8_t>(random());
        break;
      case 2:
        put(bytes, at, edges[below(std::size(edges))], std::size_t{1} << below(4), below(2) == 0);
        break;
      case 3:
        bytes.erase(from, from + static_cast<std::ptrdiff_t>(n));
        break;
      case 4: {
        const Bytes part(from, from + static_cast<std::ptrdiff_t>(n));
        bytes.insert(bytes.begin() + static_cast<std::ptrdiff_t>(below(bytes.size())), part.begin(), part.end());
        break;
      }
      case 5:
        if (below(8) == 0) bytes.resize(at);
        break;
      default:
        if (!other.empty()) {
          const std::size_t source = below(other.size()), length = std::min({n, other.size() - source});
          std::copy_n(other.begin() + static_cast<std::ptrdiff_t>(source), length, from);
        }
    }
  }
}

void run(const Harness& harness, const Bytes& bytes, const std::string& label) {
  std::snprintf(at_work, sizeof at_work, "%s %s", harness.name, label.c_str());
  try {
    harness.run(bytes);
  } catch (const std::exception& error) {
    sievelight::fuzz::defect(std::string(at_work) + ": " + error.what());
  }
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2) {
    std::fprintf(stderr, "usage: replay CORPUS [MUTATIONS [HARNESS]]\n");
    return 2;
  }
  for (const int signal : {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT}) std::signal(signal, tell);
#if !defined(WITH_ADDRESS_SANITIZER)  // which reserves an address space of its own
  // A small file that asks for much memory shall fail here and not in the machine.
  const rlimit most{rlim_t{6} << 30, rlim_t{6} << 30};
  setrlimit(RLIMIT_AS, &most);
#endif
  const long mutations = argc > 2 ? std::strtol(argv[2], nullptr, 10) : 0;
  std::size_t executions = 0;
  for (const Harness& harness : sievelight::fuzz::harnesses) {
    if (argc > 3 && std::strcmp(argv[3], harness.name) != 0) continue;
    std::vector<std::filesystem::path> paths;
    for (const auto& entry : std::filesystem::directory_iterator(std::filesystem::path(argv[1]) / harness.name))
      paths.push_back(entry.path());
    std::sort(paths.begin(), paths.end());
    if (paths.empty()) {
      std::fprintf(stderr, "the corpus of %s is empty\n", harness.name);
      return 1;
    }
    std::vector<Bytes> seeds;
    for (const auto& path : paths) seeds.push_back(read(path));
    for (std::size_t i = 0; i < seeds.size(); ++i, ++executions) run(harness, seeds[i], paths[i].filename().string());
    for (long k = 0; k < mutations; ++k) {
      const auto i = static_cast<std::size_t>(k) % seeds.size();
      std::mt19937_64 random(static_cast<std::uint64_t>(k) * 1000003u + 17u);
      Bytes bytes = seeds[i];
      mutate(bytes, seeds[random() % seeds.size()], random);
      run(harness, bytes, paths[i].filename().string() + ", mutation " + std::to_string(k));
      ++executions;
    }
    std::printf("%-16s %zu files, %ld mutations: no defect\n", harness.name, seeds.size(), mutations);
    std::fflush(stdout);
  }
  if (executions == 0) {
    std::fprintf(stderr, "there is no harness '%s'\n", argc > 3 ? argv[3] : "");
    return 2;
  }
  std::printf("%zu executions, %zu of them left out: damaged files that end the HDF5 library itself\n", executions,
              sievelight::fuzz::left_out());
  return 0;
}
