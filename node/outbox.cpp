#include "node/outbox.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "node/entry_names.h"

namespace crestgate {
namespace {
constexpr std::size_t kBatch = 32;
}

Outbox::Outbox(Fs& fs, const Clock& clock, std::string state_folder, int first_retry_s,
               int longest_retry_s, std::function<bool(const std::string&)> in_work, SendBatch send)
    : fs_(fs),
      clock_(clock),
      root_(std::move(state_folder)),
      first_retry_s_(std::max(1, first_retry_s)),
      longest_retry_s_(std::max(first_retry_s_, longest_retry_s)),
      in_work_(std::move(in_work)),
      send_(std::move(send)) {}

std::int64_t Outbox::back_off_s(int failures) const {
  std::int64_t wait = first_retry_s_;
  for (int i = 1; i < failures && wait < longest_retry_s_; ++i) wait *= 2;
  return std::min<std::int64_t>(wait, longest_retry_s_);
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
    archive_.due_s = clock_.now_s() + back_off_s(archive_.failures);
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

void Outbox::settle(const Object& object, const DeliveryAnswer& answer,
                    std::vector<OutboxEvent>& events) {
  const std::string folder = root_ + "/outbox/" + object.folder;
  switch (answer.delivery) {
    case Delivery::delivered:
      if (Status s = fs_.remove(folder + "/" + object.name); !s.ok()) {
        events.push_back({OutboxEvent::Kind::problem, object.path(), s.text});
        Wait& wait = waiting_[object.path()];
        wait.due_s = clock_.now_s() + back_off_s(++wait.failures);
        return;
      }
      events.push_back({OutboxEvent::Kind::delivered, object.path(), answer.text});
      break;
    case Delivery::refused:
      if (Status s = bury(object, answer.text); !s.ok()) {
        events.push_back({OutboxEvent::Kind::problem, object.path(), s.text});
        Wait& wait = waiting_[object.path()];
        wait.due_s = clock_.now_s() + back_off_s(++wait.failures);
        return;
      }
      events.push_back({OutboxEvent::Kind::refused, object.path(), answer.text});
      break;
    case Delivery::try_again: {
      Wait& wait = waiting_[object.path()];
      wait.due_s = clock_.now_s() + back_off_s(++wait.failures);
      if (wait.failures == 1) {
        events.push_back({OutboxEvent::Kind::postponed, object.path(), answer.text});
      }
      return;
    }
  }
  waiting_.erase(object.path());
  const auto rest = fs_.list(folder);
  if (rest.ok() && rest.value().empty()) fs_.remove(folder);
}

Status Outbox::bury(const Object& object, const std::string& reason) {
  const std::string name = dead_file(object.folder, object.name);
  const std::string dead = root_ + "/dead";
  const nlohmann::json note = {{"code", code_name(Code::unsupported)}, {"text", reason}};
  const std::string text = note.dump(1, ' ', false, nlohmann::json::error_handler_t::replace);
  if (Status s = fs_.remove(dead + "/" + reason_file(name)); !s.ok()) return s;
  if (Status s = write_file(fs_, dead + "/" + reason_file(name), text.data(), text.size());
      !s.ok()) {
    return s;
  }
  if (Status s = fs_.rename(root_ + "/outbox/" + object.path(), dead + "/" + name); !s.ok()) {
    return s;
  }
  return fs_.sync_dir(dead);
}

}  // namespace crestgate
