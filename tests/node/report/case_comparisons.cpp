#include "tests/node/report/case_parts.h"

namespace crestgate::report_test {
namespace {

CrestChange changed(double change_mm, double u_mm, CrestChange::State state) {
  CrestChange c;
  c.state = state;
  c.change_mm = change_mm;
  c.expanded_uncertainty_mm = u_mm;
  c.smallest_resolvable_mm = 1.1 * u_mm;
  c.baseline_level_mm = 0.84;
  c.level_mm = 0.84 + change_mm;
  c.brightness_mm = c.contrast_mm = 0.0;
  c.gamma_mm = 0.02;
  c.budget = {{"localisation, baseline", 0.4 * u_mm}, {"localisation, this image", 0.3 * u_mm}};
  return c;
}

/// The baseline as stored and as inspected.
AnnotatedBaseline earlier_image() {
  AnnotatedBaseline earlier{base_case("earlier").analysis, std::make_shared<DcmDataset>()};
  earlier.analysis.acquisition.sop_instance_uid = "2.25.55";
  fill_source(*earlier.source);
  put(*earlier.source, DCM_SOPInstanceUID, "2.25.55");
  put(*earlier.source, DCM_StudyInstanceUID, "2.25.56");
  put(*earlier.source, DCM_SeriesInstanceUID, "2.25.57");
  put(*earlier.source, DCM_StudyDate, "20240110");
  return earlier;
}

}  // namespace

void add_comparisons(std::vector<Case>& cases) {
  Case c = base_case("follow-up-loss");
  Comparison comparison;
  comparison.state = Comparison::State::compared;
  comparison.baseline_uid = "2.25.55";
  comparison.baseline_study_uid = "2.25.56";
  comparison.baseline_series_uid = "2.25.57";
  comparison.baseline_sop_class_uid = UID_DigitalIntraOralXRayImageStorageForPresentation;
  comparison.baseline_date = "20240110";
  comparison.years = 2.87;
  ImplantComparison pair;
  pair.implant = pair.baseline_implant = 1;
  pair.vertical_angle_difference_deg = 0.8;
  pair.in_plane_difference_deg = -1.5;
  pair.scale_ratio = 1.004;
  pair.registration_rest_mm = 0.021;
  pair.crest.left = changed(0.45, 0.181, CrestChange::State::loss);
  pair.crest.left.rate_mm_per_year = 0.157;
  pair.crest.right = changed(0.03, 0.202, CrestChange::State::within_error);
  comparison.implants = {pair};
  c.analysis.intent = Intent::follow_up;
  c.analysis.comparisons = {comparison};
  c.analysis.findings = {{"bone change resolved", 1, "left",
                          "crestal bone loss resolved at implant 1 (image left), +0.45 ± 0.19 mm "
                          "since 2024-01-10"}};
  lead_advice_with_findings(c.analysis);
  c.analysis.implants[0].extent.apex_in_view = true;
  c.analysis.implants[0].extent.apical_margin_mm = Quantity{2.4, 0.31};
  c.analysis.implants[0].extent.bounded_by = "image border";
  c.analysis.implants[0].known_type = {"Sample 4.1", "best fit", "pitch over diameter agrees"};
  c.analysis.implants[0].projection.axial_to_transverse_scale = 0.98;
  c.analysis.implants[0].projection.axial_to_transverse_scale_expanded_uncertainty = 0.02;
  c.analysis.implants[0].projection.platform_minor_axis_ratio = 0.03;
  c.context.baseline_reports["2.25.55"] = {UID_ComprehensiveSRStorage, "2.25.58", "2.25.56",
                                           "2.25.59"};
  Subtraction picture;
  picture.implant = 1;
  picture.baseline_uid = "2.25.55";
  picture.rows = 600;
  picture.columns = 400;
  picture.mm_per_px = 0.02;
  for (int i = 0; i < 600 * 400; ++i) {
    const float grey = static_cast<float>((i % 400) / 4 + (i / 400 > 300 ? 60 : 0));
    picture.before.push_back(grey);
    picture.now.push_back(grey + ((i % 400) < 100 && i / 400 > 290 && i / 400 < 320 ? -30 : 1));
    picture.difference.push_back(picture.now.back() - grey);
  }
  c.context.subtractions = {picture};
  cases.push_back(c);
  Case changed_processing = c;
  changed_processing.name = "follow-up-other-processing";
  changed_processing.analysis.comparisons[0].processing = ProcessingState::changed;
  changed_processing.analysis.comparisons[0].stated_processing = {
      {"SoftwareVersions", "4.1", "4.0"}};
  changed_processing.analysis.comparisons[0].reasons = {
      "processing changed between the images: SoftwareVersions is '4.1' now, '4.0' in the "
      "baseline"};
  changed_processing.analysis.comparisons[0].implants[0].tone_bend = 0.071;
  changed_processing.analysis.comparisons[0].implants[0].tone_bend_expanded_uncertainty = 0.006;
  changed_processing.analysis.findings = {
      {"processing changed", 1, "",
       "image processing changed between this image and that of 2024-01-10: look at grey values "
       "with care"}};
  lead_advice_with_findings(changed_processing.analysis);
  cases.push_back(changed_processing);
  Case annotated = c;
  annotated.name = "follow-up-annotated-baseline";
  annotated.context.annotated_baselines = {earlier_image()};
  cases.push_back(annotated);
  c.name = "follow-up-of-two-baselines";
  comparison.baseline_uid = "2.25.65";
  comparison.baseline_date = "20250110";
  comparison.early_period = true;
  comparison.implants[0].crest.left = {};
  comparison.implants[0].crest.left.reason = "baseline: no bone beside this flank";
  c.analysis.comparisons.push_back(comparison);
  cases.push_back(c);
  c = base_case("follow-up-not-certain");
  comparison = {};
  comparison.state = Comparison::State::identity_not_certain;
  comparison.baseline_uid = "2.25.55";
  comparison.baseline_study_uid = "2.25.56";
  comparison.baseline_series_uid = "2.25.57";
  comparison.baseline_sop_class_uid = UID_DigitalIntraOralXRayImageStorageForPresentation;
  comparison.reasons = {"birth date differs"};
  c.analysis.comparisons = {comparison};
  cases.push_back(c);
  c = base_case("follow-up-pending");
  c.analysis.comparison_pending = "the archive could not be asked for earlier images yet";
  cases.push_back(c);
}

}  // namespace crestgate::report_test
