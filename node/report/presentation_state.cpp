#include "node/report/presentation_state.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "node/report/coordinates.h"
#include "node/report/wording.h"

namespace crestgate {
namespace {

constexpr const char* kLayer = "CRESTGATE";

/// Marks of one implant in (u, v) of its axis frame.
class Marks {
 public:
  Marks(const Analysis& analysis, const Implant& implant)
      : analysis_(analysis), shape_(implant.shape), implant_(implant) {
    px_per_mm_ = drawing_px_per_mm(analysis, shape_);
    // A twentieth more, so that rounding to single precision stays outside.
    clear_ = 1.05 * kKeepClear_mm * px_per_mm_;
  }

  std::vector<Polyline> lines() {
    axis();
    for (const double side : {-1.0, 1.0}) {
      platform_tick(side);
      crest_tick(side);
      flank(side);
    }
    return std::move(lines_);
  }

 private:
  /// Offset of the body's edge on a side; the traced edge would be noisier than a guide line needs.
  double edge(double side) const { return side * shape_.radius_px; }

  std::optional<double> crest_v(double side) const {
    const bool is_left = shape_.axis.minus_is_left() == (side < 0);
    const CrestLevel& level = is_left ? implant_.crest.left : implant_.crest.right;
    return level.contact_px;
  }

  bool inside(Point p) const {
    return p.x >= 0 && p.y >= 0 && p.x <= analysis_.columns - 1 && p.y <= analysis_.rows - 1;
  }

  /// Cut short at the image's border; left out if it starts beyond.
  void add(double u0, double v0, double u1, double v1) {
    const Point from = shape_.axis.to_image(u0, v0), end = shape_.axis.to_image(u1, v1);
    if (!inside(from)) return;
    Point to = end;
    constexpr int kSteps = 50;
    for (int i = kSteps; i > 0 && !inside(to); --i) {
      const double part = (i - 1.0) / kSteps;
      to = {from.x + part * (end.x - from.x), from.y + part * (end.y - from.y)};
    }
    if (std::hypot(to.x - from.x, to.y - from.y) < 1) return;
    lines_.push_back({from, to});
  }

  void axis() {
    if (!shape_.apex_in_view) return;
    const double from = shape_.length_px + clear_;
    add(0, from, 0, from + 0.15 * shape_.length_px);
  }

  void platform_tick(double side) {
    if (!implant_.platform_placed()) return;
    const double from = edge(side) + side * clear_;
    const std::optional<double> crest = crest_v(side);
    // Bone at platform level lies where the tick would be drawn.
    if (crest && std::abs(*crest) < clear_) return;
    add(from, 0, from + side * px_per_mm_, 0);
  }

  /// On the metal: outside it the tick would lie along the bone's edge.
  void crest_tick(double side) {
    const std::optional<double> crest = crest_v(side);
    if (!crest || std::abs(*crest) < clear_) return;
    const double from = edge(side) - side * clear_;
    if (std::abs(from) < 0.5 * px_per_mm_) return;
    add(from, *crest, from - side * 0.4 * px_per_mm_, *crest);
  }

  void flank(double side) {
    const std::optional<double> crest = crest_v(side);
    if (!crest) return;  // where the bone edge may be is not known
    const double from = std::max(0.0, *crest) + 2 * clear_;
    if (from > shape_.length_px) return;
    add(edge(side) + side * clear_, from, edge(side) + side * clear_, shape_.length_px);
  }

  const Analysis& analysis_;
  const ImplantShape& shape_;
  const Implant& implant_;
  double px_per_mm_ = 1, clear_ = 1;
  std::vector<Polyline> lines_;
};

void copy_if_present(DcmItem& from, DcmItem& to, std::initializer_list<DcmTagKey> keys) {
  for (const DcmTagKey& key : keys) {
    DcmElement* element = nullptr;
    if (from.findAndGetElement(key, element).good() && element != nullptr && !element->isEmpty()) {
      to.insert(OFstatic_cast(DcmElement*, element->clone()), OFTrue);
    }
  }
}

void write_displayed_area(DcmDataset& dataset, const Shared& shared, const Analysis& analysis) {
  DcmItem* area = nullptr;
  dataset.findOrCreateSequenceItem(DCM_DisplayedAreaSelectionSequence, area, -2);
  auto put_corner = [area](const DcmTagKey& key, Sint32 column, Sint32 row) {
    const Sint32 corner[2] = {column, row};
    auto* element = new DcmSignedLong(key);
    element->putSint32Array(corner, 2);
    area->insert(element, OFTrue);
  };
  put_corner(DCM_DisplayedAreaTopLeftHandCorner, 1, 1);
  put_corner(DCM_DisplayedAreaBottomRightHandCorner, analysis.columns, analysis.rows);
  put(*area, DCM_PresentationSizeMode, "SCALE TO FIT");
  OFString spacing;
  shared.source.findAndGetOFStringArray(DCM_PixelSpacing, spacing);
  if (spacing.empty()) shared.source.findAndGetOFStringArray(DCM_ImagerPixelSpacing, spacing);
  if (spacing.find('\\') != OFString_npos) {
    put(*area, DCM_PresentationPixelSpacing, spacing.c_str());
  } else {
    put(*area, DCM_PresentationPixelAspectRatio, "1\\1");
  }
}

void put_point(DcmItem& item, const DcmTagKey& key, Point pixel) {
  const Point at = to_dicom_graphic(pixel);
  const Float32 xy[2] = {static_cast<Float32>(at.x), static_cast<Float32>(at.y)};
  item.putAndInsertFloat32Array(key, xy, 2);
}

void write_text(DcmItem& annotation, const StateGraphics& graphics) {
  DcmItem* object = nullptr;
  annotation.findOrCreateSequenceItem(DCM_TextObjectSequence, object, -2);
  put(*object, DCM_BoundingBoxAnnotationUnits, "PIXEL");
  put(*object, DCM_UnformattedTextValue, graphics.text);
  put_point(*object, DCM_BoundingBoxTopLeftHandCorner, graphics.text_box.top_left);
  put_point(*object, DCM_BoundingBoxBottomRightHandCorner, graphics.text_box.bottom_right);
  put(*object, DCM_BoundingBoxTextHorizontalJustification, "LEFT");
}

void write_graphics(DcmDataset& dataset, const StateGraphics& graphics) {
  DcmItem* annotation = nullptr;
  DcmItem* layer = nullptr;
  dataset.findOrCreateSequenceItem(DCM_GraphicLayerSequence, layer, -2);
  put(*layer, DCM_GraphicLayer, kLayer);
  put(*layer, DCM_GraphicLayerOrder, "1");
  dataset.findOrCreateSequenceItem(DCM_GraphicAnnotationSequence, annotation, -2);
  put(*annotation, DCM_GraphicLayer, kLayer);
  if (!graphics.text.empty()) write_text(*annotation, graphics);
  for (const Polyline& line : graphics.lines) {
    DcmItem* object = nullptr;
    annotation->findOrCreateSequenceItem(DCM_GraphicObjectSequence, object, -2);
    std::vector<Float32> data;
    for (const Point& pixel : line) {
      const Point at = to_dicom_graphic(pixel);
      data.push_back(static_cast<Float32>(at.x));
      data.push_back(static_cast<Float32>(at.y));
    }
    put(*object, DCM_GraphicAnnotationUnits, "PIXEL");
    object->putAndInsertUint16(DCM_GraphicDimensions, 2);
    object->putAndInsertUint16(DCM_NumberOfGraphicPoints, static_cast<Uint16>(line.size()));
    object->putAndInsertFloat32Array(DCM_GraphicData, data.data(), data.size());
    put(*object, DCM_GraphicType, "POLYLINE");
    put(*object, DCM_GraphicFilled, "N");
  }
}

/// Modality LUT, VOI and presentation LUT as the source has them (C.11.1, C.11.8, C.11.6).
void write_grey_rendering(DcmDataset& dataset, DcmDataset& source) {
  copy_if_present(source, dataset, {DCM_ModalityLUTSequence});
  if (!dataset.tagExists(DCM_ModalityLUTSequence)) {
    copy_if_present(source, dataset, {DCM_RescaleIntercept, DCM_RescaleSlope, DCM_RescaleType});
    if (dataset.tagExists(DCM_RescaleSlope) && !dataset.tagExists(DCM_RescaleType)) {
      put(dataset, DCM_RescaleType, "US");
    }
  }
  if (source.tagExistsWithValue(DCM_VOILUTSequence) ||
      (source.tagExistsWithValue(DCM_WindowCenter) && source.tagExistsWithValue(DCM_WindowWidth))) {
    DcmItem* voi = nullptr;
    dataset.findOrCreateSequenceItem(DCM_SoftcopyVOILUTSequence, voi, -2);
    copy_if_present(source, *voi,
                    {DCM_VOILUTSequence, DCM_WindowCenter, DCM_WindowWidth,
                     DCM_WindowCenterWidthExplanation, DCM_VOILUTFunction});
  }
  copy_if_present(source, dataset, {DCM_PresentationLUTShape});
  if (!dataset.tagExists(DCM_PresentationLUTShape)) {
    OFString photometric;
    source.findAndGetOFString(DCM_PhotometricInterpretation, photometric);
    put(dataset, DCM_PresentationLUTShape, photometric == "MONOCHROME1" ? "INVERSE" : "IDENTITY");
  }
}

}  // namespace

double drawing_px_per_mm(const Analysis& analysis, const ImplantShape& shape) {
  return analysis.scale.mm_per_px ? 1.0 / analysis.scale.mm_per_px->value : 0.7 * shape.radius_px;
}

std::vector<Polyline> presentation_lines(const Analysis& analysis) {
  std::vector<Polyline> lines;
  for (const Implant& implant : analysis.implants) {
    if (implant.possible_only) continue;
    for (Polyline& line : Marks(analysis, implant).lines()) lines.push_back(std::move(line));
  }
  return lines;
}

bool can_be_drawn_on(const Analysis& analysis, DcmDataset& source) {
  Uint16 samples = 0;
  const bool colour = source.findAndGetUint16(DCM_SamplesPerPixel, samples).good() && samples > 1;
  return !colour && analysis.rows > 0 && !presentation_lines(analysis).empty();
}

bool presentation_state_wanted(const Analysis& analysis, DcmDataset& source, const Rules& rules) {
  return rules.output.presentation_state && can_be_drawn_on(analysis, source);
}

Result<BuiltObject> build_state(const ObjectPlan& plan, const Analysis& analysis,
                                const Shared& shared, const StateGraphics& graphics) {
  DcmDataset dataset;
  write_common(dataset, shared, plan);
  put(dataset, DCM_InstanceNumber, "1");
  OFString side;
  shared.source.findAndGetOFString(DCM_ImageLaterality, side);
  put(dataset, DCM_Laterality, side == "R" || side == "L" ? side.c_str() : "");
  put(dataset, DCM_ContentLabel, kLayer);
  put(dataset, DCM_ContentDescription, "Axis, platform, flanks and crest; not for diagnosis");
  put(dataset, DCM_ContentCreatorName, "");
  OFString value;
  dataset.findAndGetOFString(DCM_ContentDate, value);
  put(dataset, DCM_PresentationCreationDate, value.c_str());
  dataset.findAndGetOFString(DCM_ContentTime, value);
  put(dataset, DCM_PresentationCreationTime, value.c_str());
  delete dataset.remove(DCM_ContentDate);  // not of this IOD
  delete dataset.remove(DCM_ContentTime);
  write_displayed_area(dataset, shared, analysis);
  write_graphics(dataset, graphics);
  write_grey_rendering(dataset, shared.source);
  put_referenced_series(dataset, shared.from);
  return to_object(dataset, plan);
}

Result<BuiltObject> build_presentation_state(const Analysis& analysis, const Rules& rules,
                                             const Shared& shared, const Language& text) {
  const ObjectPlan plan{"presentation-state",
                        "presentation-state",
                        UID_GrayscaleSoftcopyPresentationStateStorage,
                        "PR",
                        9004,
                        encode(shared.source, series_description(analysis, rules, text))};
  return build_state(plan, analysis, shared, {presentation_lines(analysis), "", {}});
}

}  // namespace crestgate
