// An archive for tests of loss and doubles: append-only, it counts every store of every instance
// and compares bytes; it can refuse, and it can be down. Waits are on conditions.
#pragma once
#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <thread>
#include <vector>

class DcmDataset;

namespace crestgate {

/// How the archive deals with storage commitment.
enum class CommitmentMode { not_offered, same_association, separate_association, silent };

class CountingScp {
 public:
  struct Stored {
    std::string sop_class_uid, sop_instance_uid, source_uid, content_hash;
  };
  CountingScp();
  ~CountingScp();
  CountingScp(const CountingScp&) = delete;
  CountingScp& operator=(const CountingScp&) = delete;

  /// Listens; the first time on any free port, then on the same one. Retries if the port is taken.
  void up();
  void down();
  int port() const { return port_; }

  /// DIMSE status to answer, given class and instance UID; success if unset.
  void answer(std::function<std::uint16_t(const std::string&, const std::string&)> rule);
  /// SOP classes it does not accept in negotiation. Before up().
  std::set<std::string> classes_not_accepted;
  /// Called with each data set stored, e.g. to route it back. Before up().
  std::function<void(DcmDataset&)> on_stored;

  /// Storage commitment: changed at any time, except from and to not_offered, which wants an up().
  std::atomic<CommitmentMode> commitment{CommitmentMode::not_offered};
  /// Where it reports on an association of its own: a node on this port.
  std::atomic<int> report_port{0};
  /// Failure Reason per instance UID; 0 commits. Instances it does not hold fail with 0112 anyway.
  void commit_rule(std::function<std::uint16_t(const std::string&)> rule);
  int commitment_requests() const;
  /// DIMSE status of the last report it sent; 0x10000 if it could not be delivered.
  int last_report_answer() const;

  /// Every store that was answered with success, in order.
  std::vector<Stored> stored() const;
  std::set<std::string> instances() const;
  /// Instances whose bytes differed from one store to the next.
  int changed_instances() const;
  int refused() const;
  /// True once the condition holds, looked at after every store and commitment report; false after
  /// the time limit.
  bool wait_for(const std::function<bool(const CountingScp&)>& condition, int limit_s = 60);

 private:
  class Server;
  std::uint16_t take(DcmDataset& dataset);
  /// Event information for a commitment request; `event`: 1 all committed, 2 failures.
  void fill_report(DcmDataset& request, DcmDataset& report, std::uint16_t& event);
  void note_report(int answer);
  int port_ = 0;
  std::unique_ptr<Server> server_;
  std::thread thread_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::vector<Stored> stored_;
  std::map<std::string, std::string> first_hash_;
  int changed_instances_ = 0, refused_ = 0, commitment_requests_ = 0, last_report_answer_ = -1;
  std::function<std::uint16_t(const std::string&)> commit_rule_;
  std::function<std::uint16_t(const std::string&, const std::string&)> rule_;
};

/// A TCP port nobody uses just now.
int free_port();

}  // namespace crestgate
