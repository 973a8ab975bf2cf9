// What a worker thread does with one image of the spool: have it processed, then publish its
// objects or set it aside with a reason. The processor is a function, so that tests put in their
// own.
#pragma once
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "config/status.h"
#include "node/archive_search.h"
#include "node/bundle.h"
#include "node/clock.h"
#include "node/report/build.h"
#include "node/spool.h"

namespace crestgate {

/// A comparison the worker wants and has no earlier images for.
struct WantedComparison {
  SearchKeys keys;
  KnownDocument report;  ///< of this image, without comparison
};

struct Processed {
  enum class Outcome {
    judged,
    not_judged,  ///< ours, or not an image for us: dropped
    unusable,    ///< set aside with `status`
    postponed,   ///< no worker could be started: try again
  };
  Outcome outcome = Outcome::unusable;
  Status status;
  std::string sop_instance_uid;
  std::string summary;  ///< rest of the log line: intent=... verdict=...
  Exposure exposure;
  std::vector<ObjectToDeliver> objects;
  std::optional<WantedComparison> comparison;  ///< the archive is to be asked
};

using Processor = std::function<Processed(const EntryName&, const std::string& path)>;

/// What a child's answer means. Anything malformed in it is the image's fault, not the node's.
Processed interpret(const Result<Bytes>& worker_output);

/// Processes one image that is in working/ and settles it. Not ok: the disk failed or no worker
/// could be started; the image is still in working/, call again later.
Status work_one(Spool& spool, const Clock& clock, const Processor& process, const EntryName& entry);

}  // namespace crestgate
