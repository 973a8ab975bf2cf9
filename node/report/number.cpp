#include "node/report/number.h"

#include "node/report/coordinates.h"
#include "node/report/text.h"

namespace crestgate {
namespace {

using Measurement = CMR_TID300_in_TID1501_in_TID1500;

/// TID 310 row 4: was a change resolved?
OFCondition add_significance(Measurement& number, const CodedConcept& level) {
  OFCondition result = EC_Normal;
  if (number.gotoRoot() == 0) return SR_EC_InvalidDocumentTree;
  keep_first(result, number.addExtraContentItem(DSRTypes::RT_hasProperties, DSRTypes::VT_Code,
                                                DSRTypes::AM_belowCurrent));
  DSRContentItem& item = number.getCurrentContentItem();
  keep_first(result, item.setConceptName(entry(codes::kLevelOfSignificance)));
  keep_first(result, item.setCodeValue(entry(level)));
  keep_first(result, item.setAnnotationText("TID 310 - Row 4"));
  return result;
}

/// TID 310 row 5 below the current NUM, with what the range means as its Derivation.
OFCondition add_uncertainty(Measurement& number, const Number& what) {
  OFCondition result = EC_Normal;
  if (number.gotoRoot() == 0) return SR_EC_InvalidDocumentTree;
  keep_first(result, number.addExtraContentItem(DSRTypes::RT_hasProperties, DSRTypes::VT_Num,
                                                DSRTypes::AM_belowCurrent));
  DSRContentItem& range = number.getCurrentContentItem();
  keep_first(result, range.setConceptName(entry(codes::kUncertainty)));
  keep_first(result, range.setNumericValue(DSRNumericMeasurementValue(
                         fixed_up(*what.expanded_uncertainty, what.decimals + 1).c_str(),
                         entry(what.unit))));
  keep_first(result, range.setAnnotationText("TID 310 - Row 5"));
  keep_first(result, number.addExtraContentItem(DSRTypes::RT_hasConceptMod, DSRTypes::VT_Code,
                                                DSRTypes::AM_belowCurrent));
  DSRContentItem& derivation = number.getCurrentContentItem();
  keep_first(result, derivation.setConceptName(entry(codes::kDerivation)));
  keep_first(result, derivation.setCodeValue(entry(codes::kExpandedTwo)));
  return result;
}

/// A unit as a reader writes it: UCUM's annotations in braces are for machines.
std::string unit_text(const std::string& ucum) {
  if (ucum == "deg") return "°";
  if (ucum == "mm/{pixel}") return " mm/px";
  if (ucum == "{pixels}") return " px";
  return ucum.front() == '{' ? "" : " " + ucum;
}

/// Uncertainty and basis once more in words: renderings move the coded ones to an annex.
std::string value_comment(const Number& what, const Language& text) {
  std::string words;
  if (what.expanded_uncertainty) {
    words =
        text.get("report.uncertainty", {{"u", fixed_up(*what.expanded_uncertainty, what.decimals)},
                                        {"unit", unit_text(what.unit.value)}});
  }
  if (!what.basis.empty()) words += (words.empty() ? "" : ", ") + what.basis;
  return words;
}

OFCondition add_comment(Measurement& number, const std::string& comment) {
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
OFCondition add_place(Measurement& number, const Number& what, const Shared& shared) {
  const bool line = what.where_px.size() > 1;
  DSRSpatialCoordinatesValue place(line ? DSRTypes::GT_Polyline : DSRTypes::GT_Point);
  for (const Point& pixel : what.where_px) {
    const Point at = to_dicom_graphic(pixel);
    place.getGraphicDataList().addItem(OFstatic_cast(Float32, at.x), OFstatic_cast(Float32, at.y));
  }
  const DSRImageReferenceValue image(shared.from.sop_class_uid.c_str(),
                                     shared.from.sop_instance_uid.c_str());
  return number.addSpatialCoordinates(entry(codes::kSourceOfMeasurement), place, image);
}

}  // namespace

OFCondition add_number(CMR_TID1501_in_TID1500& group, const Number& what, const Shared& shared,
                       const Language& text) {
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
  if (what.value && what.significance != nullptr)
    keep_first(result, add_significance(number, *what.significance));
  if (what.value && what.expanded_uncertainty) keep_first(result, add_uncertainty(number, what));
  const std::string comment = what.value ? value_comment(what, text) : text.get(what.why_not);
  // One by one: a renderer moves long texts to an annex, and the uncertainty is to be read here.
  keep_first(result, add_comment(number, encode(shared.source, comment)));
  keep_first(result, add_comment(number, encode(shared.source, what.remark)));
  if (what.value && !what.where_px.empty()) keep_first(result, add_place(number, what, shared));
  if (what.baseline) {
    // The purpose 'Baseline' is of CID 7003.
    const DSRImageReferenceValue image(what.baseline->sop_class_uid.c_str(),
                                       what.baseline->sop_instance_uid.c_str());
    keep_first(result, number.addImage(entry(codes::kBaseline), image));
  }
  // Last, since DCMTK finds its place (row 2) itself and puts later items behind it.
  if (what.side != nullptr) {
    keep_first(result, number.addModifier(DSRCodedEntryValue(entry(codes::kSideOfImplant)),
                                          DSRCodedEntryValue(entry(*what.side))));
  }
  return result;
}

}  // namespace crestgate
