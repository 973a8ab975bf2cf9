// File system in memory that stops at a chosen operation and, at restart, keeps only what the disk
// would have: synced content, and a prefix of the name changes that were not synced (journalling
// file systems commit them in order). A stop is an exception (Stopped), after which every call
// fails without effect, as for a process that no longer exists. Single-threaded.
#pragma once
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "node/fs.h"

namespace crestgate {

struct Stopped {};

/// What a restart finds of the things that were not synced.
enum class Survives { nothing, half, everything };

class FaultFs : public Fs {
 public:
  /// The process stops instead of doing operation number `count` from now (0: the next one).
  void stop_after(int count) { left_ = count; }
  void restart(Survives survives);
  bool stopped() const { return stopped_; }
  std::uint64_t free_space = 1ULL << 40;
  /// All file paths, for assertions.
  std::vector<std::string> files() const;

  Status make_dirs(const std::string& path) override;
  Result<std::unique_ptr<WritableFile>> create(const std::string& path) override;
  Result<Bytes> read(const std::string& path) const override;
  Result<std::vector<std::string>> list(const std::string& folder) const override;
  bool exists(const std::string& path) const override;
  Status rename(const std::string& from, const std::string& to) override;
  Status remove(const std::string& path) override;
  Status sync_dir(const std::string& folder) override;
  Result<std::uint64_t> free_bytes(const std::string& folder) const override;

 private:
  friend class FaultFile;
  struct Content {
    Bytes bytes;
    std::size_t synced = 0;
  };
  struct Node {
    std::shared_ptr<Content> content;  ///< null: a folder
  };
  using Tree = std::map<std::string, Node>;
  struct Change {
    enum class Kind { add, rename, remove } kind;
    std::string path, to;
    Node node;
  };
  /// Counts an operation; throws Stopped when its number is up. False: stopped before.
  bool alive();
  void change(Change c);
  static void apply(const Change& c, Tree& tree);

  Tree now_, durable_;
  std::vector<Change> pending_;
  int left_ = -1;
  bool stopped_ = false;
};

}  // namespace crestgate
