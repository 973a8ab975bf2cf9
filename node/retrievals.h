// Hands the answers to our own C-MOVE requests from the listener to who asked: an archive that
// offers no C-GET sends what it was asked for as C-STORE to our own AE title. Thread-safe.
#pragma once
#include <map>
#include <mutex>
#include <set>
#include <string>
#include <vector>

#include "node/fs.h"

namespace crestgate {

class Retrievals {
 public:
  /// Begins to wait for these instances; the number names the request.
  int expect(const std::set<std::string>& sop_instance_uids);
  /// Ends it and hands over what came, Part 10 files.
  std::vector<Bytes> finish(int request);

  bool wanted(const std::string& sop_instance_uid) const;
  /// To all who wait for it.
  void deliver(const std::string& sop_instance_uid, const Bytes& file);

 private:
  struct Request {
    std::set<std::string> wanted;
    std::vector<Bytes> got;
  };
  mutable std::mutex mutex_;
  std::map<int, Request> requests_;
  int last_ = 0;
};

}  // namespace crestgate
