// What the DICOM header says about how, of whom and why an image was taken. Strings are as stored
// (trimmed); character sets are handled by the report, which copies the attributes themselves.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace crestgate {

enum class Jaw { unknown, maxilla, mandible };

/// Where mm per pixel came from (PS3.3 10.7): 'imager' is at the detector's front plane.
struct Spacing {
  std::optional<double> row_mm;     ///< distance between rows (along y)
  std::optional<double> column_mm;  ///< distance between columns (along x)
  /// "none", "imager", "pixel", "pixel-geometry", "pixel-fiducial", "nominal-scanned", "conflict"
  std::string source = "none";
};

struct Acquisition {
  std::string sop_class_uid, sop_instance_uid, study_instance_uid, series_instance_uid;
  std::string modality;
  std::string patient_id, issuer_of_patient_id, birth_date;
  std::string content_date, content_time;  ///< acquisition, else content, else study date and time
  std::string manufacturer, model, detector_id, device_serial, station_name, operator_name;
  std::string image_laterality;             ///< "R", "L", "B" or empty
  Jaw jaw = Jaw::unknown;                   ///< from anatomy or tooth codes
  std::vector<std::string> teeth;           ///< ISO 3950 two-digit designations
  std::string patient_orientation_row, patient_orientation_column;
  /// True unless FOV Horizontal Flip (0018,7034) says NO: a mirrored read-out turns the direction.
  bool mirrored_possible = true;
  std::optional<bool> horizontal_flip;       ///< (0018,7034) when present
  std::optional<double> fov_rotation_deg;    ///< (0018,7032)
  Spacing spacing;
  std::optional<double> source_to_detector_mm, source_to_patient_mm, magnification;
  std::optional<double> kvp, exposure_uas;
  bool for_presentation = true;
  /// DICOM keyword -> what the header says of how stored values were made (read/header.cpp lists
  /// them); windows are left out: they change the display, not the stored values.
  std::map<std::string, std::string> processing_facts;
  bool burned_in_annotation = false;
  /// DICOM keyword -> text of the attributes intent rules may look at (StudyDescription,
  /// SeriesDescription, RequestedProcedureDescription, ReasonForTheRequestedProcedure, ...).
  std::map<std::string, std::string> reason_texts;
};

}  // namespace crestgate
