// Pixel noise of the image. Private to this folder.
#pragma once
#include <optional>

#include "pipeline/quality/regions.h"

namespace crestgate {

/// Standard deviation of white noise in stored values, by the 3 x 3 difference of Laplacians
/// (Immerkaer J, Comput Vis Image Underst 1996;64:300), which is blind to planes and edges along
/// the rows, with a median in place of the mean so that threads and texture do not count. Empty if
/// fewer than 1000 pixels are free of clipping. Noise that the detector has blurred is
/// underestimated.
std::optional<double> noise_sd(const Frame& frame, const Content& content, const ClipLevels& clip);

}  // namespace crestgate
