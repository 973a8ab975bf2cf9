#include "node/report/identity.h"

#include <dcmtk/dcmdata/dcostrmb.h>

#include <ctime>
#include <optional>

#include "node/report/codes.h"
#include "node/report/text.h"

namespace crestgate {
namespace {

/// Patient, patient study, clinical trial free: C.7.1.1, C.7.2.1, C.7.2.2 as far as they are about
/// identity. Type 2 ones are completed when missing.
const DcmTagKey kCopied[] = {DCM_SpecificCharacterSet,
                             DCM_PatientName,
                             DCM_PatientID,
                             DCM_IssuerOfPatientID,
                             DCM_IssuerOfPatientIDQualifiersSequence,
                             DCM_TypeOfPatientID,
                             DCM_PatientBirthDate,
                             DCM_PatientBirthTime,
                             DCM_PatientSex,
                             DCM_OtherPatientIDsSequence,
                             DCM_OtherPatientNames,
                             DCM_EthnicGroup,
                             DCM_PatientComments,
                             DCM_PatientIdentityRemoved,
                             DCM_DeidentificationMethod,
                             DCM_DeidentificationMethodCodeSequence,
                             DCM_PatientSpeciesDescription,
                             DCM_PatientSpeciesCodeSequence,
                             DCM_ResponsiblePerson,
                             DCM_ResponsiblePersonRole,
                             DCM_ResponsibleOrganization,
                             DCM_StudyInstanceUID,
                             DCM_StudyDate,
                             DCM_StudyTime,
                             DCM_ReferringPhysicianName,
                             DCM_StudyID,
                             DCM_AccessionNumber,
                             DCM_IssuerOfAccessionNumberSequence,
                             DCM_StudyDescription,
                             DCM_PhysiciansOfRecord,
                             DCM_PatientAge,
                             DCM_PatientSize,
                             DCM_PatientWeight,
                             DCM_AdmissionID,
                             DCM_InstitutionName};

const DcmTagKey kTypeTwo[] = {
    DCM_PatientName,    DCM_PatientID, DCM_PatientBirthDate,       DCM_PatientSex,
    DCM_StudyDate,      DCM_StudyTime, DCM_ReferringPhysicianName, DCM_StudyID,
    DCM_AccessionNumber};

void copy_identity(DcmDataset& source, DcmDataset& target) {
  for (const DcmTagKey& key : kCopied) {
    delete target.remove(key);
    DcmElement* element = nullptr;
    if (source.findAndGetElement(key, element).bad() || element == nullptr) continue;
    target.insert(OFstatic_cast(DcmElement*, element->clone()), OFTrue);
  }
  for (const DcmTagKey& key : kTypeTwo) {
    if (!target.tagExists(key)) target.insertEmptyElement(key);
  }
}

std::string get(DcmItem& item, const DcmTagKey& key) {
  OFString value;
  item.findAndGetOFString(key, value);
  return {value.c_str(), value.size()};
}

std::optional<int> offset_minutes(const std::string& offset) {
  if (offset.size() != 5 || (offset[0] != '+' && offset[0] != '-')) return {};
  for (int i = 1; i < 5; ++i) {
    if (offset[i] < '0' || offset[i] > '9') return {};
  }
  const int minutes = std::stoi(offset.substr(1, 2)) * 60 + std::stoi(offset.substr(3, 2));
  return offset[0] == '-' ? -minutes : minutes;
}

void write_private(DcmDataset& target, const UidInputs& inputs) {
  const Uint16 group = 0x0099;
  put(target, DcmTag(group, 0x0010, EVR_LO), kPrivateCreator);
  put(target, DcmTag(group, 0x1001, EVR_UI), inputs.source_sop_instance_uid);
  put(target, DcmTag(group, 0x1002, EVR_LO), inputs.kind);
  put(target, DcmTag(group, 0x1003, EVR_LO), inputs.ruleset_digest);
  put(target, DcmTag(group, 0x1004, EVR_LO), inputs.software_version);
  std::string others;
  for (const std::string& uid : inputs.baseline_and_prior_uids) {
    others += (others.empty() ? "" : "\\") + uid;
  }
  if (!others.empty()) put(target, DcmTag(group, 0x1005, EVR_UI), others);
}

}  // namespace

UidInputs Shared::inputs(const std::string& kind) const {
  UidInputs all{from.sop_instance_uid, kind, ruleset_digest, context.software_version, {}};
  all.baseline_and_prior_uids = context.baseline_uids;
  all.baseline_and_prior_uids.insert(all.baseline_and_prior_uids.end(),
                                     context.prior_report_uids.begin(),
                                     context.prior_report_uids.end());
  return all;
}

std::vector<DcmTagKey> copied_attributes() { return {std::begin(kCopied), std::end(kCopied)}; }

Result<SourceIdentity> source_identity(DcmDataset& source) {
  SourceIdentity from;
  const std::pair<DcmTagKey, std::string*> needed[] = {{DCM_SOPClassUID, &from.sop_class_uid},
                                                       {DCM_SOPInstanceUID, &from.sop_instance_uid},
                                                       {DCM_StudyInstanceUID, &from.study_uid},
                                                       {DCM_SeriesInstanceUID, &from.series_uid}};
  for (const auto& [key, value] : needed) {
    *value = get(source, key);
    if (value->empty()) {
      const DcmTag tag(key);
      return Status::error(Code::invalid_input,
                           std::string("image has no ") + DcmTag(key).getTagName() +
                               ", so no object can refer to it",
                           std::string(tag.toString().c_str()));
    }
  }
  return from;
}

void put(DcmItem& item, const DcmTag& tag, const std::string& value) {
  item.putAndInsertString(tag, value.c_str());
}

void put_code(DcmItem& item, const DcmTagKey& sequence, const CodedConcept& code) {
  DcmItem* entry_item = nullptr;
  if (item.findOrCreateSequenceItem(sequence, entry_item, -2).bad()) return;
  put(*entry_item, DCM_CodeValue, code.value);
  put(*entry_item, DCM_CodingSchemeDesignator, code.scheme);
  put(*entry_item, DCM_CodeMeaning, code.meaning);
}

void put_referenced_series(DcmItem& item, const SourceIdentity& from) {
  DcmItem* series = nullptr;
  DcmItem* image = nullptr;
  if (item.findOrCreateSequenceItem(DCM_ReferencedSeriesSequence, series, -2).bad()) return;
  put(*series, DCM_SeriesInstanceUID, from.series_uid);
  const bool presentation_state = item.tagExists(DCM_GraphicLayerSequence) ||
                                  item.tagExists(DCM_DisplayedAreaSelectionSequence);
  const DcmTagKey list =
      presentation_state ? DCM_ReferencedImageSequence : DCM_ReferencedInstanceSequence;
  if (series->findOrCreateSequenceItem(list, image, -2).bad()) return;
  put(*image, DCM_ReferencedSOPClassUID, from.sop_class_uid);
  put(*image, DCM_ReferencedSOPInstanceUID, from.sop_instance_uid);
}

std::string encode(DcmDataset& source, const std::string& utf8) {
  OFString character_set;
  source.findAndGetOFStringArray(DCM_SpecificCharacterSet, character_set);
  return character_set == "ISO_IR 192" ? utf8 : ascii_fold(utf8);
}

std::pair<std::string, std::string> shift_time(const std::string& date, const std::string& time,
                                               const std::string& from, const std::string& to) {
  const auto from_minutes = offset_minutes(from), to_minutes = offset_minutes(to);
  std::tm civil{};
  const std::string stamp = date + time.substr(0, 6);
  if (!from_minutes || !to_minutes || *from_minutes == *to_minutes) return {date, time};
  if (strptime(stamp.c_str(), "%Y%m%d%H%M%S", &civil) == nullptr) return {date, time};
  const std::time_t shifted = timegm(&civil) + 60 * (*to_minutes - *from_minutes);
  gmtime_r(&shifted, &civil);
  char text[16];
  std::strftime(text, sizeof text, "%Y%m%d%H%M%S", &civil);
  return {std::string(text, 8), std::string(text + 8, 6)};
}

void write_common(DcmDataset& target, const Shared& shared, const ObjectPlan& plan) {
  copy_identity(shared.source, target);
  const ReportContext& context = shared.context;
  // One offset holds for every date and time of a data set (C.12.1.1.8), the copied study date
  // included: the source's when it states one.
  const std::string stated = get(shared.source, DCM_TimezoneOffsetFromUTC);
  const std::string offset = stated.empty() ? context.timezone_offset : stated;
  const auto [date, time] =
      shift_time(context.now_date, context.now_time, context.timezone_offset, offset);
  delete target.remove(DCM_TimezoneOffsetFromUTC);
  if (!offset.empty()) put(target, DCM_TimezoneOffsetFromUTC, offset);

  put(target, DCM_SOPClassUID, plan.sop_class_uid);
  put(target, DCM_SOPInstanceUID, shared.uid(plan.uid_kind));
  put(target, DCM_SeriesInstanceUID, shared.uid("series " + plan.modality));
  put(target, DCM_Modality, plan.modality);
  put(target, DCM_SeriesNumber, std::to_string(plan.series_number));
  put(target, DCM_SeriesDescription, plan.series_description);
  for (const DcmTagKey& key : {DCM_SeriesDate, DCM_ContentDate, DCM_InstanceCreationDate}) {
    put(target, key, date);
  }
  for (const DcmTagKey& key : {DCM_SeriesTime, DCM_ContentTime, DCM_InstanceCreationTime}) {
    put(target, key, time);
  }
  put(target, DCM_Manufacturer, kManufacturer);
  put(target, DCM_ManufacturerModelName, kManufacturer);
  put(target, DCM_SoftwareVersions, context.software_version);
  if (!context.station_name.empty()) {
    put(target, DCM_StationName, context.station_name.substr(0, 16));
  }
  if (!context.device_uid.empty()) {
    put(target, DCM_DeviceUID, context.device_uid);
    put(target, DCM_InstanceCreatorUID, context.device_uid);
  } else {
    delete target.remove(DCM_InstanceCreatorUID);
  }
  write_private(target, shared.inputs(plan.uid_kind));
}

Result<BuiltObject> to_object(DcmDataset& dataset, const ObjectPlan& plan) {
  DcmFileFormat file(&dataset);
  const E_TransferSyntax syntax = EXS_LittleEndianExplicit;
  if (file.validateMetaInfo(syntax).bad()) {
    return Status::error(Code::internal, plan.kind + ": no file header could be built");
  }
  BuiltObject object;
  object.kind = plan.kind;
  object.sop_class_uid = plan.sop_class_uid;
  object.sop_instance_uid = get(dataset, DCM_SOPInstanceUID);
  constexpr std::size_t kHeaderRoom = 65536;
  object.bytes.resize(dataset.calcElementLength(syntax, EET_ExplicitLength) + kHeaderRoom);
  DcmOutputBufferStream stream(object.bytes.data(), static_cast<offile_off_t>(object.bytes.size()));
  file.transferInit();
  const OFCondition written = file.write(stream, syntax, EET_ExplicitLength, nullptr);
  file.transferEnd();
  if (written.bad()) {
    return Status::error(Code::internal, plan.kind + ": " + written.text());
  }
  void* start = nullptr;
  offile_off_t length = 0;
  stream.flushBuffer(start, length);
  object.bytes.resize(static_cast<std::size_t>(length));
  return object;
}

}  // namespace crestgate
