// SPDX-License-Identifier: GPL-3.0-or-later
// Writes the corpus that fuzzing starts from: small sound files of every kind, by the writers that the tests use.
//   make_seeds FOLDER
#include "curve/some_curves.hpp"
#include "frames/cbf_writer.hpp"
#include "frames/some_frames.hpp"
#include "frames/tiff_writer.hpp"
#include "harness.hpp"
#include "sievelight/curve/csv.hpp"
#include "sievelight/curve/nxcansas_io.hpp"
#include "support/scratch.hpp"

#include <lz4.h>
#include <zlib.h>

#include <filesystem>
#include <fstream>
#include <random>

namespace sievelight {
namespace {

std::filesystem::path corpus;

std::string place(const std::string& harness, const std::string& name) {
  std::filesystem::create_directories(corpus / harness);
  return (corpus / harness / name).string();
}

std::string as_text(const std::vector<unsigned char>& bytes) { return {bytes.begin(), bytes.end()}; }

H5Handle nexus_file(const std::string& path) {
  H5Handle file = h5_create(path);
  for (const auto& [name, nx_class] : {std::pair{"entry", "NXentry"},
                                       {"entry/detector", "NXdetector"},
                                       {"entry/control", "NXmonitor"},
                                       {"entry/mono", "NXmonochromator"}})
    h5_make_group(file.get(), name, nx_class);
  write_field(file.get(), "/entry/detector/distance", 0.6, "m");
  write_field(file.get(), "/entry/detector/x_pixel_size", 172, "um");
  write_field(file.get(), "/entry/detector/y_pixel_size", 172, "um");
  write_field(file.get(), "/entry/detector/beam_center_x", 2, "pixels");
  write_field(file.get(), "/entry/detector/count_time", 3, "s");
  write_field(file.get(), "/entry/mono/wavelength", 1.54, "A");
  write_field(file.get(), "/entry/control/integral", 1000);
  return file;
}

void hdf5_frames() {
  const auto lock = hdf5_lock();
  const std::pair<const char*, Storage> layouts[] = {{"contiguous.h5", {H5T_STD_I32LE, {}, false, 0}},
                                                     {"gzip.h5", {H5T_STD_U16BE, {1, 5, 7}, true, 4}},
                                                     {"plain_chunks.h5", {H5T_IEEE_F32LE, {2, 3, 4}, false, 0}}};
  for (const auto& [name, storage] : layouts) {
    const H5Handle file = nexus_file(place("frames_hdf5", name));
    write_numbers(file.get(), "/entry/detector/data", {3, 5, 7}, ramp(105), storage);
  }
  const H5Handle bare = h5_create(place("frames_hdf5", "bare.h5"));
  write_numbers(bare.get(), "/x", {5, 7}, ramp(35), {H5T_STD_U8LE, {}});
  const H5Handle mask = h5_create(place("frames_hdf5", "mask.h5"));
  write_numbers(mask.get(), "/mask", {5, 7}, ramp(35, 2), {H5T_STD_U8LE, {}});
}

void tiff_frames() {
  std::vector<unsigned> counts(35);
  std::vector<unsigned short> small(35);
  std::vector<float> real(35);
  for (std::size_t i = 0; i < 35; ++i) {
    counts[i] = static_cast<unsigned>(i * i);
    small[i] = static_cast<unsigned short>(i);
    real[i] = static_cast<float>(i);
  }
  write_tiff<unsigned>(place("frames_tiff", "plain.tif"), {counts}, 5, 7,
                       {.description = "# Exposure_time 3.0 s\n# Pixel_size 172e-6 m x 172e-6 m\n"});
  write_tiff<unsigned short>(place("frames_tiff", "two_pages_lzw.tif"), {small, small}, 5, 7,
                             {.compression = COMPRESSION_LZW});
  write_tiff<float>(place("frames_tiff", "deflate.tif"), {real}, 5, 7,
                    {.compression = COMPRESSION_ADOBE_DEFLATE, .format = SAMPLEFORMAT_IEEEFP});
  write_tiff<unsigned short>(place("frames_tiff", "tiles_big.tif"), {small}, 5, 7, {.mode = "w8b", .tile = 16});
  write_tiff<unsigned short>(place("frames_tiff", "packbits.tif"), {small}, 5, 7,
                             {.compression = COMPRESSION_PACKBITS});
}

void cbf_frames() {
  std::vector<int> counts(35);
  std::vector<double> real(35, 1.5);
  for (std::size_t i = 0; i < 35; ++i) counts[i] = static_cast<int>(i * i * i);
  const std::pair<const char*, unsigned> kinds[] = {{"byte_offset.cbf", CBF_BYTE_OFFSET},
                                                    {"packed.cbf", CBF_PACKED},
                                                    {"canonical.cbf", CBF_CANONICAL},
                                                    {"plain.cbf", CBF_NONE},
                                                    {"nibble.cbf", CBF_NIBBLE_OFFSET}};
  for (const auto& [name, compression] : kinds) {
    CbfWriter writer;
    writer.header("# Exposure_time 3.0 s\n# Wavelength 1.54 A\n# Beam_xy (2.0, 3.0) pixels\n");
    writer.items("array_intensities", {"overload", "undefined_value"}, {{"65535", "-1"}});
    writer.image(counts, 7, 5, compression).write(place("frames_cbf", name));
  }
  CbfWriter().image(counts, 7, 5, CBF_PACKED_V2).write(place("frames_cbf", "base64.cbf"), ENC_BASE64);
  CbfWriter().image(real, 7, 5, CBF_NONE).write(place("frames_cbf", "real.cbf"));
}

std::string npy(const std::string& descr, const std::string& order, const std::string& shape, std::size_t bytes) {
  std::string header = "{'descr': '" + descr + "', 'fortran_order': " + order + ", 'shape': " + shape + ", }";
  header.resize(118, ' ');
  header.back() = '\n';
  std::string out = "\x93NUMPY";
  out += {'\1', '\0', '\x76', '\0'};
  out += header;
  for (std::size_t i = 0; i < bytes; ++i) out += static_cast<char>(i % 5 == 0 ? i : 0);
  return out;
}

void npy_frames() {
  write_bytes(place("frames_npy", "frame.npy"), npy("<i4", "False", "(5, 7)", 140));
  write_bytes(place("frames_npy", "stack_fortran.npy"), npy(">u2", "True", "(3, 5, 7)", 210));
  write_bytes(place("frames_npy", "strip.npy"), npy("<f8", "False", "(7,)", 56));
  write_bytes(place("frames_npy", "truth.npy"), npy("|b1", "False", "(5, 7)", 35));
}

void texts() {
  write_bytes(place("frames_text", "strip.txt"), "# Exposure_time 5 s\n0 12\n1 15\n2 9\n");
  write_bytes(place("frames_text", "column.csv"), "counts\n12\n15\n9e3\n");
  write_bytes(place("curve_text", "columns.dat"), "q I u\n0.1 5.0 0.1\n0.2;4.0;0.1\n0.3,3e0,0.1\n");
  write_bytes(place("curve_text", "resolution.dat"), "# four\n1e-1 5 .1 .01\n2e-1 4 .1 .01\n");
  write_csv(place("curve_text", "ours.csv"), some_curve(), true);
  write_bytes(place("words", "formula"), "C22H10N2O5");
  write_bytes(place("words", "unit"), "nm^-1");
  write_bytes(place("words", "name"), "polyimide");
  write_bytes(place("words", "header"),
              "# Pixel_size 172e-6 m x 172e-6 m\n# Silicon sensor, thickness 0.00045 m\n# Tau = 0 s\n"
              "# Beam_xy (1.5, 2.5) pixels\n# Detector_2theta 0.1 deg.\n");
}

void masks() {
  const auto sized = [](const char* name, const std::string& bytes) {
    write_bytes(place("mask_file", name), std::string("\x05\x07") + bytes);
  };
  sized("npy", npy("|b1", "False", "(5, 7)", 35));
  sized("hdf5", read_bytes((corpus / "frames_hdf5" / "mask.h5").string()));
  sized("tiff", read_bytes((corpus / "frames_tiff" / "packbits.tif").string()));
}

// The layout of bitshuffle.hpp; what is shuffled does not matter here.
std::vector<unsigned char> lz4_chunk(const std::vector<unsigned char>& plain) {
  std::vector<unsigned char> out{0, 0, 0, 0, 0, 0, 0, static_cast<unsigned char>(plain.size()), 0, 0, 0, 0};
  char packed[512];
  const int n = LZ4_compress_default(reinterpret_cast<const char*>(plain.data()), packed,
                                     static_cast<int>(plain.size()), sizeof packed);
  for (const int byte : {0, 0, n >> 8, n & 255}) out.push_back(static_cast<unsigned char>(byte));
  out.insert(out.end(), packed, packed + n);
  return out;
}

void chunks() {
  std::vector<unsigned char> plain(128);
  for (std::size_t i = 0; i < plain.size(); i += 4) plain[i] = static_cast<unsigned char>(i);
  // One filter, its kind, five parameters (the fourth of four bytes), none skipped, elements of 4 bytes, 128 bytes.
  std::string head = {1, 2, 5, 0, 3, 4, 0, 2, 0, 0, 0, 0, 0, 2, 0, char(128)};
  write_bytes(place("chunk", "bitshuffle_lz4"), head + as_text(lz4_chunk(plain)));
  head = {1, 2, 5, 0, 3, 4, 0, 0, 0, 0, 0, 8, 0, 2, 0, char(128)};
  write_bytes(place("chunk", "bitshuffle"), head + as_text(plain));
  std::vector<unsigned char> packed(256);
  uLongf size = 256;
  compress(packed.data(), &size, plain.data(), plain.size());
  packed.resize(size);
  head = {2, 1, 0, 0, 0, 0, 2, 0, char(128)};
  write_bytes(place("chunk", "shuffle_gzip"), head + as_text(packed));
}

void curves() {
  CurveInfo info;
  info.title = "a & b";
  info.sample_name = "s";
  info.instrument.wavelength_nm = 0.154;
  write_nxcansas(place("curve_nxcansas", "ours.h5"), some_curve(), info);
  Curve slit = some_curve();
  slit.slit_length_per_nm = Eigen::VectorXd::Constant(slit.size(), 0.3);
  slit.slit_width_per_nm = Eigen::VectorXd::Constant(slit.size(), 0.01);
  slit.causes.clear();
  write_nxcansas(place("curve_nxcansas", "slit.h5"), slit, {});
  write_bytes(place("curve_xml", "cansas.xml"), R"(<?xml version="1.0"?>
<SASroot version="1.1" xmlns="urn:cansas1d:1.1"><SASentry name="e"><Title>t</Title><Run>1</Run>
<SASdata name="d"><Idata><Q unit="1/A">0.01</Q><I unit="1/cm">5</I><Idev unit="1/cm">.1</Idev><Qdev unit="1/A">1e-4</Qdev></Idata>
<Idata><Q unit="1/A">0.02</Q><I unit="1/cm">4</I><Idev unit="1/cm">.1</Idev><Qdev unit="1/A">1e-4</Qdev></Idata></SASdata>
<SASsample><ID>s</ID><thickness unit="mm">1</thickness><temperature unit="K">300</temperature></SASsample>
<SASinstrument><SASsource><radiation>x-ray</radiation><wavelength unit="A">1.54</wavelength></SASsource>
<SASdetector><name>n</name><SDD unit="m">.6</SDD><beam_center><x unit="mm">1</x></beam_center><pixel_size><x unit="um">9</x></pixel_size></SASdetector></SASinstrument>
<SASprocess><term name="a" unit="b">1</term><SASprocessnote>n</SASprocessnote></SASprocess><SASnote><![CDATA[w]]></SASnote></SASentry></SASroot>
)");
  write_bytes(place("curve_xml", "slit.xml"), R"(<SASroot><SASentry><SASdata>
<Idata><Q unit="1/nm">1</Q><I unit="cm2/g">5</I><dQl unit="1/nm">1</dQl><dQw unit="1/nm">0</dQw></Idata></SASdata></SASentry></SASroot>)");
  write_bytes(
      place("curve_xml", "entities.xml"),
      R"(<!DOCTYPE r [<!ENTITY a "b"><!ENTITY x SYSTEM "file:///etc/hostname">]><SASroot><SASentry>&a;&x;</SASentry></SASroot>)");
}

// Choices for the harnesses that build their own files.
void choices() {
  std::mt19937 random(20240607);
  for (const char* harness : {"frames_nexus", "curve_fields"})
    for (int k = 0; k < 6; ++k) {
      std::string bytes(static_cast<std::size_t>(60 << k), '\0');
      for (char& c : bytes) c = static_cast<char>(random() % (k % 2 ? 256 : 24));
      write_bytes(place(harness, "choices_" + std::to_string(k)), bytes);
    }
}

}  // namespace
}  // namespace sievelight

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  sievelight::corpus = argv[1];
  sievelight::hdf5_frames();
  sievelight::tiff_frames();
  sievelight::cbf_frames();
  sievelight::npy_frames();
  sievelight::texts();
  sievelight::masks();
  sievelight::chunks();
  sievelight::curves();
  sievelight::choices();
}
