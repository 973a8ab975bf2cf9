#include "node/log.h"

#include <gtest/gtest.h>

namespace crestgate {
namespace {

TEST(LogValue, PeerTextCannotForgeALine) {
  EXPECT_EQ(log_value("plain-1.2"), "plain-1.2");
  EXPECT_EQ(log_value(""), "\"\"");
  EXPECT_EQ(log_value("two words"), "\"two words\"");
  EXPECT_EQ(log_value("a\nb key=1"), "\"a b key=1\"");
  EXPECT_EQ(log_value("say \"x\""), "\"say \\\"x\\\"\"");
  EXPECT_LE(log_value(std::string(100000, 'x')).size(), 302U);
}

}  // namespace
}  // namespace crestgate
