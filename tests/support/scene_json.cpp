#include "tests/support/scene_json.h"

#include <fstream>
#include <stdexcept>

#include "tests/support/scene_fields.h"

namespace crestgate::phantom {
namespace {
using nlohmann::json;

[[noreturn]] void fail(const std::string& key, const std::string& what) {
  throw std::invalid_argument(key + ": " + what);
}

class Writer {
 public:
  json object = json::object();
  template <class T>
  void operator()(const char* key, T& value) {
    object[key] = to_json_value(value);
  }

 private:
  template <class T>
  json to_json_value(T& value) {
    if constexpr (std::is_enum_v<T>) {
      for (const auto& [name, v] : words(value)) {
        if (v == value) return name;
      }
      return nullptr;
    } else if constexpr (IsVector<T>::value) {
      json list = json::array();
      for (auto& item : value) list.push_back(to_json_value(item));
      return list;
    } else if constexpr (std::is_class_v<T> && !std::is_same_v<T, std::string>) {
      Writer inner;
      fields(inner, value);
      return inner.object;
    } else {
      return value;
    }
  }
};

class Reader {
 public:
  Reader(const json& object, std::string path) : object_(object), path_(std::move(path)) {
    if (!object.is_object()) fail(path_.empty() ? "scene" : path_, "an object is expected");
  }
  template <class T>
  void operator()(const char* key, T& value) {
    known_.emplace_back(key);
    if (const auto it = object_.find(key); it != object_.end()) {
      read(*it, path_.empty() ? std::string(key) : path_ + "." + key, value);
    }
  }
  void refuse_unknown() const {
    for (const auto& [key, value] : object_.items()) {
      if (std::find(known_.begin(), known_.end(), key) == known_.end()) {
        fail(path_.empty() ? key : path_ + "." + key, "unknown key");
      }
    }
  }

 private:
  template <class T>
  static void read(const json& j, const std::string& path, T& value) {
    if constexpr (std::is_enum_v<T>) {
      std::string expected;
      for (const auto& [name, v] : words(value)) {
        if (j.is_string() && j.get<std::string>() == name) {
          value = v;
          return;
        }
        expected += (expected.empty() ? "" : ", ") + std::string(name);
      }
      fail(path, "one of these is expected: " + expected);
    } else if constexpr (IsVector<T>::value) {
      if (!j.is_array()) fail(path, "a list is expected");
      value.clear();
      for (std::size_t i = 0; i < j.size(); ++i) {
        value.emplace_back();
        read(j[i], path + "[" + std::to_string(i) + "]", value.back());
      }
    } else if constexpr (std::is_same_v<T, bool>) {
      if (!j.is_boolean()) fail(path, "true or false is expected");
      value = j.get<bool>();
    } else if constexpr (std::is_integral_v<T>) {
      if (!j.is_number_integer()) fail(path, "a whole number is expected");
      value = j.get<T>();
    } else if constexpr (std::is_floating_point_v<T>) {
      if (!j.is_number()) fail(path, "a number is expected");
      value = j.get<T>();
    } else if constexpr (std::is_same_v<T, std::string>) {
      if (!j.is_string()) fail(path, "text is expected");
      value = j.get<std::string>();
    } else {
      Reader inner(j, path);
      fields(inner, value);
      inner.refuse_unknown();
    }
  }

  const json& object_;
  std::string path_;
  std::vector<std::string> known_;
};

void require(bool good, const char* key, const char* what) {
  if (!good) fail(key, what);
}
}  // namespace

json scene_to_json(const Scene& scene) {
  Writer writer;
  Scene copy = scene;
  fields(writer, copy);
  return writer.object;
}

Scene scene_from_json(const json& j) {
  Scene scene;
  Reader reader(j, "");
  fields(reader, scene);
  reader.refuse_unknown();
  check(scene);
  return scene;
}

Scene read_scene(const std::string& path) {
  std::ifstream in(path);
  if (!in) throw std::invalid_argument(path + ": cannot be opened");
  try {
    return scene_from_json(json::parse(in));
  } catch (const std::exception& e) {
    throw std::invalid_argument(path + ": " + e.what());
  }
}

void check(const Scene& s) {
  require(s.detector.columns >= 16 && s.detector.columns <= 8000, "detector.columns", "16..8000");
  require(s.detector.rows >= 16 && s.detector.rows <= 8000, "detector.rows", "16..8000");
  require(s.detector.pixel_mm > 0.001, "detector.pixel_mm", "more than 0.001 is expected");
  require(s.beam.source_to_site_mm > 50, "beam.source_to_site_mm", "more than 50 is expected");
  require(s.beam.site_to_detector_mm > 0, "beam.site_to_detector_mm", "more than 0 is expected");
  require(std::abs(s.beam.vertical_angle_deg) <= 60, "beam.vertical_angle_deg", "-60..60");
  require(std::abs(s.beam.horizontal_angle_deg) <= 60, "beam.horizontal_angle_deg", "-60..60");
  require(std::abs(s.beam.detector_tilt_deg) <= 60, "beam.detector_tilt_deg", "-60..60");
  require(s.exposure.mono_kev > 0 || (s.exposure.tube_kv >= 40 && s.exposure.tube_kv <= 100),
          "exposure.tube_kv", "40..100 is expected");
  require(s.exposure.level > 0, "exposure.level", "more than 0 is expected");
  require(s.processing.bits >= 8 && s.processing.bits <= 16, "processing.bits", "8..16");
  require(s.processing.window_high > s.processing.window_low, "processing.window_high",
          "more than window_low is expected");
  for (std::size_t i = 0; i < s.implants.size(); ++i) {
    const Implant& m = s.implants[i];
    const std::string at = "implants[" + std::to_string(i) + "].";
    const auto need = [&](bool good, const char* key, const char* what) {
      if (!good) fail(at + key, what);
    };
    need(m.length_mm >= 3, "length_mm", "3 or more is expected");
    need(m.diameter_mm >= 1.5, "diameter_mm", "1.5 or more is expected");
    need(m.platform_diameter_mm >= 1.5, "platform_diameter_mm", "1.5 or more is expected");
    need(m.collar_mm + m.micro_thread_length_mm + m.apex_length_mm < m.length_mm, "collar_mm",
         "collar, micro-thread and apex must fit the length");
    need(m.thread.pitch_mm >= 0.1, "thread.pitch_mm", "0.1 or more is expected");
    need(m.thread.starts >= 1 && m.thread.starts <= 4, "thread.starts", "1..4");
    need(m.thread.depth_mm < m.diameter_mm / 2 - 0.2, "thread.depth_mm", "less than the radius");
    need(m.gap.centre_mm >= 0, "gap.centre_mm", "0 or more is expected");
    const Abutment& a = m.abutment;
    if (a.form == AbutmentForm::none || a.form == AbutmentForm::cover_screw) continue;
    const double cap = a.form == AbutmentForm::ball      ? 2.7
                       : a.form == AbutmentForm::healing ? 1.1
                                                         : 0;
    need(a.height_mm > a.collar_height_mm + cap, "abutment.height_mm",
         "more than the collar's height");
    need(a.collar_height_mm > a.bevel_mm, "abutment.collar_height_mm", "more than the bevel");
  }
}

}  // namespace crestgate::phantom
