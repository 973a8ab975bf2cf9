// DICOM header -> Acquisition. For this folder, and for node/archive_search, which looks at headers
// only.
#pragma once
#include "pipeline/image/acquisition.h"

class DcmItem;

namespace crestgate {

/// Reads what is there; absent or unusable attributes leave the field empty. Changes nothing.
Acquisition read_acquisition(DcmItem& dataset);

/// PS3.3 10.7: which spacing is stated, in which plane. Values outside 0.001-1 mm count as absent.
Spacing read_spacing(DcmItem& dataset);

}  // namespace crestgate
