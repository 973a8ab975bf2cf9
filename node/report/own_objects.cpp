#include "node/report/own_objects.h"

#include "node/report/identity.h"
#include "node/report/uid.h"

namespace crestgate {
namespace {

std::string text_of(DcmDataset& dataset, const DcmTagKey& key) {
  OFString value;
  dataset.findAndGetOFString(key, value);
  return {value.c_str(), value.size()};
}

bool has_our_block(DcmDataset& dataset) {
  // Another creator may hold 0010, so look at every reservation of the group.
  for (Uint16 element = 0x0010; element <= 0x00FF; ++element) {
    if (text_of(dataset, DcmTagKey(0x0099, element)) == kPrivateCreator) return true;
  }
  return false;
}

bool of_a_class_we_write(const std::string& sop_class) {
  return sop_class == UID_ComprehensiveSRStorage ||
         sop_class == UID_KeyObjectSelectionDocumentStorage ||
         sop_class == UID_SecondaryCaptureImageStorage ||
         sop_class == UID_GrayscaleSoftcopyPresentationStateStorage;
}

}  // namespace

bool is_own_object(DcmDataset& dataset) {
  if (has_our_block(dataset)) return true;
  return of_a_class_we_write(text_of(dataset, DCM_SOPClassUID)) &&
         text_of(dataset, DCM_Manufacturer) == kManufacturer &&
         text_of(dataset, DCM_ManufacturerModelName) == kManufacturer;
}

}  // namespace crestgate
