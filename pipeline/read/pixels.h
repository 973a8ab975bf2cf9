// Native samples -> Frame: mask, sign, photometric orientation, padding, tone. Private to this
// folder.
#pragma once
#include "config/status.h"
#include "pipeline/image/frame.h"
#include "pipeline/read/native.h"

class DcmDataset;

namespace crestgate {

/// Errors: unsupported, naming (0028,0004), for palette colour and for colour with unequal
/// channels.
Result<Frame> frame_from_pixels(DcmDataset& dataset, const NativePixels& pixels);

}  // namespace crestgate
