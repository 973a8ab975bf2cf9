// What an earlier report of this program says, as far as the search for a baseline needs it.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "node/report/build.h"

namespace crestgate {

struct EarlierReport {
  KnownDocument document;
  std::string patient_id;
  std::string image_uid;           ///< SOP Instance UID of the image it is about
  std::string written;             ///< content date and time, YYYYMMDDHHMMSS
  std::vector<std::string> sites;  ///< ISO 3950, empty if it names none
  bool part_seen = false;          ///< a joint was judged, so something stood on the implant
};

/// Empty if it is not a structured report of ours or names no image. Never throws.
std::optional<EarlierReport> read_own_report(DcmDataset& dataset);

}  // namespace crestgate
