// Receipt of one C-STORE data set: streams its bytes unchanged into the spool, enforces the size
// limit before anything is parsed, and looks at the first elements only to see that the data set
// is the object the command announced.
#pragma once
#include <cstdint>
#include <string>

#include "config/status.h"
#include "node/retrievals.h"
#include "node/spool.h"

struct T_ASC_Association;
struct T_DIMSE_C_StoreRQ;

namespace crestgate {

struct ReceiveLimits {
  std::uint64_t most_bytes = 0;
  int idle_timeout_s = 60;
};

struct Received {
  /// The DIMSE status to answer; success only for what is durable, known or not for us.
  std::uint16_t answer = 0;
  std::string state;            ///< for the log: "stored", "already known", "not an image", ...
  Status status;                ///< why not, if refused
  bool connection_good = true;  ///< false: abort the association
};

/// An answer to a retrieval of our own goes to `retrievals`, if it waits for it, never to the
/// spool.
Received receive_object(T_ASC_Association* association, const T_DIMSE_C_StoreRQ& request,
                        unsigned char presentation_context, Spool& spool,
                        const std::string& own_ae_title, Retrievals* retrievals,
                        const ReceiveLimits& limits);

}  // namespace crestgate
