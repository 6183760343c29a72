// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5_driver.hpp"

#include "sievelight/base/error.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <memory>
#include <new>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

namespace sievelight {
namespace {

constexpr const char* copy_again =
    "Copy the file again from where it was measured; do not use it if it came from strangers.";
constexpr std::size_t head_bytes = 16;  // of a heap, and of each object in it, where lengths have 8 bytes
constexpr std::uint64_t least_heap = 4096, most_heap = std::uint64_t{1} << 28;

std::string& refused() {
  static std::string words;
  return words;
}

// HDF5 wants its own part first; it hands the same pointer back to every function below.
struct OpenFile {
  H5FD_t base;
  int descriptor;
  dev_t device;
  ino_t number;
  haddr_t end, end_allocated;
};

OpenFile& ours(H5FD_t* file) { return *reinterpret_cast<OpenFile*>(file); }
const OpenFile& ours(const H5FD_t* file) { return *reinterpret_cast<const OpenFile*>(file); }

std::uint64_t little_endian(const std::uint8_t* at) {
  std::uint64_t value = 0;
  for (int i = 7; i >= 0; --i) value = value << 8 | at[i];
  return value;
}

// What lies behind the file's end is read as zeros, as HDF5's own driver does.
bool fill(int descriptor, haddr_t at, std::span<std::uint8_t> out) {
  while (!out.empty()) {
    const ssize_t n = ::pread(descriptor, out.data(), out.size(), static_cast<off_t>(at));
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return false;
    if (n == 0) {
      std::fill(out.begin(), out.end(), std::uint8_t{0});
      return true;
    }
    out = out.subspan(static_cast<std::size_t>(n));
    at += static_cast<haddr_t>(n);
  }
  return true;
}

// How many bytes the file's lengths have. The superblock stands at 0, 512, 1024, 2048, ...; it says so in its 15th byte
// in versions 0 and 1, and in its 11th from 2 on. 0 without a superblock: the library says that this is no HDF5 file.
int size_of_lengths(int descriptor, haddr_t end) {
  for (haddr_t at = 0; at < end; at = at == 0 ? 512 : 2 * at) {
    std::array<std::uint8_t, 16> head{};
    if (!fill(descriptor, at, head)) return 0;
    if (std::memcmp(head.data(), "\x89HDF\r\n\x1a\n", 8) == 0) return head[head[8] < 2 ? 14 : 10];
  }
  return 0;
}

H5FD_t* open_file(const char* name, unsigned flags, hid_t, haddr_t) {
  const int descriptor = flags & H5F_ACC_RDWR ? -1 : ::open(name, O_RDONLY | O_CLOEXEC);
  if (descriptor < 0) return nullptr;
  struct stat s {};
  if (::fstat(descriptor, &s) == 0 && S_ISREG(s.st_mode)) {
    const int lengths = size_of_lengths(descriptor, static_cast<haddr_t>(s.st_size));
    if (lengths == 0 || lengths == 8)
      return &(new OpenFile{{}, descriptor, s.st_dev, s.st_ino, static_cast<haddr_t>(s.st_size), 0})->base;
    refused() =
        fmt::format("'{}' is an HDF5 file whose lengths have {} bytes; those of 8 are known here.", name, lengths);
  }
  ::close(descriptor);
  return nullptr;
}

herr_t close_file(H5FD_t* file) {
  const std::unique_ptr<OpenFile> owned(&ours(file));
  return ::close(owned->descriptor);
}

// By this HDF5 knows that two names are one file.
int compare(const H5FD_t* a, const H5FD_t* b) {
  const auto left = std::tie(ours(a).device, ours(a).number), right = std::tie(ours(b).device, ours(b).number);
  return left < right ? -1 : right < left ? 1 : 0;
}

herr_t features(const H5FD_t*, unsigned long* flags) {
  *flags = H5FD_FEAT_DATA_SIEVE | H5FD_FEAT_DEFAULT_VFD_COMPATIBLE;
  return 0;
}

haddr_t end_allocated(const H5FD_t* file, H5FD_mem_t) { return ours(file).end_allocated; }

herr_t set_end_allocated(H5FD_t* file, H5FD_mem_t, haddr_t end) {
  ours(file).end_allocated = end;
  return 0;
}

haddr_t end_of_file(const H5FD_t* file, H5FD_mem_t) { return ours(file).end; }

// HDF5 first reads the least a heap has, then again all that it claims; it is looked at whole the first time.
bool heap_may_pass(const OpenFile& file, haddr_t at, std::span<const std::uint8_t> begin) {
  const std::uint64_t size = little_endian(begin.data() + 8);
  if (size <= begin.size()) return is_sound_heap(begin.first(size));
  if (size > most_heap || at > file.end || size > file.end - at) return false;
  std::vector<std::uint8_t> whole(size);
  return fill(file.descriptor, at, whole) && is_sound_heap(whole);
}

// HDF5 reads heaps of texts as raw data, so they are known by how they begin: the name, and the only version (another
// one the library refuses). That a chunk of numbers begins so is one in 10^12.
herr_t read(H5FD_t* file, H5FD_mem_t, hid_t, haddr_t at, std::size_t size, void* buffer) {
  const std::span<std::uint8_t> out(static_cast<std::uint8_t*>(buffer), size);
  if (!fill(ours(file).descriptor, at, out)) return -1;
  if (size < head_bytes || std::memcmp(buffer, "GCOL\x01", 5) != 0) return 0;
  try {
    if (heap_may_pass(ours(file), at, out)) return 0;
    refused() = "A heap of texts in the HDF5 file claims more than it holds.";
    return -1;
  } catch (const std::bad_alloc&) {  // no exception may pass through HDF5
    return -1;
  }
}

herr_t write(H5FD_t*, H5FD_mem_t, hid_t, haddr_t, std::size_t, const void*) { return -1; }

hid_t driver() {
  static const hid_t id = [] {
    H5FD_class_t driver{};
#ifdef H5FD_CLASS_VERSION  // from HDF5 1.14 on
    driver.version = H5FD_CLASS_VERSION;
    driver.value = static_cast<H5FD_class_value_t>(600);  // any above 511: not registered with the HDF Group
#endif
    driver.name = "sievelight";
    driver.maxaddr = (haddr_t{1} << 63) - 1;
    driver.fc_degree = H5F_CLOSE_WEAK;
    driver.open = open_file;
    driver.close = close_file;
    driver.cmp = compare;
    driver.query = features;
    driver.get_eoa = end_allocated;
    driver.set_eoa = set_end_allocated;
    driver.get_eof = end_of_file;
    driver.read = read;
    driver.write = write;
    for (H5FD_mem_t& kind : driver.fl_map) kind = H5FD_MEM_DEFAULT;
    return H5FDregister(&driver);
  }();
  return id;
}

}  // namespace

bool is_sound_heap(std::span<const std::uint8_t> heap) {
  if (heap.size() < least_heap || heap[4] != 1 || little_endian(heap.data() + 8) != heap.size()) return false;
  for (std::size_t at = head_bytes; heap.size() - at >= head_bytes;) {
    const std::uint64_t left = heap.size() - at, claimed = little_endian(heap.data() + at + 8);
    const bool free = heap[at] == 0 && heap[at + 1] == 0;  // object 0 is the room that is left, its head included
    if (claimed > left - (free ? 0 : head_bytes) || (free && claimed < head_bytes)) return false;
    const std::uint64_t step = free ? claimed : head_bytes + (claimed + 7) / 8 * 8;
    if (step >= left) return true;
    at += step;
  }
  return true;
}

void set_reading_driver(hid_t file_access) {
  refused().clear();
  if (H5Pset_driver(file_access, driver(), nullptr) < 0)
    throw NumericalError("HDF5 takes no driver of ours.", "Link another version of HDF5.");
}

bool is_plain_file(hid_t file_access) {
  const hid_t used = H5Pget_driver(file_access);
  return used == driver() || used == H5FD_SEC2;
}

void throw_if_read_refused() {
  if (!refused().empty()) throw DataError(std::exchange(refused(), ""), copy_again);
}

}  // namespace sievelight
