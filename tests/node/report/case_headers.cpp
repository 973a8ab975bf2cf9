#include "tests/node/report/case_parts.h"

namespace crestgate::report_test {
namespace {

void put_code(DcmItem& item, const DcmTagKey& key, const char* value, const char* meaning) {
  DcmItem* entry = nullptr;
  item.findOrCreateSequenceItem(key, entry, -2);
  put(*entry, DCM_CodeValue, value);
  put(*entry, DCM_CodingSchemeDesignator, "SCT");
  put(*entry, DCM_CodeMeaning, meaning);
}

}  // namespace

void fill_source(DcmDataset& s) {
  put(s, DCM_SOPClassUID, UID_DigitalIntraOralXRayImageStorageForPresentation);
  put(s, DCM_SOPInstanceUID, "2.25.1001");
  put(s, DCM_StudyInstanceUID, "2.25.1002");
  put(s, DCM_SeriesInstanceUID, "2.25.1003");
  put(s, DCM_ImageType, "ORIGINAL\\PRIMARY");
  put(s, DCM_Modality, "IO");
  put(s, DCM_PresentationIntentType, "FOR PRESENTATION");
  put(s, DCM_PatientName, "Example^Erika");
  put(s, DCM_PatientID, "CG-0001");
  put(s, DCM_IssuerOfPatientID, "INVENTED CLINIC");
  put(s, DCM_PatientBirthDate, "19700101");
  put(s, DCM_PatientSex, "F");
  put(s, DCM_StudyDate, "20261124");
  put(s, DCM_StudyTime, "101500");
  put(s, DCM_StudyID, "S1");
  put(s, DCM_AccessionNumber, "A100");
  put(s, DCM_ReferringPhysicianName, "Sample^Doctor");
  put(s, DCM_StudyDescription, "Implant control");
  put(s, DCM_Manufacturer, "Invented Detector Works");
  put(s, DCM_ManufacturerModelName, "Demo 2");
  put(s, DCM_TimezoneOffsetFromUTC, "+0100");
  put(s, DCM_ImageLaterality, "L");
  put(s, DCM_BurnedInAnnotation, "NO");
  put(s, DCM_ImagerPixelSpacing, "0.02\\0.02");
  put(s, DCM_KVP, "65");
  put_code(s, DCM_AnatomicRegionSequence, "91609006", "Mandible");
  put_code(s, DCM_PrimaryAnatomicStructureSequence, "866006002",
           "Mandibular left first molar tooth");
  s.putAndInsertUint16(DCM_Rows, 900);
  s.putAndInsertUint16(DCM_Columns, 700);
  s.putAndInsertUint16(DCM_BitsStored, 8);
  put(s, DCM_WindowCenter, "128");
  put(s, DCM_WindowWidth, "256");
}

void add_odd_headers(std::vector<Case>& cases) {
  Case c = base_case("missing-study-attributes");
  c.source = [](DcmDataset& s) {
    fill_source(s);
    for (const DcmTagKey& key : {DCM_StudyDate, DCM_StudyTime, DCM_AccessionNumber, DCM_StudyID,
                                 DCM_ReferringPhysicianName, DCM_PatientBirthDate, DCM_PatientSex,
                                 DCM_BurnedInAnnotation, DCM_TimezoneOffsetFromUTC}) {
      delete s.remove(key);
    }
  };
  cases.push_back(c);
  c.name = "empty-name-and-id";
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_PatientName, "");
    put(s, DCM_PatientID, "");
  };
  cases.push_back(c);
  c.name = "latin1-name";
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_SpecificCharacterSet, "ISO_IR 100");
    put(s, DCM_PatientName, "J\xF8rgensen^S\xF8ren");
  };
  cases.push_back(c);
  c.name = "utf8-name";
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_SpecificCharacterSet, "ISO_IR 192");
    put(s, DCM_PatientName, "Jørgensen^Søren=山田^太郎");
  };
  cases.push_back(c);
  c.name = "iso2022-name";  // PS3.5 annex H.3.1, example 1
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_SpecificCharacterSet, "\\ISO 2022 IR 87");
    put(s, DCM_PatientName,
        "Yamada^Tarou=\x1b$B;3ED\x1b(B^\x1b$BB@O:\x1b(B=\x1b$B$d$^$@\x1b(B^\x1b$B$?$m$&\x1b(B");
  };
  cases.push_back(c);
  c.name = "burned-in-source";
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_BurnedInAnnotation, "YES");
  };
  cases.push_back(c);
  c.name = "lossy-secondary-capture-source";
  c.source = [](DcmDataset& s) {
    fill_source(s);
    put(s, DCM_SOPClassUID, UID_SecondaryCaptureImageStorage);
    put(s, DCM_ConversionType, "WSD");
    put(s, DCM_LossyImageCompression, "01");
    put(s, DCM_LossyImageCompressionRatio, "11.3");
    put(s, DCM_LossyImageCompressionMethod, "ISO_10918_1");
  };
  cases.push_back(c);
}

}  // namespace crestgate::report_test
