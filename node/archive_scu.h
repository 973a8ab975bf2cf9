// C-FIND, C-GET and C-MOVE to ourselves at an archive, over one association. Not thread-safe.
#pragma once
#include <memory>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "config/settings.h"
#include "config/status.h"
#include "node/retrievals.h"

class DcmDataset;
class DcmTagKey;

namespace crestgate {

/// One instance as a query names it.
struct InstanceKey {
  std::string study, series, sop;
};

class ArchiveScu {
 public:
  /// `retrievals`: where the listener hands over what a C-MOVE brings; null: C-GET only.
  ArchiveScu(const Peer& archive, const std::string& own_ae_title, Retrievals* retrievals);
  ~ArchiveScu();
  ArchiveScu(const ArchiveScu&) = delete;
  ArchiveScu& operator=(const ArchiveScu&) = delete;

  /// Every status that is not ok is 'unavailable': ask again later.
  Status open();
  using Keys = std::vector<std::pair<DcmTagKey, std::string>>;
  /// Study Root query; appends the answers.
  Status find(const char* level, const Keys& keys,
              std::vector<std::unique_ptr<DcmDataset>>& answers);
  /// By C-GET; by C-MOVE to our own AE title if the archive refuses that or sends nothing. Null if
  /// the archive has it no more.
  Result<std::unique_ptr<DcmDataset>> retrieve(const InstanceKey& instance);

 private:
  class Scu;
  Status get(const InstanceKey& instance);
  Status move(const InstanceKey& instance);
  const Peer archive_;
  const std::string own_ae_title_;
  Retrievals* retrievals_;
  std::unique_ptr<Scu> scu_;
};

}  // namespace crestgate
