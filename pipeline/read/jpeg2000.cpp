#include "pipeline/read/jpeg2000.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcpxitem.h>
#include <openjpeg.h>

#include <algorithm>
#include <cstring>
#include <memory>

#include "pipeline/read/dataset.h"

namespace crestgate {
namespace {

// All fragments after the offset table belong to the one frame.
std::vector<std::uint8_t> joined_fragments(DcmDataset& dataset) {
  DcmElement* element = nullptr;
  if (dataset.findAndGetElement(DCM_PixelData, element).bad()) return {};
  auto* pixel_data = dynamic_cast<DcmPixelData*>(element);
  if (!pixel_data) return {};
  E_TransferSyntax syntax = EXS_Unknown;
  const DcmRepresentationParameter* parameter = nullptr;
  DcmPixelSequence* sequence = nullptr;
  pixel_data->getOriginalRepresentationKey(syntax, parameter);
  if (pixel_data->getEncapsulatedRepresentation(syntax, parameter, sequence).bad() || !sequence)
    return {};
  std::vector<std::uint8_t> joined;
  for (unsigned long i = 1; i < sequence->card(); ++i) {
    DcmPixelItem* item = nullptr;
    Uint8* bytes = nullptr;
    if (sequence->getItem(item, i).bad() || item->getUint8Array(bytes).bad() || !bytes) return {};
    joined.insert(joined.end(), bytes, bytes + item->getLengthField());
  }
  return joined;
}

struct Source {
  const std::vector<std::uint8_t>& bytes;
  std::size_t position = 0;
};

OPJ_SIZE_T read_some(void* target, OPJ_SIZE_T count, void* user) {
  auto& source = *static_cast<Source*>(user);
  const std::size_t n = std::min<std::size_t>(count, source.bytes.size() - source.position);
  if (n == 0) return static_cast<OPJ_SIZE_T>(-1);  // OpenJPEG's end of stream
  std::memcpy(target, source.bytes.data() + source.position, n);
  source.position += n;
  return n;
}

OPJ_OFF_T skip_some(OPJ_OFF_T count, void* user) {
  auto& source = *static_cast<Source*>(user);
  const auto left = static_cast<OPJ_OFF_T>(source.bytes.size() - source.position);
  if (count < 0 || count > left) return -1;
  source.position += static_cast<std::size_t>(count);
  return count;
}

OPJ_BOOL seek_to(OPJ_OFF_T position, void* user) {
  auto& source = *static_cast<Source*>(user);
  if (position < 0 || static_cast<std::size_t>(position) > source.bytes.size()) return OPJ_FALSE;
  source.position = static_cast<std::size_t>(position);
  return OPJ_TRUE;
}

using Stream = std::unique_ptr<opj_stream_t, decltype(&opj_stream_destroy)>;
using Decoder = std::unique_ptr<opj_codec_t, decltype(&opj_destroy_codec)>;
using Image = std::unique_ptr<opj_image_t, decltype(&opj_image_destroy)>;

bool agrees(const opj_image_t& image, const NativePixels& p) {
  if (image.numcomps != static_cast<OPJ_UINT32>(p.samples)) return false;
  for (OPJ_UINT32 c = 0; c < image.numcomps; ++c) {
    const opj_image_comp_t& comp = image.comps[c];
    if (comp.w != static_cast<OPJ_UINT32>(p.columns) || comp.h != static_cast<OPJ_UINT32>(p.rows) ||
        comp.prec > static_cast<OPJ_UINT32>(p.bits_allocated))
      return false;
  }
  return true;
}

void copy_out(const opj_image_t& image, NativePixels& out) {
  const std::size_t width = static_cast<std::size_t>(out.bits_allocated / 8);
  const std::size_t step = static_cast<std::size_t>(out.samples);
  out.bytes.assign(out.values() * width, 0);
  for (std::size_t c = 0; c < step; ++c) {
    const opj_image_comp_t& comp = image.comps[c];
    // Samples as deep as the cell still hold the cell's own bit position.
    const bool bare = comp.prec <= static_cast<OPJ_UINT32>(out.bits_stored);
    const int shift = bare ? out.high_bit + 1 - out.bits_stored : 0;
    for (std::size_t i = 0; i < out.values() / step; ++i) {
      const auto value = static_cast<std::uint32_t>(comp.data[i]) << shift;
      for (std::size_t b = 0; b < width; ++b)
        out.bytes[(i * step + c) * width + b] = static_cast<std::uint8_t>(value >> (8 * b));
    }
  }
}

}  // namespace

Status decode_jpeg2000(DcmDataset& dataset, NativePixels& out) {
  const auto damaged = [](const char* text) { return Status::error(Code::invalid_input, text); };
  const std::vector<std::uint8_t> bytes = joined_fragments(dataset);
  if (bytes.empty()) return damaged("no compressed frame in it");
  Source source{bytes};
  const Stream stream(opj_stream_default_create(OPJ_TRUE), &opj_stream_destroy);
  const Decoder decoder(opj_create_decompress(OPJ_CODEC_J2K), &opj_destroy_codec);
  if (!stream || !decoder) return Status::error(Code::internal, "no decoder");
  opj_stream_set_user_data(stream.get(), &source, nullptr);
  opj_stream_set_user_data_length(stream.get(), bytes.size());
  opj_stream_set_read_function(stream.get(), read_some);
  opj_stream_set_skip_function(stream.get(), skip_some);
  opj_stream_set_seek_function(stream.get(), seek_to);
  opj_dparameters_t parameters;
  opj_set_default_decoder_parameters(&parameters);
  opj_image_t* raw = nullptr;
  if (!opj_setup_decoder(decoder.get(), &parameters) ||
      !opj_decoder_set_strict_mode(decoder.get(), OPJ_TRUE) ||
      !opj_read_header(stream.get(), decoder.get(), &raw))
    return damaged("its JPEG 2000 header is damaged");
  const Image image(raw, &opj_image_destroy);
  if (!agrees(*image, out))
    return damaged("its JPEG 2000 header contradicts Rows, Columns or depth");
  if (!opj_decode(decoder.get(), stream.get(), image.get()) || !agrees(*image, out))
    return damaged("its JPEG 2000 codestream is damaged");
  for (OPJ_UINT32 c = 0; c < image->numcomps; ++c)
    if (!image->comps[c].data) return damaged("its JPEG 2000 codestream is incomplete");
  copy_out(*image, out);
  out.planar = false;
  // The component transforms of Part 1 are undone by the decoder.
  if (out.photometric == "YBR_RCT" || out.photometric == "YBR_ICT") out.photometric = "RGB";
  return {};
}

}  // namespace crestgate
