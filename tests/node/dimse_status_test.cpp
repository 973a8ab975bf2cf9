#include "node/dimse_status.h"

#include <gtest/gtest.h>

namespace crestgate {
namespace {

// Values: PS3.4 table B.2-1 and PS3.7 annex C.
TEST(DimseStatus, EachOfOursHasItsAnswer) {
  const std::pair<Code, int> table[] = {{Code::ok, 0x0000},
                                        {Code::no_space, 0xA700},
                                        {Code::too_large, 0xA700},
                                        {Code::timeout, 0xA700},
                                        {Code::unavailable, 0xA700},
                                        {Code::unsupported, 0x0122},
                                        {Code::invalid_input, 0xC000},
                                        {Code::internal, 0x0110},
                                        {Code::not_found, 0x0110}};
  for (const auto& [code, status] : table) {
    EXPECT_EQ(dimse_status(Status::error(code, "")), status) << code_name(code);
  }
}

TEST(DimseStatus, WhatTheArchiveSaysDecidesDelivery) {
  for (const int s : {0x0000, 0x0111, 0xB000, 0xB006, 0xB007}) {
    EXPECT_EQ(delivery_answer(static_cast<std::uint16_t>(s)).delivery, Delivery::delivered) << s;
  }
  for (const int s : {0xA700, 0xA7FF, 0x0110, 0x0124, 0x0213, 0xFFFF}) {
    EXPECT_EQ(delivery_answer(static_cast<std::uint16_t>(s)).delivery, Delivery::try_again) << s;
  }
  for (const int s : {0xA900, 0xA9FF, 0xC000, 0xCFFF, 0x0122, 0x0117, 0x0106, 0x0115}) {
    EXPECT_EQ(delivery_answer(static_cast<std::uint16_t>(s)).delivery, Delivery::refused) << s;
  }
  EXPECT_EQ(delivery_answer(0xA900).text, "archive answered A900");
}

}  // namespace
}  // namespace crestgate
