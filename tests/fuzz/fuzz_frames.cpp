// SPDX-License-Identifier: GPL-3.0-or-later
#include "harness.hpp"
#include "library_look.hpp"
#include "sievelight/base/chunk_filters.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/frames/mask.hpp"
#include "sievelight/frames/open.hpp"
#include "sievelight/frames/stored_stream.hpp"
#include "sievelight/frames/tiff_pages.hpp"

#include <cmath>
#include <string_view>

namespace sievelight::fuzz {
namespace {

// Larger frames are lawful, but would make an execution slow; that their size is refused where the file cannot hold it
// is looked at in the readers' own tests.
constexpr Eigen::Index most_pixels = 1 << 20;

void look_at(const FrameMetadata& m) {
  for (const auto& value : {m.wavelength_nm, m.distance_mm, m.pixel_size_x_mm, m.pixel_size_y_mm, m.beam_center_x_px,
                            m.beam_center_y_px, m.saturation_value, m.sensor_thickness_mm, m.pitch_deg, m.yaw_deg,
                            m.roll_deg, m.dead_time_s, m.wavelength_spread})
    if (value && !std::isfinite(*value)) defect("a value of the metadata is not finite");
}

// The stored numbers come once each and in order, or are refused.
void walk_stream(const FrameFile& file) {
  const auto stream = file.stream();
  if (!stream) return;
  StoredStream::Buffers buffers;
  Eigen::Index next = 0;
  stream->read(0, buffers, [&](const StoredRun& piece) {
    if (piece.first != next) defect("a piece of a frame is out of place");
    next += piece.n;
  });
  if (next != file.rows() * file.columns()) defect("a frame in pieces has another number of pixels");
}

void read_frames(Input input) {
  try {
    const FrameFile file(as_file(input));
    look_at(file.metadata());
    if (file.rows() * file.columns() > most_pixels) return;
    const Frame first = file.read(0);
    check(first);
    if (file.count() > 1 && file.count() <= 16) check(file.read_sum());
    walk_stream(file);
    if (file.exposures_s().size() > 0 && !(file.exposures_s().array() > 0).all()) defect("an exposure is not positive");
  } catch (const Error&) {
  }
}

bool begins(Input input, std::string_view with) {
  return input.size() >= with.size() && std::equal(with.begin(), with.end(), input.begin(), [](char a, std::uint8_t b) {
           return static_cast<std::uint8_t>(a) == b;
         });
}

}  // namespace

void frames_hdf5(Input input) {
  if (begins(input, "\x89HDF\r\n\x1a\n") && library_survives(as_file(input))) read_frames(input);
}

void frames_tiff(Input input) {
  if (is_tiff({input.begin(), input.begin() + static_cast<std::ptrdiff_t>(std::min<std::size_t>(input.size(), 8))}))
    read_frames(input);
}

void frames_cbf(Input input) {
  if (begins(input, "###CBF")) read_frames(input);
}

void frames_npy(Input input) {
  if (begins(input, "\x93NUMPY")) read_frames(input);
}

void frames_text(Input input) {
  if (!begins(input, "\x89HDF") && !begins(input, "\x93NUMPY") && !begins(input, "###CBF") && !begins(input, "II") &&
      !begins(input, "MM"))
    read_frames(input);
}

void mask_file(Input input) {
  Choices choices(input);
  const auto rows = static_cast<Eigen::Index>(choices.byte()), columns = static_cast<Eigen::Index>(choices.byte());
  try {
    const std::string& path = as_file(choices.rest());
    if (!library_survives(path)) return;  // a file is tried as HDF5 where it is nothing else
    const Mask mask = read_mask(path, rows, columns);
    if (mask.rows() != rows || mask.cols() != columns) defect("the mask has another shape");
  } catch (const Error&) {
  }
}

void chunk(Input input) {
  Choices choices(input);
  std::vector<ChunkFilter> filters(choices.below(4));
  for (ChunkFilter& filter : filters) {
    static constexpr H5Z_filter_t ids[] = {H5Z_FILTER_DEFLATE, H5Z_FILTER_SHUFFLE, 32008, 32008, 307};
    filter.id = ids[choices.below(5)];
    filter.parameters.resize(choices.below(7));
    for (unsigned& parameter : filter.parameters) parameter = choices.byte();
    if (filter.parameters.size() > 3) filter.parameters[3] = static_cast<unsigned>(choices.number(4));
  }
  describe(filters);
  if (!can_decode(filters)) return;
  const unsigned skipped = choices.byte();
  const std::size_t element = std::size_t{1} << choices.below(4);
  std::vector<unsigned char> out(static_cast<std::size_t>(choices.number(2)));
  const Input rest = choices.rest();
  std::vector<unsigned char> raw(rest.begin(), rest.end());
  std::vector<unsigned char> again = raw, buffer, joined;
  bool decoded = true;
  try {
    decode_chunk(filters, skipped, raw, element, out);
  } catch (const Error&) {
    decoded = false;
  }
  // Piece by piece, narrow or not, the same elements come in the same order, or the same refusal.
  const bool narrow = element == 4 && skipped % 2 == 0;
  try {
    stream_chunk(filters, skipped, again, element, out.size(), narrow, buffer,
                 [&](const unsigned char* numbers, std::size_t width, std::size_t first, std::size_t n) {
                   if (first * element != joined.size() || width > element)
                     defect("a piece of a chunk is out of place");
                   for (std::size_t i = 0; i < n; ++i) {
                     joined.insert(joined.end(), numbers + i * width, numbers + (i + 1) * width);
                     joined.resize(joined.size() + element - width);
                   }
                 });
    const std::size_t whole = out.size() / element * element;
    out.resize(whole);
    if (decoded && joined != out) defect("a chunk in pieces holds other numbers");
    if (!decoded) defect("a chunk that is refused was handed out in pieces");
  } catch (const Error&) {
    if (decoded) defect("a chunk that is decoded is refused in pieces");
  }
}

}  // namespace sievelight::fuzz
