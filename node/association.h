// One association of the store SCP, from negotiation to its end.
#pragma once
#include <atomic>

#include "config/settings.h"
#include "node/commitment_net.h"
#include "node/retrievals.h"
#include "node/spool.h"

struct T_ASC_Association;

namespace crestgate {

/// Negotiates and serves until release, abort, idle timeout or `stopping`; frees the association.
/// `busy`: reject it as 'local limit exceeded'. `commitments`: takes storage commitment reports;
/// not accepted in negotiation if empty. `retrievals` as for StoreScp.
void serve_association(T_ASC_Association* association, const Settings& settings, Spool& spool,
                       const CommitmentSink& commitments, Retrievals* retrievals,
                       const std::atomic<bool>& stopping, bool busy);

}  // namespace crestgate
