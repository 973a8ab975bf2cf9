// Durable delivery of built objects to the archive: outbox/<image>/<nn>-<kind>.dcm until the
// archive has them. The first built bytes are what is sent, again and again, until it answers
// success or 'duplicate SOP instance'. Where storage commitment is wanted the object then stays as
// .sent until the archive has committed to it (commitment.h). An archive that is down costs one
// attempt per back-off period and no memory; an object it refuses for good goes to dead/ with a
// .json reason. One thread calls step(); the counters may be read by others.
#pragma once
#include <cstdint>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "config/settings.h"
#include "node/clock.h"
#include "node/fs.h"

namespace crestgate {

enum class Delivery { delivered, try_again, refused };

struct DeliveryAnswer {
  Delivery delivery = Delivery::try_again;
  std::string text;  ///< what the archive said
};

/// One association: one answer per object, in order; not ok if the archive could not be reached.
using SendBatch = std::function<Result<std::vector<DeliveryAnswer>>(const std::vector<Bytes>&)>;

/// What a step did, for the log.
struct OutboxEvent {
  enum class Kind {
    delivered,
    refused,
    postponed,
    unreachable,
    reachable_again,
    committed,
    not_committed,
    commitment_unanswered,
    problem
  };
  Kind kind;
  std::string object, text;
};

/// Moves an object out of the outbox to dead/ with the reason beside it. `name`: its present file
/// name, `object_name`: the one it was built with.
Status bury(Fs& fs, const std::string& state_folder, const std::string& folder,
            const std::string& name, const std::string& object_name, const std::string& reason);

/// Doubling wait after so many failures, bounded.
std::int64_t back_off_s(int failures, int first_retry_s, int longest_retry_s);

class Outbox {
 public:
  /// `in_work(folder name)`: true while the spool still owns that folder. `keep_sent`: delivered
  /// objects wait as .sent for storage commitment instead of being removed.
  Outbox(Fs& fs, const Clock& clock, std::string state_folder, int first_retry_s,
         int longest_retry_s, std::function<bool(const std::string&)> in_work, SendBatch send,
         bool keep_sent = false);

  /// Sends what is due. Returns the time (Clock seconds) at which to call again at the latest.
  std::int64_t step(std::vector<OutboxEvent>& events);
  /// Forget the back-off: try everything at the next step.
  void retry_now();

 private:
  struct Wait {
    int failures = 0;
    std::int64_t due_s = 0;
  };
  struct Object {
    std::string folder, name;
    std::string path() const { return folder + "/" + name; }
  };
  std::vector<Object> due_objects(std::int64_t now_s, std::int64_t& next_s,
                                  std::vector<OutboxEvent>& events);
  bool send(const std::vector<Object>& batch, std::vector<OutboxEvent>& events);
  void settle(const Object& object, const DeliveryAnswer& answer, std::vector<OutboxEvent>& events);
  Status put_away(const Object& object);
  void postpone(const Object& object);

  Fs& fs_;
  const Clock& clock_;
  std::string root_;
  int first_retry_s_, longest_retry_s_;
  std::function<bool(const std::string&)> in_work_;
  SendBatch send_;
  bool keep_sent_;
  Wait archive_;                         ///< the whole archive is unreachable
  std::map<std::string, Wait> waiting_;  ///< objects it could not take just now
};

}  // namespace crestgate
