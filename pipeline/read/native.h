// Encapsulated or native Pixel Data -> plain little-endian samples of one frame. Private to this
// folder; the only files that know the decoders.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "config/status.h"

class DcmDataset;

namespace crestgate {

/// Image Pixel module (PS3.3 C.7.6.3) of one frame as stored, and its samples.
struct NativePixels {
  int rows = 0, columns = 0, samples = 1;
  int bits_allocated = 16, bits_stored = 16, high_bit = 15;
  bool is_signed = false;
  bool planar = false;  ///< colour-by-plane
  bool lossy = false;   ///< lossy transfer syntax or Lossy Image Compression '01'
  std::string photometric;
  std::vector<std::uint8_t> bytes;  ///< little endian, rows * columns * samples values exactly

  std::size_t values() const { return static_cast<std::size_t>(rows) * columns * samples; }
};

/// Checks the Image Pixel attributes, then decodes. Errors name the attribute: too_large,
/// unsupported (bit depth, multi-frame, transfer syntax), invalid_input (absent, zero,
/// contradictory, truncated).
Result<NativePixels> read_native_pixels(DcmDataset& dataset, std::size_t most_pixels);

}  // namespace crestgate
