#include "node/report/measurement_group.h"

#include <dcmtk/dcmsr/cmr/tid4019.h>

#include <optional>

#include "node/report/codes.h"
#include "node/report/coordinates.h"
#include "node/report/sides.h"
#include "node/report/uid.h"
#include "node/report/wording.h"

namespace crestgate {
namespace {

using Group = CMR_TID1501_in_TID1500;

/// One NUM of a group. Without a value it is written as 'measurement failure' (looked for and not
/// found) or 'measurement not attempted' (CID 42), with the reason as comment.
struct Number {
  const CodedConcept& name;
  const CodedConcept& unit;
  std::optional<double> value;
  int decimals = 2;
  std::optional<double> expanded_uncertainty = {};
  std::string why_not = {};
  std::vector<Point> where_px = {};    ///< one point or the ends of a line, JSON pixel coordinates
  std::string basis = {};              ///< what the value was read from, e.g. "threads"
  const CodedConcept* side = nullptr;  ///< mesial or distal, where told
};

void keep_first(OFCondition& result, const OFCondition& next) {
  if (result.good()) result = next;
}

/// TID 310 row 5 below the current NUM, with what the range means as its Derivation.
OFCondition add_uncertainty(CMR_TID300_in_TID1501_in_TID1500& number, const Number& what) {
  OFCondition result = EC_Normal;
  if (number.gotoRoot() == 0) return SR_EC_InvalidDocumentTree;
  keep_first(result, number.addExtraContentItem(DSRTypes::RT_hasProperties, DSRTypes::VT_Num,
                                                DSRTypes::AM_belowCurrent));
  DSRContentItem& range = number.getCurrentContentItem();
  keep_first(result, range.setConceptName(entry(codes::kUncertainty)));
  keep_first(result,
             range.setNumericValue(DSRNumericMeasurementValue(
                 fixed(*what.expanded_uncertainty, what.decimals + 1).c_str(), entry(what.unit))));
  keep_first(result, range.setAnnotationText("TID 310 - Row 5"));
  keep_first(result, number.addExtraContentItem(DSRTypes::RT_hasConceptMod, DSRTypes::VT_Code,
                                                DSRTypes::AM_belowCurrent));
  DSRContentItem& derivation = number.getCurrentContentItem();
  keep_first(result, derivation.setConceptName(entry(codes::kDerivation)));
  keep_first(result, derivation.setCodeValue(entry(codes::kExpandedTwo)));
  return result;
}

/// Uncertainty and basis once more in words: renderings move the coded ones to an annex.
std::string value_comment(const Number& what) {
  std::string words;
  if (what.expanded_uncertainty) {
    words = "+/- " + fixed(*what.expanded_uncertainty, what.decimals) + " " + what.unit.value +
            " (k = 2)";
  }
  if (!what.basis.empty()) words += (words.empty() ? "from " : ", from ") + what.basis;
  return words;
}

OFCondition add_comment(CMR_TID300_in_TID1501_in_TID1500& number, const std::string& comment) {
  if (comment.empty()) return EC_Normal;
  OFCondition result = EC_Normal;
  if (number.gotoRoot() == 0) return SR_EC_InvalidDocumentTree;
  keep_first(result, number.addExtraContentItem(DSRTypes::RT_hasProperties, DSRTypes::VT_Text,
                                                DSRTypes::AM_belowCurrent));
  DSRContentItem& item = number.getCurrentContentItem();
  keep_first(result, item.setConceptName(entry(codes::kComment)));
  keep_first(result, item.setStringValue(comment.c_str()));
  return result;
}

/// TID 320: where in the source image the number was taken.
OFCondition add_place(CMR_TID300_in_TID1501_in_TID1500& number, const Number& what,
                      const GroupContext& context) {
  const bool line = what.where_px.size() > 1;
  DSRSpatialCoordinatesValue place(line ? DSRTypes::GT_Polyline : DSRTypes::GT_Point);
  for (const Point& pixel : what.where_px) {
    const Point at = to_dicom_graphic(pixel);
    place.getGraphicDataList().addItem(OFstatic_cast(Float32, at.x), OFstatic_cast(Float32, at.y));
  }
  const DSRImageReferenceValue image(context.shared.from.sop_class_uid.c_str(),
                                     context.shared.from.sop_instance_uid.c_str());
  return number.addSpatialCoordinates(entry(codes::kSourceOfMeasurement), place, image);
}

OFCondition add_number(Group& group, const Number& what, const GroupContext& context) {
  OFCondition result = EC_Normal;
  CMR_SRNumericMeasurementValue value;
  if (what.value) {
    keep_first(result, value.setValue(fixed(*what.value, what.decimals).c_str(), entry(what.unit)));
  } else {
    keep_first(result,
               value.setValue(CID42_NumericValueQualifier(
                   what.why_not.empty() ? CID42_NumericValueQualifier::MeasurementNotAttempted
                                        : CID42_NumericValueQualifier::MeasurementFailure)));
  }
  keep_first(result, group.addMeasurement(DSRCodedEntryValue(entry(what.name)), value));
  auto& number = group.getMeasurement();
  // Properties (row 8) before what it is inferred from (TID 300, order significant).
  if (what.value && what.expanded_uncertainty) keep_first(result, add_uncertainty(number, what));
  const std::string comment = what.value ? value_comment(what) : what.why_not;
  keep_first(result, add_comment(number, encode(context.shared.source, comment)));
  if (what.value && !what.where_px.empty()) keep_first(result, add_place(number, what, context));
  // Last, since DCMTK finds its place (row 2) itself and puts later items behind it.
  if (what.side != nullptr) {
    keep_first(result, number.addModifier(DSRCodedEntryValue(entry(codes::kSideOfImplant)),
                                          DSRCodedEntryValue(entry(*what.side))));
  }
  return result;
}

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
                     codes::kDegree, angle, 1, angle_u, no_angle, axis, projection.basis});
  numbers.push_back({codes::kThreadPitch, codes::kPixels, projection.thread_pitch_px, 2});
  numbers.push_back({codes::kOuterDiameter, codes::kPixels, projection.outer_diameter_px, 1});
  numbers.push_back({codes::kFlankLeft, codes::kRatio, projection.flank_edge_ratio.left, 2});
  numbers.push_back({codes::kFlankRight, codes::kRatio, projection.flank_edge_ratio.right, 2});
  const std::vector<Point> platform = {implant.shape.platform_px()};
  if (joint.state == JointState::gap_visible) {
    numbers.push_back({codes::kGap, codes::kMillimetre, joint.gap_mm, 3,
                       joint.gap_expanded_uncertainty_mm, joint.reason, platform});
    numbers.push_back({codes::kGapLeft, codes::kMillimetre, joint.gap_side_mm.left, 3});
    numbers.push_back({codes::kGapRight, codes::kMillimetre, joint.gap_side_mm.right, 3});
  }
  numbers.push_back({codes::kSmallestGap,
                     codes::kMillimetre,
                     joint.smallest_visible_gap_mm,
                     3,
                     {},
                     joint.reason});
  const std::optional<Quantity>& scale = context.analysis.scale.mm_per_px;
  const std::optional<bool> mesial_left = mesial_is_left(context.analysis, implant);
  auto crest = [&](const CodedConcept& name, const CrestLevel& level, double u_px, bool is_left) {
    Number number{name, codes::kMillimetre, level.level_mm, 2, level.expanded_uncertainty_mm, {}};
    if (mesial_left) number.side = *mesial_left == is_left ? &codes::kMesial : &codes::kDistal;
    if (!level.level_mm) number.why_not = level.state;
    if (level.level_mm && scale) {
      number.where_px = {implant.shape.axis.to_image(u_px, *level.level_mm / scale->value)};
    }
    numbers.push_back(number);
  };
  // u > 0 is image right when the crown is up; the crest's left/right are image sides.
  const bool plus_is_right =
      implant.shape.axis.right().x > 0 ||
      (implant.shape.axis.right().x == 0 && implant.shape.axis.right().y > 0);
  const double right_u = plus_is_right ? implant.shape.radius_px : -implant.shape.radius_px;
  crest(codes::kCrestLeft, implant.crest.left, -right_u, true);
  crest(codes::kCrestRight, implant.crest.right, right_u, false);
  numbers.push_back({codes::kDetection, codes::kRatio, implant.shape.confidence, 2});
  return numbers;
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
  for (const Finding& finding : context.analysis.findings) {
    if (finding.implant != implant.id) continue;
    keep_first(result,
               group.addQualitativeEvaluation(entry(codes::kFinding), finding_code(finding.kind)));
    keep_first(result,
               group.addQualitativeEvaluation(
                   entry(codes::kComment),
                   OFString(encode(context.shared.source,
                                   sentence(finding.text.empty() ? finding.kind : finding.text))
                                .c_str())));
  }
  for (const Reason& reason : context.analysis.reasons) {
    if (reason.implant != implant.id) continue;
    keep_first(
        result,
        group.addQualitativeEvaluation(
            entry(codes::kReason),
            OFString(encode(context.shared.source, reason_text(reason, context.text)).c_str())));
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
  return entry(codes::kOtherFinding);
}

std::string reason_text(const Reason& reason, const TextTable& text) {
  return text.get("report.reason", {{"rule", reason.rule}, {"text", reason.text}});
}

OFCondition fill_implant_group(Group& group, const Implant& implant, const GroupContext& context) {
  const Acquisition& facts = context.analysis.acquisition;
  const std::string name =
      implant.possible_only ? context.text.get("mark.possible") + " " + std::to_string(implant.id)
                            : context.text.get("report.implant_group",
                                               {{"site", site_name(context.analysis, implant)}});
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
  for (const Number& number : implant_numbers(implant, context)) {
    keep_first(result, add_number(group, number, context));
  }
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
       spacing_text(analysis.scale.source, context.text)},
      {codes::kBlur, codes::kPixels, quality.blur_sigma_px, 2},
      {codes::kNoise, codes::kRatio, quality.noise, 4},
      {codes::kClippedLow, codes::kPercent, 100.0 * quality.clipped_low, 2},
      {codes::kClippedHigh, codes::kPercent, 100.0 * quality.clipped_high, 2}};
  for (const Number& number : numbers) keep_first(result, add_number(group, number, context));
  keep_first(
      result,
      group.addQualitativeEvaluation(
          entry(codes::kScaleSource),
          OFString(encode(context.shared.source, spacing_text(analysis.scale.source, context.text))
                       .c_str())));
  keep_first(result, add_algorithm(group, context));
  return result;
}

}  // namespace crestgate
