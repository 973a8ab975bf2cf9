#include "pipeline/quality/quality.h"

#include "pipeline/quality/blur.h"
#include "pipeline/quality/noise.h"
#include "pipeline/quality/regions.h"

namespace crestgate {

namespace {

// A doubtful shape would lend its level to the metal's and its outline to the edges.
constexpr double kTrusted = 0.5;
// A step from background to metal that noise alone could make is no unit to give noise in.
constexpr double kLeastContrast = 3.0;

std::vector<ImplantShape> trusted(const std::vector<ImplantShape>& implants) {
  std::vector<ImplantShape> result;
  for (const ImplantShape& shape : implants)
    if (shape.confidence >= kTrusted) result.push_back(shape);
  return result;
}

}  // namespace

QualityMeasures measure_quality(const Frame& frame, const std::vector<ImplantShape>& all_implants) {
  QualityMeasures quality;
  const Content content = content_of(frame);
  if (frame.empty() || content.x1 - content.x0 < 32 || content.y1 - content.y0 < 32) return quality;
  const ClipLevels clip = clip_levels(frame, content);
  std::size_t low = 0, high = 0, total = 0;
  for (int y = content.y0; y < content.y1; ++y)
    for (int x = content.x0; x < content.x1; ++x) {
      if (!frame.padding.empty() && frame.padding[static_cast<std::size_t>(y) * frame.columns + x])
        continue;
      ++total;
      low += frame.at(x, y) <= clip.low;
      high += frame.at(x, y) >= clip.high;
    }
  if (total == 0) return quality;
  quality.clipped_low = static_cast<double>(low) / static_cast<double>(total);
  quality.clipped_high = static_cast<double>(high) / static_cast<double>(total);
  const std::vector<ImplantShape> implants = trusted(all_implants);
  const Contrast contrast = contrast_of(frame, content, implants);
  const std::optional<double> sd = noise_sd(frame, content, clip);
  if (sd && contrast.height() > kLeastContrast * *sd) quality.noise = *sd / contrast.height();
  const Blur blur = measure_blur(frame, content, clip, contrast, implants);
  quality.blur_sigma_px = blur.sigma_px;
  if (blur.sigma_px) quality.halo = blur.halo;
  quality.motion_direction_deg = blur.motion_direction_deg;
  return quality;
}

}  // namespace crestgate
