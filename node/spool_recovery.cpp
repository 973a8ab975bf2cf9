// Spool::recover: brings the state folders to order after a stop at any instruction.
#include <algorithm>
#include <ctime>
#include <nlohmann/json.hpp>

#include "node/spool.h"

namespace crestgate {

Status Spool::recover_entry(const std::string& state, const EntryName& entry,
                            std::vector<std::string>& notes) {
  const std::string path = folder(state.c_str()) + "/" + entry.file();
  const auto done = index_.find(entry.uid_hash);
  const bool published = fs_.exists(folder("outbox") + "/" + entry.folder());
  if (published || (done && *done == entry.content_hash)) {
    // Its objects were complete; only the last steps of finish() are missing.
    if (!done) {
      if (Status s = index_.record({entry.uid_hash, entry.content_hash, {}, 0}); !s.ok()) return s;
    }
    notes.push_back("finished before the stop: " + entry.file());
    return fs_.remove(path);
  }
  EntryName next = entry;
  if (state == "working") {
    ++next.starts;
    if (next.starts >= kMostStarts) {
      const nlohmann::json reason = {{"code", code_name(Code::internal)},
                                     {"text", "the node stopped " + std::to_string(kMostStarts) +
                                                  " times while this image was in work"},
                                     {"tag", nullptr}};
      notes.push_back("set aside: " + entry.file());
      set_aside_.emplace(entry.uid_hash, entry.content_hash);
      return set_aside_from(state, entry, reason.dump(1) + "\n");
    }
    notes.push_back("taken up again: " + next.file());
    if (Status s = fs_.rename(path, folder("ready") + "/" + next.file()); !s.ok()) return s;
  }
  in_flight_[next.uid_hash] = next.content_hash;
  ready_.push_back(next);
  return {};
}

Status Spool::recover(std::vector<std::string>& notes) {
  // Half-received and half-built files were never acknowledged or published.
  for (const char* state : {"incoming", "building"}) {
    const auto names = fs_.list(folder(state));
    if (!names.ok()) return names.status();
    for (const std::string& name : names.value()) {
      const std::string path = folder(state) + "/" + name;
      const Status s = is_part_file(name)         ? fs_.remove(path)
                       : parse_entry_folder(name) ? remove_folder(fs_, path)
                                                  : Status{};
      if (!s.ok()) return s;
    }
  }
  const auto aside = fs_.list(folder("set-aside"));
  if (!aside.ok()) return aside.status();
  for (const std::string& name : aside.value()) {
    if (const auto entry = parse_entry_file(name)) {
      next_sequence_ = std::max(next_sequence_, entry->sequence + 1);
      set_aside_.emplace(entry->uid_hash, entry->content_hash);
    } else if (is_reason_file(name) &&
               !fs_.exists(folder("set-aside") + "/" + name.substr(0, name.size() - 5))) {
      if (Status s = fs_.remove(folder("set-aside") + "/" + name); !s.ok()) return s;
    }
  }
  const auto outbox = fs_.list(folder("outbox"));
  if (!outbox.ok()) return outbox.status();
  for (const std::string& name : outbox.value()) {
    if (const auto entry = parse_entry_folder(name)) {
      next_sequence_ = std::max(next_sequence_, entry->sequence + 1);
    }
  }
  // ready first: what recovery itself moves there from working must not be listed again.
  for (const char* state : {"ready", "working"}) {
    const auto names = fs_.list(folder(state));
    if (!names.ok()) return names.status();
    for (const std::string& name : names.value()) {
      const auto entry = parse_entry_file(name);
      if (!entry) {
        notes.push_back("left alone, not ours: " + folder(state) + "/" + name);
        continue;
      }
      next_sequence_ = std::max(next_sequence_, entry->sequence + 1);
      if (Status s = recover_entry(state, *entry, notes); !s.ok()) return s;
    }
  }
  std::sort(ready_.begin(), ready_.end(),
            [](const EntryName& a, const EntryName& b) { return a.sequence < b.sequence; });
  for (const char* state : {"incoming", "building", "ready", "working", "set-aside"}) {
    if (Status s = fs_.sync_dir(folder(state)); !s.ok()) return s;
  }
  return {};
}

}  // namespace crestgate
