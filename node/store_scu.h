// One delivery attempt to the archive: C-STORE (and C-ECHO) SCU. Each call opens and closes its own
// association. Thread-safe.
#pragma once
#include <string>
#include <vector>

#include "config/settings.h"
#include "config/status.h"
#include "node/outbox.h"

class DcmSCU;

namespace crestgate {

/// What every association to the archive has in common: names, address, time limits, and a
/// Verification context, so that 'no such class accepted' is an answer and not a failed
/// association.
void configure_scu(DcmSCU& scu, const Peer& archive, const std::string& own_ae_title);
/// Opens it; Code::unavailable with address and reason otherwise.
Status connect_scu(DcmSCU& scu, const Peer& archive);

/// Sends complete Part 10 files over one association. Not ok: the archive could not be reached or
/// rejected the association (try again later).
Result<std::vector<DeliveryAnswer>> store_to_archive(const Peer& archive,
                                                     const std::string& own_ae_title,
                                                     const std::vector<Bytes>& objects);

/// ok if the archive answers C-ECHO.
Status echo_archive(const Peer& archive, const std::string& own_ae_title);

}  // namespace crestgate
