// The durable queue between receipt and report. States are folders of the state directory:
//
//   incoming/   being received; worthless after a stop, removed at start
//   ready/      received and answered with success; waiting
//   working/    a worker child has it
//   building/   its objects being written; removed at start
//   outbox/     one folder per image with its objects, complete when it appears there
//   set-aside/  images that could not be used, each with a .json reason
//
// An image leaves working/ only after its outbox folder is complete and synced, and the outbox
// touches that folder only after the image has left: so a stop at any instruction loses nothing and
// doubles nothing. Thread-safe.
#pragma once
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "config/status.h"
#include "node/entry_names.h"
#include "node/fs.h"
#include "node/hash.h"
#include "node/index.h"

namespace crestgate {

/// How often a node may stop with an image in work before the image is suspected and set aside.
constexpr int kMostStarts = 3;

/// One image on its way in. Destroying it without commit removes the part file.
class Incoming {
 public:
  Incoming(Fs& fs, std::string path, std::unique_ptr<WritableFile> file, std::uint64_t sequence);
  ~Incoming();
  Incoming(const Incoming&) = delete;
  Incoming& operator=(const Incoming&) = delete;
  /// Preamble and file meta information: stored, not part of the content hash.
  Status append_header(const Bytes& bytes);
  Status append_data(const void* data, std::size_t size);
  std::uint64_t data_bytes() const { return data_bytes_; }

 private:
  friend class Spool;
  Fs& fs_;
  std::string path_;
  std::unique_ptr<WritableFile> file_;
  std::uint64_t sequence_;
  std::uint64_t data_bytes_ = 0;
  ShortHash hash_;
};

enum class Receipt { stored, already_known, other_content };

struct ObjectToDeliver {
  std::string kind;  ///< lower-case word for the file name
  Bytes bytes;
};

class Spool {
 public:
  /// `fs` and `index` must outlive the spool. Receiving stops below `least_free_bytes`.
  Spool(Fs& fs, Index& index, std::string state_folder, std::uint64_t least_free_bytes);

  /// Creates the folders and brings them to order after a stop. `notes`: what was found, for the
  /// log. Must be called once before anything else.
  Status open(std::vector<std::string>& notes);

  Result<std::unique_ptr<Incoming>> begin();
  /// ok means durable: synced, renamed, folder synced. other_content: the same SOP Instance UID is
  /// here with different bytes; nothing was kept.
  Result<Receipt> commit(std::unique_ptr<Incoming> incoming, const std::string& sop_instance_uid);

  /// Next image in order of arrival, now in working/. Blocks until there is one or stop().
  std::optional<EntryName> take();
  /// The same without waiting.
  std::optional<EntryName> try_take();
  std::string working_path(const EntryName& entry) const;

  /// Publishes the objects and forgets the image. `objects` may be empty.
  Status finish(const EntryName& entry, const std::vector<ObjectToDeliver>& objects,
                const Exposure& exposure, std::int64_t now_s);
  /// Publishes objects that come after an image has been finished; `name` must be one of their own.
  Status publish_apart(const EntryName& name, const std::vector<ObjectToDeliver>& objects) {
    return publish(name, objects);
  }
  /// Keeps the image with the reason (a JSON text).
  Status set_aside(const EntryName& entry, const std::string& reason_json);
  /// Back to ready/, e.g. when no worker could be started.
  Status give_back(const EntryName& entry);

  /// True while this image (by its entry's uid_hash) is ready or in work.
  bool in_flight(const std::string& uid_hash) const;
  /// True while the outbox must leave this image's folder alone.
  bool in_work(const std::string& outbox_folder) const;
  void stop();  ///< wakes take()

  std::string folder(const char* name) const { return root_ + "/" + name; }

 private:
  Status recover(std::vector<std::string>& notes);
  Status recover_entry(const std::string& state, const EntryName& entry,
                       std::vector<std::string>& notes);
  Status set_aside_from(const std::string& state, const EntryName& entry,
                        const std::string& reason_json);
  Status publish(const EntryName& entry, const std::vector<ObjectToDeliver>& objects);
  std::optional<EntryName> take_locked();
  std::optional<Receipt> known(const EntryName& entry) const;

  Fs& fs_;
  Index& index_;
  std::string root_;
  std::uint64_t least_free_bytes_;
  mutable std::mutex mutex_;
  std::condition_variable ready_or_stop_;
  std::uint64_t next_sequence_ = 1;
  std::deque<EntryName> ready_;
  std::set<std::string> working_;                      ///< outbox folder names of images in work
  std::map<std::string, std::string> in_flight_;       ///< uid hash -> content hash
  std::multimap<std::string, std::string> set_aside_;  ///< uid hash -> content hash
  bool stopping_ = false;
};

}  // namespace crestgate
