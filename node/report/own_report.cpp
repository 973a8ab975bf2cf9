#include "node/report/own_report.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>

#include "node/report/codes.h"
#include "node/report/own_objects.h"

namespace crestgate {
namespace {

constexpr const char* kTopographicalModifier = "106233006";  // TID 1501 row 7: the tooth
constexpr int kDeepest = 16;

std::string text_of(DcmItem& item, const DcmTagKey& tag) {
  OFString text;
  item.findAndGetOFString(tag, text);
  return text.c_str();
}

std::string code_of(DcmItem& item, const DcmTagKey& sequence) {
  DcmItem* code = nullptr;
  if (item.findAndGetSequenceItem(sequence, code, 0).bad() || code == nullptr) return "";
  return text_of(*code, DCM_CodeValue);
}

void read_content(DcmItem& item, int depth, EarlierReport& report) {
  const std::string name = code_of(item, DCM_ConceptNameCodeSequence);
  const std::string value = code_of(item, DCM_ConceptCodeSequence);
  if (name == kTopographicalModifier)
    if (const std::string site = site_of_tooth(value); !site.empty()) report.sites.push_back(site);
  if (name == codes::kJoint.value && value != codes::kNotAssessable.value) report.part_seen = true;
  if (depth == kDeepest) return;
  DcmSequenceOfItems* children = nullptr;
  if (item.findAndGetSequence(DCM_ContentSequence, children).bad() || children == nullptr) return;
  for (unsigned long i = 0; i < children->card(); ++i)
    read_content(*children->getItem(i), depth + 1, report);
}

}  // namespace

std::optional<EarlierReport> read_own_report(DcmDataset& dataset) {
  if (!is_own_object(dataset) || text_of(dataset, DCM_Modality) != "SR") return {};
  EarlierReport report;
  report.document = {text_of(dataset, DCM_SOPClassUID), text_of(dataset, DCM_SOPInstanceUID),
                     text_of(dataset, DCM_StudyInstanceUID),
                     text_of(dataset, DCM_SeriesInstanceUID)};
  report.patient_id = text_of(dataset, DCM_PatientID);
  report.written = text_of(dataset, DCM_ContentDate) + text_of(dataset, DCM_ContentTime);
  DcmItem *study = nullptr, *series = nullptr, *image = nullptr;
  dataset.findAndGetSequenceItem(DCM_CurrentRequestedProcedureEvidenceSequence, study, 0);
  if (study != nullptr) study->findAndGetSequenceItem(DCM_ReferencedSeriesSequence, series, 0);
  if (series != nullptr) series->findAndGetSequenceItem(DCM_ReferencedSOPSequence, image, 0);
  if (image == nullptr) return {};
  report.image_uid = text_of(*image, DCM_ReferencedSOPInstanceUID);
  read_content(dataset, 0, report);
  return report;
}

}  // namespace crestgate
