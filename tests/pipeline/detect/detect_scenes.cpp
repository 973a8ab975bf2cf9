#include "tests/pipeline/detect/detect_scenes.h"

#include <cmath>
#include <cstdlib>

#include "config/rules.h"

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

const ImplantShape* on(const std::vector<ImplantShape>& shapes,
                       const phantom::ImplantTruth& truth) {
  AxisFrame axis;
  axis.origin = truth.platform_px;
  const double dx = truth.apex_px.x - truth.platform_px.x;
  const double dy = truth.apex_px.y - truth.platform_px.y;
  const double length = std::hypot(dx, dy);
  axis.apical = {dx / length, dy / length};
  for (const ImplantShape& s : shapes) {
    const Point p = axis.from_image(s.axis.to_image(0.0, 0.5 * s.length_px));
    if (std::fabs(p.x) < 0.4 * truth.outer_diameter_px && p.y > -0.15 * length &&
        p.y < 1.1 * length)
      return &s;
  }
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
