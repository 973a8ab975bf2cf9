#include "node/report/uid.h"

#include <gtest/gtest.h>

#include <set>

namespace crestgate {
namespace {

// RFC 4122 appendix C: NameSpace_DNS 6ba7b810-9dad-11d1-80b4-00c04fd430c8.
constexpr std::array<std::uint8_t, 16> kDns = {0x6b, 0xa7, 0xb8, 0x10, 0x9d, 0xad, 0x11, 0xd1,
                                               0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30, 0xc8};

UidInputs inputs() { return {"1.2.3", "picture", "abc", "0.1.0", {"2.25.9", "2.25.10"}}; }

TEST(Uid, UuidAndDecimalAgreeWithPythonsUuidModule) {
  // Python 3.11: u = uuid.uuid5(uuid.NAMESPACE_DNS, 'python.org')
  //   -> UUID('886313e1-3b8a-5372-9b90-0c9aee199e5d') (also in Python's documentation)
  //   u.int -> 181289448026289383154478846676280385117
  const auto uuid = uuid_v5(kDns, "python.org");
  EXPECT_EQ(uuid[0], 0x88);
  EXPECT_EQ(uuid[15], 0x5d);
  EXPECT_EQ(decimal(uuid), "181289448026289383154478846676280385117");
}

TEST(Uid, DecimalAtTheEdges) {
  std::array<std::uint8_t, 16> number{};
  EXPECT_EQ(decimal(number), "0");
  number.fill(0xff);  // 2^128 - 1
  EXPECT_EQ(decimal(number), "340282366920938463463374607431768211455");
}

TEST(Uid, OrderOfBaselinesAndPriorsDoesNotMatter) {
  UidInputs other = inputs();
  std::swap(other.baseline_and_prior_uids[0], other.baseline_and_prior_uids[1]);
  EXPECT_EQ(derived_uid(inputs()), derived_uid(other));
}

TEST(Uid, EveryInputMatters) {
  std::set<std::string> seen = {derived_uid(inputs())};
  auto changed = [&](auto change) {
    UidInputs other = inputs();
    change(other);
    EXPECT_TRUE(seen.insert(derived_uid(other)).second);
  };
  changed([](UidInputs& i) { i.source_sop_instance_uid += "4"; });
  changed([](UidInputs& i) { i.kind = "structured-report"; });
  changed([](UidInputs& i) { i.ruleset_digest = "abd"; });
  changed([](UidInputs& i) { i.software_version = "0.1.1"; });
  changed([](UidInputs& i) { i.baseline_and_prior_uids.pop_back(); });
  // Fields must not run into each other.
  changed([](UidInputs& i) { i.ruleset_digest = "ab", i.software_version = "c0.1.0"; });
}

TEST(Uid, FitsTheUiValueRepresentation) {  // PS3.5 section 9.1: at most 64 characters
  const std::string uid = derived_uid(inputs());
  EXPECT_LE(uid.size(), 64U);
  EXPECT_EQ(uid.rfind("2.25.", 0), 0U);
  EXPECT_NE(uid[5], '0');
}

TEST(Uid, TheSameSiteOfAPatientKeepsItsTrackingUidOverImages) {
  EXPECT_EQ(tracking_uid("CLINIC", "7", "36", "1.2.3", 1),
            tracking_uid("CLINIC", "7", "36", "1.2.99", 2));
  EXPECT_NE(tracking_uid("CLINIC", "7", "36", "1.2.3", 1),
            tracking_uid("OTHER", "7", "36", "1.2.3", 1));
  EXPECT_NE(tracking_uid("CLINIC", "7", "", "1.2.3", 1),
            tracking_uid("CLINIC", "7", "", "1.2.3", 2));
  EXPECT_NE(tracking_uid("CLINIC", "", "36", "1.2.3", 1),
            tracking_uid("CLINIC", "", "36", "1.2.4", 1));
}

}  // namespace
}  // namespace crestgate
