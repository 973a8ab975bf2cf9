#include "tests/support/render.h"

#include <algorithm>
#include <cmath>

#include "tests/support/image_ops.h"
#include "tests/support/truth.h"
#include "tests/support/view.h"

namespace crestgate::phantom {
namespace {

Tone true_tone(const Scene& scene) {
  const Processing& p = scene.processing;
  if (p.gamma != 1.0 || p.toe > 0 || p.equalise > 0 || p.unsharp_amount > 0) return Tone::unknown;
  return p.tone == ToneKind::log ? Tone::log : Tone::linear;
}

nlohmann::json point(Point p) { return {p.x, p.y}; }
nlohmann::json optional(const std::optional<double>& v) {
  return v ? nlohmann::json(*v) : nlohmann::json(nullptr);
}
}  // namespace

Rendered render(const Scene& scene) {
  Projection p = project(scene);
  const double magnification = View(scene).magnification({});
  const Plane signal = detect(scene, {p.rows, p.columns, std::move(p.transmission)}, magnification);
  const Plane picture = read_out_plane(scene, process(scene, signal));
  Rendered r;
  r.rows = picture.rows;
  r.columns = picture.columns;
  r.bits = scene.readout.rgb ? 8 : scene.processing.bits;
  r.monochrome1 = scene.readout.monochrome1;
  r.rgb = scene.readout.rgb;
  r.tone = true_tone(scene);
  r.truth = truth_of(scene);
  const float top = static_cast<float>((1 << r.bits) - 1);
  const bool flip = scene.readout.monochrome1 != scene.readout.inverted;
  std::size_t low = 0, high = 0, inside = 0;
  const int f = scene.readout.frame_px;
  for (int y = 0; y < r.rows; ++y) {
    for (int x = 0; x < r.columns; ++x) {
      const float v = picture.at(x, y);
      const auto level = static_cast<std::uint16_t>(std::lround(v * top));
      r.stored.push_back(flip ? static_cast<std::uint16_t>(top - level) : level);
      if (x < f || y < f || x >= r.columns - f || y >= r.rows - f) continue;
      ++inside;
      low += level == 0;
      high += level == static_cast<std::uint16_t>(top);
    }
  }
  r.truth.clipped_low = static_cast<double>(low) / std::max<std::size_t>(inside, 1);
  r.truth.clipped_high = static_cast<double>(high) / std::max<std::size_t>(inside, 1);
  return r;
}

Frame to_frame(const Rendered& r) {
  Frame frame;
  frame.rows = r.rows;
  frame.columns = r.columns;
  frame.tone = r.tone;
  const float top = static_cast<float>((1 << r.bits) - 1);
  frame.lowest_storable = 0.0F;
  frame.highest_storable = top;
  frame.values.reserve(r.stored.size());
  for (const std::uint16_t v : r.stored) frame.values.push_back(r.monochrome1 ? top - v : v);
  return frame;
}

nlohmann::json truth_json(const Truth& truth) {
  nlohmann::json implants = nlohmann::json::array();
  for (const ImplantTruth& t : truth.implants) {
    implants.push_back({{"platform_px", point(t.platform_px)},
                        {"apex_px", point(t.apex_px)},
                        {"vertical_angle_deg", t.vertical_angle_deg},
                        {"horizontal_angle_deg", t.horizontal_angle_deg},
                        {"in_plane_angle_deg", t.in_plane_angle_deg},
                        {"coronal_side", t.coronal_side},
                        {"mm_per_px", t.mm_per_px},
                        {"axial_px_per_mm", t.axial_px_per_mm},
                        {"thread_pitch_px", t.thread_pitch_px},
                        {"thread_pitch_mm", t.thread_pitch_mm},
                        {"thread_starts", t.thread_starts},
                        {"thread_depth_mm", t.thread_depth_mm},
                        {"right_handed", t.right_handed},
                        {"outer_diameter_px", t.outer_diameter_px},
                        {"platform_minor_axis_ratio", t.platform_minor_axis_ratio},
                        {"blurred_flank", t.blurred_flank},
                        {"source_too", t.source_too},
                        {"advice", t.advice},
                        {"part_present", t.part_present},
                        {"connection", t.connection},
                        {"gap_left_mm", t.gap_left_mm},
                        {"gap_right_mm", t.gap_right_mm},
                        {"crest_left_mm", optional(t.crest_left_mm)},
                        {"crest_right_mm", optional(t.crest_right_mm)},
                        {"platform_in_view", t.platform_in_view},
                        {"apex_in_view", t.apex_in_view},
                        {"left_flank_in_view", t.left_flank_in_view},
                        {"right_flank_in_view", t.right_flank_in_view},
                        {"visible_share", t.visible_share}});
  }
  return {{"implants", implants},
          {"pixel_mm", truth.pixel_mm},
          {"blur_sigma_px", truth.blur_sigma_px},
          {"clipped_low", truth.clipped_low},
          {"clipped_high", truth.clipped_high},
          {"jaw", truth.jaw},
          {"mirrored", truth.mirrored},
          {"seed", truth.seed}};
}

}  // namespace crestgate::phantom
