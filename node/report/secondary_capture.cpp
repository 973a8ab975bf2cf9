#include "node/report/secondary_capture.h"

#include "node/report/codes.h"
#include "node/report/wording.h"

namespace crestgate {
namespace {

void write_source_reference(DcmDataset& dataset, const SourceIdentity& from) {
  DcmItem* image = nullptr;
  if (dataset.findOrCreateSequenceItem(DCM_SourceImageSequence, image, -2).bad()) return;
  put(*image, DCM_ReferencedSOPClassUID, from.sop_class_uid);
  put(*image, DCM_ReferencedSOPInstanceUID, from.sop_instance_uid);
  put_code(*image, DCM_PurposeOfReferenceCodeSequence, codes::kSourceImage);
  put_referenced_series(dataset, from);
}

void write_pixels(DcmDataset& dataset, Canvas& canvas) {
  const std::vector<std::uint8_t> pixels = canvas.rgb();
  dataset.putAndInsertUint16(DCM_SamplesPerPixel, 3);
  put(dataset, DCM_PhotometricInterpretation, "RGB");
  dataset.putAndInsertUint16(DCM_PlanarConfiguration, 0);
  dataset.putAndInsertUint16(DCM_Rows, static_cast<Uint16>(canvas.height()));
  dataset.putAndInsertUint16(DCM_Columns, static_cast<Uint16>(canvas.width()));
  dataset.putAndInsertUint16(DCM_BitsAllocated, 8);
  dataset.putAndInsertUint16(DCM_BitsStored, 8);
  dataset.putAndInsertUint16(DCM_HighBit, 7);
  dataset.putAndInsertUint16(DCM_PixelRepresentation, 0);
  dataset.putAndInsertUint8Array(DCM_PixelData, pixels.data(), pixels.size());
}

Result<BuiltObject> wrap(Canvas& canvas, const ObjectPlan& plan, int number, const char* derivation,
                         const Shared& shared) {
  DcmDataset dataset;
  write_common(dataset, shared, plan);
  put(dataset, DCM_InstanceNumber, std::to_string(number));
  put(dataset, DCM_ImageType, "DERIVED\\SECONDARY\\OTHER");
  put(dataset, DCM_ConversionType, "WSD");
  put(dataset, DCM_PatientOrientation, "");
  OFString side;
  shared.source.findAndGetOFString(DCM_ImageLaterality, side);
  put(dataset, side.empty() ? DCM_Laterality : DCM_ImageLaterality, side.c_str());
  put(dataset, DCM_DerivationDescription, derivation);
  // We burn in no identity; what the source holds is inside our picture too. Unknown stays unsaid.
  OFString burned_in;
  shared.source.findAndGetOFString(DCM_BurnedInAnnotation, burned_in);
  if (!burned_in.empty()) put(dataset, DCM_BurnedInAnnotation, burned_in.c_str());
  OFString lossy;
  shared.source.findAndGetOFString(DCM_LossyImageCompression, lossy);
  if (lossy == "01") {
    for (const DcmTagKey& key : {DCM_LossyImageCompression, DCM_LossyImageCompressionRatio,
                                 DCM_LossyImageCompressionMethod}) {
      DcmElement* element = nullptr;
      if (shared.source.findAndGetElement(key, element).good() && element != nullptr) {
        dataset.insert(OFstatic_cast(DcmElement*, element->clone()), OFTrue);
      }
    }
  }
  write_source_reference(dataset, shared.from);
  write_pixels(dataset, canvas);
  return to_object(dataset, plan);
}

}  // namespace

Result<BuiltObject> build_picture_object(Canvas& canvas, const Analysis& analysis,
                                         const Rules& rules, const Shared& shared,
                                         const Language& text) {
  const ObjectPlan plan{
      "picture", "picture", UID_SecondaryCaptureImageStorage,
      "OT",      9003,      encode(shared.source, series_description(analysis, rules, text))};
  return wrap(canvas, plan, 1,
              "Layout of radiograph, enlarged parts and text for viewing; not for diagnosis",
              shared);
}

Result<BuiltObject> build_subtraction_object(Canvas& canvas, int number, const Shared& shared,
                                             const Language& text) {
  const ObjectPlan plan{"subtraction-picture",
                        "subtraction-picture " + std::to_string(number),
                        UID_SecondaryCaptureImageStorage,
                        "OT",
                        9003,
                        encode(shared.source, text.get("series.comparison"))};
  return wrap(canvas, plan, number + 1,
              "Baseline, follow-up registered to it with equal grey values, and their difference; "
              "not for diagnosis",
              shared);
}

}  // namespace crestgate
