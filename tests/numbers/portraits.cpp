// Writes what fit_portraits.py learns from: readings of implants and of what is none.
//   crestgate_portraits joints|random|smooth|free FIRST_SEED COUNT OUT
//   crestgate_portraits folder DIR OUT      (truth.json as of the independent simulators)
// Record: 32 bytes name, int32 what (1 an implant, 0 none, 2 an implant read as far too narrow or
// wide), float32 confidence now, float32 signs, then a byte per pixel of the portrait: 0 unexposed,
// 1 .. 255 for grey values of -0.1 .. 1.15.
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <fstream>
#include <mutex>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "pipeline/detect/candidate.h"
#include "pipeline/detect/likeness.h"
#include "tests/numbers/case.h"
#include "tests/numbers/extra_numbers.h"
#include "tests/numbers/learning_main.h"
#include "tests/numbers/seating_numbers.h"
#include "tests/support/random_scene.h"
#include "tests/support/render.h"

namespace crestgate::numbers {
namespace {

constexpr int kMostImplants = 5, kMostOthers = 9;   // readings of one picture, best first
constexpr double kNarrowest = 0.75, kWidest = 1.3;  // against the true radius

struct True {
  Point platform_px;
  double radius_px = 0.0;
};

class Writer {
 public:
  explicit Writer(const std::string& path) : out_(path, std::ios::binary) {}

  void image(const std::string& name, const Frame& frame, const Acquisition& acquisition,
             const std::vector<True>& truth) {
    const Survey survey = make_survey(frame);
    if (!(survey.high > survey.low)) return;
    std::vector<Candidate> all = all_readings(frame, survey, acquisition, 0.0);
    std::sort(all.begin(), all.end(),
              [](const Candidate& a, const Candidate& b) { return a.rank > b.rank; });
    int implants = 0, others = 0;
    for (const Candidate& c : all) {
      const std::int32_t what = what_is(c, truth);
      if (what == 1 ? ++implants > kMostImplants : ++others > kMostOthers) continue;
      const Portrait portrait = portray(frame, survey, c.body, c.ends);
      const std::lock_guard<std::mutex> lock(mutex_);
      put(name, what, c, portrait);
    }
  }

 private:
  static std::int32_t what_is(const Candidate& c, const std::vector<True>& truth) {
    const double low = std::min(c.ends.platform_v_px, c.ends.apex_v_px);
    const double high = std::max(c.ends.platform_v_px, c.ends.apex_v_px);
    for (const True& t : truth) {
      const Point p = c.body.trace.axis.from_image(t.platform_px);
      const double from_coronal = c.ends.coronal_sense < 0 ? p.y - low : high - p.y;
      if (std::abs(p.x) > c.body.radius_px || std::abs(from_coronal) > 1.2 * (high - low)) continue;
      const double ratio = c.body.radius_px / t.radius_px;
      return ratio > kNarrowest && ratio < kWidest ? 1 : 2;
    }
    return 0;
  }

  void put(const std::string& name, std::int32_t what, const Candidate& c,
           const Portrait& portrait) {
    char text[32] = {};
    name.copy(text, sizeof text - 1);
    out_.write(text, sizeof text);
    out_.write(reinterpret_cast<const char*>(&what), sizeof what);
    const auto confidence = static_cast<float>(c.confidence);
    out_.write(reinterpret_cast<const char*>(&confidence), sizeof confidence);
    const Signs signs = signs_of(c.evidence);
    out_.write(reinterpret_cast<const char*>(signs.data()), sizeof signs);
    for (const float grey : portrait.grey) {
      const double share = std::clamp((grey + 0.1) / 1.25, 0.0, 1.0);
      out_.put(std::isfinite(grey) ? static_cast<char>(1 + std::lround(254 * share)) : '\0');
    }
  }

  std::ofstream out_;
  std::mutex mutex_;
};

void write_scenes(const std::string& kind, std::uint64_t first, int count, Writer& writer) {
  phantom::Draw draw;
  if (kind == "smooth") draw.unthreaded_share = 1.0;
  const auto make = [&](std::uint64_t seed) {
    if (kind == "free") return phantom::implant_free_scene(seed);
    return kind == "joints" ? seating_case_scene(seed) : phantom::random_scene(seed, draw);
  };
  each_scene(
      first, count, make,
      [&](std::uint64_t seed, const phantom::Scene& scene, const phantom::Rendered& rendered) {
        Acquisition a;
        if (seed % 5 != 0) a.spacing = {scene.detector.pixel_mm, scene.detector.pixel_mm, "imager"};
        std::vector<True> truth;
        for (const auto& t : rendered.truth.implants)
          truth.push_back({t.platform_px, 0.5 * t.outer_diameter_px});
        writer.image(kind + std::to_string(seed), phantom::to_frame(rendered), a, truth);
      });
}

void write_folder(const std::string& folder, Writer& writer) {
  each_in_folder(
      folder, [&](const std::string& name, const ReadImage& image, const nlohmann::json& truth) {
        std::vector<True> implants;
        for (const auto& one : implants_of(truth)) {
          // The magnification, some 3 %, does not matter here.
          const double pixel_mm = one.contains("pixel_at_detector_mm")
                                      ? one["pixel_at_detector_mm"].get<double>()
                                      : truth["pixel_at_detector_mm"].get<double>();
          implants.push_back({platform_px_of(one), one["radius_mm"].get<double>() / pixel_mm});
        }
        writer.image(name, image.frame, image.acquisition, implants);
      });
}

}  // namespace
}  // namespace crestgate::numbers

int main(int argc, char** argv) {
  using namespace crestgate::numbers;
  return write_learning_file<Writer>(argc, argv, {"joints", "random", "smooth", "free"},
                                     write_scenes, write_folder);
}
