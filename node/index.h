// Small SQLite index of the images already done, so that a second receipt is known again and
// exposures of one site can be counted and compared. It holds hashes, dates, a few measures and the
// UIDs of images that lately got a note, no
// patient text, and forgets what nothing needs any more. Losing it
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
#include <vector>

#include "config/status.h"
#include "node/report/visit.h"

struct sqlite3;

namespace crestgate {

struct DoneImage {
  std::string uid_hash, content_hash;
  Exposure exposure;
  std::int64_t at_s = 0;
};

/// Exposures of one visit: a day, and some for the time zones.
constexpr std::int64_t kVisit_s = 48 * 3600;
/// An archive may route an image again as long as it keeps it; records of dental radiographs are
/// kept for about ten years (common practice).
constexpr std::int64_t kRemembered_s = 10LL * 366 * 24 * 3600;

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
  /// Durable when it returns ok. Recording the same image again is ok. Entries that are older than
  /// anything needs, seen from `at_s`, are dropped with it.
  Status record(const DoneImage& image);
  /// What was exposed since then, per visit key.
  std::map<std::string, PastExposures> exposures_since(std::int64_t at_s);
  /// Images that got a note since then, per study key.
  std::map<std::string, std::vector<NotedImage>> noted_since(std::int64_t at_s);
  int count();

 private:
  explicit Index(sqlite3* db) : db_(db) {}
  bool insert(const DoneImage& image);
  Status failure();  ///< of the last statement; ends the transaction
  sqlite3* db_;
  std::mutex mutex_;
};

}  // namespace crestgate
