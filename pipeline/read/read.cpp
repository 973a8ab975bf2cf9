#include "pipeline/read/read.h"

#include <dcmtk/dcmdata/dcistrmb.h>

#include <array>
#include <exception>

#include "pipeline/read/dataset.h"
#include "pipeline/read/header.h"
#include "pipeline/read/native.h"
#include "pipeline/read/pixels.h"

namespace crestgate {
namespace {

// DCMTK reads nested sequences by recursion. Real intra-oral objects hold some tens of items;
// beyond this many an object is taken as an attack on the stack.
constexpr std::size_t kMostItems = 4000;

// SOP classes of design.md 1.1 (PS3.4 B.5). Whether a secondary capture of this sender is to be
// judged at all is the node's question.
const std::array<const char*, 6> kSopClasses = {
    UID_DigitalIntraOralXRayImageStorageForPresentation,
    UID_DigitalIntraOralXRayImageStorageForProcessing,
    UID_DigitalXRayImageStorageForPresentation,
    UID_DigitalXRayImageStorageForProcessing,
    UID_ComputedRadiographyImageStorage,
    UID_SecondaryCaptureImageStorage,
};

std::size_t count_items(const std::vector<std::uint8_t>& bytes) {
  std::size_t count = 0;
  for (std::size_t i = 0; i + 4 <= bytes.size(); i += 2) {
    const bool little =
        bytes[i] == 0xFE && bytes[i + 1] == 0xFF && bytes[i + 2] == 0x00 && bytes[i + 3] == 0xE0;
    const bool big =
        bytes[i] == 0xFF && bytes[i + 1] == 0xFE && bytes[i + 2] == 0xE0 && bytes[i + 3] == 0x00;
    if (little || big) ++count;
  }
  return count;
}

bool has_dicom_prefix(const std::vector<std::uint8_t>& bytes) {
  return bytes.size() >= 132 && bytes[128] == 'D' && bytes[129] == 'I' && bytes[130] == 'C' &&
         bytes[131] == 'M';
}

// Also reads a bare dataset without preamble, as some archives export it.
OFCondition parse(const std::vector<std::uint8_t>& bytes, DcmFileFormat& file) {
  DcmInputBufferStream stream;
  stream.setBuffer(bytes.data(), static_cast<offile_off_t>(bytes.size()));
  stream.setEos();
  file.transferInit();
  const OFCondition condition = file.read(stream, EXS_Unknown, EGL_noChange);
  file.transferEnd();
  return condition;
}

Status check_class(DcmItem& dataset, bool has_prefix) {
  const std::string uid = text_of(dataset, DCM_SOPClassUID);
  const std::string tag = tag_text(DCM_SOPClassUID);
  if (uid.empty() && !has_prefix)
    return Status::error(Code::invalid_input,
                         "not a DICOM file: no 'DICM' at byte 128, no dataset");
  if (uid.empty())
    return Status::error(Code::invalid_input, tag + " SOP Class UID is missing", tag);
  for (const char* known : kSopClasses)
    if (uid == known) return {};
  const char* name = dcmFindNameOfUID(uid.c_str());
  return Status::error(Code::unsupported,
                       tag + " objects of class " + (name ? name : uid.c_str()) + " are not read",
                       tag);
}

Result<ReadImage> read_parsed(DcmFileFormat& file, const OFCondition& parsed, bool has_prefix,
                              const ReadLimits& limits) {
  DcmDataset& dataset = *file.getDataset();
  const Status known = check_class(dataset, has_prefix);
  if (!known.ok()) return known;
  if (parsed.bad()) {
    const bool in_pixels = dataset.tagExists(DCM_PixelData);
    const std::string where = in_pixels ? tag_text(DCM_PixelData) + " Pixel Data: " : "";
    return Status::error(
        Code::invalid_input, where + "the object ends early or is damaged (" + parsed.text() + ")",
        in_pixels ? std::optional<std::string>(tag_text(DCM_PixelData)) : std::nullopt);
  }
  ReadImage image;
  image.acquisition = read_acquisition(dataset);
  const Result<NativePixels> pixels = read_native_pixels(dataset, limits.most_pixels);
  if (!pixels.ok()) return pixels.status();
  Result<Frame> frame = frame_from_pixels(dataset, pixels.value());
  if (!frame.ok()) return frame.status();
  image.frame = std::move(frame.value());
  return image;
}

}  // namespace

Result<ReadImage> read_image(const std::vector<std::uint8_t>& bytes, const ReadLimits& limits) {
  try {
    if (bytes.empty()) return Status::error(Code::invalid_input, "empty file");
    if (count_items(bytes) > kMostItems)
      return Status::error(Code::invalid_input, "more than " + std::to_string(kMostItems) +
                                                    " sequence items: not a radiograph");
    DcmFileFormat file;
    const OFCondition parsed = parse(bytes, file);
    return read_parsed(file, parsed, has_dicom_prefix(bytes), limits);
  } catch (const std::bad_alloc&) {
    return Status::error(Code::too_large, "not enough memory to read the object");
  } catch (const std::exception& e) {
    return Status::error(Code::invalid_input,
                         std::string("the object cannot be read: ") + e.what());
  }
}

}  // namespace crestgate
