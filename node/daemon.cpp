#include "node/daemon.h"

#include <fcntl.h>
#include <spdlog/spdlog.h>
#include <sys/file.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>

#include "node/commitment_net.h"
#include "node/log.h"
#include "node/store_scu.h"
#include "node/work.h"
#include "node/worker.h"
#include "node/worker_process.h"

namespace crestgate {
namespace {

constexpr int kWorkRetry_s = 5;

void log_event(const OutboxEvent& event) {
  const std::string tail = (event.object.empty() ? "" : " object=" + event.object) +
                           (event.text.empty() ? "" : " reason=" + log_value(event.text));
  switch (event.kind) {
    case OutboxEvent::Kind::delivered:
      spdlog::info("delivered object={}", event.object);
      break;
    case OutboxEvent::Kind::refused:
      spdlog::error("refused-by-archive{}", tail);
      break;
    case OutboxEvent::Kind::postponed:
      spdlog::warn("delivery-postponed{}", tail);
      break;
    case OutboxEvent::Kind::unreachable:
      spdlog::warn("archive-unreachable{}", tail);
      break;
    case OutboxEvent::Kind::reachable_again:
      spdlog::info("archive-reachable");
      break;
    case OutboxEvent::Kind::committed:
      spdlog::info("committed object={}", event.object);
      break;
    case OutboxEvent::Kind::not_committed:
      spdlog::warn("not-committed{}", tail);
      break;
    case OutboxEvent::Kind::commitment_unanswered:
      spdlog::warn("commitment-unanswered{}", tail);
      break;
    case OutboxEvent::Kind::problem:
      spdlog::error("outbox-problem{}", tail);
      break;
  }
}

}  // namespace

Daemon::Daemon(Settings settings, std::string program)
    : settings_(std::move(settings)), program_(std::move(program)), rules_(settings_.rules_file) {}

Daemon::~Daemon() { stop(); }

Status Daemon::lock_state() {
  const std::string path = settings_.state.folder + "/lock";
  lock_fd_ = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0640);
  if (lock_fd_ < 0) return errno_status(errno, path);
  if (::flock(lock_fd_, LOCK_EX | LOCK_NB) != 0) {
    return Status::error(Code::unavailable,
                         settings_.state.folder + " is in use by another crestgate");
  }
  return {};
}

void Daemon::make_outbox() {
  const auto& delivery = settings_.delivery;
  outbox_ = std::make_unique<Outbox>(
      fs_, clock_, settings_.state.folder, delivery.first_retry_s, delivery.longest_retry_s,
      [this](const std::string& name) { return spool_->in_work(name); },
      [this](const std::vector<Bytes>& objects) {
        return store_to_archive(settings_.archive, settings_.listen.ae_title, objects);
      },
      delivery.commitment);
  if (!delivery.commitment) return;
  const auto ask = [this](const std::string& uid, const std::vector<Instance>& instances) {
    return request_commitment(settings_.archive, settings_.listen.ae_title, uid, instances);
  };
  commitments_ = std::make_unique<Commitments>(
      fs_, clock_, settings_.state.folder, delivery.first_retry_s, delivery.longest_retry_s,
      delivery.commitment_answer_s, CommitmentPeer{random_uid, instance_of, ask});
}

void Daemon::make_comparer() {
  const auto make_job = [this] {
    const auto rules = rules_.current();
    WorkerJob job;
    job.rules = rules->given;
    set_surroundings(job, clock_.now_s(), settings_.listen.ae_title);
    job.exposures = index_->exposures_since(clock_.now_s() - kVisit_s);
    job.noted = index_->noted_since(clock_.now_s() - kVisit_s);
    job.visit_known = true;
    return job;
  };
  const auto run = [this](const std::string& path, const WorkerJob& job) -> Result<Bytes> {
    const WorkerLimits limits{settings_.workers.time_limit_s, settings_.workers.memory_limit_mb};
    const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
    if (fd < 0) return Status::error(Code::unavailable, path);
    auto output = run_worker(fd, encode_job(job), limits, program_);
    ::close(fd);
    return output;
  };
  const auto find = [this](SearchKeys keys) {
    const auto rules = rules_.current();
    keys.intents = rules->intents;
    keys.positioning = rules->positioning;
    keys.most_compared = rules->most_compared;
    return find_earlier_images(settings_.archive, settings_.listen.ae_title, keys, &retrievals_);
  };
  owed_ = std::make_unique<ComparisonQueue>(fs_, settings_.state.folder);
  comparer_ = std::make_unique<Comparer>(*owed_, *spool_, make_job, run, find);
}

Status Daemon::start() {
  const std::string& folder = settings_.state.folder;
  if (Status s = rules_.reload(); !s.ok()) return s;
  if (Status s = fs_.make_dirs(folder); !s.ok()) return s;
  if (Status s = lock_state(); !s.ok()) return s;
  std::string replaced;
  auto index = Index::open(folder + "/index.db", &replaced);
  if (!index.ok()) return index.status();
  if (!replaced.empty()) spdlog::error("index-replaced reason={}", log_value(replaced));
  index_ = std::move(index.value());
  spool_ = std::make_unique<Spool>(fs_, *index_, folder,
                                   static_cast<std::uint64_t>(settings_.state.least_free_mb) << 20);
  std::vector<std::string> notes;
  if (Status s = spool_->open(notes); !s.ok()) return s;
  for (const std::string& note : notes) spdlog::info("recovered what={}", log_value(note));

  make_outbox();
  make_comparer();
  if (Status s = owed_->open(); !s.ok()) return s;
  CommitmentSink sink;
  if (commitments_) {
    sink = [this](CommitmentReport report) {
      const bool ours = commitments_->report(std::move(report));
      wake_outbox();
      return ours;
    };
  }
  scp_ = std::make_unique<StoreScp>(settings_, *spool_, sink, &retrievals_);
  if (Status s = scp_->start(); !s.ok()) return s;
  for (int i = 0; i < settings_.workers.count; ++i) {
    workers_.emplace_back([this] { work_loop(); });
  }
  outbox_thread_ = std::thread([this] { outbox_loop(); });
  comparison_thread_ = std::thread([this] { comparison_loop(); });
  const auto rules = rules_.current();
  spdlog::info("serving ae={} address={}:{} archive={}@{}:{} rules={} mode={} digest={}",
               settings_.listen.ae_title, settings_.listen.address, scp_->port(),
               settings_.archive.ae_title, settings_.archive.host, settings_.archive.port,
               log_value(rules->given.name), rules->mode, rules->digest.substr(0, 12));
  return {};
}

void Daemon::stop() {
  if (scp_) scp_->stop();
  if (spool_) spool_->stop();
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    stopping_ = true;
  }
  wake_.notify_all();
  for (std::thread& worker : workers_) worker.join();
  workers_.clear();
  if (outbox_thread_.joinable()) outbox_thread_.join();
  if (comparison_thread_.joinable()) comparison_thread_.join();
  if (lock_fd_ >= 0) ::close(lock_fd_);
  lock_fd_ = -1;
}

Status Daemon::reload_rules() {
  Status s = rules_.reload();
  if (s.ok()) {
    const auto rules = rules_.current();
    spdlog::info("rules-reloaded mode={} digest={}", rules->mode, rules->digest.substr(0, 12));
  } else {
    spdlog::error("rules-kept: the new rules are not valid, the old ones stay in force\n{}",
                  s.text);
  }
  return s;
}

bool Daemon::sleep_unless_stopping(int seconds) {
  std::unique_lock<std::mutex> lock(mutex_);
  return !wake_.wait_for(lock, std::chrono::seconds(seconds), [this] { return stopping_; });
}

void Daemon::work_loop() {
  const Processor process = [this](const EntryName& entry, const std::string& path) {
    return comparer_->process(entry, path);
  };
  while (const auto entry = spool_->take()) {
    Status s = work_one(*spool_, clock_, process, *entry);
    while (!s.ok()) {
      // Disk full or failing, or no process to be had: try again until it goes or we stop.
      spdlog::error("cannot-work entry={} reason={}", entry->folder(), log_value(s.text));
      if (!sleep_unless_stopping(kWorkRetry_s)) {
        spool_->give_back(*entry);
        return;
      }
      s = work_one(*spool_, clock_, process, *entry);
    }
    wake_outbox();
  }
}

void Daemon::wake_outbox() {
  const std::lock_guard<std::mutex> lock(mutex_);
  new_objects_ = true;
  wake_.notify_all();
}

void Daemon::outbox_loop() {
  for (;;) {
    std::vector<OutboxEvent> events;
    std::int64_t next_s = outbox_->step(events);
    if (commitments_) next_s = std::min(next_s, commitments_->step(events));
    bool answered = false;
    for (const OutboxEvent& event : events) {
      log_event(event);
      answered = answered || event.kind == OutboxEvent::Kind::delivered;
    }
    const std::int64_t wait_s = std::max<std::int64_t>(next_s - clock_.now_s(), 1);
    std::unique_lock<std::mutex> lock(mutex_);
    if (answered) {
      archive_answered_ = true;
      wake_.notify_all();
    }
    wake_.wait_for(lock, std::chrono::seconds(wait_s),
                   [this] { return stopping_ || new_objects_; });
    if (stopping_) return;
    new_objects_ = false;
  }
}

void Daemon::comparison_loop() {
  int wait_s = settings_.delivery.first_retry_s;
  for (;;) {
    const bool owed = !owed_->list().empty();
    const bool settled = comparer_->settle_owed();
    if (owed) wake_outbox();
    wait_s = settled ? settings_.delivery.first_retry_s
                     : std::min(2 * wait_s, settings_.delivery.longest_retry_s);
    std::unique_lock<std::mutex> lock(mutex_);
    wake_.wait_for(lock, std::chrono::seconds(wait_s),
                   [this] { return stopping_ || archive_answered_; });
    if (stopping_) return;
    archive_answered_ = false;
  }
}

}  // namespace crestgate
