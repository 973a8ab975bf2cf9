#include "node/outbox.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "node/entry_names.h"

namespace crestgate {
namespace {
constexpr std::size_t kBatch = 32;
}

Outbox::Outbox(Fs& fs, const Clock& clock, std::string state_folder, int first_retry_s,
               int longest_retry_s, std::function<bool(const std::string&)> in_work, SendBatch send,
               bool keep_sent)
    : fs_(fs),
      clock_(clock),
      root_(std::move(state_folder)),
      first_retry_s_(std::max(1, first_retry_s)),
      longest_retry_s_(std::max(first_retry_s_, longest_retry_s)),
      in_work_(std::move(in_work)),
      send_(std::move(send)),
      keep_sent_(keep_sent) {}

std::int64_t back_off_s(int failures, int first_retry_s, int longest_retry_s) {
  std::int64_t wait = first_retry_s;
  for (int i = 1; i < failures && wait < longest_retry_s; ++i) wait *= 2;
  return std::min<std::int64_t>(wait, longest_retry_s);
}

void Outbox::postpone(const Object& object) {
  Wait& wait = waiting_[object.path()];
  wait.due_s = clock_.now_s() + back_off_s(++wait.failures, first_retry_s_, longest_retry_s_);
}

void Outbox::retry_now() {
  archive_ = {};
  waiting_.clear();
}

std::vector<Outbox::Object> Outbox::due_objects(std::int64_t now_s, std::int64_t& next_s,
                                                std::vector<OutboxEvent>& events) {
  std::vector<Object> due;
  const std::string outbox = root_ + "/outbox";
  const auto folders = fs_.list(outbox);
  if (!folders.ok()) {
    events.push_back({OutboxEvent::Kind::problem, outbox, folders.status().text});
    return due;
  }
  for (const std::string& folder : folders.value()) {
    if (!parse_entry_folder(folder) || in_work_(folder)) continue;
    const auto names = fs_.list(outbox + "/" + folder);
    if (!names.ok()) continue;
    if (names.value().empty()) fs_.remove(outbox + "/" + folder);
    for (const std::string& name : names.value()) {
      // Delivered while commitment was wanted, which it no longer is.
      if (!keep_sent_ && is_sent_file(name)) fs_.remove(outbox + "/" + folder + "/" + name);
      if (!is_object_file(name)) continue;
      const Object object{folder, name};
      const auto wait = waiting_.find(object.path());
      if (wait != waiting_.end() && wait->second.due_s > now_s) {
        next_s = std::min(next_s, wait->second.due_s);
        continue;
      }
      due.push_back(object);
      if (due.size() == kBatch) return due;
    }
  }
  return due;
}

std::int64_t Outbox::step(std::vector<OutboxEvent>& events) {
  for (;;) {
    const std::int64_t now_s = clock_.now_s();
    if (archive_.due_s > now_s) return archive_.due_s;
    std::int64_t next_s = now_s + longest_retry_s_;
    const std::vector<Object> due = due_objects(now_s, next_s, events);
    if (due.empty()) return next_s;
    if (!send(due, events)) return archive_.due_s;
  }
}

bool Outbox::send(const std::vector<Object>& batch, std::vector<OutboxEvent>& events) {
  std::vector<Object> readable;
  std::vector<Bytes> contents;
  for (const Object& object : batch) {
    auto bytes = fs_.read(root_ + "/outbox/" + object.path());
    if (bytes.ok()) {
      readable.push_back(object);
      contents.push_back(std::move(bytes.value()));
    } else {
      settle(object, {Delivery::try_again, bytes.status().text}, events);
    }
  }
  if (readable.empty()) return true;
  const auto answers = send_(contents);
  if (!answers.ok() || answers.value().size() != readable.size()) {
    ++archive_.failures;
    archive_.due_s =
        clock_.now_s() + back_off_s(archive_.failures, first_retry_s_, longest_retry_s_);
    // Said once, not at every attempt: an archive down for a week is no incident.
    if (archive_.failures == 1) {
      events.push_back({OutboxEvent::Kind::unreachable, "", answers.status().text});
    }
    return false;
  }
  if (archive_.failures > 0) events.push_back({OutboxEvent::Kind::reachable_again, "", ""});
  archive_ = {};
  for (std::size_t i = 0; i < readable.size(); ++i) {
    settle(readable[i], answers.value()[i], events);
  }
  return true;
}

Status Outbox::put_away(const Object& object) {
  const std::string folder = root_ + "/outbox/" + object.folder;
  if (!keep_sent_) return fs_.remove(folder + "/" + object.name);
  if (Status s = fs_.rename(folder + "/" + object.name, folder + "/" + sent_file(object.name));
      !s.ok()) {
    return s;
  }
  // A name lost with the power is sent once more, and the archive says 'duplicate'.
  return fs_.sync_dir(folder);
}

void Outbox::settle(const Object& object, const DeliveryAnswer& answer,
                    std::vector<OutboxEvent>& events) {
  Status moved;
  switch (answer.delivery) {
    case Delivery::delivered:
      moved = put_away(object);
      break;
    case Delivery::refused:
      moved = bury(fs_, root_, object.folder, object.name, object.name, answer.text);
      break;
    case Delivery::try_again:
      postpone(object);
      if (waiting_[object.path()].failures == 1) {
        events.push_back({OutboxEvent::Kind::postponed, object.path(), answer.text});
      }
      return;
  }
  if (!moved.ok()) {
    events.push_back({OutboxEvent::Kind::problem, object.path(), moved.text});
    postpone(object);
    return;
  }
  const bool delivered = answer.delivery == Delivery::delivered;
  events.push_back({delivered ? OutboxEvent::Kind::delivered : OutboxEvent::Kind::refused,
                    object.path(), answer.text});
  waiting_.erase(object.path());
  const std::string folder = root_ + "/outbox/" + object.folder;
  const auto rest = fs_.list(folder);
  if (rest.ok() && rest.value().empty()) fs_.remove(folder);
}

Status bury(Fs& fs, const std::string& state_folder, const std::string& folder,
            const std::string& name, const std::string& object_name, const std::string& reason) {
  const std::string target = dead_file(folder, object_name);
  const std::string dead = state_folder + "/dead";
  const nlohmann::json note = {{"code", code_name(Code::unsupported)}, {"text", reason}};
  const std::string text = note.dump(1, ' ', false, nlohmann::json::error_handler_t::replace);
  if (Status s = fs.remove(dead + "/" + reason_file(target)); !s.ok()) return s;
  if (Status s = write_file(fs, dead + "/" + reason_file(target), text.data(), text.size());
      !s.ok()) {
    return s;
  }
  const std::string from = state_folder + "/outbox/" + folder + "/" + name;
  if (Status s = fs.rename(from, dead + "/" + target); !s.ok()) return s;
  return fs.sync_dir(dead);
}

}  // namespace crestgate
