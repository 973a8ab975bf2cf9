// Seeded cuts, byte flips and nesting: whatever comes in, the reader answers and never throws, and
// what it does return holds together. Run under the asan preset this also finds reads past the end.
#include <dcmtk/dcmdata/dcrleerg.h>
#include <dcmtk/dcmjpeg/djencode.h>
#include <dcmtk/dcmjpeg/djrplol.h>
#include <dcmtk/dcmjpls/djencode.h>
#include <gtest/gtest.h>

#include <random>

#include "pipeline/read/read.h"
#include "tests/pipeline/read/sample_object.h"

namespace crestgate {
namespace {

void expect_consistent(const Result<ReadImage>& image) {
  if (!image.ok()) {
    EXPECT_NE(image.status().code, Code::ok);
    EXPECT_FALSE(image.status().text.empty());
    return;
  }
  const Frame& frame = image.value().frame;
  ASSERT_GT(frame.rows, 0);
  ASSERT_GT(frame.columns, 0);
  ASSERT_EQ(frame.values.size(), static_cast<std::size_t>(frame.rows) * frame.columns);
  for (float value : frame.values) {
    ASSERT_GE(value, frame.lowest_storable);
    ASSERT_LE(value, frame.highest_storable);
  }
}

std::vector<std::vector<std::uint8_t>> specimens() {
  DJEncoderRegistration::registerCodecs();
  DJLSEncoderRegistration::registerCodecs();
  DcmRLEEncoderRegistration::registerCodecs();
  std::vector<std::vector<std::uint8_t>> result;
  for (E_TransferSyntax syntax : {EXS_LittleEndianExplicit, EXS_LittleEndianImplicit,
                                  EXS_JPEGProcess14SV1, EXS_JPEGLSLossless, EXS_RLELossless}) {
    auto file = sample::object();
    DJ_RPLossless lossless;
    file->getDataset()->chooseRepresentation(syntax,
                                             syntax == EXS_JPEGProcess14SV1 ? &lossless : nullptr);
    result.push_back(sample::bytes(*file, syntax));
  }
  return result;
}

TEST(Hostile, ACutFileIsRefusedAtEveryLength) {
  sample::silence_dcmtk();
  for (const auto& whole : specimens()) {
    ASSERT_TRUE(read_image(whole).ok()) << read_image(whole).status().text;
    for (std::size_t length = 0; length < whole.size(); length += 1 + length / 40) {
      const auto cut = read_image({whole.begin(), whole.begin() + static_cast<long>(length)});
      EXPECT_FALSE(cut.ok()) << length << " of " << whole.size();
      expect_consistent(cut);
    }
  }
}

TEST(Hostile, FlippedBytesNeverBreakTheReader) {
  sample::silence_dcmtk();
  std::mt19937 random(20261125);
  for (const auto& whole : specimens()) {
    for (int round = 0; round < 400; ++round) {
      auto bytes = whole;
      const int flips = 1 + static_cast<int>(random() % 6);
      for (int i = 0; i < flips;
           ++i)  // the header is where damage does most: half the flips go there
        bytes[random() % (round % 2 ? bytes.size() : std::min<std::size_t>(bytes.size(), 900))] =
            static_cast<std::uint8_t>(random());
      expect_consistent(read_image(bytes));
    }
  }
}

TEST(Hostile, DeepNestingIsRefusedBeforeItReachesTheParser) {
  sample::silence_dcmtk();
  auto file = sample::object();
  auto bytes = sample::bytes(*file);
  // (0040,0275) SQ undefined length, item undefined length, and so on downwards
  const std::uint8_t level[] = {0x40, 0x00, 0x75, 0x02, 'S',  'Q',  0,    0,    0xFF, 0xFF,
                                0xFF, 0xFF, 0xFE, 0xFF, 0x00, 0xE0, 0xFF, 0xFF, 0xFF, 0xFF};
  auto deep = [&](int levels) {
    auto nested = bytes;
    for (int i = 0; i < levels; ++i) nested.insert(nested.end(), level, level + sizeof level);
    return nested;
  };
  expect_consistent(read_image(deep(3900)));  // what the limit lets through fits the stack
  const auto refused = read_image(deep(200000));
  ASSERT_FALSE(refused.ok());
  EXPECT_NE(refused.status().text.find("sequence items"), std::string::npos);
}

}  // namespace
}  // namespace crestgate
