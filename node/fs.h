// File-system seam of the spool and the outbox: the POSIX form for the node, a fake that loses
// whatever was not synced for the crash tests (tests/support/net). Paths are plain strings.
// Implementations are thread-safe; a WritableFile belongs to one thread.
// Nothing is durable until sync() (content) and sync_dir() (names) have returned ok.
#pragma once
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "config/status.h"

namespace crestgate {

using Bytes = std::vector<std::uint8_t>;

class WritableFile {
 public:
  virtual ~WritableFile() = default;  ///< closes; does not sync
  virtual Status append(const void* data, std::size_t size) = 0;
  virtual Status sync() = 0;
};

class Fs {
 public:
  virtual ~Fs() = default;
  /// Creates a folder and its parents; ok if it exists.
  virtual Status make_dirs(const std::string& path) = 0;
  /// Creates a new file; fails if the name is taken.
  virtual Result<std::unique_ptr<WritableFile>> create(const std::string& path) = 0;
  virtual Result<Bytes> read(const std::string& path) const = 0;
  /// Names (not paths) in a folder, sorted; not_found if there is no such folder.
  virtual Result<std::vector<std::string>> list(const std::string& folder) const = 0;
  virtual bool exists(const std::string& path) const = 0;
  /// Renames a file or a folder; atomic. An existing target file is replaced.
  virtual Status rename(const std::string& from, const std::string& to) = 0;
  /// Removes a file or an empty folder; ok if it does not exist.
  virtual Status remove(const std::string& path) = 0;
  virtual Status sync_dir(const std::string& folder) = 0;
  virtual Result<std::uint64_t> free_bytes(const std::string& folder) const = 0;
};

/// The real disk. errno is turned into Status in one place (posix_fs.cpp).
class PosixFs : public Fs {
 public:
  Status make_dirs(const std::string& path) override;
  Result<std::unique_ptr<WritableFile>> create(const std::string& path) override;
  Result<Bytes> read(const std::string& path) const override;
  Result<std::vector<std::string>> list(const std::string& folder) const override;
  bool exists(const std::string& path) const override;
  Status rename(const std::string& from, const std::string& to) override;
  Status remove(const std::string& path) override;
  Status sync_dir(const std::string& folder) override;
  Result<std::uint64_t> free_bytes(const std::string& folder) const override;
};

/// errno as Status: ENOSPC/EDQUOT -> no_space, ENOENT -> not_found, EFBIG -> too_large, ...
Status errno_status(int error, const std::string& what);

/// New file with this content, synced, but its name not yet: call sync_dir on the folder.
Status write_file(Fs& fs, const std::string& path, const void* data, std::size_t size);

/// Removes a folder with the files in it (one level deep); ok if it does not exist.
Status remove_folder(Fs& fs, const std::string& folder);

}  // namespace crestgate
