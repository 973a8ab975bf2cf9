// JPEG 2000 frames, which DCMTK has no decoder for, by OpenJPEG from the fragments in memory.
// (GDCM decodes them too, but trusts the codestream's size over the buffer's: damaged headers
// corrupted the heap in our fuzz test.) Private to this folder.
#pragma once
#include "config/status.h"
#include "pipeline/read/native.h"

class DcmDataset;

namespace crestgate {

/// Fills bytes and layout of `out`, whose size and bit depth are already checked and must agree
/// with the codestream's. Errors: invalid_input, text without the tag.
Status decode_jpeg2000(DcmDataset& dataset, NativePixels& out);

}  // namespace crestgate
