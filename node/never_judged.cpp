#include "node/never_judged.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>

#include <algorithm>

#include "node/accepted.h"
#include "node/report/own_objects.h"

namespace crestgate {
namespace {

/// Days since a fixed day, Gregorian (Fliegel and Van Flandern's integer formula).
bool day_number(const std::string& date, int& day) {
  if (date.size() < 8 || date.substr(0, 8).find_first_not_of("0123456789") != std::string::npos) {
    return false;
  }
  const int y = std::stoi(date.substr(0, 4));
  const int m = std::stoi(date.substr(4, 2));
  const int d = std::stoi(date.substr(6, 2));
  if (m < 1 || m > 12 || d < 1 || d > 31) return false;
  const int a = (m - 14) / 12;
  day =
      1461 * (y + 4800 + a) / 4 + 367 * (m - 2 - 12 * a) / 12 - 3 * ((y + 4900 + a) / 100) / 4 + d;
  return true;
}

bool contains(const std::vector<std::string>& list, const std::string& value) {
  return !value.empty() && std::find(list.begin(), list.end(), value) != list.end();
}

}  // namespace

int days_between(const std::string& from, const std::string& to, bool& good) {
  int a = 0, b = 0;
  good = day_number(from, a) && day_number(to, b);
  return good ? b - a : 0;
}

std::string why_not_judged(DcmDataset& dataset, const Rules& rules, const std::string& calling_ae,
                           bool any_sender) {
  if (is_own_object(dataset)) return "written by crestgate";
  OFString sop_class, modality;
  dataset.findAndGetOFString(DCM_SOPClassUID, sop_class);
  dataset.findAndGetOFString(DCM_Modality, modality);
  if (is_report_class(sop_class.c_str())) return "not an image";
  if (sop_class == UID_SecondaryCaptureImageStorage && modality != "IO" && !any_sender &&
      !contains(rules.secondary_capture_senders, calling_ae)) {
    return "secondary capture of modality '" + std::string(modality.c_str()) +
           "' (0008,0060) from a sender not in secondary_capture_senders";
  }
  return "";
}

std::string why_no_note(const Acquisition& acquisition, const Rules& rules,
                        const std::string& today) {
  bool good = false;
  const int age_days = days_between(acquisition.content_date, today, good);
  if (!good) return "the image has no usable date";
  if (age_days > rules.alerts.largest_image_age_days) {
    return "the image is " + std::to_string(age_days) + " days old";
  }
  if (rules.mode == Mode::live && rules.commissioning) {
    const auto& covered = rules.commissioning->detectors;
    if (!contains(covered, acquisition.detector_id) &&
        !contains(covered, acquisition.device_serial)) {
      return "its detector is not in the commissioning record";
    }
  }
  return "";
}

}  // namespace crestgate
