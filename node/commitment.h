// Storage commitment (PS3.4 annex J, push model) of delivered objects: outbox/<image>/<nn>.sent
// until the archive has taken responsibility, then gone. What an archive says it has not got is
// sent again; no answer in time means asking again. The .sent files are the whole durable state:
// open transactions are forgotten at a stop and asked anew. One thread calls step(); report() may
// be called by any.
#pragma once
#include <cstdint>
#include <functional>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "node/clock.h"
#include "node/fs.h"
#include "node/outbox.h"

namespace crestgate {

struct Instance {
  std::string sop_class_uid, sop_instance_uid;
};

/// What an N-EVENT-REPORT says.
struct CommitmentReport {
  std::string transaction_uid;
  std::vector<std::string> committed;           ///< SOP Instance UIDs
  std::map<std::string, std::uint16_t> failed;  ///< with Failure Reason (0008,1197)
};

/// Failure reasons that sending again cannot mend (PS3.3 C.14.1.1): class not supported, class and
/// instance conflict.
bool is_final_failure(std::uint16_t failure_reason);

/// The archive as this stage sees it.
struct CommitmentPeer {
  /// A transaction UID nobody can guess.
  std::function<std::string()> new_transaction_uid;
  std::function<Result<Instance>(const Bytes& object)> identify;
  /// Asks; the report, if it came on the same association. Not ok: ask again later.
  std::function<Result<std::optional<CommitmentReport>>(const std::string& transaction_uid,
                                                        const std::vector<Instance>&)>
      ask;
};

class Commitments {
 public:
  Commitments(Fs& fs, const Clock& clock, std::string state_folder, int first_retry_s,
              int longest_retry_s, int answer_s, CommitmentPeer peer);

  /// Applies reports, asks for what is due. Returns the time at which to call again at the latest.
  std::int64_t step(std::vector<OutboxEvent>& events);
  /// A report that came on an association of the archive's. False: no transaction of ours.
  bool report(CommitmentReport report);

 private:
  struct Sent {
    std::string folder, name;  ///< name in the outbox folder, *.sent
    std::string path() const { return folder + "/" + name; }
  };
  struct Transaction {
    std::int64_t deadline_s = 0;
    std::map<std::string, Sent> objects;  ///< by SOP Instance UID
  };
  struct Wait {
    int failures = 0;
    std::int64_t due_s = 0;
    bool resend = false;  ///< at due_s: back to the outbox, to be sent again
  };
  void apply(const CommitmentReport& report, std::vector<OutboxEvent>& events);
  void committed(const Sent& object, std::vector<OutboxEvent>& events);
  void failed(const Sent& object, std::uint16_t reason, std::vector<OutboxEvent>& events);
  void expire(std::int64_t now_s, std::vector<OutboxEvent>& events);
  std::vector<Sent> due_objects(std::int64_t now_s, std::int64_t& next_s,
                                std::vector<OutboxEvent>& events);
  void ask(const std::vector<Sent>& objects, std::vector<OutboxEvent>& events);
  bool asked(const std::string& path) const;

  Fs& fs_;
  const Clock& clock_;
  std::string root_;
  int first_retry_s_, longest_retry_s_, answer_s_;
  CommitmentPeer peer_;
  std::map<std::string, Wait> waiting_;  ///< by path
  Wait archive_;                         ///< it cannot be asked just now
  std::mutex mutex_;                     ///< of what follows
  std::map<std::string, Transaction> open_;
  std::vector<CommitmentReport> inbox_;
};

}  // namespace crestgate
