#include "tests/node/report/case_parts.h"

namespace crestgate::report_test {
namespace {

CrestLevel not_measured(const char* why) {
  CrestLevel level;
  level.reason = why;
  return level;
}

Case tilted(Case c) {
  Implant& implant = c.analysis.implants[0];
  implant.projection.vertical_angle_deg = Quantity{9.1, 1.5};
  implant.projection.direction_resolved = true;
  implant.projection.flank_edge_ratio = {0.8, 0.1};
  implant.joint.smallest_visible_gap_mm = 0.083;
  implant.joint.bounded_by = "angle";
  implant.verdict = c.analysis.verdict = Verdict::repeat_if_justified;
  implant.move_tube = true;
  // Words as the judge writes them: the picture has to hold the longest.
  c.analysis.reasons = {{"seating.largest_vertical_angle_deg", 1,
                         "beam 9.1° ± 1.5° off perpendicular, tube too far to the crown side, "
                         "limit 6.0°: over the limit",
                         9.1, 6.0, "deg"},
                        {"seating.largest_hidden_gap_mm", 1,
                         "smallest visible gap 83 µm (worst inside the angle's uncertainty), "
                         "limit 50 µm: over the limit, bounded by angle",
                         0.083, 0.05, "mm"}};
  c.analysis.action =
      "repeat if justified (this was exposure 1): lower the tube head and aim it about 10° more "
      "towards the ceiling (the other way round if the image is mirrored or the thread "
      "left-handed); gaps from 40 µm would then show, now from 83 µm";
  lead_advice_with_findings(c.analysis);
  return c;
}

Case with_gap(Case c) {
  Implant& implant = c.analysis.implants[0];
  implant.joint.state = JointState::gap_visible;
  implant.joint.gap_mm = 0.18;
  implant.joint.gap_expanded_uncertainty_mm = 0.05;
  implant.joint.gap_side_mm = {0.06, 0.18};
  const std::string finding =
      "gap visible at implant 1 (image right), 0.180 mm ± 0.050 mm: check seating before the "
      "patient leaves";
  c.analysis.findings = {{"gap visible", 1, "right", finding}};
  lead_advice_with_findings(c.analysis);
  return c;
}

}  // namespace

void add_views(std::vector<Case>& cases) {
  for (const Case& one :
       {base_case("usable-seating"), tilted(base_case("tilted-repeat")),
        with_gap(base_case("gap-usable")), with_gap(tilted(base_case("gap-and-tilt")))})
    cases.push_back(one);
  Case c = base_case("no-implant");
  c.analysis.implants.clear();
  c.analysis.reasons.clear();
  c.analysis.intent = Intent::other;
  c.analysis.acquisition.jaw = Jaw::unknown;
  c.analysis.acquisition.teeth.clear();
  cases.push_back(c);
  c = base_case("three-implants-no-scale");
  c.analysis.scale = {};
  c.analysis.implants = {implant_at(1, {140, 330}, {0, 1}, 60, 380),
                         implant_at(2, {350, 330}, {0, 1}, 60, 380),
                         implant_at(3, {560, 330}, {0, 1}, 60, 380)};
  c.frame = painted_frame(900, 700, {140, 330}, 60, 380);
  for (const double x : {350.0, 560.0}) {
    const Frame other = painted_frame(900, 700, {x, 330}, 60, 380);
    for (std::size_t i = 0; i < other.values.size(); ++i) {
      c.frame.values[i] = std::max(c.frame.values[i], other.values[i]);
    }
  }
  for (Implant& implant : c.analysis.implants) {
    implant.crest.left = implant.crest.right = not_measured("why.scale_unknown");
    implant.joint.smallest_visible_gap_mm.reset();
    implant.joint.state = JointState::not_assessable;
    implant.joint.reason = "why.scale_unknown";
    implant.verdict = Verdict::not_assessable;
  }
  c.analysis.verdict = Verdict::not_assessable;
  c.analysis.action = "this image does not answer the question: check by other means";
  lead_advice_with_findings(c.analysis);
  cases.push_back(c);
  c = base_case("apex-only-mirror-unknown");
  c.analysis.implants[0].shape.platform_in_view = false;
  c.analysis.implants[0].shape.axis.origin = {350, 0};
  c.analysis.implants[0].shape.coronal_known = false;
  c.analysis.implants[0].joint = {};
  c.analysis.implants[0].joint.reason = "why.platform_not_in_view";
  c.analysis.implants[0].crest.left = c.analysis.implants[0].crest.right =
      not_measured("why.platform_not_in_view");
  c.analysis.implants[0].projection.vertical_angle_deg.reset();
  c.analysis.implants[0].projection.reason = "why.no_thread";
  c.analysis.implants[0].verdict = c.analysis.verdict = Verdict::not_assessable;
  c.analysis.acquisition.mirrored_possible = true;
  c.analysis.action = "what this image was taken for is cut off: check by other means";
  lead_advice_with_findings(c.analysis);
  cases.push_back(c);
  c = with_gap(tilted(base_case("trial-mode")));
  c.rules.mode = Mode::trial;
  cases.push_back(c);
  c = tilted(base_case("inferred-intent"));
  c.analysis.intent_from_rule = false;
  cases.push_back(c);
  c = tilted(base_case("second-attempt-with-history"));
  c.context.attempt = 2;
  PastExposures past{1, {}, true, false};
  past.last.verdict = 1;
  past.last.angle_deg = Quantity{13.4, 1.6};
  Exposure now = summarise_exposure(c.analysis);
  c.context.repeat = compare_repeat(past, now);
  c.context.views = VisitViews{true, false};
  c.context.noted_before = {
      {UID_DigitalIntraOralXRayImageStorageForPresentation, "2.25.901", "2.25.1003", true, false}};
  c.context.prior_report_uids = {"2.25.77", "2.25.66"};
  c.context.known_documents = {{UID_ComprehensiveSRStorage, "2.25.66", "2.25.1002", "2.25.67"}};
  cases.push_back(c);
  c = base_case("small-no-action-form");
  c.rules.output.small_picture_when_usable = true;
  cases.push_back(c);
  c = base_case("possible-implant-only");
  c.analysis.implants[0].possible_only = true;
  c.analysis.implants[0].shape.confidence = 0.4;
  c.analysis.implants[0].verdict = c.analysis.verdict = Verdict::not_assessable;
  cases.push_back(c);
}

}  // namespace crestgate::report_test
