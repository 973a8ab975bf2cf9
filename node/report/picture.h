// The picture for every viewer, even the oldest: 1600 x 1200 so that half size still reads.
#pragma once
#include "config/language.h"
#include "config/rules.h"
#include "node/report/build.h"
#include "node/report/canvas.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

inline constexpr int kPictureWidth = 1600, kPictureHeight = 1200;

inline constexpr int kSmallPictureWidth = 800, kSmallPictureHeight = 600;

/// The small 'no action' form is for usable images without findings, if the rules ask for it.
bool small_picture_wanted(const Analysis& analysis, const Rules& rules);

/// Draws the form without enlarged parts on an empty canvas of the small size.
void draw_small_picture(Canvas& canvas, const Analysis& analysis, const Frame& frame,
                        const Rules& rules, const ReportContext& context, const Language& text);

/// Draws the whole picture on an empty canvas of kPictureWidth x kPictureHeight.
void draw_picture(Canvas& canvas, const Analysis& analysis, const Frame& frame, const Rules& rules,
                  const ReportContext& context, const Language& text);

}  // namespace crestgate
