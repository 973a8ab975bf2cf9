// A measured image as the judge gets it, to be varied by the tests.
#pragma once
#include "config/rules.h"
#include "pipeline/image/analysis.h"
#include "pipeline/judge/judge.h"

namespace crestgate::judge_case {

inline Rules rules_for(Intent intent) {
  Rules rules;
  rules.intents = {{"StudyDescription", "asked", intent}};
  return rules;
}

/// One implant, crown up, wholly in view with 4 mm beyond its apex, 1.0 +/- 0.5 degrees, 0.02 mm pixels, nothing wrong.
inline Analysis analysis() {
  Analysis a;
  a.rows = 1000;
  a.columns = 800;
  a.acquisition.reason_texts["StudyDescription"] = "As ASKED";
  a.acquisition.jaw = Jaw::mandible;
  a.scale.mm_per_px = Quantity{0.02, 0.001};
  a.quality.blur_sigma_px = 2.0;
  a.quality.noise = 0.01;
  Implant implant;
  implant.id = 1;
  implant.shape.axis.origin = {400, 300};
  implant.shape.length_px = 500;
  implant.shape.platform_in_view = implant.shape.apex_in_view = true;
  implant.shape.confidence = 0.9;
  implant.projection.vertical_angle_deg = Quantity{1.0, 0.5};
  implant.projection.direction_resolved = true;
  implant.extent.apical_margin_mm = Quantity{4.0, 0.2};
  a.implants.push_back(implant);
  return a;
}

inline void tilt(Analysis& a, double angle_deg, double u_deg = 0.5) {
  a.implants[0].projection.vertical_angle_deg = Quantity{angle_deg, u_deg};
}

/// The seating stage's results: smallest visible gap now and at best.
inline void joint(Analysis& a, double now_mm, double best_mm, const char* bounded_by = "angle") {
  JointMeasures& j = a.implants[0].joint;
  j.state = JointState::no_gap_visible;
  j.part_present = true;
  j.smallest_visible_gap_mm = now_mm;
  j.smallest_visible_gap_at_best_mm = best_mm;
  j.bounded_by = bounded_by;
}

inline Analysis judged(Analysis a, Intent intent, int attempt = 1) {
  judge(a, rules_for(intent), Circumstances{attempt});
  return a;
}

inline const Reason* reason(const Analysis& a, const std::string& rule) {
  for (const Reason& r : a.reasons)
    if (r.rule == rule) return &r;
  return nullptr;
}

}  // namespace crestgate::judge_case
