// The pixels the analysis sees. Plain values; safe to share between threads while const.
#pragma once
#include <cstdint>
#include <vector>

namespace crestgate {

/// Image coordinates: x to the right, y down, pixel centres at integers.
struct Point {
  double x = 0.0;
  double y = 0.0;
};

/// How a stored value depends on the X-ray exposure behind it (Pixel Intensity Relationship
/// (0028,1040)). 'For presentation' images are usually gamma'd, sharpened or equalised: unknown.
enum class Tone { linear, log, unknown };

/// Row-major grey values, larger = more radiopaque (photometric inversion already undone).
struct Frame {
  int rows = 0;
  int columns = 0;
  std::vector<float> values;
  std::vector<std::uint8_t> padding;  ///< 1 = pixel padding, never image content; empty if none
  float lowest_storable = 0.0F;  ///< end values of the stored range, same orientation as values
  float highest_storable = 0.0F;
  Tone tone = Tone::unknown;

  float at(int x, int y) const { return values[static_cast<std::size_t>(y) * columns + x]; }
  float& at(int x, int y) { return values[static_cast<std::size_t>(y) * columns + x]; }
  bool empty() const { return values.empty(); }
};

/// At either end of the stored range: clipped, and then it says nothing of the tone.
inline bool clipped(const Frame& frame, double grey) {
  const double margin = 0.004 * (frame.highest_storable - frame.lowest_storable);
  return grey <= frame.lowest_storable + margin || grey >= frame.highest_storable - margin;
}

/// The same picture with dark and bright exchanged, within the stored range; its tone is unknown.
inline Frame negative(Frame frame) {
  for (float& v : frame.values) v = frame.lowest_storable + frame.highest_storable - v;
  frame.tone = Tone::unknown;
  return frame;
}

}  // namespace crestgate
