#include "tests/pipeline/detect/detect_scenes.h"

#include <cstdlib>

#include "config/rules.h"
#include "tests/support/same_implant.h"

namespace crestgate::test {

Seen see(const phantom::Scene& scene) {
  Seen s;
  const phantom::Rendered rendered = phantom::render(scene);
  s.frame = phantom::to_frame(rendered);
  s.truth = rendered.truth;
  if (scene.identity.state_spacing) {
    s.acquisition.spacing.row_mm = s.acquisition.spacing.column_mm = s.truth.pixel_mm;
    s.acquisition.spacing.source = "imager";
  }
  if (scene.identity.jaw == "maxilla") s.acquisition.jaw = Jaw::maxilla;
  if (scene.identity.jaw == "mandible") s.acquisition.jaw = Jaw::mandible;
  return s;
}

std::vector<ImplantShape> sure(const std::vector<ImplantShape>& shapes) {
  std::vector<ImplantShape> out;
  for (const ImplantShape& s : shapes)
    if (s.confidence >= Rules{}.detection.least_confidence) out.push_back(s);
  return out;
}

const ImplantShape* on(const std::vector<ImplantShape>& shapes, const phantom::ImplantTruth& truth,
                       const Frame& frame) {
  for (const ImplantShape& s : shapes)
    if (phantom::lies_on(s, truth, frame.rows, frame.columns)) return &s;
  return nullptr;
}

int share_of(int all) {
  return std::getenv("CRESTGATE_ALL_SCENES") != nullptr ? all : (all * 15 + 99) / 100;
}

phantom::Scene plain_scene(std::uint64_t seed) {
  phantom::Draw draw;
  draw.clipped_share = draw.unthreaded_share = draw.mirrored_share = draw.cut_share = 0.0;
  draw.lookalike_share = draw.second_implant_share = draw.artefact_share = 0.0;
  draw.motion_share = draw.gap_share = 0.0;
  draw.thread_depth_mm = {0.25, 0.4};
  draw.pixel_mm = {0.025, 0.04};
  phantom::Scene scene = phantom::random_scene(seed, draw);
  scene.implants.resize(1);
  scene.readout = {};
  return scene;
}

}  // namespace crestgate::test
