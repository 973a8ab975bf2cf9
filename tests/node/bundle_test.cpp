#include "node/bundle.h"

#include <gtest/gtest.h>

#include <random>

namespace crestgate {
namespace {

Bundle sample() {
  Bundle b;
  b.manifest = "{\"a\":1}";
  b.objects = {{1, 2, 3}, {}, std::vector<std::uint8_t>(70000, 9)};
  b.picture = {0x89, 'P', 'N', 'G'};
  return b;
}

TEST(Bundle, RoundTrip) {
  const auto back = decode_bundle(encode_bundle(sample()));
  ASSERT_TRUE(back.ok()) << back.status().text;
  EXPECT_EQ(back.value().manifest, sample().manifest);
  EXPECT_EQ(back.value().objects, sample().objects);
  EXPECT_EQ(back.value().picture, sample().picture);
}

TEST(Bundle, EveryCutIsAnError) {
  Bundle b = sample();
  b.objects.pop_back();
  const auto bytes = encode_bundle(b);
  for (std::size_t size = 0; size < bytes.size(); ++size) {
    EXPECT_FALSE(decode_bundle({bytes.begin(), bytes.begin() + static_cast<long>(size)}).ok())
        << size;
  }
}

TEST(Bundle, HostileLengthsAreNeverUsed) {
  const auto bytes = encode_bundle(sample());
  for (const std::uint64_t length :
       {0ULL, 1ULL, 0x7fffffffULL, 0x80000000ULL, 0xffffffffULL, 0x7fffffffffffffffULL,
        0xffffffffffffffffULL, 0xfffffffffffffff0ULL}) {
    auto bad = bytes;
    for (int i = 0; i < 8; ++i) bad[9 + i] = static_cast<std::uint8_t>(length >> (56 - 8 * i));
    EXPECT_FALSE(decode_bundle(bad).ok()) << length;
  }
}

TEST(Bundle, OrderAndCountAreChecked) {
  auto text_of = [](const std::vector<std::uint8_t>& bytes) {
    const auto result = decode_bundle(bytes);
    return result.ok() ? std::string("ok") : result.status().text;
  };
  auto bytes = encode_bundle(sample());
  bytes.push_back(0);
  EXPECT_NE(text_of(bytes).find("bytes after the end"), std::string::npos);
  bytes = encode_bundle(sample());
  bytes[8] = 'O';  // no manifest first
  EXPECT_NE(text_of(bytes).find("manifest"), std::string::npos);
  Bundle many;
  many.objects.resize(kMostBundleObjects + 1);
  EXPECT_NE(text_of(encode_bundle(many)).find("too many objects"), std::string::npos);
  EXPECT_NE(text_of({}).find("byte 0"), std::string::npos);
}

TEST(Bundle, RandomDamageNeverCrashes) {
  std::mt19937 random(20260101);
  const auto bytes = encode_bundle(sample());
  int accepted = 0;
  for (int i = 0; i < 3000; ++i) {
    auto bad = bytes;
    bad.resize(200);
    for (int k = 0; k < 4; ++k) bad[random() % bad.size()] = static_cast<std::uint8_t>(random());
    accepted += decode_bundle(bad).ok() ? 1 : 0;
  }
  EXPECT_EQ(accepted, 0);  // cut at 200 bytes, so none can be whole
}

}  // namespace
}  // namespace crestgate
