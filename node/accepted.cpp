#include "node/accepted.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcuid.h>

#include <algorithm>

namespace crestgate {

const std::vector<std::string>& image_classes() {
  static const std::vector<std::string> uids = {UID_DigitalIntraOralXRayImageStorageForPresentation,
                                                UID_DigitalIntraOralXRayImageStorageForProcessing,
                                                UID_DigitalXRayImageStorageForPresentation,
                                                UID_DigitalXRayImageStorageForProcessing,
                                                UID_ComputedRadiographyImageStorage,
                                                UID_SecondaryCaptureImageStorage};
  return uids;
}

const std::vector<std::string>& report_classes() {
  static const std::vector<std::string> uids = {
      UID_ComprehensiveSRStorage, UID_KeyObjectSelectionDocumentStorage,
      UID_GrayscaleSoftcopyPresentationStateStorage, UID_ColorSoftcopyPresentationStateStorage};
  return uids;
}

bool is_image_class(const std::string& uid) {
  const auto& uids = image_classes();
  return std::find(uids.begin(), uids.end(), uid) != uids.end();
}

bool is_report_class(const std::string& uid) {
  const auto& uids = report_classes();
  return std::find(uids.begin(), uids.end(), uid) != uids.end();
}

const std::vector<std::string>& transfer_syntaxes() {
  static const std::vector<std::string> uids = {
      UID_LittleEndianExplicitTransferSyntax, UID_LittleEndianImplicitTransferSyntax,
      UID_BigEndianExplicitTransferSyntax,    UID_DeflatedExplicitVRLittleEndianTransferSyntax,
      UID_JPEGProcess1TransferSyntax,         UID_JPEGProcess2_4TransferSyntax,
      UID_JPEGProcess14TransferSyntax,        UID_JPEGProcess14SV1TransferSyntax,
      UID_JPEGLSLosslessTransferSyntax,       UID_JPEGLSLossyTransferSyntax,
      UID_JPEG2000LosslessOnlyTransferSyntax, UID_JPEG2000TransferSyntax,
      UID_RLELosslessTransferSyntax};
  return uids;
}

}  // namespace crestgate
