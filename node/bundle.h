// The framed bundle a worker child hands to the node over a pipe. Pure functions on bytes.
//
//   8 bytes  "CGBNDL01"
//   frames   1 byte type ('M' manifest JSON, 'O' object, 'P' picture PNG, 'E' end)
//            8 bytes payload length, big-endian; payload ('E': length 0)
// The manifest comes first, exactly once; 'E' ends the bundle and nothing may follow. The child
// is not trusted (it decodes hostile input): every length is checked before it is used.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "config/status.h"

namespace crestgate {

struct Bundle {
  std::string manifest;                            ///< JSON text
  std::vector<std::vector<std::uint8_t>> objects;  ///< DICOM files, in the manifest's order
  std::vector<std::uint8_t> picture;               ///< PNG, may be empty
};

/// A worker may not hand back more than this.
constexpr std::size_t kMostBundleBytes = 256UL * 1024 * 1024;
constexpr std::size_t kMostBundleObjects = 64;

std::vector<std::uint8_t> encode_bundle(const Bundle& bundle);

/// Errors: invalid_input, naming the byte offset.
Result<Bundle> decode_bundle(const std::vector<std::uint8_t>& bytes);

}  // namespace crestgate
