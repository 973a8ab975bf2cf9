// Writes what fit_platform.py learns from: for every implant the cue table of its coronal end with
// the true height of the platform, and of its other end, where there is none.
//   crestgate_platform_cues joints|random FIRST_SEED COUNT OUT
//   crestgate_platform_cues folder DIR OUT      (truth.json as of the independent simulators)
// The two ends of an implant follow each other. Record: int32 rows, int32 cues, float32 truth (mm
// from the detected platform; NaN: none here),
// then per row float32 height (mm) and cues.
#include <cmath>
#include <cstdint>
#include <fstream>
#include <limits>
#include <mutex>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "pipeline/detect/detect.h"
#include "pipeline/platform/cues.h"
#include "pipeline/platform/either_end.h"
#include "pipeline/projection/projection.h"
#include "pipeline/quality/quality.h"
#include "tests/numbers/case.h"
#include "tests/numbers/extra_numbers.h"
#include "tests/numbers/learning_main.h"
#include "tests/numbers/seating_numbers.h"
#include "tests/support/random_scene.h"
#include "tests/support/render.h"

namespace crestgate::numbers {
namespace {

class Writer {
 public:
  explicit Writer(const std::string& path) : out_(path, std::ios::binary) {}

  static constexpr double kLeastConfidence = 0.6;  // as in the shipped rules

  void image(const Frame& as_stored, const Acquisition& acquisition,
             const std::vector<Point>& platforms_px) {
    const EitherWay found = detect_either_way(as_stored, acquisition, kLeastConfidence);
    const Frame frame = found.in_negative ? negative(as_stored) : as_stored;
    const Scale scale = scale_from_header(acquisition);
    const QualityMeasures quality = measure_quality(frame, found.shapes);
    for (const ImplantShape& shape : found.shapes) {
      if (shape.confidence < kLeastConfidence) continue;
      for (const Point& platform : platforms_px) {
        const Point p = shape.axis.from_image(platform);
        if (std::abs(p.x) > shape.radius_px || std::abs(p.y) > 1.2 * shape.length_px) continue;
        const auto projection = measure_projection(frame, acquisition, shape, quality, scale);
        const ImplantShape turned = turned_over(shape);
        const bool as_found = p.y <= 0.5 * shape.length_px;
        const ImplantShape &coronal = as_found ? shape : turned,
                           &apical = as_found ? turned : shape;
        const EndCues with = cues_of_end(frame, coronal, projection, scale);
        const EndCues without = cues_of_end(frame, apical, projection, scale);
        if (with.table.row.empty() || without.table.row.empty()) break;
        const Point place = coronal.axis.from_image(platform);
        const std::lock_guard<std::mutex> lock(mutex_);
        put(with, static_cast<float>(place.y * with.mm_per_px));
        put(without, std::numeric_limits<float>::quiet_NaN());
        break;
      }
    }
  }

 private:
  void put(const EndCues& end, float truth_mm) {
    put(static_cast<std::int32_t>(end.table.row.size()));
    put(static_cast<std::int32_t>(kCues));
    put(truth_mm);
    for (std::size_t i = 0; i < end.table.row.size(); ++i) {
      put(static_cast<float>(end.straight.v_mm(end.table.row[i])));
      for (const double cue : end.table.strength[i]) put(static_cast<float>(cue));
    }
  }
  template <class T>
  void put(T value) {
    out_.write(reinterpret_cast<const char*>(&value), sizeof value);
  }
  std::ofstream out_;
  std::mutex mutex_;
};

void write_scenes(const std::string& kind, std::uint64_t first, int count, Writer& writer) {
  phantom::Draw draw;
  draw.vertical_angle_deg = {-8, 8};
  const auto make = [&](std::uint64_t seed) {
    return kind == "joints" ? seating_case_scene(seed) : phantom::random_scene(seed, draw);
  };
  each_scene(first, count, make,
             [&](std::uint64_t, const phantom::Scene& scene, const phantom::Rendered& rendered) {
               std::vector<Point> platforms;
               for (const auto& t : rendered.truth.implants)
                 if (t.platform_in_view) platforms.push_back(t.platform_px);
               writer.image(phantom::to_frame(rendered), acquisition_of(scene), platforms);
             });
}

void write_folder(const std::string& folder, Writer& writer) {
  each_in_folder(folder,
                 [&](const std::string&, const ReadImage& image, const nlohmann::json& truth) {
                   std::vector<Point> platforms;
                   for (const auto& one : implants_of(truth))
                     platforms.push_back(platform_px_of(one));
                   writer.image(image.frame, image.acquisition, platforms);
                 });
}

}  // namespace
}  // namespace crestgate::numbers

int main(int argc, char** argv) {
  using namespace crestgate::numbers;
  return write_learning_file<Writer>(argc, argv, {"joints", "random"}, write_scenes, write_folder);
}
