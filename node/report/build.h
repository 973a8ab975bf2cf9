// Stage report: one analysis -> the DICOM objects that go back to the archive (design section 4),
// each a complete Part 10 file in memory. Pure: no clock, disk or network; the time comes in as a
// value and UIDs are derived, so equal inputs give equal bytes. Thread-safe. Throws nothing.
#pragma once
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "config/rules.h"
#include "config/status.h"
#include "node/report/visit.h"
#include "pipeline/followup/tone_map.h"
#include "pipeline/image/analysis.h"

class DcmDataset;

namespace crestgate {

struct BuiltObject {
  std::string kind;  ///< "structured-report", "key-object-note", "picture", ...
  std::string sop_class_uid, sop_instance_uid;
  std::vector<std::uint8_t> bytes;  ///< complete Part 10 file, Explicit VR Little Endian
};

/// Where a document named in prior_report_uids or baseline_uids lives, when the caller knows.
struct KnownDocument {
  std::string sop_class_uid, sop_instance_uid, study_instance_uid, series_instance_uid;
};

/// An earlier image that was compared, to be annotated in its own study.
struct AnnotatedBaseline {
  Analysis analysis;
  std::shared_ptr<DcmDataset> source;  ///< as stored
};

struct ReportContext {
  std::string software_version;
  std::string now_date;         ///< YYYYMMDD
  std::string now_time;         ///< HHMMSS
  std::string timezone_offset;  ///< of now_date and now_time, "&ZZXX", e.g. "+0100"
  std::string device_uid;       ///< UID of this node (device observer)
  std::string station_name;
  int attempt = 1;  ///< exposures of this site in this visit, this one included
  std::optional<RepeatComparison> repeat;  ///< with the exposure before, from the second on
  std::optional<VisitViews> views;         ///< of this visit so far; empty: not known
  /// Other images of this study that got notes: a note names all of its kind, so that the newest
  /// one stands for the study (an object once stored is not altered).
  std::vector<NotedImage> noted_before;
  bool suppress_notes = false;  ///< image too old, or detector/processing not commissioned
  std::vector<std::string> prior_report_uids, baseline_uids;
  /// Fills Predecessor Documents (PS3.3 C.17.2) for the prior UIDs found here; a prior UID that is
  /// not here is still named in the report's text.
  std::vector<KnownDocument> known_documents;
  /// Earlier reports of this program on the images compared with: image's UID -> its newest report.
  std::map<std::string, KnownDocument> baseline_reports;
  std::vector<Subtraction> subtractions;  ///< one picture each, where the rules want it
  std::vector<AnnotatedBaseline> annotated_baselines;  ///< filled where the rules want it
};

/// Structured report, key object notes, presentation state and picture, as the rules' output
/// section asks, and a state for each annotated baseline. `source` is the image's data set (never
/// altered; not const because DCMTK's accessors are not). Errors: invalid_input naming the tag when
/// the source lacks a UID without which no reference can be written; internal when a built object
/// is not valid.
Result<std::vector<BuiltObject>> build_objects(const Analysis& analysis, const Frame& frame,
                                               DcmDataset& source, const Rules& rules,
                                               const ReportContext& context);

/// The picture alone, as PNG, for `inspect --picture`.
Result<std::vector<std::uint8_t>> picture_png(const Analysis& analysis, const Frame& frame,
                                              const Rules& rules, const ReportContext& context);

}  // namespace crestgate
