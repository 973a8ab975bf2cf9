// Comparisons still owed because the archive could not be asked: comparing/<image>.dcm with a .json
// beside it that names the report already delivered. Durable before that report is published, so
// that a stop at any instruction loses nothing; asked twice, the derived UIDs make no doubles.
// Thread-safe as far as Fs is; one thread settles.
#pragma once
#include <string>
#include <vector>

#include "node/archive_search.h"
#include "node/fs.h"
#include "node/report/build.h"
#include "node/spool.h"

namespace crestgate {

struct OwedComparison {
  EntryName entry;  ///< of the image
  SearchKeys keys;
  KnownDocument prior;  ///< the report delivered without comparison
};

class ComparisonQueue {
 public:
  ComparisonQueue(Fs& fs, std::string state_folder);
  Status open();  ///< creates the folder
  /// Durable when ok. The image is copied from `image_path`.
  Status add(const OwedComparison& owed, const std::string& image_path);
  std::vector<OwedComparison> list() const;  ///< in order of arrival
  std::string image_path(const OwedComparison& owed) const;
  Status remove(const OwedComparison& owed);

 private:
  Fs& fs_;
  std::string folder_;
};

}  // namespace crestgate
