#include "tests/node/odd_inputs.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>

#include <cstdlib>
#include <functional>
#include <stdexcept>

#include "tests/support/dicom_writer.h"
#include "tests/support/render.h"
#include "tests/support/scene_json.h"

namespace crestgate {
namespace {

using Change = std::function<void(DcmDataset&)>;

phantom::Scene scene() {
  phantom::Scene s = phantom::read_scene(SOURCE_DIR "/samples/scenes/03-seating-tilted-open.json");
  // Coarse pixels: the corpus is about formats, not about accuracy.
  s.detector.pixel_mm = 0.05;
  s.detector.columns = 420;
  s.detector.rows = 580;
  return s;
}

class Writer {
 public:
  explicit Writer(std::string folder) : folder_(std::move(folder)) {}
  std::string path(const std::string& name) const { return folder_ + "/" + name + ".dcm"; }

  void render(const std::string& name, const phantom::Scene& s) {
    phantom::write_dicom(phantom::render(s), s, path(name));
    inputs_.push_back({name, "", ""});
  }
  /// A copy of `from` with its header changed.
  void header(const std::string& name, const std::string& from, const Change& change,
              const std::string& same_pixels_as = "") {
    DcmFileFormat file;
    require(file.loadFile(path(from).c_str()).good(), "reading " + from);
    change(*file.getDataset());
    require(file.saveFile(path(name).c_str(), EXS_LittleEndianExplicit).good(), "writing " + name);
    inputs_.push_back({name, same_pixels_as, ""});
  }
  void recode(const std::string& name, const std::string& from, const std::string& tool,
              bool lossless = true) {
    const std::string command = tool + " " + path(from) + " " + path(name) + " >/dev/null 2>&1";
    require(std::system(command.c_str()) == 0, command);
    inputs_.push_back({name, lossless ? from : "", lossless ? "" : from});
  }
  std::vector<OddInput> done() { return inputs_; }

 private:
  static void require(bool good, const std::string& what) {
    if (!good) throw std::runtime_error("odd inputs: " + what);
  }
  std::string folder_;
  std::vector<OddInput> inputs_;
};

void put(DcmDataset& d, const DcmTagKey& key, const char* value) {
  d.putAndInsertString(key, value);
}

void transfer_syntaxes(Writer& w) {
  w.recode("implicit", "plain", "dcmconv +ti");
  w.recode("big-endian", "plain", "dcmconv +tb");
  w.recode("deflated", "plain", "dcmconv +td");
  w.recode("rle", "plain", "dcmcrle");
  w.recode("jpeg-lossless-sv1", "plain", "dcmcjpeg +e1 +un");
  w.recode("jpeg-lossless", "plain", "dcmcjpeg +el +un");
  w.recode("jpeg-ls", "plain", "dcmcjpls +el +un");
  w.recode("jpeg-2000", "plain", "gdcmconv --j2k");
  w.recode("jpeg-baseline", "8-bit", "dcmcjpeg +eb +q 95 +un", false);
  w.recode("jpeg-extended", "plain", "dcmcjpeg +ee +q 95 +un", false);
  w.recode("jpeg-ls-near-lossless", "plain", "dcmcjpls +en +md 2 +un", false);
  w.recode("jpeg-2000-lossy", "plain", "gdcmconv --j2k --lossy -r 10", false);
}

void pixel_guises(Writer& w) {
  for (const int bits : {8, 10, 16}) {
    phantom::Scene s = scene();
    s.processing.bits = bits;
    w.render(std::to_string(bits) + "-bit", s);
  }
  phantom::Scene inverse = scene();
  inverse.readout.monochrome1 = true;
  w.render("monochrome1", inverse);
  phantom::Scene cr = scene();
  cr.identity.object_class = phantom::ObjectClass::computed_radiography;
  w.render("computed-radiography", cr);
  cr.identity.object_class = phantom::ObjectClass::secondary_capture;
  w.render("secondary-capture", cr);
  w.header("signed", "computed-radiography", [](DcmDataset& d) {
    const Uint16* stored = nullptr;
    unsigned long count = 0;
    d.findAndGetUint16Array(DCM_PixelData, stored, &count);
    std::vector<Uint16> shifted(stored, stored + count);
    for (Uint16& v : shifted) v = static_cast<Uint16>((v - 2048) & 0x0fff);
    d.putAndInsertUint16Array(DCM_PixelData, shifted.data(), count);
    d.putAndInsertUint16(DCM_PixelRepresentation, 1);
    put(d, DCM_RescaleIntercept, "2048");
    put(d, DCM_RescaleSlope, "1");
    put(d, DCM_RescaleType, "US");
    for (const DcmTagKey& key : {DCM_WindowCenter, DCM_WindowWidth}) delete d.remove(key);
  });
  w.header("pixel-padding", "plain",
           [](DcmDataset& d) { d.putAndInsertUint16(DCM_PixelPaddingValue, 0); });
  w.header(
      "overlay", "plain",
      [](DcmDataset& d) {
        const Uint16 rows = 580, columns = 420;
        d.putAndInsertUint16(DcmTag(0x6000, 0x0010, EVR_US), rows);
        d.putAndInsertUint16(DcmTag(0x6000, 0x0011, EVR_US), columns);
        d.putAndInsertString(DcmTag(0x6000, 0x0040, EVR_CS), "G");
        const Sint16 origin[2] = {1, 1};
        d.putAndInsertSint16Array(DcmTag(0x6000, 0x0050, EVR_SS), origin, 2);
        d.putAndInsertUint16(DcmTag(0x6000, 0x0100, EVR_US), 1);
        d.putAndInsertUint16(DcmTag(0x6000, 0x0102, EVR_US), 0);
        const std::vector<Uint8> bits((rows * columns + 7) / 8 + 1, 0xAA);
        d.putAndInsertUint8Array(DcmTag(0x6000, 0x3000, EVR_OB), bits.data(), bits.size() & ~1UL);
      },
      "plain");
}

void headers(Writer& w) {
  w.header(
      "missing-study-attributes", "plain",
      [](DcmDataset& d) {
        for (const DcmTagKey& key :
             {DCM_StudyDate, DCM_StudyTime, DCM_StudyID, DCM_AccessionNumber, DCM_PatientBirthDate,
              DCM_PatientSex, DCM_ReferringPhysicianName, DCM_BurnedInAnnotation}) {
          delete d.remove(key);
        }
      },
      "plain");
  w.header(
      "empty-name", "plain",
      [](DcmDataset& d) {
        put(d, DCM_PatientName, "");
        put(d, DCM_PatientID, "");
      },
      "plain");
  w.header(
      "latin1-name", "plain",
      [](DcmDataset& d) {
        put(d, DCM_SpecificCharacterSet, "ISO_IR 100");
        put(d, DCM_PatientName, "J\xF8rgensen^S\xF8ren");
      },
      "plain");
  w.header(
      "utf8-name", "plain",
      [](DcmDataset& d) { put(d, DCM_PatientName, "Jørgensen^Søren=山田^太郎"); }, "plain");
  w.header(
      "iso2022-name", "plain",  // PS3.5 annex H.3.1, example 1
      [](DcmDataset& d) {
        put(d, DCM_SpecificCharacterSet, "\\ISO 2022 IR 87");
        put(d, DCM_PatientName,
            "Yamada^Tarou=\x1b$B;3ED\x1b(B^\x1b$BB@O:\x1b(B=\x1b$B$d$^$@\x1b(B^\x1b$B$?$m$&"
            "\x1b(B");
      },
      "plain");
  w.header("no-spacing", "plain", [](DcmDataset& d) {
    for (const DcmTagKey& key : {DCM_ImagerPixelSpacing, DCM_PixelSpacing}) delete d.remove(key);
  });
}

/// An implant of 2025 and a year later with 1.2 mm less bone at its left.
void follow_up_pair(Writer& w) {
  phantom::Scene s;
  s.detector.pixel_mm = 0.04;
  s.detector.columns = 520;
  s.detector.rows = 720;
  s.identity.tooth = "36";
  s.identity.laterality = "L";
  s.implants[0].abutment.base_diameter_mm = 3.4;
  s.bone.crest_left_mm = s.bone.crest_right_mm = 1.0;
  for (const auto& [name, date, uid] : {std::tuple{"baseline", "20250110", "2.25.8101"},
                                        std::tuple{"follow-up", "20260112", "2.25.8102"}}) {
    s.identity.date = date;
    s.identity.sop_uid = uid;
    s.identity.series_uid = std::string(uid) + ".2";
    s.identity.study_uid = std::string(uid) + ".1";
    w.render(name, s);
    s.bone.crest_left_mm = 2.2;
    s.detector.noise_seed = 99;
  }
}

}  // namespace

std::vector<OddInput> write_odd_inputs(const std::string& folder) {
  Writer w(folder);
  w.render("plain", scene());  // 12 bit in 16, Explicit VR Little Endian
  pixel_guises(w);
  transfer_syntaxes(w);
  headers(w);
  follow_up_pair(w);
  return w.done();
}

std::string rules_for_odd_inputs() { return SOURCE_DIR "/samples/rules.yaml"; }

}  // namespace crestgate
