// Finds the earlier images of a site in the archive: C-FIND of the patient's studies and their
// intraoral series, C-GET of what may be a baseline. Archives match on Patient ID; anatomy, tooth
// and laterality are matched here. Own association per call; thread-safe.
#pragma once
#include <string>
#include <vector>

#include "config/rules.h"
#include "config/settings.h"
#include "config/status.h"
#include "node/fs.h"

namespace crestgate {

/// What is looked for, as the image states it.
struct SearchKeys {
  std::string patient_id, issuer_of_patient_id;
  std::string sop_instance_uid;
  std::string content_date;  ///< YYYYMMDD...; only images of earlier days count
  std::vector<std::string> teeth;
  Baseline baseline = Baseline::first_after_loading;
};

struct EarlierImages {
  std::vector<Bytes> files;              ///< Part 10, oldest first, as many as the rule asks for
  std::vector<std::string> other_sites;  ///< sites of earlier images that are not this one
  int seen = 0;                          ///< earlier intraoral images of the patient
};

/// Series and instances beyond this are not fetched, newest first: a bound on what one image costs.
constexpr int kMostFetchedImages = 60;
/// First-after-loading needs the pictures to tell; so many candidates are handed over.
constexpr std::size_t kMostCandidates = 4;

/// Not ok (unavailable): the archive could not be asked; try again later.
Result<EarlierImages> find_earlier_images(const Peer& archive, const std::string& own_ae_title,
                                          const SearchKeys& keys);

}  // namespace crestgate
