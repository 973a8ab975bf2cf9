#include "node/report/measurement_group.h"

#include <dcmtk/dcmsr/cmr/tid4019.h>

#include <optional>

#include "node/report/codes.h"
#include "node/report/comparison_text.h"
#include "node/report/number.h"
#include "node/report/sides.h"
#include "node/report/uid.h"
#include "node/report/wording.h"
#include "pipeline/image/scale_words.h"

namespace crestgate {
namespace {

using Group = CMR_TID1501_in_TID1500;

/// TID 4019 rows 1-3 in the group: which program with which rules measured.
OFCondition add_algorithm(Group& group, const GroupContext& context) {
  CMR_TID4019 algorithm;
  OFCondition result =
      algorithm.setIdentification(kManufacturer, context.shared.context.software_version.c_str());
  keep_first(result, algorithm.addParameter(("ruleset " + context.shared.ruleset_digest).c_str()));
  if (group.gotoAnnotatedNode("TID 1501 - Row 3") == 0) return SR_EC_InvalidDocumentTree;
  keep_first(result, group.insertExtraTemplate(algorithm, DSRTypes::AM_afterCurrent,
                                               DSRTypes::RT_hasConceptMod));
  return result;
}

OFCondition add_site(Group& group, const Implant& implant, const GroupContext& context) {
  const Acquisition& facts = context.analysis.acquisition;
  const CodedConcept& jaw = facts.jaw == Jaw::maxilla    ? codes::kMaxilla
                            : facts.jaw == Jaw::mandible ? codes::kMandible
                                                         : codes::kJawRegion;
  const std::string site = iso_site(context.analysis, implant);
  std::string side = facts.image_laterality;
  if (!site.empty()) side = site[0] == '1' || site[0] == '4' ? "R" : "L";
  const DSRCodedEntryValue laterality = side == "R" || side == "L" || side == "B"
                                            ? CID244e_Laterality::mapImageLaterality(side.c_str())
                                            : DSRCodedEntryValue();
  const CodedConcept* tooth = tooth_code(site);
  return group.addFindingSite(entry(jaw), CID244e_Laterality(laterality),
                              tooth ? DSRCodedEntryValue(entry(*tooth)) : DSRCodedEntryValue());
}

std::string basis_text(const std::string& basis, const Language& text) {
  return basis.empty() ? "" : text.get("basis." + basis);
}

std::vector<Number> implant_numbers(const Implant& implant, const GroupContext& context) {
  const ProjectionMeasures& projection = implant.projection;
  const JointMeasures& joint = implant.joint;
  const std::string no_angle = projection.reason.empty() ? "" : projection.reason;
  const std::vector<Point> axis = {implant.shape.platform_px(), implant.shape.apex_px()};
  std::vector<Number> numbers;
  std::optional<double> angle, angle_u;
  if (projection.vertical_angle_deg) {
    angle = projection.vertical_angle_deg->value;
    angle_u = projection.vertical_angle_deg->expanded_uncertainty;
  }
  const bool is_signed = projection.direction_resolved || !angle;
  numbers.push_back({is_signed ? codes::kVerticalAngle : codes::kVerticalAngleMagnitude,
                     codes::kDegree, angle, 1, angle_u, no_angle, axis,
                     basis_text(projection.basis, context.text)});
  numbers.push_back({codes::kThreadPitch, codes::kPixels, projection.thread_pitch_px, 2});
  numbers.push_back({codes::kOuterDiameter, codes::kPixels, projection.outer_diameter_px, 1});
  numbers.push_back({codes::kFlankLeft, codes::kRatio, projection.flank_edge_ratio.left, 2});
  numbers.push_back({codes::kFlankRight, codes::kRatio, projection.flank_edge_ratio.right, 2});
  const std::vector<Point> platform = {implant.shape.platform_px()};
  if (joint.state == JointState::gap_visible) {
    const std::string why = joint.reason.empty() ? "finding.no_size" : joint.reason;
    numbers.push_back({codes::kGap, codes::kMillimetre, joint.gap_mm, 3,
                       joint.gap_expanded_uncertainty_mm, why, platform});
    numbers.push_back({codes::kGapLeft, codes::kMillimetre, joint.gap_side_mm.left, 3, {}, why});
    numbers.push_back({codes::kGapRight, codes::kMillimetre, joint.gap_side_mm.right, 3, {}, why});
  }
  numbers.push_back({codes::kSmallestGap,
                     codes::kMillimetre,
                     joint.smallest_visible_gap_mm,
                     3,
                     {},
                     joint.reason,
                     {},
                     joint.scale_assumed ? context.text.get("reason.scale_assumed") : ""});
  const std::optional<bool> mesial_left = mesial_is_left(context.analysis, implant);
  auto crest = [&](const CodedConcept& name, const CrestLevel& level, double u_px, bool is_left) {
    Number number{name, codes::kMillimetre, level.level_mm, 2, level.expanded_uncertainty_mm, {}};
    if (mesial_left) number.side = *mesial_left == is_left ? &codes::kMesial : &codes::kDistal;
    if (level.level_mm) {
      number.remark =
          context.text.get("crest.shown", {{"budget", budget_text(level.budget, context.text)}});
      number.where_px = {implant.shape.axis.to_image(u_px, *level.contact_px)};
    } else {
      number.why_not = level.reason;
    }
    numbers.push_back(number);
  };
  const double radius = implant.shape.radius_px;
  const double right_u = implant.shape.axis.minus_is_left() ? radius : -radius;
  crest(codes::kCrestLeft, implant.crest.left, -right_u, true);
  crest(codes::kCrestRight, implant.crest.right, right_u, false);
  const std::optional<Quantity>& margin = implant.extent.apical_margin_mm;
  Number in_view{codes::kApicalMargin, codes::kMillimetre, {}, 1};
  if (margin)
    in_view.value = margin->value, in_view.expanded_uncertainty = margin->expanded_uncertainty;
  if (!margin)
    in_view.why_not = implant.extent.apex_in_view ? "why.no_scale" : "why.apex_not_in_view";
  if (!implant.extent.bounded_by.empty())
    in_view.remark = context.text.get("border." + implant.extent.bounded_by);
  numbers.push_back(in_view);
  if (projection.axial_to_transverse_scale)
    numbers.push_back({codes::kScaleRatio, codes::kRatio, projection.axial_to_transverse_scale, 3,
                       projection.axial_to_transverse_scale_expanded_uncertainty});
  if (projection.platform_minor_axis_ratio)
    numbers.push_back({codes::kPlatformRatio, codes::kRatio, projection.platform_minor_axis_ratio,
                       3, projection.platform_minor_axis_ratio_expanded_uncertainty});
  numbers.push_back({codes::kDetection, codes::kRatio, implant.shape.confidence, 2});
  return numbers;
}

/// What one side changed since the baseline: the change, the least that could have been resolved,
/// and the yearly rate of a resolved one.
void add_change(const CrestChange& change, bool left, const CodedConcept* side,
                const KnownDocument& baseline, const Language& text, std::vector<Number>& numbers) {
  Number loss{left ? codes::kLossLeft : codes::kLossRight,
              codes::kMillimetre,
              change.change_mm,
              2,
              change.expanded_uncertainty_mm,
              change.reason};
  loss.side = side;
  loss.baseline = baseline;
  if (change.change_mm) {
    const bool within = change.state == CrestChange::State::within_error;
    loss.significance = within ? &codes::kNotSignificant : &codes::kSignificant;
    loss.remark = budget_text(change.budget, text);
  }
  numbers.push_back(loss);
  if (!change.smallest_resolvable_mm) return;
  numbers.push_back({left ? codes::kLeastLossLeft : codes::kLeastLossRight, codes::kMillimetre,
                     change.smallest_resolvable_mm, 3});
  if (change.rate_mm_per_year)
    numbers.push_back({left ? codes::kLossRateLeft : codes::kLossRateRight,
                       codes::kMillimetrePerYear, change.rate_mm_per_year, 2});
}

std::vector<Number> comparison_numbers(const Implant& implant, const GroupContext& context) {
  std::vector<Number> numbers;
  const std::optional<bool> mesial_left = mesial_is_left(context.analysis, implant);
  for (const Comparison& comparison : context.analysis.comparisons)
    for (const ImplantComparison& pair : comparison.implants) {
      if (pair.implant != implant.id) continue;
      const KnownDocument baseline{comparison.baseline_sop_class_uid, comparison.baseline_uid,
                                   comparison.baseline_study_uid, comparison.baseline_series_uid};
      for (const bool left : {true, false})
        add_change(left ? pair.crest.left : pair.crest.right, left,
                   !mesial_left           ? nullptr
                   : *mesial_left == left ? &codes::kMesial
                                          : &codes::kDistal,
                   baseline, context.text, numbers);
      numbers.push_back(
          {codes::kAngleDifference, codes::kDegree, pair.vertical_angle_difference_deg, 1});
      numbers.push_back({codes::kTurnDifference, codes::kDegree, pair.in_plane_difference_deg, 1});
      numbers.push_back({codes::kSizeRatio, codes::kRatio, pair.scale_ratio, 3});
      numbers.push_back({codes::kOutlineRest, codes::kMillimetre, pair.registration_rest_mm, 3});
      numbers.push_back({codes::kToneBend, codes::kRatio, pair.tone_bend, 3,
                         pair.tone_bend_expanded_uncertainty});
    }
  return numbers;
}

const CodedConcept& change_code(CrestChange::State state) {
  switch (state) {
    case CrestChange::State::loss:
      return codes::kLoss;
    case CrestChange::State::gain:
      return codes::kGain;
    case CrestChange::State::within_error:
      return codes::kWithinError;
    case CrestChange::State::not_assessable:
      break;
  }
  return codes::kNotAssessable;
}

OFCondition add_text(Group& group, const CodedConcept& name, const std::string& words,
                     const GroupContext& context) {
  return group.addQualitativeEvaluation(entry(name),
                                        OFString(encode(context.shared.source, words).c_str()));
}

/// Per comparison of this implant: which it was, and what each side did.
OFCondition add_changes(Group& group, const Implant& implant, const GroupContext& context) {
  OFCondition result = EC_Normal;
  for (const Comparison& comparison : context.analysis.comparisons)
    for (const ImplantComparison& pair : comparison.implants) {
      if (pair.implant != implant.id) continue;
      keep_first(result, add_text(group, codes::kComparison,
                                  comparison_head(comparison, context.text), context));
      keep_first(result, group.addQualitativeEvaluation(entry(codes::kChangeLeft),
                                                        entry(change_code(pair.crest.left.state))));
      keep_first(result,
                 group.addQualitativeEvaluation(entry(codes::kChangeRight),
                                                entry(change_code(pair.crest.right.state))));
    }
  return result;
}

OFCondition add_evaluations(Group& group, const Implant& implant, const GroupContext& context) {
  OFCondition result = group.addQualitativeEvaluation(
      entry(codes::kVerdict),
      implant.possible_only ? entry(codes::kNotAssessable) : verdict_code(implant.verdict));
  const CodedConcept& joint = implant.joint.state == JointState::gap_visible ? codes::kGapVisible
                              : implant.joint.state == JointState::no_gap_visible
                                  ? codes::kNoGapVisible
                                  : codes::kNotAssessable;
  keep_first(result, group.addQualitativeEvaluation(entry(codes::kJoint), entry(joint)));
  if (!implant.known_type.name.empty())
    keep_first(result, add_text(group, codes::kImplantType, implant.known_type.name, context));
  keep_first(result, add_changes(group, implant, context));
  for (const Finding& finding : context.analysis.findings) {
    if (finding.implant != implant.id) continue;
    keep_first(result,
               group.addQualitativeEvaluation(entry(codes::kFinding), finding_code(finding.kind)));
    keep_first(result,
               add_text(group, codes::kComment,
                        sentence(finding.text.empty() ? finding.kind : finding.text), context));
  }
  for (const Reason& reason : context.analysis.reasons) {
    if (reason.implant != implant.id) continue;
    keep_first(result, add_text(group, codes::kReason, reason_text(reason, context.text), context));
  }
  return result;
}

}  // namespace

DSRCodedEntryValue verdict_code(Verdict verdict) {
  switch (verdict) {
    case Verdict::usable:
      return entry(codes::kUsable);
    case Verdict::usable_with_limits:
      return entry(codes::kUsableWithLimits);
    case Verdict::repeat_if_justified:
      return entry(codes::kRepeat);
    case Verdict::not_assessable:
      return entry(codes::kNotAssessable);
  }
  return entry(codes::kNotAssessable);
}

DSRCodedEntryValue finding_code(const std::string& kind) {
  if (kind == codes::kGapVisible.meaning) return entry(codes::kGapVisible);
  if (kind == codes::kBoneChange.meaning) return entry(codes::kBoneChange);
  if (kind == codes::kProcessingChanged.meaning) return entry(codes::kProcessingChanged);
  return entry(codes::kOtherFinding);
}

std::string reason_text(const Reason& reason, const Language& text) {
  return text.get("report.reason", {{"rule", reason.rule}, {"text", reason.text}});
}

OFCondition fill_implant_group(Group& group, const Implant& implant, const GroupContext& context) {
  const Acquisition& facts = context.analysis.acquisition;
  const std::string name =
      implant.possible_only
          ? context.text.get("mark.possible") + " " + std::to_string(implant.id)
          : context.text.get("report.implant_group",
                             {{"site", site_name(context.analysis, implant, context.text)}});
  OFCondition result = group.setTrackingIdentifier(encode(context.shared.source, name).c_str());
  keep_first(result, group.setTrackingUniqueIdentifier(
                         tracking_uid(facts.issuer_of_patient_id, facts.patient_id,
                                      iso_site(context.analysis, implant),
                                      context.shared.from.sop_instance_uid, implant.id)
                             .c_str()));
  keep_first(result, group.setFinding(entry(codes::kImplant)));
  keep_first(result, add_site(group, implant, context));
  keep_first(result,
             group.setMeasurementMethod(DSRCodedEntryValue(entry(codes::kSilhouetteMethod))));
  for (const auto& numbers :
       {implant_numbers(implant, context), comparison_numbers(implant, context)})
    for (const Number& number : numbers)
      keep_first(result, add_number(group, number, context.shared, context.text));
  keep_first(result, add_evaluations(group, implant, context));
  keep_first(result, add_algorithm(group, context));
  return result;
}

OFCondition fill_image_group(Group& group, const GroupContext& context) {
  const Analysis& analysis = context.analysis;
  const QualityMeasures& quality = analysis.quality;
  OFCondition result = group.setTrackingIdentifier(
      encode(context.shared.source, context.text.get("report.image_group")).c_str());
  keep_first(result,
             group.setTrackingUniqueIdentifier(
                 tracking_uid("", "", "", context.shared.from.sop_instance_uid, 0).c_str()));
  std::optional<double> scale, scale_u;
  if (analysis.scale.mm_per_px) {
    scale = analysis.scale.mm_per_px->value;
    scale_u = analysis.scale.mm_per_px->expanded_uncertainty;
  }
  const Number numbers[] = {
      {codes::kScale, codes::kMillimetrePerPixel, scale, 5, scale_u,
       scale_source_text(analysis.scale.source, context.text)},
      {codes::kBlur, codes::kPixels, quality.blur_sigma_px, 2},
      {codes::kNoise, codes::kRatio, quality.noise, 4},
      {codes::kClippedLow, codes::kPercent, 100.0 * quality.clipped_low, 2},
      {codes::kClippedHigh, codes::kPercent, 100.0 * quality.clipped_high, 2}};
  for (const Number& number : numbers)
    keep_first(result, add_number(group, number, context.shared, context.text));
  keep_first(result, add_text(group, codes::kScaleSource,
                              scale_source_text(analysis.scale.source, context.text), context));
  keep_first(result, add_algorithm(group, context));
  return result;
}

}  // namespace crestgate
