// The learned numbers of this folder. Private to it. How they were obtained: DEVELOPERS.md,
// 'Platform'.
#pragma once
#include <iterator>

#include "pipeline/platform/cues.h"

namespace crestgate {

constexpr int kChannels = 24;
/// (fit_platform.py reads these two lines.) Rows between the three taps of each layer: together
/// they see 1.8 mm to either side.
constexpr int kTapRows[] = {1, 4, 12, 28};
constexpr int kLayers = static_cast<int>(std::size(kTapRows));

/// Rates every height by its cues x and by those of its neighbours:
///   y = tanh(entry x + entry_bias)
///   y += tanh(bias + the layer's taps at rows t - reach, t, t + reach), for each layer
///   rating = linear x + out y + constant; nowhere = of the mean and of the largest y of all rows
struct PlatformNet {
  float linear[kCues];
  float constant;
  float entry[kChannels][kCues];
  float entry_bias[kChannels];
  struct Layer {
    float tap[kChannels][kChannels][3];  ///< [to][from][coronal, here, apical]
    float bias[kChannels];
  } layer[kLayers];
  float out[kChannels];
  float nowhere_mean[kChannels], nowhere_most[kChannels];
  float nowhere_constant;
};
extern const PlatformNet kPlatformNet;

}  // namespace crestgate
