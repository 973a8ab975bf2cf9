#include "node/commitment.h"

#include <algorithm>

#include "node/entry_names.h"

namespace crestgate {
namespace {

constexpr std::size_t kMostAskedAtOnce = 100;
constexpr std::uint16_t kClassNotSupported = 0x0122, kClassInstanceConflict = 0x0119;

std::string hex(std::uint16_t status) {
  char text[8];
  std::snprintf(text, sizeof text, "%04X", static_cast<unsigned>(status));
  return text;
}

}  // namespace

bool is_final_failure(std::uint16_t reason) {
  return reason == kClassNotSupported || reason == kClassInstanceConflict;
}

Commitments::Commitments(Fs& fs, const Clock& clock, std::string state_folder, int first_retry_s,
                         int longest_retry_s, int answer_s, CommitmentPeer peer)
    : fs_(fs),
      clock_(clock),
      root_(std::move(state_folder)),
      first_retry_s_(std::max(1, first_retry_s)),
      longest_retry_s_(std::max(first_retry_s_, longest_retry_s)),
      answer_s_(std::max(1, answer_s)),
      peer_(std::move(peer)) {}

bool Commitments::report(CommitmentReport report) {
  const std::lock_guard<std::mutex> lock(mutex_);
  if (open_.count(report.transaction_uid) == 0) return false;
  inbox_.push_back(std::move(report));
  return true;
}

bool Commitments::asked(const std::string& path) const {
  for (const auto& [uid, transaction] : open_) {
    for (const auto& [instance, object] : transaction.objects) {
      if (object.path() == path) return true;
    }
  }
  return false;
}

void Commitments::committed(const Sent& object, std::vector<OutboxEvent>& events) {
  const std::string folder = root_ + "/outbox/" + object.folder;
  if (Status s = fs_.remove(folder + "/" + object.name); !s.ok()) {
    events.push_back({OutboxEvent::Kind::problem, object.path(), s.text});
    return;  // asked again
  }
  waiting_.erase(object.path());
  events.push_back({OutboxEvent::Kind::committed, object.path(), ""});
  const auto rest = fs_.list(folder);
  if (rest.ok() && rest.value().empty()) fs_.remove(folder);
}

void Commitments::failed(const Sent& object, std::uint16_t reason,
                         std::vector<OutboxEvent>& events) {
  const std::string text = "archive did not commit, failure reason " + hex(reason);
  if (is_final_failure(reason)) {
    const Status s =
        bury(fs_, root_, object.folder, object.name, object_of_sent(object.name), text);
    if (s.ok()) {
      events.push_back({OutboxEvent::Kind::refused, object.path(), text});
      waiting_.erase(object.path());
      return;
    }
    events.push_back({OutboxEvent::Kind::problem, object.path(), s.text});
  }
  Wait& wait = waiting_[object.path()];
  wait.due_s = clock_.now_s() + back_off_s(++wait.failures, first_retry_s_, longest_retry_s_);
  wait.resend = true;
  events.push_back({OutboxEvent::Kind::not_committed, object.path(), text});
}

void Commitments::apply(const CommitmentReport& report, std::vector<OutboxEvent>& events) {
  Transaction transaction;
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    const auto it = open_.find(report.transaction_uid);
    if (it == open_.end()) return;
    transaction = std::move(it->second);
    open_.erase(it);
  }
  // What the report does not mention is asked for again.
  for (const auto& [instance, object] : transaction.objects) {
    if (const auto failure = report.failed.find(instance); failure != report.failed.end()) {
      failed(object, failure->second, events);
    } else if (std::find(report.committed.begin(), report.committed.end(), instance) !=
               report.committed.end()) {
      committed(object, events);
    }
  }
}

void Commitments::expire(std::int64_t now_s, std::vector<OutboxEvent>& events) {
  const std::lock_guard<std::mutex> lock(mutex_);
  for (auto it = open_.begin(); it != open_.end();) {
    if (it->second.deadline_s > now_s) {
      ++it;
      continue;
    }
    events.push_back({OutboxEvent::Kind::commitment_unanswered, it->first,
                      std::to_string(it->second.objects.size()) + " objects are asked for again"});
    it = open_.erase(it);
  }
}

std::vector<Commitments::Sent> Commitments::due_objects(std::int64_t now_s, std::int64_t& next_s,
                                                        std::vector<OutboxEvent>& events) {
  std::vector<Sent> due;
  const std::string outbox = root_ + "/outbox";
  const auto folders = fs_.list(outbox);
  for (const std::string& folder : folders.ok() ? folders.value() : std::vector<std::string>{}) {
    const auto names = fs_.list(outbox + "/" + folder);
    if (!parse_entry_folder(folder) || !names.ok()) continue;
    for (const std::string& name : names.value()) {
      const Sent object{folder, name};
      if (!is_sent_file(name) || asked(object.path())) continue;
      const auto wait = waiting_.find(object.path());
      if (wait != waiting_.end() && wait->second.due_s > now_s) continue;
      if (wait != waiting_.end() && wait->second.resend) {
        const std::string to = outbox + "/" + folder + "/" + object_of_sent(name);
        const Status s = fs_.rename(outbox + "/" + object.path(), to);
        if (!s.ok()) events.push_back({OutboxEvent::Kind::problem, object.path(), s.text});
        wait->second.resend = !s.ok();  // how often it failed is remembered
        next_s = now_s;
      } else if (due.size() < kMostAskedAtOnce) {
        due.push_back(object);
      } else {
        next_s = now_s;
      }
    }
  }
  return due;
}

void Commitments::ask(const std::vector<Sent>& objects, std::vector<OutboxEvent>& events) {
  Transaction transaction;
  std::vector<Instance> instances;
  for (const Sent& object : objects) {
    const auto bytes = fs_.read(root_ + "/outbox/" + object.path());
    const auto instance =
        bytes.ok() ? peer_.identify(bytes.value()) : Result<Instance>(bytes.status());
    if (!instance.ok()) {
      events.push_back({OutboxEvent::Kind::problem, object.path(), instance.status().text});
      Wait& wait = waiting_[object.path()];
      wait.due_s = clock_.now_s() + back_off_s(++wait.failures, first_retry_s_, longest_retry_s_);
      continue;
    }
    if (transaction.objects.emplace(instance.value().sop_instance_uid, object).second) {
      instances.push_back(instance.value());
    }
  }
  if (instances.empty()) return;
  const std::string uid = peer_.new_transaction_uid();
  transaction.deadline_s = clock_.now_s() + answer_s_;
  {
    // Open before it is asked: the answer may come on another association at once.
    const std::lock_guard<std::mutex> lock(mutex_);
    open_[uid] = std::move(transaction);
  }
  const auto answer = peer_.ask(uid, instances);
  if (!answer.ok()) {
    const std::lock_guard<std::mutex> lock(mutex_);
    open_.erase(uid);
    archive_.due_s =
        clock_.now_s() + back_off_s(++archive_.failures, first_retry_s_, longest_retry_s_);
    if (archive_.failures == 1) {
      events.push_back({OutboxEvent::Kind::commitment_unanswered, uid, answer.status().text});
    }
    return;
  }
  archive_ = {};
  if (answer.value() && answer.value()->transaction_uid == uid) apply(*answer.value(), events);
}

std::int64_t Commitments::step(std::vector<OutboxEvent>& events) {
  std::vector<CommitmentReport> reports;
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    reports.swap(inbox_);
  }
  for (const CommitmentReport& report : reports) apply(report, events);
  const std::int64_t now_s = clock_.now_s();
  expire(now_s, events);
  std::int64_t next_s = now_s + longest_retry_s_;
  std::vector<Sent> due;
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    due = due_objects(now_s, next_s, events);
  }
  if (!due.empty() && archive_.due_s <= now_s) ask(due, events);
  if (archive_.due_s > now_s) next_s = std::min(next_s, archive_.due_s);
  for (const auto& [path, wait] : waiting_) {
    if (wait.due_s > now_s) next_s = std::min(next_s, wait.due_s);
  }
  const std::lock_guard<std::mutex> lock(mutex_);
  for (const auto& [uid, transaction] : open_) next_s = std::min(next_s, transaction.deadline_s);
  return next_s;
}

}  // namespace crestgate
