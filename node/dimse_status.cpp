#include "node/dimse_status.h"

#include <cstdio>

namespace crestgate {

std::uint16_t dimse_status(const Status& status) {
  switch (status.code) {
    case Code::ok:
      return kStoreSuccess;
    case Code::invalid_input:
      return kStoreCannotUnderstand;
    case Code::unsupported:
      return kStoreClassNotSupported;
    case Code::too_large:
    case Code::no_space:
    case Code::timeout:
    case Code::unavailable:
      return kStoreOutOfResources;
    case Code::not_found:
    case Code::internal:
      return kStoreProcessingFailure;
  }
  return kStoreProcessingFailure;
}

DeliveryAnswer delivery_answer(std::uint16_t s) {
  char text[64];
  std::snprintf(text, sizeof text, "archive answered %04X", s);
  const unsigned high = s >> 8;
  if (s == kStoreSuccess || s == kStoreDuplicateInstance || (s & 0xF000) == 0xB000) {
    return {Delivery::delivered, text};
  }
  // A9xx, Cxxx: it cannot take this object; 01xx as listed: it will not. Another attempt with the
  // same bytes ends the same way.
  const bool final_refusal = high == 0xA9 || (s & 0xF000) == 0xC000 ||
                             s == kStoreClassNotSupported || s == 0x0117 /* invalid instance */ ||
                             s == 0x0106 /* invalid value */ || s == 0x0115 /* invalid argument */;
  return {final_refusal ? Delivery::refused : Delivery::try_again, text};
}

}  // namespace crestgate
