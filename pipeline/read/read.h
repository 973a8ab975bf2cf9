// Stage read: DICOM bytes -> pixels and acquisition facts, or a reasoned refusal naming the tag.
// The only pipeline folder that may use DCMTK and OpenJPEG. Thread-safe; decodes from memory.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "config/status.h"
#include "pipeline/image/acquisition.h"
#include "pipeline/image/frame.h"

namespace crestgate {

struct ReadImage {
  Frame frame;
  Acquisition acquisition;
};

struct ReadLimits {
  std::size_t most_pixels = 64UL * 1000 * 1000;
};

/// Errors: invalid_input (not DICOM, truncated, zero rows), unsupported (SOP class, transfer
/// syntax, multi-frame, colour), too_large. Status.tag names the attribute when there is one.
Result<ReadImage> read_image(const std::vector<std::uint8_t>& bytes, const ReadLimits& limits = {});

}  // namespace crestgate
