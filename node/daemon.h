// `crestgate serve`: wires listener, spool, worker threads and outbox, and runs until SIGTERM or
// SIGINT (drain and end) with SIGHUP reloading the rules. Daemon itself knows no signals, so that
// tests run it in-process.
#pragma once
#include <atomic>
#include <condition_variable>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "config/settings.h"
#include "config/status.h"
#include "node/clock.h"
#include "node/commitment.h"
#include "node/comparer.h"
#include "node/comparison_queue.h"
#include "node/fs.h"
#include "node/index.h"
#include "node/outbox.h"
#include "node/rules_holder.h"
#include "node/spool.h"
#include "node/store_scp.h"

namespace crestgate {

class Daemon {
 public:
  /// `program`: the binary that knows the `worker` command.
  explicit Daemon(Settings settings, std::string program = "/proc/self/exe");
  ~Daemon();
  Daemon(const Daemon&) = delete;
  Daemon& operator=(const Daemon&) = delete;

  /// Rules, lock, index, spool recovery, listener, threads. Not ok: nothing runs.
  Status start();
  /// Listener first, then the images in work are finished; what waits stays on disk.
  void stop();
  Status reload_rules();
  int port() const { return scp_ ? scp_->port() : 0; }

 private:
  Status lock_state();
  void work_loop();
  void make_outbox();
  void outbox_loop();
  void wake_outbox();
  void make_comparer();
  void comparison_loop();
  bool sleep_unless_stopping(int seconds);

  Settings settings_;
  std::string program_;
  RulesHolder rules_;
  SystemClock clock_;
  PosixFs fs_;
  int lock_fd_ = -1;
  std::unique_ptr<Index> index_;
  std::unique_ptr<Spool> spool_;
  std::unique_ptr<Outbox> outbox_;
  std::unique_ptr<Commitments> commitments_;  ///< null: not wanted
  std::unique_ptr<ComparisonQueue> owed_;
  std::unique_ptr<Comparer> comparer_;
  Retrievals retrievals_;
  std::unique_ptr<StoreScp> scp_;
  std::vector<std::thread> workers_;
  std::thread outbox_thread_, comparison_thread_;
  std::mutex mutex_;
  std::condition_variable wake_;
  bool stopping_ = false;
  bool new_objects_ = false;
  bool archive_answered_ = false;  ///< owed comparisons need not wait for their back-off
};

/// Runs until a signal ends it; returns the exit code.
int serve(const Settings& settings);

}  // namespace crestgate
