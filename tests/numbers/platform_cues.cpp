// Writes what fit_platform.py learns from: for every implant the cue table of its coronal end with
// the true height of the platform, and of its other end, where there is none.
//   crestgate_platform_cues joints|random FIRST_SEED COUNT OUT
//   crestgate_platform_cues folder DIR OUT      (truth.json as of the independent simulators)
// The two ends of an implant follow each other. Record: int32 rows, int32 cues, float32 truth (mm
// from the detected platform; NaN: none here),
// then per row float32 height (mm) and cues.
#include <atomic>
#include <cmath>
#include <cstdint>
#include <fstream>
#include <iostream>
#include <iterator>
#include <limits>
#include <mutex>
#include <nlohmann/json.hpp>
#include <thread>
#include <vector>

#include "pipeline/detect/detect.h"
#include "pipeline/platform/cues.h"
#include "pipeline/platform/either_end.h"
#include "pipeline/projection/projection.h"
#include "pipeline/quality/quality.h"
#include "pipeline/read/read.h"
#include "tests/numbers/seating_numbers.h"
#include "tests/support/random_scene.h"
#include "tests/support/render.h"

namespace crestgate::numbers {
namespace {

class Writer {
 public:
  explicit Writer(const std::string& path) : out_(path, std::ios::binary) {}

  void image(const Frame& as_stored, const Acquisition& acquisition,
             const std::vector<Point>& platforms_px) {
    const EitherWay found = detect_either_way(as_stored, acquisition, 0.6);
    const Frame frame = found.in_negative ? negative(as_stored) : as_stored;
    const Scale scale = scale_from_header(acquisition);
    const QualityMeasures quality = measure_quality(frame, found.shapes);
    for (const ImplantShape& shape : found.shapes) {
      if (shape.confidence < 0.6) continue;
      for (const Point& platform : platforms_px) {
        const Point p = shape.axis.from_image(platform);
        if (std::abs(p.x) > shape.radius_px || std::abs(p.y) > 1.2 * shape.length_px) continue;
        const auto projection = measure_projection(frame, acquisition, shape, quality, scale);
        const bool turned = p.y > 0.5 * shape.length_px;
        const ImplantShape other = turned_over(shape);
        const End with = end_of(frame, turned ? other : shape, projection, scale);
        const End without = end_of(frame, turned ? shape : other, projection, scale);
        if (with.heights_mm.empty() || without.heights_mm.empty()) break;
        const double mm = with.mm_per_px;
        const Point place = (turned ? other : shape).axis.from_image(platform);
        const std::lock_guard<std::mutex> lock(mutex_);
        put(with, static_cast<float>(place.y * mm));
        put(without, std::numeric_limits<float>::quiet_NaN());
        break;
      }
    }
  }

 private:
  struct End {
    double mm_per_px = 0;
    std::vector<double> heights_mm;
    CueTable cues;
  };
  static End end_of(const Frame& frame, const ImplantShape& shape,
                    const ProjectionMeasures& projection, const Scale& scale) {
    End end;
    end.mm_per_px = scale.mm_per_px ? scale.mm_per_px->value : 2.05 / shape.radius_px;
    const Straight s = straighten(frame, shape, end.mm_per_px);
    if (s.rows == 0) return end;
    std::optional<double> angle, pitch;
    if (projection.vertical_angle_deg) angle = std::abs(projection.vertical_angle_deg->value);
    if (projection.thread_pitch_px) pitch = *projection.thread_pitch_px * end.mm_per_px;
    end.cues = gather_cues(s, angle, pitch);
    for (const int row : end.cues.row) end.heights_mm.push_back(s.v_mm(row));
    return end;
  }
  void put(const End& end, float truth_mm) {
    put(static_cast<std::int32_t>(end.heights_mm.size()));
    put(static_cast<std::int32_t>(kCues));
    put(truth_mm);
    for (std::size_t i = 0; i < end.heights_mm.size(); ++i) {
      put(static_cast<float>(end.heights_mm[i]));
      for (const double cue : end.cues.strength[i]) put(static_cast<float>(cue));
    }
  }
  template <class T>
  void put(T value) {
    out_.write(reinterpret_cast<const char*>(&value), sizeof value);
  }
  std::ofstream out_;
  std::mutex mutex_;
};

void write_scenes(bool joints, std::uint64_t first, int count, Writer& writer) {
  std::atomic<int> next{0};
  const auto work = [&] {
    for (int i = next++; i < count; i = next++) {
      const std::uint64_t seed = first + static_cast<std::uint64_t>(i);
      phantom::Draw draw;
      draw.vertical_angle_deg = {-8, 8};
      const phantom::Scene scene =
          joints ? seating_case_scene(seed) : phantom::random_scene(seed, draw);
      const phantom::Rendered rendered = phantom::render(scene);
      Acquisition a;
      a.spacing = {scene.detector.pixel_mm, scene.detector.pixel_mm, "imager"};
      a.source_to_patient_mm = scene.beam.source_to_site_mm;
      a.source_to_detector_mm = scene.beam.source_to_site_mm + scene.beam.site_to_detector_mm;
      std::vector<Point> platforms;
      for (const auto& t : rendered.truth.implants)
        if (t.platform_in_view) platforms.push_back(t.platform_px);
      writer.image(phantom::to_frame(rendered), a, platforms);
    }
  };
  std::vector<std::thread> threads;
  for (unsigned k = 0; k < std::max(1U, std::thread::hardware_concurrency()); ++k)
    threads.emplace_back(work);
  for (std::thread& t : threads) t.join();
}

void write_folder(const std::string& folder, Writer& writer) {
  std::ifstream file(folder + "/truth.json");
  const auto truth = nlohmann::json::parse(file);
  for (const auto& [name, t] : truth.items()) {
    std::ifstream in(folder + "/" + name + ".dcm", std::ios::binary);
    const auto image = read_image({std::istreambuf_iterator<char>(in), {}});
    if (!image.ok()) continue;
    nlohmann::json implants = nlohmann::json::array();
    if (t.contains("implants"))
      implants = t["implants"];
    else if (t["implant"].get<bool>())
      implants.push_back(t);
    std::vector<Point> platforms;
    for (const auto& one : implants)
      platforms.push_back(
          {one["platform_px"][0].get<double>(), one["platform_px"][1].get<double>()});
    writer.image(image.value().frame, image.value().acquisition, platforms);
  }
}

}  // namespace
}  // namespace crestgate::numbers

int main(int argc, char** argv) {
  using namespace crestgate::numbers;
  const std::string what = argc > 1 ? argv[1] : "";
  if (what == "folder" && argc == 4) {
    Writer writer(argv[3]);
    write_folder(argv[2], writer);
  } else if ((what == "joints" || what == "random") && argc == 5) {
    Writer writer(argv[4]);
    write_scenes(what == "joints", std::stoull(argv[2]), std::stoi(argv[3]), writer);
  } else {
    std::cerr << "usage: crestgate_platform_cues joints|random FIRST_SEED COUNT OUT\n"
                 "       crestgate_platform_cues folder DIR OUT\n";
    return 2;
  }
}
