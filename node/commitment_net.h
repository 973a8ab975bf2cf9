// Storage commitment on the wire: N-ACTION as SCU, N-EVENT-REPORT on the same association or on
// one the archive opens (PS3.4 J.3). Thread-safe.
#pragma once
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "config/settings.h"
#include "node/commitment.h"

struct T_ASC_Association;
struct T_DIMSE_N_EventReportRQ;
class DcmItem;

namespace crestgate {

/// Takes a report; false if its transaction is not ours.
using CommitmentSink = std::function<bool(CommitmentReport)>;

/// Asks, then waits a few seconds for the report on the same association. Not ok: the archive could
/// not be reached, does not offer storage commitment or refused the request.
Result<std::optional<CommitmentReport>> request_commitment(const Peer& archive,
                                                           const std::string& own_ae_title,
                                                           const std::string& transaction_uid,
                                                           const std::vector<Instance>& instances);

/// SOP class and instance of a Part 10 file in memory.
Result<Instance> instance_of(const Bytes& object);

/// A fresh random UID (2.25 and a UUID).
std::string random_uid();

/// Event information of an N-EVENT-REPORT (PS3.4 table J.3-2).
CommitmentReport parse_commitment_report(DcmItem& information);

/// Receives the data of an N-EVENT-REPORT, hands it on and answers. False: the association is bad.
bool serve_commitment_report(T_ASC_Association* association, T_DIMSE_N_EventReportRQ& request,
                             unsigned char presentation_context, int timeout_s,
                             const CommitmentSink& sink);

}  // namespace crestgate
