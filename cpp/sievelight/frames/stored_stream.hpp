// SPDX-License-Identifier: GPL-3.0-or-later
/// The numbers of exposures as they come from a file, piece by piece: who only wants sums needs no whole frame.
#pragma once

#include "sievelight/frames/stored_type.hpp"

#include <Eigen/Core>
#include <functional>
#include <vector>

namespace sievelight {

/// Consecutive pixels of an exposure, row by row. `width` bytes a number: those of the stored type, or fewer where the
/// upper bytes of whole numbers in the machine's order are all zero.
struct StoredRun {
  const unsigned char* numbers = nullptr;
  std::size_t width = 4;
  Eigen::Index first = 0, n = 0;
};

class StoredStream {
 public:
  /// Memory kept from one exposure to the next; one for each thread.
  struct Buffers {
    std::vector<unsigned char> raw, numbers, layer;
    Eigen::Index layer_index = -1;
  };
  using Take = std::function<void(const StoredRun&)>;

  virtual ~StoredStream() = default;
  virtual const StoredType& type() const = 0;
  /// How many consecutive exposures are stored in one piece, best read by one thread.
  virtual Eigen::Index together() const { return 1; }
  /// Hands out all numbers of an exposure, in order and without gaps. Several threads may read at once.
  /// DataError naming the file and the frame when it cannot be read or decoded.
  virtual void read(Eigen::Index exposure, Buffers& buffers, const Take& take) const = 0;
  /// Writes all numbers of an exposure, rows * columns of type(), to `out`.
  virtual void fill(Eigen::Index exposure, Buffers& buffers, unsigned char* out) const = 0;
};

}  // namespace sievelight
