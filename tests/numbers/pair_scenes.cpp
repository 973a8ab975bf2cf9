#include "tests/numbers/pair_scenes.h"

#include <algorithm>

#include "pipeline/inspect.h"
#include "tests/support/random_parts.h"
#include "tests/support/random_scene.h"

namespace crestgate::numbers {

phantom::Scene site_scene(std::uint64_t seed) {
  phantom::Draw draw;
  draw.vertical_angle_deg = {-3.0, 3.0};
  draw.cut_share = draw.second_implant_share = draw.motion_share = draw.clipped_share = 0.0;
  draw.mirrored_share = draw.unthreaded_share = draw.artefact_share = 0.0;
  phantom::Scene s = phantom::random_scene(seed, draw);
  s.readout.quarter_turns = 0;
  s.identity.tooth = "46";
  s.identity.laterality = "R";
  s.identity.jaw = "mandible";
  s.identity.date = "20240110";
  s.identity.sop_uid = "2.25." + std::to_string(seed * 1000 + 1);
  auto& implant = s.implants[0];
  implant.gap = {};
  if (implant.abutment.form != phantom::AbutmentForm::none)
    implant.abutment.base_diameter_mm =
        std::min(implant.abutment.base_diameter_mm, implant.platform_diameter_mm - 0.5);
  return s;
}

phantom::Scene follow_up_scene(const phantom::Scene& baseline, std::uint64_t seed, int number,
                               const std::string& setting, double left_mm, double right_mm) {
  phantom::Scene s = baseline;
  phantom::Random r(seed * 7919 + static_cast<std::uint64_t>(number));
  s.detector.noise_seed = seed * 100 + static_cast<std::uint64_t>(number) + 2;
  s.bone.crest_left_mm += left_mm;
  s.bone.crest_right_mm += right_mm;
  const bool jig = setting == "jig";
  const double turn = jig ? 1.0 : 8.0;
  s.beam.vertical_angle_deg += r.uniform(-turn, turn);
  s.beam.horizontal_angle_deg += r.uniform(-turn, turn);
  s.beam.in_plane_turn_deg += r.uniform(-turn, turn);
  s.beam.detector_tilt_deg += r.uniform(-turn, turn) * 0.5;
  s.beam.source_to_site_mm *= r.uniform(jig ? 0.98 : 0.9, jig ? 1.02 : 1.1);
  s.beam.site_to_detector_mm *= r.uniform(jig ? 0.98 : 0.8, jig ? 1.02 : 1.2);
  s.exposure.level = std::min(0.95, s.exposure.level * r.uniform(0.85, 1.15));
  s.identity.date = "20260110";
  s.identity.sop_uid = "2.25." + std::to_string(seed * 1000 + 10 + static_cast<unsigned>(number));
  return s;
}

SeenSite see_site(const phantom::Scene& scene, const Rules& rules) {
  SeenSite seen;
  const phantom::Rendered rendered = phantom::render(scene);
  seen.frame = phantom::to_frame(rendered);
  seen.result.scene = scene;
  seen.result.truth = seen.truth = rendered.truth;
  Acquisition a;
  a.patient_id = scene.identity.patient_id;
  a.issuer_of_patient_id = scene.identity.issuer_of_patient_id;
  a.birth_date = scene.identity.birth_date;
  a.teeth = {scene.identity.tooth};
  a.image_laterality = scene.identity.laterality;
  a.content_date = scene.identity.date;
  a.detector_id = scene.identity.detector_id;
  a.device_serial = scene.identity.serial;
  a.spacing = {scene.detector.pixel_mm, scene.detector.pixel_mm, "imager"};
  a.source_to_detector_mm = scene.beam.source_to_site_mm + scene.beam.site_to_detector_mm;
  a.source_to_patient_mm = scene.beam.source_to_site_mm;
  seen.result.analysis = inspect(seen.frame, a, rules);
  return seen;
}

}  // namespace crestgate::numbers
