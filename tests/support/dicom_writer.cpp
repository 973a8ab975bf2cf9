#include "tests/support/dicom_writer.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <uuid/uuid.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <stdexcept>
#include <tuple>
#include <vector>

#include "config/units.h"
#include "tests/support/dental_codes.h"

namespace crestgate::phantom {
namespace {

/// Puts values into a dataset; the first failure throws and names the tag.
class Put {
 public:
  explicit Put(DcmItem* item) : item_(item) {}
  void text(const DcmTagKey& tag, const std::string& value) {
    require(item_->putAndInsertString(tag, value.c_str()), tag);
  }
  void u16(const DcmTagKey& tag, unsigned value) {
    require(item_->putAndInsertUint16(tag, static_cast<Uint16>(value)), tag);
  }
  void real(const DcmTagKey& tag, double value) { text(tag, number(value)); }
  void code(const DcmTagKey& sequence, const Code3& c) {
    DcmItem* item = nullptr;
    require(item_->findOrCreateSequenceItem(sequence, item, -2), sequence);
    Put inner(item);
    inner.text(DCM_CodeValue, c.value);
    inner.text(DCM_CodingSchemeDesignator, "SCT");
    inner.text(DCM_CodeMeaning, c.meaning);
  }
  void require(const OFCondition& result, const DcmTagKey& tag) const {
    if (result.bad()) {
      throw std::runtime_error(std::string(tag.toString().c_str()) + ": " + result.text());
    }
  }
  static std::string number(double value) {
    char buffer[32];
    std::snprintf(buffer, sizeof buffer, "%.8g", value);
    return buffer;
  }

 private:
  DcmItem* item_;
};

/// "2.25." + decimal UUIDv5 (PS3.5 B.2), so equal scenes get equal UIDs.
std::string uid_of(const std::string& name) {
  uuid_t space, id;
  uuid_parse("6ba7b812-9dad-11d1-80b4-00c04fd430c8", space);  // RFC 4122 appendix C, OID names
  uuid_generate_sha1(id, space, name.data(), name.size());
  std::string decimal;
  unsigned char digits[16];
  std::copy(id, id + 16, digits);
  bool more = true;
  while (more) {  // long division by ten
    unsigned rest = 0;
    more = false;
    for (unsigned char& d : digits) {
      const unsigned v = rest * 256 + d;
      d = static_cast<unsigned char>(v / 10);
      rest = v % 10;
      more |= d != 0;
    }
    decimal.insert(decimal.begin(), static_cast<char>('0' + rest));
  }
  return "2.25." + decimal;
}

const char* class_uid(ObjectClass c) {
  switch (c) {
    case ObjectClass::intraoral_presentation:
      return UID_DigitalIntraOralXRayImageStorageForPresentation;
    case ObjectClass::intraoral_processing:
      return UID_DigitalIntraOralXRayImageStorageForProcessing;
    case ObjectClass::digital_xray:
      return UID_DigitalXRayImageStorageForPresentation;
    case ObjectClass::computed_radiography:
      return UID_ComputedRadiographyImageStorage;
    case ObjectClass::secondary_capture:
      return UID_SecondaryCaptureImageStorage;
  }
  return "";
}

bool is_dx_family(ObjectClass c) {
  return c == ObjectClass::intraoral_presentation || c == ObjectClass::intraoral_processing ||
         c == ObjectClass::digital_xray;
}

void put_patient_and_study(const Scene& scene, DcmDataset* data) {
  const Identity& id = scene.identity;
  Put put(data);
  put.text(DCM_SpecificCharacterSet, "ISO_IR 192");
  put.text(DCM_PatientName, id.patient_name);
  put.text(DCM_PatientID, id.patient_id);
  if (!id.issuer_of_patient_id.empty()) put.text(DCM_IssuerOfPatientID, id.issuer_of_patient_id);
  put.text(DCM_PatientBirthDate, id.birth_date);
  put.text(DCM_PatientSex, id.sex);
  const std::string study = id.patient_id + "|" + id.study_id + "|" + id.date;
  put.text(DCM_StudyInstanceUID, id.study_uid.empty() ? uid_of("study|" + study) : id.study_uid);
  put.text(DCM_SeriesInstanceUID, id.series_uid.empty()
                                      ? uid_of("series|" + study + "|" + id.station_name)
                                      : id.series_uid);
  put.text(DCM_SOPInstanceUID, id.sop_uid.empty()
                                   ? uid_of("image|" + study + "|" + id.time + "|" + scene.name +
                                            "|" + std::to_string(scene.detector.seed) + "|" +
                                            std::to_string(id.instance_number))
                                   : id.sop_uid);
  put.text(DCM_SOPClassUID, class_uid(id.object_class));
  put.text(DCM_StudyDate, id.date);
  put.text(DCM_StudyTime, id.time);
  put.text(DCM_StudyID, id.study_id);
  put.text(DCM_AccessionNumber, id.accession_number);
  put.text(DCM_ReferringPhysicianName, "");
  if (!id.study_description.empty()) put.text(DCM_StudyDescription, id.study_description);
  put.text(DCM_SeriesNumber, "1");
  if (!id.series_description.empty()) put.text(DCM_SeriesDescription, id.series_description);
  if (!id.operator_name.empty()) put.text(DCM_OperatorsName, id.operator_name);
  if (id.requested_procedure.empty() && id.reason_for_procedure.empty()) return;
  DcmItem* request = nullptr;
  put.require(data->findOrCreateSequenceItem(DCM_RequestAttributesSequence, request, -2),
              DCM_RequestAttributesSequence);
  Put inner(request);
  inner.text(DCM_RequestedProcedureID, "1");
  inner.text(DCM_ScheduledProcedureStepID, "1");
  if (!id.requested_procedure.empty()) {
    inner.text(DCM_RequestedProcedureDescription, id.requested_procedure);
  }
  if (!id.reason_for_procedure.empty()) {
    inner.text(DCM_ReasonForTheRequestedProcedure, id.reason_for_procedure);
  }
}

// Row and column direction as patient axes, for a picture taken from the cheek.
std::string patient_orientation(const Scene& scene) {
  const Identity& id = scene.identity;
  const bool maxilla = id.jaw == "maxilla", left = id.laterality != "R";
  const double a = radians(scene.beam.in_plane_turn_deg);
  // Coronal direction and the direction that is right when the crown is up; image x right, y down.
  double cx = std::sin(a), cy = -std::cos(a), px = std::cos(a), py = std::sin(a);
  if (scene.readout.mirrored) cx = -cx, px = -px;
  for (int i = 0; i < ((scene.readout.quarter_turns % 4) + 4) % 4; ++i) {
    std::tie(cx, cy) = std::pair(-cy, cx);
    std::tie(px, py) = std::pair(-py, px);
  }
  const auto letter = [&](double along_crown, double along_right) -> std::string {
    if (std::abs(along_crown) > std::abs(along_right)) {
      return (along_crown > 0) == maxilla ? "F" : "H";
    }
    return ((along_right > 0) == left) == maxilla ? "A" : "P";
  };
  return letter(cx, px) + "\\" + letter(cy, py);
}

void put_equipment_and_image(const Scene& scene, const Rendered& r, DcmDataset* data) {
  const Identity& id = scene.identity;
  Put put(data);
  const bool secondary = id.object_class == ObjectClass::secondary_capture;
  put.text(DCM_Modality, id.object_class == ObjectClass::digital_xray           ? "DX"
                         : id.object_class == ObjectClass::computed_radiography ? "CR"
                                                                                : "IO");
  if (secondary) put.text(DCM_ConversionType, "DI");
  put.text(DCM_Manufacturer, id.manufacturer);
  put.text(DCM_ManufacturerModelName, id.model);
  put.text(DCM_DeviceSerialNumber, id.serial);
  put.text(DCM_SoftwareVersions, "phantom 1");
  put.text(DCM_StationName, id.station_name);
  put.text(DCM_InstitutionName, id.issuer_of_patient_id);
  put.text(DCM_InstanceNumber, std::to_string(id.instance_number));
  put.text(DCM_ContentDate, id.date);
  put.text(DCM_ContentTime, id.time);
  put.text(DCM_AcquisitionDate, id.date);
  put.text(DCM_AcquisitionTime, id.time);
  put.text(DCM_ImageType, secondary ? "DERIVED\\PRIMARY" : "ORIGINAL\\PRIMARY");
  put.text(DCM_BurnedInAnnotation,
           scene.readout.text.empty() && !scene.readout.ruler ? "NO" : "YES");
  put.text(DCM_LossyImageCompression, "00");
  put.text(DCM_ImageLaterality, id.laterality);
  put.text(DCM_PatientOrientation, patient_orientation(scene));
  if (id.object_class == ObjectClass::computed_radiography) {
    put.text(DCM_BodyPartExamined, "JAW");
    put.text(DCM_ViewPosition, "");
  }
  put.u16(DCM_SamplesPerPixel, r.rgb ? 3 : 1);
  put.text(DCM_PhotometricInterpretation, r.rgb           ? "RGB"
                                          : r.monochrome1 ? "MONOCHROME1"
                                                          : "MONOCHROME2");
  if (r.rgb) put.u16(DCM_PlanarConfiguration, 0);
  put.u16(DCM_Rows, static_cast<unsigned>(r.rows));
  put.u16(DCM_Columns, static_cast<unsigned>(r.columns));
  put.u16(DCM_BitsAllocated, r.bits > 8 ? 16 : 8);
  put.u16(DCM_BitsStored, static_cast<unsigned>(r.bits));
  put.u16(DCM_HighBit, static_cast<unsigned>(r.bits - 1));
  put.u16(DCM_PixelRepresentation, 0);
  if (!secondary) {
    put.real(DCM_KVP, scene.exposure.tube_kv);
    if (id.state_distances) {
      const Beam& b = scene.beam;
      const double sid = b.source_to_site_mm + b.site_to_detector_mm;
      put.real(DCM_DistanceSourceToDetector, sid);
      put.real(DCM_DistanceSourceToPatient, b.source_to_site_mm);
      if (is_dx_family(id.object_class)) {
        put.real(DCM_EstimatedRadiographicMagnificationFactor, sid / b.source_to_site_mm);
      }
    }
  }
  const std::string spacing =
      Put::number(scene.detector.pixel_mm) + "\\" + Put::number(scene.detector.pixel_mm);
  if (secondary) {
    if (id.state_spacing) put.text(DCM_NominalScannedPixelSpacing, spacing);
  } else if (id.state_spacing || is_dx_family(id.object_class)) {
    put.text(DCM_ImagerPixelSpacing, spacing);
  }
}

// Modules of the DX family: PS3.3 C.8.11.2 to C.8.11.4, C.8.11.9; anatomy also helps CR and SC.
void put_dx(const Scene& scene, const Rendered& r, DcmDataset* data) {
  const Identity& id = scene.identity;
  Put put(data);
  const bool presentation = id.object_class != ObjectClass::intraoral_processing;
  put.text(DCM_PresentationIntentType, presentation ? "FOR PRESENTATION" : "FOR PROCESSING");
  // Enumerated LIN or LOG; processed pictures usually say LOG all the same.
  const bool linear = scene.processing.tone == ToneKind::linear;
  put.text(DCM_PixelIntensityRelationship, linear && id.state_tone ? "LIN" : "LOG");
  put.require(data->putAndInsertSint16(DCM_PixelIntensityRelationshipSign, r.monochrome1 ? 1 : -1),
              DCM_PixelIntensityRelationshipSign);
  put.text(DCM_RescaleIntercept, "0");
  put.text(DCM_RescaleSlope, "1");
  put.text(DCM_RescaleType, "US");
  put.text(DCM_PresentationLUTShape, r.monochrome1 ? "INVERSE" : "IDENTITY");
  if (presentation) {
    const double full = std::ldexp(1.0, r.bits);
    put.real(DCM_WindowCenter, full / 2);
    put.real(DCM_WindowWidth, full);
  }
  put.text(DCM_PositionerType, "NONE");
  put.text(DCM_DetectorType, "SCINTILLATOR");
  if (!id.detector_id.empty()) put.text(DCM_DetectorID, id.detector_id);
  if (id.state_flip) {
    put.text(DCM_FieldOfViewOrigin, "0\\0");
    put.text(DCM_FieldOfViewRotation,
             std::to_string(90 * (((scene.readout.quarter_turns % 4) + 4) % 4)));
    put.text(DCM_FieldOfViewHorizontalFlip, scene.readout.mirrored ? "YES" : "NO");
  }
  put.require(data->insertEmptyElement(DCM_AcquisitionContextSequence),
              DCM_AcquisitionContextSequence);
}

void put_anatomy(const Identity& id, DcmDataset* data) {
  Put put(data);
  put.code(DCM_AnatomicRegionSequence, jaw_code(id.jaw));
  const Code3 tooth = tooth_code(id.tooth);
  if (!id.tooth.empty() && tooth.value.empty()) {
    throw std::runtime_error("identity.tooth: not an ISO 3950 designation: " + id.tooth);
  }
  put.code(DCM_PrimaryAnatomicStructureSequence,
           tooth.value.empty() ? Code3{"38199008", "Tooth structure"} : tooth);
}

void put_pixels(const Rendered& r, DcmDataset* data) {
  OFCondition result;
  if (r.bits > 8) {
    result = data->putAndInsertUint16Array(DCM_PixelData, r.stored.data(), r.stored.size());
  } else {
    std::vector<Uint8> bytes;
    for (const std::uint16_t v : r.stored) {
      bytes.insert(bytes.end(), r.rgb ? 3 : 1, static_cast<Uint8>(v));
    }
    if (bytes.size() % 2 != 0) bytes.push_back(0);
    result = data->putAndInsertUint8Array(DCM_PixelData, bytes.data(), bytes.size());
  }
  Put(data).require(result, DCM_PixelData);
}
}  // namespace

void write_dicom(const Rendered& rendered, const Scene& scene, const std::string& path) {
  if (rendered.rgb && scene.identity.object_class != ObjectClass::secondary_capture) {
    throw std::runtime_error(path + ": RGB needs identity.object_class secondary_capture");
  }
  DcmFileFormat file;
  DcmDataset* data = file.getDataset();
  try {
    put_patient_and_study(scene, data);
    put_equipment_and_image(scene, rendered, data);
    if (is_dx_family(scene.identity.object_class)) put_dx(scene, rendered, data);
    put_anatomy(scene.identity, data);
    put_pixels(rendered, data);
  } catch (const std::runtime_error& e) {
    throw std::runtime_error(path + ": " + e.what());
  }
  const OFCondition saved = file.saveFile(path.c_str(), EXS_LittleEndianExplicit);
  if (saved.bad()) throw std::runtime_error(path + ": " + saved.text());
}

void write_truth(const Rendered& rendered, const std::string& path) {
  std::ofstream out(path);
  out << truth_json(rendered.truth).dump(2) << "\n";
  if (!out) throw std::runtime_error(path + ": cannot be written");
}

}  // namespace crestgate::phantom
