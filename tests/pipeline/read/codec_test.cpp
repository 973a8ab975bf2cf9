// Encapsulated syntaxes come back value for value (lossless) or within their own rounding (lossy).
#include <dcmtk/dcmdata/dcrleerg.h>
#include <dcmtk/dcmjpeg/djencode.h>
#include <dcmtk/dcmjpeg/djrplol.h>
#include <dcmtk/dcmjpeg/djrploss.h>
#include <dcmtk/dcmjpls/djencode.h>
#include <gdcmImageChangeTransferSyntax.h>
#include <gdcmImageReader.h>
#include <gdcmImageWriter.h>
#include <gtest/gtest.h>

#include <random>
#include <sstream>
#include <thread>

#include "pipeline/read/read.h"
#include "tests/pipeline/read/sample_object.h"

namespace crestgate {
namespace {

using sample::Layout;

std::vector<std::uint8_t> encoded(const Layout& layout, E_TransferSyntax syntax,
                                  const DcmRepresentationParameter* parameter = nullptr) {
  auto file = sample::object(layout);
  const OFCondition done = file->getDataset()->chooseRepresentation(syntax, parameter);
  EXPECT_TRUE(done.good()) << done.text();
  return sample::bytes(*file, syntax);
}

std::vector<std::uint8_t> jpeg2000(const Layout& layout) {
  auto file = sample::object(layout);
  const auto native = sample::bytes(*file);
  std::istringstream in(std::string(native.begin(), native.end()));
  gdcm::ImageReader reader;
  reader.SetStream(in);
  EXPECT_TRUE(reader.Read());
  gdcm::ImageChangeTransferSyntax change;
  change.SetTransferSyntax(gdcm::TransferSyntax::JPEG2000Lossless);
  change.SetInput(reader.GetImage());
  EXPECT_TRUE(change.Change());
  gdcm::ImageWriter writer;
  std::ostringstream out;
  writer.SetStream(out);
  writer.SetFile(reader.GetFile());
  writer.SetImage(change.GetOutput());
  EXPECT_TRUE(writer.Write());
  const std::string text = out.str();
  return {text.begin(), text.end()};
}

void expect_ramp(const std::vector<std::uint8_t>& bytes, const Layout& layout, double tolerance) {
  const auto image = read_image(bytes);
  ASSERT_TRUE(image.ok()) << image.status().text;
  for (std::size_t i = 0; i < image.value().frame.values.size(); ++i)
    ASSERT_NEAR(image.value().frame.values[i], sample::ramp_value(layout, i), tolerance) << i;
}

class Codec : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    DJEncoderRegistration::registerCodecs();
    DJLSEncoderRegistration::registerCodecs();
    DcmRLEEncoderRegistration::registerCodecs();
  }
};

TEST_F(Codec, LosslessSyntaxesKeepEveryValue) {
  DJ_RPLossless lossless;
  for (const Layout& layout : {Layout{}, Layout{24, 32, 8, 8, 7}, Layout{24, 32, 16, 16, 15}}) {
    SCOPED_TRACE(layout.bits_stored);
    expect_ramp(encoded(layout, EXS_JPEGProcess14SV1, &lossless), layout, 0);
    expect_ramp(encoded(layout, EXS_JPEGProcess14, &lossless), layout, 0);
    expect_ramp(encoded(layout, EXS_JPEGLSLossless), layout, 0);
    expect_ramp(encoded(layout, EXS_RLELossless), layout, 0);
    expect_ramp(encoded(layout, EXS_DeflatedLittleEndianExplicit), layout, 0);
    expect_ramp(jpeg2000(layout), layout, 0);
  }
}

TEST_F(Codec, BaselineJpegStaysGreyWithinItsRounding) {
  DJ_RPLossy best(100);
  Layout layout{24, 32, 8, 8, 7};
  expect_ramp(encoded(layout, EXS_JPEGProcess1, &best), layout, 4);
}

TEST_F(Codec, DamagedJpeg2000NeverBreaksTheReader) {
  sample::silence_dcmtk();
  const auto whole = jpeg2000({});
  std::mt19937 random(20261126);
  for (int round = 0; round < 400; ++round) {
    auto bytes = whole;
    for (int i = 0; i < 4; ++i)
      bytes[600 + random() % (bytes.size() - 600)] = static_cast<std::uint8_t>(random());
    const auto image = read_image(bytes);
    EXPECT_EQ(image.ok(), image.status().text.empty());
  }
}

TEST_F(Codec, ACutJpeg2000FrameIsRefused) {
  auto bytes = jpeg2000({});
  for (std::size_t cut : {200UL, 600UL, 900UL}) {
    if (cut >= bytes.size()) continue;
    const auto image = read_image({bytes.begin(), bytes.end() - static_cast<long>(cut)});
    EXPECT_FALSE(image.ok()) << cut;
  }
}

TEST_F(Codec, ASyntaxWithoutDecoderIsNamed) {
  auto bytes = jpeg2000({});
  const std::string from = "1.2.840.10008.1.2.4.90", to = "1.2.840.10008.1.2.4.92";
  const auto at = std::search(bytes.begin(), bytes.end(), from.begin(), from.end());
  ASSERT_NE(at, bytes.end());
  std::copy(to.begin(), to.end(), at);
  const auto image = read_image(bytes);
  ASSERT_FALSE(image.ok());
  EXPECT_EQ(image.status().code, Code::unsupported);
  EXPECT_EQ(image.status().tag, "(7FE0,0010)");
}

TEST_F(Codec, SeveralThreadsMayReadAtOnce) {
  const auto jpls = encoded({}, EXS_JPEGLSLossless);
  const auto rle = encoded({}, EXS_RLELossless);
  const auto j2k = jpeg2000({});
  std::vector<std::thread> threads;
  for (int t = 0; t < 4; ++t)
    threads.emplace_back([&] {
      for (int i = 0; i < 20; ++i)
        for (const auto* bytes : {&jpls, &rle, &j2k}) EXPECT_TRUE(read_image(*bytes).ok());
    });
  for (std::thread& thread : threads) thread.join();
}

}  // namespace
}  // namespace crestgate
