// The work of one worker child: image bytes and a job in, a bundle out. No network, no disk, no
// clock: what time it is stands in the job.
#pragma once
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "config/load.h"
#include "node/bundle.h"
#include "node/fs.h"
#include "node/report/build.h"
#include "node/report/visit.h"

namespace crestgate {

/// Every rule at its default.
constexpr const char* kBuiltInRules = "mode: trial\n";

struct WorkerJob {
  std::string file;  ///< name for the JSON element
  RulesText rules{kBuiltInRules, "built-in rules", ""};
  std::string calling_ae;   ///< empty: from the file's meta information
  bool any_sender = false;  ///< inspect: who sent it does not matter
  bool want_objects = true;
  bool want_picture = false;
  std::string now_date, now_time, timezone_offset;  ///< see ReportContext
  std::string device_uid, station_name;
  std::map<std::string, PastExposures> exposures;        ///< per visit key, done lately
  std::map<std::string, std::vector<NotedImage>> noted;  ///< per study key, lately
  /// False: nothing is known of the visit (inspect), so nothing is said of it.
  bool visit_known = false;
  /// Comparison with earlier images: none where nobody can ask an archive (inspect); pending: not
  /// asked yet, or it did not answer; asked: `earlier` is what it has, oldest first.
  enum class Archive { none, pending, asked };
  Archive archive = Archive::none;
  std::vector<Bytes> earlier;                            ///< Part 10 files
  std::map<std::string, KnownDocument> earlier_reports;  ///< image's UID -> its newest report
  std::vector<std::string> other_sites;  ///< sites of earlier images that are not this one
  int left_out = 0;                      ///< earlier images beyond follow_up.most_compared
  std::optional<KnownDocument> prior;    ///< report of this image delivered without comparison
};

/// JSON text, one NUL, then the earlier images' bytes in order, of the sizes the JSON names.
std::string encode_job(const WorkerJob& job);
Result<WorkerJob> decode_job(const std::string& text);

/// { "visit_key": str, "site_known": bool, "verdict": int, "angle_deg": num|null, "angle_u_deg":
///   num|null, "seating_view": bool, "placement_view": bool }; throws nlohmann::json::exception.
nlohmann::ordered_json exposure_json(const Exposure& exposure);
Exposure exposure_from_json(const nlohmann::json& json);

/// Fills now_date, now_time, timezone_offset, device_uid and station_name.
void set_surroundings(WorkerJob& job, std::int64_t now_s, const std::string& ae_title);

/// manifest: { "outcome": "judged" | "not judged" | "error", "why": str, "element": inspect JSON,
///   "comparison": null or what to look for in the archive (see comparison_wanted_json),
///   "exposure": see exposure_json, "note_withheld": str, "objects": [{"kind","sop_class_uid",
///   "sop_instance_uid"}] }
Bundle process_image(const Bytes& image, const WorkerJob& job);

/// main of the hidden `worker` command: descriptor 0 image, 3 job, 1 bundle. Returns the exit code.
int run_worker_child();

/// "crestgate x.y.z"
std::string software_name();
std::string software_version();

}  // namespace crestgate
