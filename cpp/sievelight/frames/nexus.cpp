// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/nexus.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/nexus_tree.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <utility>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

// The groups that belong to one data set of frames, and the reading of single fields in them.
class Reader {
 public:
  Reader(hid_t file, const std::string& where, Index count, Index rows, Index columns)
      : file_(file), count_(count), rows_(rows), columns_(columns), objects_(list_objects(file)) {
    for (const NexusObject& object : objects_)
      if (object.nx_class == "NXentry" && is_below(where, object.path)) entry_ = object.path;
    if (entry_.empty()) entry_ = only("NXentry", "/").value_or("/");
    for (const NexusObject& object : objects_)
      if (object.path == parent_of(where) && object.nx_class == "NXdetector") detector_ = object.path;
    if (detector_.empty()) detector_ = only("NXdetector", entry_).value_or("");
    if (detector_.empty()) note("no NXdetector group belongs to the frames: the file says nothing of the geometry");
  }

  FrameFacts read() {
    if (!detector_.empty()) {
      read_geometry();
      read_sensor();
      read_mask();
    }
    read_wavelength();
    read_times();
    read_monitor();
    if (const auto sample = only("NXsample", entry_)) facts_.metadata.sample_name = h5_text(file_, *sample + "/name");
    return std::move(facts_);
  }

 private:
  void note(const std::string& words) { facts_.metadata.notes.push_back(words); }

  // The only group of a class below another; several are noted, and none is chosen.
  std::optional<std::string> only(const std::string& nx_class, const std::string& below) {
    std::vector<std::string> found;
    for (const NexusObject& object : objects_)
      if (object.nx_class == nx_class && is_below(object.path, below)) found.push_back(object.path);
    if (found.size() == 1) return found.front();
    if (found.size() > 1) note(fmt::format("{} groups of class {}: none of them used", found.size(), nx_class));
    return std::nullopt;
  }

  std::optional<double> quantity(const std::string& path, Quantity kind, const std::string& assumed) {
    const auto values = read_quantity(file_, path, kind, assumed, facts_.metadata.notes);
    return values ? std::optional((*values)[0]) : std::nullopt;
  }

  std::optional<double> positive(const std::string& path, Quantity kind, const std::string& assumed) {
    const auto value = quantity(path, kind, assumed);
    if (value && !(*value > 0)) {
      note(fmt::format("{} is {:g}; left out", path.substr(path.rfind('/') + 1), *value));
      return std::nullopt;
    }
    return value;
  }

  bool flag(const std::string& path) {
    const auto field = read_field(file_, path);
    return field && field->values[0] != 0;
  }

  void read_geometry() {
    FrameMetadata& m = facts_.metadata;
    m.distance_mm = positive(detector_ + "/distance", Quantity::length_mm, "mm");
    m.pixel_size_x_mm = positive(detector_ + "/x_pixel_size", Quantity::length_mm, "mm");
    m.pixel_size_y_mm = positive(detector_ + "/y_pixel_size", Quantity::length_mm, "mm");
    m.pitch_deg = quantity(detector_ + "/pitch", Quantity::angle_deg, "deg");
    m.yaw_deg = quantity(detector_ + "/yaw", Quantity::angle_deg, "deg");
    m.roll_deg = quantity(detector_ + "/roll", Quantity::angle_deg, "deg");
    m.beam_center_x_px = read_center("beam_center_x", m.pixel_size_x_mm);
    m.beam_center_y_px = read_center("beam_center_y", m.pixel_size_y_mm);
    if (m.beam_center_x_px && m.beam_center_y_px) note_center(*m.beam_center_x_px, *m.beam_center_y_px);
  }

  // beam_center_x is a length in NeXus, "in physical units or pixels as documented by the units attribute". Without
  // one, a file that gives no unit to its other lengths means mm with all of them; one that does means pixels.
  std::optional<double> read_center(const std::string& name, const std::optional<double>& pixel_mm) {
    const auto field = read_field(file_, detector_ + "/" + name);
    if (!field || !std::isfinite(field->values[0])) return std::nullopt;
    const double value = field->values[0];
    const std::string unit = lower(field->unit.value_or(""));
    if (unit == "px" || unit == "pix" || unit == "pixel" || unit == "pixels") return value;
    if (unit.empty() && !other_lengths_lack_units()) {
      note(fmt::format("{} = {:g} has no unit while other lengths have one; taken as pixels", name, value));
      return value;
    }
    double in_mm = value;
    try {
      if (!unit.empty()) in_mm *= unit_factor(*field->unit, Quantity::length_mm);
    } catch (const InputError&) {
      note(fmt::format("{} has the unit '{}', which is not understood; left out", name, *field->unit));
      return std::nullopt;
    }
    if (!pixel_mm) {
      note(fmt::format("{} = {:g} mm cannot be turned into pixels without a pixel size; left out", name, in_mm));
      return std::nullopt;
    }
    if (unit.empty())
      note(
          fmt::format("{} = {:g} has no unit, like the other lengths of the file; taken as mm like these = {:.2f} px "
                      "(it would be {:g} px if it were pixels)",
                      name, value, in_mm / *pixel_mm, value));
    const double in_px = in_mm / *pixel_mm;
    return std::isfinite(in_px) ? std::optional(in_px) : std::nullopt;
  }

  bool other_lengths_lack_units() {
    bool any = false;
    for (const char* name : {"/distance", "/x_pixel_size", "/y_pixel_size"})
      if (const auto field = read_field(file_, detector_ + name)) {
        if (field->unit) return false;
        any = true;
      }
    return any;
  }

  // Which axis a file calls x is not always the column. Never swapped here: said, so that a ring fit can decide.
  void note_center(double x, double y) {
    const auto outside = [](double v, Index n) {
      return std::max({0.0, -0.5 - v, v - (static_cast<double>(n) - 0.5)});
    };
    const double as_read = std::hypot(outside(x, columns_), outside(y, rows_));
    const double swapped = std::hypot(outside(y, columns_), outside(x, rows_));
    if (as_read == 0) return;
    std::string words =
        fmt::format("the beam point (column {:.2f}, row {:.2f}) lies {:.2f} px outside of the frame", x, y, as_read);
    if (swapped == 0)
      words += fmt::format("; with x along the rows it would be (column {:.2f}, row {:.2f}), inside", y, x);
    else
      words += fmt::format("; with x along the rows it would be (column {:.2f}, row {:.2f}), {:.2f} px outside", y, x,
                           swapped);
    note(words + ": check it against rings or the direct beam, and give beam_center_px if it is wrong");
  }

  void read_sensor() {
    FrameMetadata& m = facts_.metadata;
    m.saturation_value = plain("saturation_value");
    if (m.saturation_value && !(*m.saturation_value > 0)) {
      note(fmt::format("saturation_value is {:g}; left out", *m.saturation_value));
      m.saturation_value.reset();
    }
    m.dead_time_s = quantity(detector_ + "/dead_time", Quantity::time_s, "s");
    m.sensor_material = h5_text(file_, detector_ + "/sensor_material");
    m.sensor_thickness_mm = positive(detector_ + "/sensor_thickness", Quantity::length_mm, "mm");
    m.countrate_correction_applied = flag(detector_ + "/countrate_correction_applied");
    m.flatfield_applied = flag(detector_ + "/flatfield_applied");
  }

  std::optional<double> plain(const std::string& name) {
    const auto field = read_field(file_, detector_ + "/" + name);
    return field && std::isfinite(field->values[0]) ? std::optional(field->values[0]) : std::nullopt;
  }

  void read_mask() {
    const std::string path = detector_ + "/pixel_mask";
    const H5Handle set = h5_dataset(file_, path);
    if (!set) return;
    std::vector<hsize_t> shape = h5_shape(set.get());
    const auto values = h5_numbers(file_, path);
    const Index layers = shape.size() == 3 ? static_cast<Index>(shape.front()) : 1;
    if (shape.size() == 3) shape.erase(shape.begin());
    if (shape.size() == 1 && rows_ == 1) shape.insert(shape.begin(), 1);  // of a strip
    if (shape.empty() && rows_ == 1 && columns_ == 1) shape = {1, 1};     // of a single counter
    if (!values || shape != std::vector<hsize_t>{static_cast<hsize_t>(rows_), static_cast<hsize_t>(columns_)}) {
      note("pixel_mask has not the shape of a frame; left out");
      return;
    }
    facts_.masked = Mask::Constant(rows_, columns_, false);
    for (Index layer = 0; layer < layers; ++layer) {
      const Eigen::Map<const Image> bits(values->data() + layer * rows_ * columns_, rows_, columns_);
      facts_.masked = facts_.masked || bits != 0.0;
    }
  }

  void read_wavelength() {
    FrameMetadata& m = facts_.metadata;
    std::optional<double> from_energy;
    if (const auto group = only("NXmonochromator", entry_)) {
      m.wavelength_nm = positive(*group + "/wavelength", Quantity::length_nm, "A");
      if (const auto energy = positive(*group + "/energy", Quantity::energy_keV, "keV"))
        from_energy = wavelength_nm_from_energy_keV(*energy);
      if (const auto spread = read_field(file_, *group + "/wavelength_spread")) {
        // A relative spread: its unit, if any, is a ratio ("Angstroms/Angstroms") or percent.
        const std::string unit = lower(spread->unit.value_or(""));
        if (std::isfinite(spread->values[0]))
          m.wavelength_spread = spread->values[0] * (unit == "percent" || unit == "%" ? 0.01 : 1.0);
      }
    }
    if (const auto group = only("NXbeam", entry_); group && !m.wavelength_nm) {
      m.wavelength_nm = positive(*group + "/incident_wavelength", Quantity::length_nm, "A");
      if (!from_energy)
        if (const auto energy = positive(*group + "/incident_energy", Quantity::energy_keV, "keV"))
          from_energy = wavelength_nm_from_energy_keV(*energy);
    }
    if (const auto group = only("NXsource", entry_); group && !m.wavelength_nm && !from_energy) {
      // A storage ring has its energy in GeV here; only a photon energy or wavelength will do.
      m.wavelength_nm = positive(*group + "/wavelength", Quantity::length_nm, "A");
      const auto field = read_field(file_, *group + "/energy");
      if (field && lower(field->unit.value_or("")) == "kev" && field->values[0] > 0)
        from_energy = wavelength_nm_from_energy_keV(field->values[0]);
    }
    if (from_energy && !(std::isfinite(*from_energy) && *from_energy > 0)) from_energy.reset();
    if (m.wavelength_nm && from_energy && std::abs(*m.wavelength_nm / *from_energy - 1) > 1e-3)
      note(fmt::format("wavelength {:.6g} nm and energy ({:.6g} nm) disagree; the wavelength is used", *m.wavelength_nm,
                       *from_energy));
    if (!m.wavelength_nm) m.wavelength_nm = from_energy;
  }

  // One value for all exposures, or one for each; anything else is noted and left out.
  VectorXd for_each_exposure(const VectorXd& values, const std::string& name) {
    if (values.size() == count_) return values;
    if (values.size() == 1) return VectorXd::Constant(count_, values[0]);
    note(fmt::format("{} has {} values for {} exposures; left out", name, values.size(), count_));
    return {};
  }

  void read_times() {
    for (const char* name : {"count_time", "exposure_time", "exposure", "frame_time"}) {
      if (detector_.empty() || !h5_exists(file_, detector_ + "/" + name)) continue;
      const auto values = read_quantity(file_, detector_ + "/" + name, Quantity::time_s, "s", facts_.metadata.notes);
      if (!values) continue;
      facts_.exposures_s = for_each_exposure(*values, name);
      if (facts_.exposures_s.size() > 0 && std::string(name) == "frame_time")
        note("exposure taken from frame_time, which includes the readout");
      break;
    }
    if (facts_.exposures_s.size() == 0) {
      const std::string monitor = monitor_group();
      const std::string mode = lower(h5_text(file_, monitor + "/mode").value_or(""));
      if (!monitor.empty() && (mode == "timer" || mode == "time"))
        if (const auto preset =
                read_quantity(file_, monitor + "/preset", Quantity::time_s, "s", facts_.metadata.notes)) {
          facts_.exposures_s = for_each_exposure(*preset, "preset");
          if (facts_.exposures_s.size() > 0)
            note(fmt::format("exposure {:g} s taken from the monitor's preset time{}", facts_.exposures_s[0],
                             count_ > 1 ? ", for each exposure" : ""));
        }
    }
    if (facts_.exposures_s.size() > 0 && !(facts_.exposures_s.array() > 0).all()) {
      note(fmt::format("the exposure times are not all positive (the least is {:g} s); left out",
                       facts_.exposures_s.minCoeff()));
      facts_.exposures_s.resize(0);
    }
    if (facts_.exposures_s.size() == 0) note("no exposure time in the file");
  }

  // NXsas calls its monitor `control`.
  std::string monitor_group() const {
    std::vector<std::string> found;
    for (const NexusObject& object : objects_)
      if (object.nx_class == "NXmonitor" && is_below(object.path, entry_)) {
        if (object.path.substr(object.path.rfind('/')) == "/control") return object.path;
        found.push_back(object.path);
      }
    return found.size() == 1 ? found.front() : "";
  }

  void read_monitor() {
    const std::string group = monitor_group();
    if (group.empty()) return;
    const auto field = read_field(file_, group + "/integral");
    if (!field) {
      // One number an exposure is what an integral is; anything else is a record of the monitor over time.
      const auto data = read_field(file_, group + "/data");
      if (!data || data->values.size() != count_) return;
      facts_.monitors = data->values;
    } else if (field->values.size() == 1 && count_ > 1) {
      facts_.monitors = VectorXd::Constant(count_, field->values[0] / static_cast<double>(count_));
      note(fmt::format("the monitor's integral is one number for {} exposures; shared equally among them", count_));
    } else {
      facts_.monitors = for_each_exposure(field->values, "the monitor's integral");
    }
    if (facts_.monitors.size() > 0 && (!facts_.monitors.allFinite() || !(facts_.monitors.array() > 0).all())) {
      note("the monitor is not positive in every exposure; left out");
      facts_.monitors.resize(0);
    }
  }

  hid_t file_;
  Index count_, rows_, columns_;
  std::vector<NexusObject> objects_;
  std::string entry_, detector_;
  FrameFacts facts_;
};

}  // namespace

FrameFacts read_nexus(hid_t file, const std::string& where, Index count, Index rows, Index columns) {
  return Reader(file, where, count, rows, columns).read();
}

}  // namespace sievelight
