#include "node/entry_names.h"

#include <gtest/gtest.h>

#include "node/hash.h"

namespace crestgate {
namespace {

// SHA-256("abc") begins ba7816bf 8f01cfea 414140de 5dae2223 (FIPS 180-4 example B.1 of the NIST
// sample computations).
constexpr const char* kAbc = "ba7816bf8f01cfea414140de5dae2223";

TEST(ShortHash, IsTheFirstHalfOfSha256) { EXPECT_EQ(short_hash("abc"), kAbc); }

TEST(EntryNames, BuildAndParseBack) {
  EntryName entry;
  entry.sequence = 42;
  entry.uid_hash = short_hash("1.2.3");
  entry.content_hash = kAbc;
  entry.starts = 2;
  EXPECT_EQ(entry.file(), "0000000000000042-" + entry.uid_hash + "-" + kAbc + "-2.dcm");
  const auto back = parse_entry_file(entry.file());
  ASSERT_TRUE(back);
  EXPECT_EQ(back->sequence, 42U);
  EXPECT_EQ(back->uid_hash, entry.uid_hash);
  EXPECT_EQ(back->content_hash, kAbc);
  EXPECT_EQ(back->starts, 2);
  const auto folder = parse_entry_folder(entry.folder());
  ASSERT_TRUE(folder);
  EXPECT_EQ(folder->sequence, 42U);
  EXPECT_EQ(folder->uid_hash, entry.uid_hash);
}

TEST(EntryNames, EverythingElseIsNotOurs) {
  const std::string h(32, 'a');
  const std::string seq = "0000000000000001";
  for (const std::string& name :
       {std::string(), std::string("."), std::string("../../etc/passwd"),
        seq + "-" + h + "-" + h + "-0.dcm.json",                // a reason
        seq + "-" + h + "-" + h + "-0.DCM",                     // case matters
        seq + "-" + h + "-" + h + "-x.dcm",                     // starts is a digit
        seq + "-" + h + "-" + h + ".dcm",                       // no starts
        "00000000000000x1-" + h + "-" + h + "-0.dcm",           // counter has digits only
        seq + "-" + std::string(32, 'g') + "-" + h + "-0.dcm",  // not hex
        seq + "-" + std::string(31, 'a') + "/-" + h + "-0.dcm",
        seq + " " + h + "-" + h + "-0.dcm"}) {
    EXPECT_FALSE(parse_entry_file(name)) << name;
  }
  EXPECT_FALSE(parse_entry_folder(seq + "-" + h + "-"));
  EXPECT_FALSE(parse_entry_folder("-000000000000001-" + h));
}

TEST(EntryNames, PartObjectAndReasonNames) {
  EXPECT_EQ(part_file(7), "0000000000000007.part");
  EXPECT_TRUE(is_part_file("0000000000000007.part"));
  EXPECT_FALSE(is_part_file("7.part"));
  EXPECT_FALSE(is_part_file("00000000000000x7.part"));
  EXPECT_EQ(object_file(3, "key-object-note"), "03-key-object-note.dcm");
  EXPECT_EQ(object_file(4, "../Evil kind/9"), "04-vilkind.dcm");
  EXPECT_TRUE(is_object_file("03-key-object-note.dcm"));
  EXPECT_FALSE(is_object_file("03-key object.dcm"));
  EXPECT_FALSE(is_object_file("3-x.dcm"));
  EXPECT_TRUE(is_reason_file(reason_file("03-x.dcm")));
  EXPECT_FALSE(is_reason_file("03-x.json"));
}

}  // namespace
}  // namespace crestgate
