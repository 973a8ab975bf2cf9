// Small SQLite index of the images already done, so that a second receipt is known again and
// exposures of one site can be counted. It holds hashes and dates only, no patient text. Losing it
// loses nothing but that memory: a damaged file is put aside and a new one begun; object UIDs are
// derived from the source image, so even an image done twice yields no second set of objects.
// Thread-safe.
#pragma once
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>

#include "config/status.h"

struct sqlite3;

namespace crestgate {

struct DoneImage {
  std::string uid_hash, content_hash;
  std::string exposure_key;  ///< hash of patient, study, site and date; empty: not counted
  std::int64_t at_s = 0;
};

class Index {
 public:
  /// `path` may be ":memory:". `replaced`: text if a damaged index was put aside.
  static Result<std::unique_ptr<Index>> open(const std::string& path,
                                             std::string* replaced = nullptr);
  ~Index();
  Index(const Index&) = delete;
  Index& operator=(const Index&) = delete;

  /// Content hash of a done image, empty if it was never done.
  std::optional<std::string> find(const std::string& uid_hash);
  /// Durable when it returns ok. Recording the same image again is ok.
  Status record(const DoneImage& image);
  /// Number of images per exposure key done since then.
  std::map<std::string, int> exposures_since(std::int64_t at_s);
  int count();

 private:
  explicit Index(sqlite3* db) : db_(db) {}
  sqlite3* db_;
  std::mutex mutex_;
};

}  // namespace crestgate
