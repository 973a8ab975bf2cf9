// Writes what fit_edges.py learns from: readings of the bone's edge beside a flank, and how far
// each is from the true contact (counted from the true platform, in the scale that was read).
//   crestgate_edges crest|steep FIRST_SEED COUNT OUT    (steep: beyond 5 degrees, too)
//   crestgate_edges folder DIR OUT                      (truth.json as of the independent
//   simulators)
// Record: 32 bytes name, float32 error (mm, positive: read too far apical), float32 signs, then a
// byte per cell of the view: 0 outside, 1 .. 255 for -4 .. 4.
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <fstream>
#include <mutex>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "pipeline/crest/edge_view.h"
#include "pipeline/inspect.h"
#include "tests/numbers/case.h"
#include "tests/numbers/extra_numbers.h"
#include "tests/numbers/learning_main.h"
#include "tests/support/random_scene.h"
#include "tests/support/render.h"

namespace crestgate::numbers {
namespace {

struct True {
  Point platform_px;
  std::optional<double> left_mm, right_mm;
};

class Writer {
 public:
  explicit Writer(const std::string& path) : out_(path, std::ios::binary) {}

  void image(const std::string& name, const Frame& as_stored, const Acquisition& acquisition,
             const std::vector<True>& truth) {
    const Rules rules;
    const Analysis analysis = inspect(as_stored, acquisition, rules);
    if (!analysis.scale.mm_per_px) return;
    const Frame frame = analysis.grey_inverted ? negative(as_stored) : as_stored;
    for (const Implant& implant : analysis.implants) {
      if (implant.possible_only || !implant.shape.coronal_known) continue;
      for (const True& t : truth) {
        const ImplantShape& shape = implant.shape;
        const Point p = shape.axis.from_image(t.platform_px);
        if (std::abs(p.x) > shape.radius_px || std::abs(p.y) > 0.4 * shape.length_px) continue;
        const FlankSetting setting =
            setting_of(frame, shape, implant.projection, analysis.quality, analysis.scale, rules);
        for (const int side : {-1, 1}) {
          const bool left = (side < 0) == shape.axis.minus_is_left();
          const auto& contact = left ? t.left_mm : t.right_mm;
          const bool in_view = side < 0 ? shape.minus_flank_in_view : shape.plus_flank_in_view;
          if (!contact || !in_view) continue;
          FlankReading r = read_flank(frame, shape, side, setting);
          if (!r.missing.empty()) continue;
          read_bent(frame, setting, &r);
          const double platform_mm = (p.y - setting.platform.v_px) * setting.mm_per_px;
          const EdgeView view = view_edge(frame, shape, side, setting, r);
          const std::lock_guard<std::mutex> lock(mutex_);
          put(name, r.level_mm - platform_mm - *contact, edge_signs(shape, setting, r), view);
        }
        break;
      }
    }
  }

 private:
  void put(const std::string& name, double error_mm, const EdgeSigns& signs, const EdgeView& view) {
    char text[32] = {};
    name.copy(text, sizeof text - 1);
    out_.write(text, sizeof text);
    const auto error = static_cast<float>(error_mm);
    out_.write(reinterpret_cast<const char*>(&error), sizeof error);
    out_.write(reinterpret_cast<const char*>(signs.data()), sizeof signs);
    for (const float grey : view.grey)
      out_.put(std::isfinite(grey) ? static_cast<char>(1 + std::lround(254 * (grey + 4) / 8))
                                   : '\0');
  }

  std::ofstream out_;
  std::mutex mutex_;
};

void write_scenes(const std::string& kind, std::uint64_t first, int count, Writer& writer) {
  phantom::Draw draw;
  if (kind == "crest") draw.vertical_angle_deg = {-5, 5};
  const auto make = [&](std::uint64_t seed) { return phantom::random_scene(seed, draw); };
  each_scene(
      first, count, make,
      [&](std::uint64_t seed, const phantom::Scene& scene, const phantom::Rendered& rendered) {
        std::vector<True> truth;
        for (const auto& t : rendered.truth.implants)
          truth.push_back({t.platform_px, t.crest_left_mm, t.crest_right_mm});
        writer.image(kind + std::to_string(seed), phantom::to_frame(rendered),
                     acquisition_of(scene), truth);
      });
}

void write_folder(const std::string& folder, Writer& writer) {
  each_in_folder(folder, [&](const std::string& name, const ReadImage& image,
                             const nlohmann::json& truth) {
    std::vector<True> implants;
    for (const auto& one : implants_of(truth)) {
      // What left is of a horizontal axis others may see otherwise.
      const std::string coronal = one["coronal_side"];
      if (coronal != "up" && coronal != "down") continue;
      const auto level = [&](const char* key) {
        return one.contains(key) && one[key].is_number()
                   ? std::optional<double>(one[key].get<double>())
                   : std::nullopt;
      };
      implants.push_back({platform_px_of(one), level("crest_left_mm"), level("crest_right_mm")});
    }
    writer.image(name, image.frame, image.acquisition, implants);
  });
}

}  // namespace
}  // namespace crestgate::numbers

int main(int argc, char** argv) {
  using namespace crestgate::numbers;
  return write_learning_file<Writer>(argc, argv, {"crest", "steep"}, write_scenes, write_folder);
}
