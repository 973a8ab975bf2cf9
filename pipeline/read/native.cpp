#include "pipeline/read/native.h"

#include <dcmtk/dcmdata/dcrledrg.h>
#include <dcmtk/dcmjpeg/djdecode.h>
#include <dcmtk/dcmjpls/djdecode.h>

#include <cstring>
#include <optional>

#include "pipeline/read/dataset.h"
#include "pipeline/read/jpeg2000.h"

namespace crestgate {
namespace {

Status refuse(Code code, const DcmTagKey& key, const std::string& text) {
  return Status::error(code, tag_text(key) + " " + text, tag_text(key));
}

// DCMTK keeps its decoders in a process-wide list that may be filled only once.
void register_decoders() {
  static const bool done = [] {
    DJDecoderRegistration::registerCodecs(EDC_photometricInterpretation, EUC_never);
    DJLSDecoderRegistration::registerCodecs(EJLSUC_never);
    DcmRLEDecoderRegistration::registerCodecs();
    return true;
  }();
  (void)done;
}

std::optional<int> integer(DcmItem& item, const DcmTagKey& key) {
  Uint16 value = 0;
  if (item.findAndGetUint16(key, value).bad()) return {};
  return value;
}

Status check_frames(DcmItem& d) {
  if (!d.tagExists(DCM_NumberOfFrames)) return {};
  const std::string text = text_of(d, DCM_NumberOfFrames);
  if (text.empty() || text == "1") return {};
  const auto frames = number_of(d, DCM_NumberOfFrames);
  if (!frames)
    return refuse(Code::invalid_input, DCM_NumberOfFrames, "Number of Frames is no number");
  if (*frames == 1) return {};
  return refuse(Code::unsupported, DCM_NumberOfFrames,
                "multi-frame image (" + text + " frames); one frame is read");
}

Status check_size(DcmItem& d, std::size_t most_pixels, NativePixels& out) {
  for (const DcmTagKey& key : {DCM_Rows, DCM_Columns}) {
    const auto size = integer(d, key);
    const std::string name = key == DCM_Rows ? "Rows" : "Columns";
    if (!size) return refuse(Code::invalid_input, key, name + " is missing");
    if (*size == 0) return refuse(Code::invalid_input, key, name + " is zero");
    (key == DCM_Rows ? out.rows : out.columns) = *size;
  }
  if (static_cast<std::size_t>(out.rows) * out.columns > most_pixels)
    return refuse(Code::too_large, DCM_Rows,
                  "image of " + std::to_string(out.rows) + " x " + std::to_string(out.columns) +
                      " pixels is larger than the limit of " + std::to_string(most_pixels));
  return {};
}

Status check_bits(DcmItem& d, NativePixels& out) {
  out.samples = integer(d, DCM_SamplesPerPixel).value_or(1);
  if (out.samples != 1 && out.samples != 3)
    return refuse(Code::unsupported, DCM_SamplesPerPixel,
                  std::to_string(out.samples) + " samples per pixel");
  const auto allocated = integer(d, DCM_BitsAllocated);
  if (!allocated)
    return refuse(Code::invalid_input, DCM_BitsAllocated, "Bits Allocated is missing");
  if (*allocated != 8 && *allocated != 16)
    return refuse(Code::unsupported, DCM_BitsAllocated,
                  std::to_string(*allocated) + " bits allocated; 8 and 16 are read");
  out.bits_allocated = *allocated;
  out.bits_stored = integer(d, DCM_BitsStored).value_or(*allocated);
  if (out.bits_stored > out.bits_allocated || out.bits_stored == 0)
    return refuse(Code::invalid_input, DCM_BitsStored,
                  std::to_string(out.bits_stored) + " bits stored do not fit in " +
                      std::to_string(out.bits_allocated) + " allocated");
  if (out.bits_stored < 6)
    return refuse(Code::unsupported, DCM_BitsStored,
                  std::to_string(out.bits_stored) + " bits stored; 6 to 16 are read");
  out.high_bit = integer(d, DCM_HighBit).value_or(out.bits_stored - 1);
  if (out.high_bit >= out.bits_allocated || out.high_bit + 1 < out.bits_stored)
    return refuse(Code::invalid_input, DCM_HighBit,
                  "High Bit " + std::to_string(out.high_bit) + " contradicts Bits Stored");
  out.is_signed = integer(d, DCM_PixelRepresentation).value_or(0) == 1;
  out.planar = integer(d, DCM_PlanarConfiguration).value_or(0) == 1;
  out.photometric = text_of(d, DCM_PhotometricInterpretation);
  return {};
}

Status copy_samples(DcmItem& d, NativePixels& out) {
  DcmElement* element = nullptr;
  if (d.findAndGetElement(DCM_PixelData, element).bad() || !element)
    return refuse(Code::invalid_input, DCM_PixelData, "Pixel Data is missing");
  // YBR_FULL_422 in native form stores two chroma values for two pixels: 2 instead of 3 per pixel.
  const std::size_t values =
      out.photometric == "YBR_FULL_422" && out.samples == 3 ? out.values() / 3 * 2 : out.values();
  const std::size_t needed = values * static_cast<std::size_t>(out.bits_allocated / 8);
  const std::size_t present = element->getLengthField();
  if (present < needed)
    return refuse(Code::invalid_input, DCM_PixelData,
                  "Pixel Data is truncated: " + std::to_string(present) + " of " +
                      std::to_string(needed) + " bytes");
  const void* data = nullptr;
  if (out.bits_allocated == 8) {
    Uint8* bytes = nullptr;
    if (element->getUint8Array(bytes).good()) data = bytes;
  } else {
    Uint16* words = nullptr;
    if (element->getUint16Array(words).good()) data = words;
  }
  if (!data) return refuse(Code::invalid_input, DCM_PixelData, "Pixel Data cannot be read");
  out.bytes.resize(needed);
  std::memcpy(out.bytes.data(), data, needed);
  return {};
}

bool is_lossy(DcmDataset& d, const DcmXfer& syntax) {
  return text_of(d, DCM_LossyImageCompression) == "01" || syntax.isLossy();
}

// Without a decoder the file is unsupported; a decoder that stumbles met damaged data.
Code decode_code(const OFCondition& condition) {
  return condition == EC_CannotChangeRepresentation ? Code::unsupported : Code::invalid_input;
}

Status decode(DcmDataset& d, const DcmXfer& syntax, NativePixels& out) {
  register_decoders();
  const OFCondition done = d.chooseRepresentation(EXS_LittleEndianExplicit, nullptr);
  if (done.good() && d.canWriteXfer(EXS_LittleEndianExplicit)) {
    const Status layout = check_bits(d, out);  // a decoder may change photometric and planar
    return layout.ok() ? copy_samples(d, out) : layout;
  }
  const bool jpeg2000 =
      syntax.getXfer() == EXS_JPEG2000LosslessOnly || syntax.getXfer() == EXS_JPEG2000;
  const Status status =
      jpeg2000 ? decode_jpeg2000(d, out) : Status::error(decode_code(done), done.text());
  if (status.ok()) return status;
  return refuse(status.code, DCM_PixelData,
                std::string("Pixel Data in transfer syntax ") + syntax.getXferName() + " (" +
                    syntax.getXferID() + ") cannot be decoded: " + status.text);
}

}  // namespace

Result<NativePixels> read_native_pixels(DcmDataset& dataset, std::size_t most_pixels) {
  NativePixels out;
  for (const Status& status :
       {check_frames(dataset), check_size(dataset, most_pixels, out), check_bits(dataset, out)})
    if (!status.ok()) return status;
  if (!dataset.tagExists(DCM_PixelData))
    return refuse(Code::invalid_input, DCM_PixelData, "Pixel Data is missing");
  const DcmXfer syntax(dataset.getOriginalXfer());
  out.lossy = is_lossy(dataset, syntax);
  const Status status =
      syntax.isEncapsulated() ? decode(dataset, syntax, out) : copy_samples(dataset, out);
  if (!status.ok()) return status;
  return out;
}

}  // namespace crestgate
