// Linked into the node's tests: logs off, so that a failure is not buried. The node processes that
// tests start have their own log, which is printed where it matters.
#include "node/log.h"

namespace {
const bool quiet = (crestgate::start_log("off"), true);
}
