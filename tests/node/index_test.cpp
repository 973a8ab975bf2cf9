#include "node/index.h"

#include <gtest/gtest.h>

#include <fstream>

#include "tests/support/net/net_client.h"

namespace crestgate {
namespace {

TEST(Index, RemembersOverReopening) {
  const TempFolder folder;
  const std::string path = folder.path() + "/index.db";
  {
    auto index = Index::open(path);
    ASSERT_TRUE(index.ok()) << index.status().text;
    EXPECT_FALSE(index.value()->find("u1"));
    ASSERT_TRUE(index.value()->record({"u1", "c1", "k", 100}).ok());
    ASSERT_TRUE(index.value()->record({"u1", "c1", "k", 100}).ok());  // again is ok
  }
  auto index = Index::open(path);
  ASSERT_TRUE(index.ok());
  EXPECT_EQ(index.value()->find("u1"), "c1");
  EXPECT_EQ(index.value()->count(), 1);
}

TEST(Index, CountsExposuresOfAVisit) {
  auto index = Index::open(":memory:");
  ASSERT_TRUE(index.ok());
  index.value()->record({"u1", "c", "site a", 100});
  index.value()->record({"u2", "c", "site a", 200});
  index.value()->record({"u3", "c", "site b", 200});
  index.value()->record({"u4", "c", "", 200});
  const auto counts = index.value()->exposures_since(150);
  EXPECT_EQ(counts, (std::map<std::string, int>{{"site a", 1}, {"site b", 1}}));
  EXPECT_EQ(index.value()->exposures_since(100).at("site a"), 2);
}

TEST(Index, ADamagedFileIsKeptAsideAndANewOneBegun) {
  const TempFolder folder;
  const std::string path = folder.path() + "/index.db";
  std::ofstream(path) << "this is no database, and long enough not to be taken for an empty one";
  std::string replaced;
  auto index = Index::open(path, &replaced);
  ASSERT_TRUE(index.ok()) << index.status().text;
  EXPECT_NE(replaced.find(path), std::string::npos);
  EXPECT_TRUE(std::ifstream(path + ".damaged").good());
  EXPECT_EQ(index.value()->count(), 0);
}

}  // namespace
}  // namespace crestgate
