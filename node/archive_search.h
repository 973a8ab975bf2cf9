// Finds the earlier images of a site in the archive: C-FIND of the patient's studies, then our own
// earlier reports, then those images that may be the baseline and that no report gives to another
// site. Archives match on Patient ID; anatomy, tooth, laterality and intent are matched here. Own
// association per call; thread-safe.
#pragma once
#include <map>
#include <string>
#include <vector>

#include "config/rules.h"
#include "config/settings.h"
#include "config/status.h"
#include "node/fs.h"
#include "node/report/build.h"
#include "node/retrievals.h"

namespace crestgate {

/// What is looked for, as the image states it.
struct SearchKeys {
  std::string patient_id, issuer_of_patient_id;
  std::string sop_instance_uid;
  std::string content_date;  ///< YYYYMMDD...; only images of earlier days count
  std::vector<std::string> teeth;
  Baseline baseline = Baseline::first_after_loading;
  std::string jig;  ///< id of the positioning jig; an earlier exposure made with it is looked for
  /// The rules in force: why and with which jig an image was taken. Not kept with what is owed.
  std::vector<IntentRule> intents;
  std::optional<Positioning> positioning;
  int most_compared = 8;  ///< with Baseline::all
};

struct EarlierImages {
  std::vector<Bytes> files;              ///< Part 10, oldest first, as many as the rule asks for
  std::vector<std::string> other_sites;  ///< sites of earlier images that are not this one
  std::map<std::string, KnownDocument> reports;  ///< image's UID -> our newest report on it
  int fetched = 0;                               ///< images whose pixels were asked for
  int left_out = 0;  ///< Baseline::all: images that may be of the site, beyond most_compared
};

/// Bounds on what one image costs; reports are read newest first, images as the baseline asks.
constexpr int kMostFetchedImages = 60, kMostFetchedReports = 60;
/// The baseline needs the pictures to tell; so many candidates are handed over (Baseline::all: as
/// the rule says), and so many more taken for placement or another question, in case there is
/// nothing else.
constexpr std::size_t kMostCandidates = 4;

/// Not ok (unavailable): the archive could not be asked; try again later. `retrievals` must belong
/// to the listener of `own_ae_title`; null: an archive without C-GET cannot be read.
Result<EarlierImages> find_earlier_images(const Peer& archive, const std::string& own_ae_title,
                                          const SearchKeys& keys, Retrievals* retrievals = nullptr);

}  // namespace crestgate
