// Every object of every case judged by programs that are not ours: dciodvfy (dicom3tools), pydicom,
// DCMTK's dsrdump, dsr2html and dcmpschk. A judge that is not installed fails the test.
#include <gtest/gtest.h>
#include <stdlib.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <map>

#include "node/report/codes.h"
#include "tests/node/report/cases.h"
#include "tests/support/command.h"

namespace crestgate {
namespace {

namespace fs = std::filesystem;
using report_test::Case;

class Interop : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    char pattern[] = "/tmp/crestgate-interop-XXXXXX";
    folder() = mkdtemp(pattern);
    for (const Case& c : report_test::all_cases()) {
      DcmDataset source;
      c.source(source);
      auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
      ASSERT_TRUE(built.ok()) << c.name << ": " << built.status().text;
      int index = 0;
      for (const BuiltObject& object : built.value()) {
        const fs::path path =
            folder() / (c.name + "-" + std::to_string(++index) + "-" + object.kind + ".dcm");
        std::ofstream(path, std::ios::binary)
            .write(reinterpret_cast<const char*>(object.bytes.data()),
                   static_cast<std::streamsize>(object.bytes.size()));
        files()[object.kind].push_back(path);
      }
    }
  }
  static void TearDownTestSuite() { fs::remove_all(folder()); }
  static fs::path& folder() {
    static fs::path path;
    return path;
  }
  static std::map<std::string, std::vector<fs::path>>& files() {
    static std::map<std::string, std::vector<fs::path>> all;
    return all;
  }
};

TEST_F(Interop, ThereIsEnoughToJudge) {
  std::size_t objects = 0;
  for (const auto& [kind, paths] : files()) objects += paths.size();
  EXPECT_GE(report_test::all_cases().size(), 15U);
  EXPECT_GE(objects, 55U);
  EXPECT_EQ(files().size(), 6U);
}

TEST_F(Interop, TheIodValidatorFindsNoError) {
  for (const auto& [kind, paths] : files()) {
    for (const fs::path& path : paths) {
      const Outcome judged = run("dciodvfy " + path.string());
      ASSERT_NE(judged.exit_code, 127) << "dciodvfy (package dicom3tools) is not installed";
      // It names the IOD it recognised; without that name nothing was checked.
      const std::map<std::string, std::string> iod = {
          {"structured-report", "ComprehensiveSR"},
          {"key-object-note", "KeyObjectSelectionDocument"},
          {"picture", "SCImage"},
          {"subtraction-picture", "SCImage"},
          {"baseline-state", "GrayscaleSoftcopyPresentationState"},
          {"presentation-state", "GrayscaleSoftcopyPresentationState"}};
      EXPECT_NE(judged.output.find(iod.at(kind)), std::string::npos) << judged.output;
      EXPECT_EQ(judged.output.find("Error"), std::string::npos) << path << "\n" << judged.output;
    }
  }
}

TEST_F(Interop, PydicomReadsEveryObjectWithNameAndPixels) {
  const fs::path script = folder() / "read.py";
  std::ofstream(script) << R"(
import sys, glob, pydicom
n = 0
for path in sorted(glob.glob(sys.argv[1] + '/*.dcm')):
    d = pydicom.dcmread(path)
    d.decode()
    assert d.SOPInstanceUID == d.file_meta.MediaStorageSOPInstanceUID
    name = str(d.PatientName)
    for case, text in (('latin1', 'Jørgensen'), ('utf8', '山田'), ('iso2022', '山田')):
        assert case not in path or text in name, (path, name)
    if d.Modality == 'OT':
        rows = 600 if 'small' in path else 960 if 'subtraction' in path else 1200
        assert d.Rows == rows and len(d.PixelData) == d.Rows * d.Columns * 3, path
    assert d.private_block(0x0099, 'CRESTGATE 1')[0x01].value == (
        '2.25.55' if 'baseline-state' in path else '2.25.1001')
    n += 1
print('read', n)
)";
  const Outcome judged = run("/usr/bin/python3 " + script.string() + " " + folder().string());
  EXPECT_EQ(judged.exit_code, 0) << judged.output;
  EXPECT_NE(judged.output.find("read "), std::string::npos) << judged.output;
}

TEST_F(Interop, StandardCodesMeanWhatPydicomsDictionarySays) {
  // pydicom 2.3's dictionary is older than CID 4018 of 2022: teeth it does not know are skipped,
  // and so are UCUM units, whose meanings PS3.16 leaves free (7.2.2).
  const fs::path table = folder() / "codes.txt", script = folder() / "codes.py";
  std::ofstream out(table);
  for (const CodedConcept& code : all_codes()) {
    out << code.scheme << "\t" << code.value << "\t" << code.meaning << "\n";
  }
  out.close();
  std::ofstream(script) << R"(
import sys
from pydicom.sr._concepts_dict import concepts
known = {}
for scheme, names in concepts.items():
    for codes in names.values():
        for value, (meaning, cids) in codes.items():
            known.setdefault((scheme, value), set()).add(meaning)
checked = 0
for line in open(sys.argv[1], encoding='utf-8'):
    scheme, value, meaning = line.rstrip('\n').split('\t')
    if scheme in ('99CRESTGATE', 'UCUM'):
        continue
    if 'tooth' in meaning:
        if (scheme, value) not in known:
            continue
        short = meaning.replace('Permanent m', 'M')
        assert short in known[(scheme, value)], (value, meaning, known[(scheme, value)])
    else:
        assert (scheme, value) in known, (scheme, value, meaning)
        assert meaning in known[(scheme, value)], (value, meaning, known[(scheme, value)])
    checked += 1
assert checked >= 40, checked
)";
  const Outcome judged = run("/usr/bin/python3 " + script.string() + " " + table.string());
  EXPECT_EQ(judged.exit_code, 0) << judged.output;
}

TEST_F(Interop, ReportsAndNotesPrintAndRender) {
  for (const char* kind : {"structured-report", "key-object-note"}) {
    for (const fs::path& path : files()[kind]) {
      EXPECT_EQ(run("dsrdump -q " + path.string()).exit_code, 0) << path;
      const fs::path page = folder() / "page.html";
      // glibc's iconv lacks the ISO 2022 sets, so that page keeps its source's bytes.
      const bool convertible = path.filename().string().rfind("iso2022", 0) != 0;
      const Outcome rendered = run(std::string("dsr2html ") + (convertible ? "+U8 " : "") +
                                   path.string() + " " + page.string());
      EXPECT_EQ(rendered.exit_code, 0) << path << rendered.output;
      EXPECT_GT(fs::file_size(page), 1000U);
    }
  }
}

TEST_F(Interop, PresentationStatesPassTheirChecker) {
  std::vector<fs::path> states = files()["presentation-state"];
  for (const fs::path& path : files()["baseline-state"]) states.push_back(path);
  for (const fs::path& path : states) {
    const Outcome judged = run("dcmpschk " + path.string());
    ASSERT_NE(judged.exit_code, 127) << "dcmpschk (package dcmtk) is not installed";
    // Two names the checker wrongly refuses: an empty one (type 2, PS3.3 C.7.1.1) and one in UTF-8.
    const std::string name = path.filename();
    if (name.rfind("empty-name", 0) == 0 || name.rfind("utf8-name", 0) == 0) {
      EXPECT_TRUE(judged.output.find("patientName") != std::string::npos ||
                  judged.output.find("PatientName") != std::string::npos)
          << judged.output;
      continue;
    }
    EXPECT_NE(judged.output.find("Test passed"), std::string::npos) << path << judged.output;
  }
}

}  // namespace
}  // namespace crestgate
