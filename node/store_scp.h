// The listener: C-ECHO and C-STORE SCP, and N-EVENT-REPORT where storage commitment is wanted. One
// thread accepts, one thread per association serves it, at most max_associations at a time; a
// connection is given a thread only once its whole association request has arrived, so that silent
// connections cost no thread.
#pragma once
#include <atomic>
#include <list>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "config/settings.h"
#include "config/status.h"
#include "node/commitment_net.h"
#include "node/receive.h"

struct T_ASC_Network;

namespace crestgate {

class StoreScp {
 public:
  /// `settings` (its `listen` part) is copied; `spool` must outlive the listener. Port 0: any free.
  /// `commitments` takes reports of storage commitment; empty: they are not accepted.
  /// `retrievals` takes the answers to our own C-MOVE requests; null: they are dropped.
  StoreScp(const Settings& settings, Spool& spool, CommitmentSink commitments = nullptr,
           Retrievals* retrievals = nullptr);
  ~StoreScp();
  StoreScp(const StoreScp&) = delete;
  StoreScp& operator=(const StoreScp&) = delete;

  Status start();
  int port() const { return port_; }
  /// Accepts nothing more, lets objects being received finish, aborts idle associations, joins.
  void stop();

 private:
  struct Pending {
    int fd;
    std::int64_t deadline_s;
  };
  struct Server {
    std::thread thread;
    std::shared_ptr<std::atomic<bool>> done;
  };
  void accept_loop();
  void take_connection(int fd);
  void reap(bool all);

  Settings settings_;
  Spool& spool_;
  CommitmentSink commitments_;
  Retrievals* retrievals_;
  int listen_fd_ = -1;
  int port_ = 0;
  T_ASC_Network* network_ = nullptr;
  std::atomic<bool> stopping_{false};
  std::thread acceptor_;
  std::list<Server> servers_;
};

}  // namespace crestgate
