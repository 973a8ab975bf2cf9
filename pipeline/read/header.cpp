#include "pipeline/read/header.h"

#include <cmath>
#include <set>

#include "config/rules.h"
#include "pipeline/read/anatomy.h"
#include "pipeline/read/dataset.h"

namespace crestgate {
namespace {

constexpr std::size_t kLongestReason = 1024;

std::string first_text(DcmItem& item, std::initializer_list<DcmTagKey> keys) {
  for (const DcmTagKey& key : keys) {
    const std::string value = text_of(item, key);
    if (!value.empty()) return value;
  }
  return {};
}

std::vector<DcmItem*> items_of(DcmItem& parent, const DcmTagKey& key) {
  std::vector<DcmItem*> items;
  DcmSequenceOfItems* sequence = nullptr;
  if (parent.findAndGetSequence(key, sequence).good() && sequence)
    for (unsigned long i = 0; i < std::min(sequence->card(), 64UL); ++i)
      items.push_back(sequence->getItem(i));
  return items;
}

void add_reason(std::map<std::string, std::string>& texts, const std::string& keyword,
                std::string value) {
  if (value.empty()) return;
  value.resize(std::min(value.size(), kLongestReason));
  std::string& text = texts[keyword];
  if (text.size() > 4 * kLongestReason) return;
  text += (text.empty() ? "" : " | ") + value;
}

// The closed list of config/rules.h, here and in the items of the Request Attributes Sequence.
void collect_reasons(DcmItem& item, std::map<std::string, std::string>& texts) {
  for (const std::string& keyword : intent_attributes()) {
    DcmTag tag;
    if (DcmTag::findTagFromName(keyword.c_str(), tag).bad()) continue;
    if (tag.getEVR() != EVR_SQ) {
      add_reason(texts, keyword, text_of(item, tag));
      continue;
    }
    for (DcmItem* code : items_of(item, tag)) {
      add_reason(texts, keyword, text_of(*code, DCM_CodeMeaning));
      add_reason(texts, keyword, text_of(*code, DCM_CodeValue));
    }
  }
}

void read_anatomy(DcmItem& dataset, Acquisition& out) {
  Jaw region = Jaw::unknown;
  std::set<Jaw> tooth_jaws;
  for (DcmItem* item : items_of(dataset, DCM_AnatomicRegionSequence)) {
    region = jaw_of_region_code(text_of(*item, DCM_CodeValue));
    if (region != Jaw::unknown) break;
  }
  for (DcmItem* item : items_of(dataset, DCM_PrimaryAnatomicStructureSequence)) {
    const std::string tooth = tooth_of_code(text_of(*item, DCM_CodeValue));
    if (tooth.empty()) continue;
    out.teeth.push_back(tooth);
    tooth_jaws.insert(jaw_of_tooth(tooth));
  }
  // Region and teeth that contradict each other leave the jaw unknown: advice must not guess.
  if (region != Jaw::unknown) tooth_jaws.insert(region);
  if (tooth_jaws.size() == 1) out.jaw = *tooth_jaws.begin();
  if (!tooth_jaws.empty()) return;
  out.jaw = jaw_of_text(text_of(dataset, DCM_BodyPartExamined) + " " +
                        text_of(dataset, DCM_SeriesDescription));
}

void read_identity(DcmItem& d, Acquisition& out) {
  out.sop_class_uid = text_of(d, DCM_SOPClassUID);
  out.sop_instance_uid = text_of(d, DCM_SOPInstanceUID);
  out.study_instance_uid = text_of(d, DCM_StudyInstanceUID);
  out.series_instance_uid = text_of(d, DCM_SeriesInstanceUID);
  out.modality = text_of(d, DCM_Modality);
  out.patient_id = text_of(d, DCM_PatientID);
  out.issuer_of_patient_id = text_of(d, DCM_IssuerOfPatientID);
  out.birth_date = text_of(d, DCM_PatientBirthDate);
  out.content_date = first_text(d, {DCM_AcquisitionDate, DCM_ContentDate, DCM_StudyDate});
  out.content_time = first_text(d, {DCM_AcquisitionTime, DCM_ContentTime, DCM_StudyTime});
  out.manufacturer = text_of(d, DCM_Manufacturer);
  out.model = text_of(d, DCM_ManufacturerModelName);
  out.detector_id = text_of(d, DCM_DetectorID);
  out.device_serial = text_of(d, DCM_DeviceSerialNumber);
  out.station_name = text_of(d, DCM_StationName);
  out.operator_name = text_of(d, DCM_OperatorsName);
  out.image_laterality = first_text(d, {DCM_ImageLaterality, DCM_Laterality});
}

void read_geometry(DcmItem& d, Acquisition& out) {
  const std::string orientation = text_of(d, DCM_PatientOrientation);
  const std::size_t split = orientation.find('\\');
  out.patient_orientation_row = trimmed(orientation.substr(0, split));
  if (split != std::string::npos)
    out.patient_orientation_column = trimmed(orientation.substr(split + 1));
  const std::string flip = text_of(d, DCM_FieldOfViewHorizontalFlip);
  if (flip == "YES") out.horizontal_flip = true;
  if (flip == "NO") out.horizontal_flip = false;
  out.mirrored_possible = !(out.horizontal_flip && !*out.horizontal_flip);
  out.fov_rotation_deg = number_of(d, DCM_FieldOfViewRotation);
  out.spacing = read_spacing(d);
  const auto positive = [&d](const DcmTagKey& key) {
    std::optional<double> value = number_of(d, key);
    if (value && *value <= 0) value.reset();  // 0 stands for 'not known' in the field
    return value;
  };
  out.source_to_detector_mm = positive(DCM_DistanceSourceToDetector);
  out.source_to_patient_mm = positive(DCM_DistanceSourceToPatient);
  out.magnification = positive(DCM_EstimatedRadiographicMagnificationFactor);
  out.kvp = positive(DCM_KVP);
  out.exposure_uas = positive(DCM_ExposureInuAs);
}

void read_processing(DcmItem& d, Acquisition& out) {
  const std::pair<const char*, DcmTagKey> facts[] = {
      {"SoftwareVersions", DCM_SoftwareVersions},
      {"AcquisitionDeviceProcessingDescription", DCM_AcquisitionDeviceProcessingDescription},
      {"AcquisitionDeviceProcessingCode", DCM_AcquisitionDeviceProcessingCode},
      {"ProcessingFunction", DCM_ProcessingFunction},
      {"PixelIntensityRelationship", DCM_PixelIntensityRelationship},
      {"PresentationIntentType", DCM_PresentationIntentType}};
  for (const auto& [keyword, tag] : facts)
    if (const std::string value = text_of(d, tag); !value.empty())
      out.processing_facts[keyword] = value.substr(0, kLongestReason);
}

struct Pair {
  double row = 0, column = 0;
};

std::optional<Pair> spacing_pair(DcmItem& dataset, const DcmTagKey& key) {
  const std::vector<double> v = numbers_of(dataset, key);
  const auto plausible = [](double mm) { return mm >= 0.001 && mm <= 1.0; };
  if (v.size() != 2 || !plausible(v[0]) || !plausible(v[1])) return {};
  return Pair{v[0], v[1]};
}

bool same(const Pair& a, const Pair& b) {
  return std::abs(a.row / b.row - 1) < 1e-3 && std::abs(a.column / b.column - 1) < 1e-3;
}

Spacing spacing(const Pair& pair, const char* source) { return {pair.row, pair.column, source}; }

}  // namespace

Spacing read_spacing(DcmItem& dataset) {
  const auto imager = spacing_pair(dataset, DCM_ImagerPixelSpacing);
  const auto pixel = spacing_pair(dataset, DCM_PixelSpacing);
  const auto scanned = spacing_pair(dataset, DCM_NominalScannedPixelSpacing);
  const auto plane = imager ? imager : scanned;
  const char* plane_name = imager ? "imager" : "nominal-scanned";
  const std::string type = text_of(dataset, DCM_PixelSpacingCalibrationType);
  if (!pixel) return plane ? spacing(*plane, plane_name) : Spacing{};
  // Equal values mean 'not calibrated' (PS3.3 10.7.1.1), whatever the type says.
  if (plane && same(*pixel, *plane)) return spacing(*plane, plane_name);
  // A corrected spacing belongs to a plane nearer the source, so it is smaller than the detector's;
  // half of it would put the object half-way to the tube.
  if (plane && (pixel->row > plane->row * 1.001 || pixel->row < plane->row * 0.5))
    return spacing(*plane, "conflict");
  if (type == "GEOMETRY") return spacing(*pixel, "pixel-geometry");
  if (type == "FIDUCIAL") return spacing(*pixel, "pixel-fiducial");
  return spacing(*pixel, "pixel");
}

Acquisition read_acquisition(DcmItem& dataset) {
  Acquisition out;
  read_identity(dataset, out);
  read_anatomy(dataset, out);
  read_geometry(dataset, out);
  out.for_presentation = text_of(dataset, DCM_PresentationIntentType) != "FOR PROCESSING";
  read_processing(dataset, out);
  out.burned_in_annotation = text_of(dataset, DCM_BurnedInAnnotation) == "YES";
  collect_reasons(dataset, out.reason_texts);
  for (DcmItem* request : items_of(dataset, DCM_RequestAttributesSequence))
    collect_reasons(*request, out.reason_texts);
  return out;
}

}  // namespace crestgate
