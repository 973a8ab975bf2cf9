#include "pipeline/read/pixels.h"

#include <algorithm>
#include <cstdlib>

#include "pipeline/read/dataset.h"

namespace crestgate {
namespace {

// Lossy compression leaves the channels of a grey picture equal only within its rounding.
constexpr int kLossyChannelTolerance = 3;

Status refuse_photometric(const std::string& text) {
  const std::string tag = tag_text(DCM_PhotometricInterpretation);
  return Status::error(Code::unsupported, tag + " " + text, tag);
}

/// Stored values without unused or overlay bits, sign extended (PS3.5 8.1.1).
class Samples {
 public:
  explicit Samples(const NativePixels& p)
      : p_(p), shift_(p.high_bit + 1 - p.bits_stored), mask_((1 << p.bits_stored) - 1) {}

  int operator[](std::size_t i) const {
    return decode(p_.bits_allocated == 8 ? p_.bytes[i]
                                         : p_.bytes[2 * i] | p_.bytes[2 * i + 1] << 8);
  }
  int decode(int raw) const { return extend((raw >> shift_) & mask_); }
  /// A 16-bit header value that describes stored values, e.g. Pixel Padding Value.
  int extend(int value) const {
    value &= mask_;
    return p_.is_signed && value > mask_ / 2 ? value - mask_ - 1 : value;
  }
  int lowest() const { return p_.is_signed ? -(mask_ / 2) - 1 : 0; }
  int highest() const { return p_.is_signed ? mask_ / 2 : mask_; }

 private:
  const NativePixels& p_;
  int shift_, mask_;
};

enum class Layout { grey, rgb, ybr, ybr_422 };

Result<Layout> layout_of(const NativePixels& p) {
  if (p.samples == 1) {
    if (p.photometric == "MONOCHROME1" || p.photometric == "MONOCHROME2") return Layout::grey;
    return refuse_photometric("'" + p.photometric + "' is not a grey image");
  }
  if (p.photometric == "RGB") return Layout::rgb;
  if (p.photometric == "YBR_FULL") return Layout::ybr;
  if (p.photometric == "YBR_FULL_422" && !p.planar && p.columns % 2 == 0) {
    return p.bytes.size() < p.values() * static_cast<std::size_t>(p.bits_allocated / 8)
               ? Layout::ybr_422
               : Layout::ybr;
  }
  return refuse_photometric("'" + p.photometric + "' is not read");
}

/// Grey value of pixel i, or false if the pixel has a colour.
class GreyReader {
 public:
  GreyReader(const NativePixels& p, Layout layout)
      : samples_(p),
        layout_(layout),
        planar_(p.planar),
        plane_(static_cast<std::size_t>(p.rows) * p.columns),
        tolerance_(p.lossy ? kLossyChannelTolerance : 0),
        neutral_(1 << (p.bits_stored - 1)) {}

  bool read(std::size_t i, int& grey) const {
    if (layout_ == Layout::grey) {
      grey = samples_[i];
      return true;
    }
    if (layout_ == Layout::ybr_422) {  // Y1 Y2 Cb Cr for each pair (PS3.3 C.7.6.3.1.2)
      const std::size_t quad = i / 2 * 4;
      grey = samples_[quad + i % 2];
      return neutral(samples_[quad + 2]) && neutral(samples_[quad + 3]);
    }
    const std::size_t step = planar_ ? plane_ : 1, first = planar_ ? i : 3 * i;
    const int a = samples_[first], b = samples_[first + step], c = samples_[first + 2 * step];
    grey = layout_ == Layout::ybr ? a : (a + b + c) / 3;
    if (layout_ == Layout::ybr) return neutral(b) && neutral(c);
    return std::max({a, b, c}) - std::min({a, b, c}) <= tolerance_;
  }
  const Samples& samples() const { return samples_; }

 private:
  bool neutral(int chroma) const { return std::abs(chroma - neutral_) <= tolerance_; }
  Samples samples_;
  Layout layout_;
  bool planar_;
  std::size_t plane_;
  int tolerance_, neutral_;
};

struct PaddingRange {
  int low = 1, high = 0;  // empty
  bool holds(int value) const { return value >= low && value <= high; }
};

// PS3.3 C.7.5.1.1.2: one value, or a range up to the limit in either order.
PaddingRange padding_range(DcmItem& d, const Samples& samples) {
  const auto value = number_of(d, DCM_PixelPaddingValue);
  if (!value) return {};
  const int first = samples.extend(static_cast<int>(*value));
  const auto limit = number_of(d, DCM_PixelPaddingRangeLimit);
  const int last = limit ? samples.extend(static_cast<int>(*limit)) : first;
  return {std::min(first, last), std::max(first, last)};
}

// For Processing images state the physics in the sign (PS3.3 C.8.11.3.1.3): -1, larger values mean
// less intensity. Images for presentation are made to be looked at: white is radiopaque.
bool larger_is_radiopaque(DcmItem& d, const NativePixels& p, bool for_processing) {
  const auto sign = number_of(d, DCM_PixelIntensityRelationshipSign);
  if (for_processing && sign && (*sign == 1 || *sign == -1)) return *sign == -1;
  return p.photometric != "MONOCHROME1";
}

// An image for presentation says LIN or LOG of the detector, not of what gamma, sharpening and
// equalisation made of it, so only For Processing images have a known tone.
Tone tone_of(DcmItem& d, bool for_processing) {
  if (!for_processing) return Tone::unknown;
  const std::string relation = text_of(d, DCM_PixelIntensityRelationship);
  if (relation == "LIN") return Tone::linear;
  if (relation == "LOG") return Tone::log;
  return Tone::unknown;
}

}  // namespace

Result<Frame> frame_from_pixels(DcmDataset& dataset, const NativePixels& pixels) {
  const Result<Layout> layout = layout_of(pixels);
  if (!layout.ok()) return layout.status();
  const GreyReader reader(pixels, layout.value());
  const Samples& samples = reader.samples();
  const bool for_processing = text_of(dataset, DCM_PresentationIntentType) == "FOR PROCESSING";
  const bool direct = larger_is_radiopaque(dataset, pixels, for_processing);
  const int mirror = samples.lowest() + samples.highest();
  const PaddingRange padding = padding_range(dataset, samples);

  Frame frame;
  frame.rows = pixels.rows;
  frame.columns = pixels.columns;
  frame.lowest_storable = static_cast<float>(samples.lowest());
  frame.highest_storable = static_cast<float>(samples.highest());
  frame.tone = tone_of(dataset, for_processing);
  const std::size_t count = static_cast<std::size_t>(pixels.rows) * pixels.columns;
  frame.values.resize(count);
  for (std::size_t i = 0; i < count; ++i) {
    int grey = 0;
    if (!reader.read(i, grey))
      return refuse_photometric("colour image: the channels differ at row " +
                                std::to_string(i / pixels.columns) + ", column " +
                                std::to_string(i % pixels.columns));
    frame.values[i] = static_cast<float>(direct ? grey : mirror - grey);
    if (padding.holds(grey)) {
      if (frame.padding.empty()) frame.padding.assign(count, 0);
      frame.padding[i] = 1;
    }
  }
  return frame;
}

}  // namespace crestgate
