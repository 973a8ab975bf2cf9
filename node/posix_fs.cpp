#include <dirent.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <system_error>

#include "node/fs.h"

namespace crestgate {
namespace {

class PosixFile : public WritableFile {
 public:
  PosixFile(int fd, std::string path) : fd_(fd), path_(std::move(path)) {}
  ~PosixFile() override { ::close(fd_); }
  PosixFile(const PosixFile&) = delete;
  PosixFile& operator=(const PosixFile&) = delete;

  Status append(const void* data, std::size_t size) override {
    const char* next = static_cast<const char*>(data);
    while (size > 0) {
      const ssize_t written = ::write(fd_, next, size);
      if (written < 0 && errno == EINTR) continue;
      if (written < 0) return errno_status(errno, path_);
      next += written;
      size -= static_cast<std::size_t>(written);
    }
    return {};
  }
  Status sync() override { return ::fsync(fd_) == 0 ? Status{} : errno_status(errno, path_); }

 private:
  int fd_;
  std::string path_;
};

}  // namespace

Status errno_status(int error, const std::string& what) {
  Code code = Code::internal;
  switch (error) {
    case ENOSPC:
    case EDQUOT:
      code = Code::no_space;
      break;
    case ENOENT:
    case ENOTDIR:
      code = Code::not_found;
      break;
    case EFBIG:
      code = Code::too_large;
      break;
    case EAGAIN:
    case ENOMEM:
    case EMFILE:
    case ENFILE:
      code = Code::unavailable;
      break;
    case ETIMEDOUT:
      code = Code::timeout;
      break;
    default:
      break;
  }
  return Status::error(code, what + ": " + std::system_category().message(error));
}

Status PosixFs::make_dirs(const std::string& path) {
  std::error_code error;
  std::filesystem::create_directories(path, error);
  return error ? errno_status(error.value(), path) : Status{};
}

Result<std::unique_ptr<WritableFile>> PosixFs::create(const std::string& path) {
  // 0640: images are patient data, readable by the node's own group at most.
  const int fd = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0640);
  if (fd < 0) return errno_status(errno, path);
  return std::unique_ptr<WritableFile>(new PosixFile(fd, path));
}

Result<Bytes> PosixFs::read(const std::string& path) const {
  const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (fd < 0) return errno_status(errno, path);
  Bytes bytes;
  struct stat info {};
  if (::fstat(fd, &info) == 0 && info.st_size > 0) {
    bytes.reserve(static_cast<std::size_t>(info.st_size));
  }
  std::uint8_t block[65536];
  for (;;) {
    const ssize_t got = ::read(fd, block, sizeof block);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) {
      const Status failed = errno_status(errno, path);
      ::close(fd);
      return failed;
    }
    if (got == 0) break;
    bytes.insert(bytes.end(), block, block + got);
  }
  ::close(fd);
  return bytes;
}

Result<std::vector<std::string>> PosixFs::list(const std::string& folder) const {
  DIR* dir = ::opendir(folder.c_str());
  if (dir == nullptr) return errno_status(errno, folder);
  std::vector<std::string> names;
  while (const dirent* entry = ::readdir(dir)) {
    const std::string name = entry->d_name;
    if (name != "." && name != "..") names.push_back(name);
  }
  ::closedir(dir);
  std::sort(names.begin(), names.end());
  return names;
}

bool PosixFs::exists(const std::string& path) const {
  struct stat info {};
  return ::lstat(path.c_str(), &info) == 0;
}

Status PosixFs::rename(const std::string& from, const std::string& to) {
  return std::rename(from.c_str(), to.c_str()) == 0 ? Status{} : errno_status(errno, from);
}

Status PosixFs::remove(const std::string& path) {
  if (std::remove(path.c_str()) == 0 || errno == ENOENT) return {};
  return errno_status(errno, path);
}

Status PosixFs::sync_dir(const std::string& folder) {
  const int fd = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (fd < 0) return errno_status(errno, folder);
  const int rc = ::fsync(fd);
  const int error = errno;
  ::close(fd);
  return rc == 0 ? Status{} : errno_status(error, folder);
}

Result<std::uint64_t> PosixFs::free_bytes(const std::string& folder) const {
  struct statvfs info {};
  if (::statvfs(folder.c_str(), &info) != 0) return errno_status(errno, folder);
  return static_cast<std::uint64_t>(info.f_bavail) * info.f_frsize;
}

Status write_file(Fs& fs, const std::string& path, const void* data, std::size_t size) {
  auto file = fs.create(path);
  if (!file.ok()) return file.status();
  if (Status s = file.value()->append(data, size); !s.ok()) return s;
  return file.value()->sync();
}

Status remove_folder(Fs& fs, const std::string& folder) {
  const auto names = fs.list(folder);
  if (!names.ok()) return names.status().code == Code::not_found ? Status{} : names.status();
  for (const std::string& name : names.value()) {
    if (Status s = fs.remove(folder + "/" + name); !s.ok()) return s;
  }
  return fs.remove(folder);
}

}  // namespace crestgate
