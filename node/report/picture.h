// The picture for every viewer, even the oldest: 1600 x 1200 so that half size still reads.
#pragma once
#include "config/rules.h"
#include "node/report/build.h"
#include "node/report/canvas.h"
#include "node/report/text.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

inline constexpr int kPictureWidth = 1600, kPictureHeight = 1200;

/// Draws the whole picture on an empty canvas of kPictureWidth x kPictureHeight.
void draw_picture(Canvas& canvas, const Analysis& analysis, const Frame& frame, const Rules& rules,
                  const ReportContext& context, const TextTable& text);

}  // namespace crestgate
