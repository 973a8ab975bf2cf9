#include "node/spool.h"

#include <algorithm>

namespace crestgate {

Incoming::Incoming(Fs& fs, std::string path, std::unique_ptr<WritableFile> file,
                   std::uint64_t sequence)
    : fs_(fs), path_(std::move(path)), file_(std::move(file)), sequence_(sequence) {}

Incoming::~Incoming() {
  file_.reset();
  if (!path_.empty()) fs_.remove(path_);
}

Status Incoming::append_header(const Bytes& bytes) {
  return file_->append(bytes.data(), bytes.size());
}

Status Incoming::append_data(const void* data, std::size_t size) {
  hash_.add(data, size);
  data_bytes_ += size;
  return file_->append(data, size);
}

Spool::Spool(Fs& fs, Index& index, std::string state_folder, std::uint64_t least_free_bytes)
    : fs_(fs), index_(index), root_(std::move(state_folder)), least_free_bytes_(least_free_bytes) {}

Status Spool::open(std::vector<std::string>& notes) {
  const std::lock_guard<std::mutex> lock(mutex_);
  for (const char* name :
       {"incoming", "ready", "working", "building", "outbox", "set-aside", "dead"}) {
    if (Status s = fs_.make_dirs(folder(name)); !s.ok()) return s;
  }
  if (Status s = fs_.sync_dir(root_); !s.ok()) return s;
  return recover(notes);
}

Result<std::unique_ptr<Incoming>> Spool::begin() {
  const auto free = fs_.free_bytes(root_);
  if (!free.ok()) return free.status();
  if (free.value() < least_free_bytes_) {
    return Status::error(Code::no_space, root_ + ": less than state.least_free_mb free");
  }
  std::uint64_t sequence = 0;
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    sequence = next_sequence_++;
  }
  const std::string path = folder("incoming") + "/" + part_file(sequence);
  auto file = fs_.create(path);
  if (!file.ok()) return file.status();
  return std::make_unique<Incoming>(fs_, path, std::move(file.value()), sequence);
}

std::optional<Receipt> Spool::known(const EntryName& entry) const {
  auto compare = [&](const std::string& content) {
    return content == entry.content_hash ? Receipt::already_known : Receipt::other_content;
  };
  if (const auto it = in_flight_.find(entry.uid_hash); it != in_flight_.end()) {
    return compare(it->second);
  }
  if (const auto content = index_.find(entry.uid_hash)) return compare(*content);
  // An image set aside may be mended by its sender: only the same bytes again are known.
  const auto [first, last] = set_aside_.equal_range(entry.uid_hash);
  for (auto it = first; it != last; ++it) {
    if (it->second == entry.content_hash) return Receipt::already_known;
  }
  return {};
}

Result<Receipt> Spool::commit(std::unique_ptr<Incoming> incoming,
                              const std::string& sop_instance_uid) {
  if (Status s = incoming->file_->sync(); !s.ok()) return s;
  EntryName entry;
  entry.sequence = incoming->sequence_;
  entry.uid_hash = short_hash(sop_instance_uid);
  entry.content_hash = incoming->hash_.hex();

  const std::lock_guard<std::mutex> lock(mutex_);
  if (const auto receipt = known(entry)) return *receipt;
  const std::string target = folder("ready") + "/" + entry.file();
  if (Status s = fs_.rename(incoming->path_, target); !s.ok()) return s;
  incoming->path_.clear();
  if (Status s = fs_.sync_dir(folder("ready")); !s.ok()) {
    fs_.remove(target);  // not durable, so not ours: the sender keeps it
    return s;
  }
  in_flight_[entry.uid_hash] = entry.content_hash;
  ready_.push_back(entry);
  ready_or_stop_.notify_one();
  return Receipt::stored;
}

std::optional<EntryName> Spool::take_locked() {
  if (ready_.empty()) return {};
  const EntryName entry = ready_.front();
  const Status moved = fs_.rename(folder("ready") + "/" + entry.file(), working_path(entry));
  ready_.pop_front();
  if (!moved.ok()) return {};  // stays on disk; looked at again at the next start
  fs_.sync_dir(folder("working"));
  working_.insert(entry.folder());
  return entry;
}

std::optional<EntryName> Spool::try_take() {
  const std::lock_guard<std::mutex> lock(mutex_);
  return take_locked();
}

std::optional<EntryName> Spool::take() {
  std::unique_lock<std::mutex> lock(mutex_);
  for (;;) {
    ready_or_stop_.wait(lock, [&] { return stopping_ || !ready_.empty(); });
    if (stopping_) return {};
    if (auto entry = take_locked()) return entry;
  }
}

std::string Spool::working_path(const EntryName& entry) const {
  return folder("working") + "/" + entry.file();
}

Status Spool::publish(const EntryName& entry, const std::vector<ObjectToDeliver>& objects) {
  // Already there (a later step of finish() failed before): the first built bytes stay.
  if (objects.empty() || fs_.exists(folder("outbox") + "/" + entry.folder())) return {};
  const std::string building = folder("building") + "/" + entry.folder();
  if (Status s = remove_folder(fs_, building); !s.ok()) return s;
  if (Status s = fs_.make_dirs(building); !s.ok()) return s;
  int number = 0;
  for (const ObjectToDeliver& object : objects) {
    const std::string path = building + "/" + object_file(++number, object.kind);
    if (Status s = write_file(fs_, path, object.bytes.data(), object.bytes.size()); !s.ok()) {
      return s;
    }
  }
  if (Status s = fs_.sync_dir(building); !s.ok()) return s;
  if (Status s = fs_.rename(building, folder("outbox") + "/" + entry.folder()); !s.ok()) return s;
  return fs_.sync_dir(folder("outbox"));
}

Status Spool::finish(const EntryName& entry, const std::vector<ObjectToDeliver>& objects,
                     const Exposure& exposure, std::int64_t now_s) {
  if (Status s = publish(entry, objects); !s.ok()) return s;
  if (Status s = index_.record({entry.uid_hash, entry.content_hash, exposure, now_s}); !s.ok()) {
    return s;
  }
  if (Status s = fs_.remove(working_path(entry)); !s.ok()) return s;
  // Not needed for safety: recovery drops a name that comes back, since its objects are published.
  fs_.sync_dir(folder("working"));
  const std::lock_guard<std::mutex> lock(mutex_);
  working_.erase(entry.folder());
  in_flight_.erase(entry.uid_hash);
  return {};
}

Status Spool::set_aside_from(const std::string& state, const EntryName& entry,
                             const std::string& reason_json) {
  const std::string target = folder("set-aside") + "/" + entry.file();
  const std::string reason = folder("set-aside") + "/" + reason_file(entry.file());
  if (Status s = fs_.remove(reason); !s.ok()) return s;
  if (Status s = write_file(fs_, reason, reason_json.data(), reason_json.size()); !s.ok()) {
    return s;
  }
  if (Status s = fs_.rename(folder(state.c_str()) + "/" + entry.file(), target); !s.ok()) return s;
  // If these names are lost with the power, the image is back in its old state and done again.
  fs_.sync_dir(folder("set-aside"));
  fs_.sync_dir(folder(state.c_str()));
  return {};
}

Status Spool::set_aside(const EntryName& entry, const std::string& reason_json) {
  if (Status s = set_aside_from("working", entry, reason_json); !s.ok()) return s;
  const std::lock_guard<std::mutex> lock(mutex_);
  working_.erase(entry.folder());
  in_flight_.erase(entry.uid_hash);
  set_aside_.emplace(entry.uid_hash, entry.content_hash);
  return {};
}

Status Spool::give_back(const EntryName& entry) {
  const std::lock_guard<std::mutex> lock(mutex_);
  if (Status s = fs_.rename(working_path(entry), folder("ready") + "/" + entry.file()); !s.ok()) {
    return s;
  }
  working_.erase(entry.folder());
  ready_.push_front(entry);
  ready_or_stop_.notify_one();
  return fs_.sync_dir(folder("ready"));
}

bool Spool::in_work(const std::string& outbox_folder) const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return working_.count(outbox_folder) != 0;
}

bool Spool::in_flight(const std::string& uid_hash) const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return in_flight_.count(uid_hash) != 0;
}

void Spool::stop() {
  const std::lock_guard<std::mutex> lock(mutex_);
  stopping_ = true;
  ready_or_stop_.notify_all();
}

}  // namespace crestgate
