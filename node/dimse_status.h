// The one place where our Status becomes a DIMSE status of a C-STORE response, and a C-STORE
// response from the archive becomes a delivery decision. PS3.4 table B.2-1, PS3.7 annex C.
#pragma once
#include <cstdint>

#include "config/status.h"
#include "node/outbox.h"

namespace crestgate {

constexpr std::uint16_t kStoreSuccess = 0x0000;
constexpr std::uint16_t kStoreDuplicateInstance = 0x0111;  ///< PS3.7 C.5.7
constexpr std::uint16_t kStoreClassNotSupported = 0x0122;  ///< PS3.7 C.5.16
constexpr std::uint16_t kStoreProcessingFailure = 0x0110;  ///< PS3.7 C.5.19
constexpr std::uint16_t kStoreOutOfResources = 0xA700;
constexpr std::uint16_t kStoreDoesNotMatchClass = 0xA900;
constexpr std::uint16_t kStoreCannotUnderstand = 0xC000;

/// ok -> success; the unforeseen is a failure, never success. Failures that the sender may repeat
/// with success (disk full, no time) differ from those it may not.
std::uint16_t dimse_status(const Status& status);

/// What an archive's answer means for the object in the outbox.
DeliveryAnswer delivery_answer(std::uint16_t dimse_status);

}  // namespace crestgate
