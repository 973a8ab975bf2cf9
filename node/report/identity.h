// Whose image it was, which study it belongs to, who wrote the object and what it refers to: the
// modules all our objects share (PS3.3 C.7.1, C.7.2, C.7.3, C.7.5, C.12.1). Patient and study
// attributes are copied as stored, byte for byte, with their character set; missing type 2
// attributes are written empty, never invented.
#pragma once
#include <dcmtk/config/osconfig.h>

#include <dcmtk/dcmdata/dctk.h>

#include <string>
#include <vector>

#include "config/status.h"
#include "node/report/build.h"
#include "node/report/codes.h"
#include "node/report/uid.h"

namespace crestgate {

inline constexpr const char* kManufacturer = "crestgate";
inline constexpr const char* kPrivateCreator = "CRESTGATE 1";

/// The image the objects speak of.
struct SourceIdentity {
  std::string sop_class_uid, sop_instance_uid, study_uid, series_uid;
};

/// Error invalid_input naming the tag if one of the four UIDs is missing.
Result<SourceIdentity> source_identity(DcmDataset& source);

/// What one of our objects is: decides its series, its UIDs and its equipment entries.
struct ObjectPlan {
  std::string kind;      ///< BuiltObject::kind
  std::string uid_kind;  ///< kind as it enters the UID, tells two notes apart
  std::string sop_class_uid;
  std::string modality;  ///< SR, KO, PR, OT
  int series_number = 0;
  std::string series_description;
};

struct Shared {
  DcmDataset& source;
  SourceIdentity from;
  const ReportContext& context;
  std::string ruleset_digest;
  UidInputs inputs(const std::string& kind) const;
  std::string uid(const std::string& kind) const { return derived_uid(inputs(kind)); }
};

/// Writes patient, study, series, equipment and SOP common attributes and our private block,
/// replacing what is there (a writer's own defaults, the current time).
void write_common(DcmDataset& target, const Shared& shared, const ObjectPlan& plan);

/// The attributes copied from the source as stored, for the conformance statement.
std::vector<DcmTagKey> copied_attributes();

/// Text of ours in the target's character set: UTF-8 when it is ISO_IR 192, else folded to ASCII,
/// which every DICOM character set contains.
std::string encode(DcmDataset& source, const std::string& utf8);

void put(DcmItem& item, const DcmTag& tag, const std::string& value);
void put_code(DcmItem& item, const DcmTagKey& sequence, const CodedConcept& code);
/// Referenced Series Sequence (0008,1115) with the source image (C.12.2).
void put_referenced_series(DcmItem& item, const SourceIdentity& from);

/// The Part 10 file in memory.
Result<BuiltObject> to_object(DcmDataset& dataset, const ObjectPlan& plan);

/// Date and time in another offset from UTC ("+0100"); unchanged if one cannot be read.
std::pair<std::string, std::string> shift_time(const std::string& date, const std::string& time,
                                               const std::string& from, const std::string& to);

}  // namespace crestgate
