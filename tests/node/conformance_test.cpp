// node/CONFORMANCE.md against the code: each block between `<!-- generated: NAME -->` and
// `<!-- end -->` is made again from the tables and objects of the program and compared. On a
// mismatch the right document is left in the test's folder, to be looked at and copied.
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <functional>
#include <map>
#include <set>
#include <sstream>

#include "config/rules.h"
#include "node/accepted.h"
#include "node/report/codes.h"
#include "node/report/identity.h"
#include "tests/node/report/cases.h"

namespace crestgate {
namespace {

using Row = std::vector<std::string>;

std::string table(const Row& head, const std::vector<Row>& rows) {
  auto line = [](const Row& cells) {
    std::string text = "|";
    for (const std::string& cell : cells) text += " " + cell + " |";
    return text + "\n";
  };
  std::string text = line(head) + "|";
  for (std::size_t i = 0; i < head.size(); ++i) text += "---|";
  text += "\n";
  for (const Row& row : rows) text += line(row);
  return text;
}

std::string uid_name(const std::string& uid) {
  const char* name = dcmFindNameOfUID(uid.c_str(), "");
  EXPECT_STRNE(name, "") << uid;
  return name;
}

std::string received_classes() {
  std::vector<Row> rows = {
      {uid_name(UID_VerificationSOPClass), UID_VerificationSOPClass, "SCP", "answered"}};
  for (const std::string& uid : image_classes()) {
    rows.push_back({uid_name(uid), uid, "SCP", "judged"});
  }
  for (const std::string& uid : report_classes()) {
    rows.push_back({uid_name(uid), uid, "SCP", "accepted, answered with success, dropped"});
  }
  return table({"SOP class", "UID", "role", "what happens"}, rows);
}

std::string received_syntaxes() {
  std::vector<Row> rows;
  for (const std::string& uid : transfer_syntaxes()) rows.push_back({uid_name(uid), uid});
  return table({"Transfer syntax", "UID"}, rows);
}

/// One built object per kind and case, parsed back.
void for_every_object(const std::function<void(const BuiltObject&, DcmFileFormat&)>& use) {
  for (const report_test::Case& c : report_test::all_cases()) {
    DcmDataset source;
    c.source(source);
    const auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
    ASSERT_TRUE(built.ok()) << c.name;
    for (const BuiltObject& object : built.value()) {
      DcmFileFormat file;
      report_test::parse(object, file);
      use(object, file);
    }
  }
}

std::string text_of(DcmItem& item, const DcmTagKey& key) {
  OFString value;
  item.findAndGetOFString(key, value);
  return value.c_str();
}

std::string sent_classes() {
  std::set<Row> rows;
  for_every_object([&](const BuiltObject& object, DcmFileFormat& file) {
    DcmDataset& d = *file.getDataset();
    rows.insert({uid_name(object.sop_class_uid), object.sop_class_uid, "SCU",
                 text_of(*file.getMetaInfo(), DCM_TransferSyntaxUID) ==
                         UID_LittleEndianExplicitTransferSyntax
                     ? "Explicit VR Little Endian"
                     : "?",
                 text_of(d, DCM_Modality), text_of(d, DCM_SeriesNumber)});
  });
  return table({"SOP class", "UID", "role", "transfer syntax", "modality", "series number"},
               {rows.begin(), rows.end()});
}

bool is_copied(const DcmTagKey& key) {
  const auto copied = copied_attributes();
  return std::find(copied.begin(), copied.end(), key) != copied.end();
}

/// Top-level attributes that any of the test cases' objects of this kind carries.
std::string attributes(const std::string& kind) {
  std::map<DcmTagKey, Row> rows;
  for_every_object([&](const BuiltObject& object, DcmFileFormat& file) {
    if (object.kind != kind) return;
    DcmDataset& d = *file.getDataset();
    for (unsigned long i = 0; i < d.card(); ++i) {
      DcmElement* element = d.getElement(i);
      const DcmTagKey key = element->getTag().getXTag();
      if (key.getGroup() == 0x0099) continue;  // 8.2
      DcmTag tag(key);
      rows[key] = {tag.toString().c_str(), tag.getTagName(), DcmVR(element->ident()).getVRName(),
                   is_copied(key) ? "copied" : "made"};
    }
  });
  std::vector<Row> list;
  for (const auto& [key, row] : rows) list.push_back(row);
  return table({"Tag", "Attribute", "VR", "origin"}, list);
}

std::string private_attributes() {
  std::map<Uint16, std::string> vr;
  for_every_object([&](const BuiltObject&, DcmFileFormat& file) {
    DcmDataset& d = *file.getDataset();
    for (unsigned long i = 0; i < d.card(); ++i) {
      DcmElement* element = d.getElement(i);
      if (element->getGTag() != 0x0099 || element->getETag() < 0x1000) continue;
      vr[element->getETag()] = DcmVR(element->ident()).getVRName();
    }
  });
  const std::map<Uint16, std::string> meaning = {
      {0x1001, "SOP Instance UID of the source image"},
      {0x1002, "kind of the object, as it enters its UID"},
      {0x1003, "SHA-256 of the rules in force, hex"},
      {0x1004, "software version"},
      {0x1005,
       "UIDs of baseline images (of the later image in a state for a baseline) and earlier "
       "reports, if any"}};
  std::vector<Row> rows;
  for (const auto& [element, name] : vr) {
    char tag[32];
    std::snprintf(tag, sizeof tag, "(0099,xx%02X)", element & 0xffU);
    EXPECT_EQ(meaning.count(element), 1U) << tag << " is written and not documented";
    rows.push_back({tag, name, kPrivateCreator, meaning.count(element) ? meaning.at(element) : ""});
  }
  EXPECT_EQ(rows.size(), meaning.size());
  return table({"Tag", "VR", "private creator", "meaning"}, rows);
}

std::string codes_of(bool private_ones) {
  std::set<Row> rows;
  for (const CodedConcept& code : all_codes()) {
    if ((code.scheme == std::string(kPrivateScheme)) != private_ones) continue;
    rows.insert({code.scheme, code.value, code.meaning});
  }
  return table({"Scheme", "Value", "Meaning"}, {rows.begin(), rows.end()});
}

std::string intent_table() {
  std::vector<Row> rows;
  for (const std::string& keyword : intent_attributes()) rows.push_back({keyword});
  return table({"Attribute (keyword)"}, rows);
}

const std::map<std::string, std::function<std::string()>>& generators() {
  static const std::map<std::string, std::function<std::string()>> all = {
      {"received SOP classes", received_classes},
      {"received transfer syntaxes", received_syntaxes},
      {"sent SOP classes", sent_classes},
      {"attributes of structured-report", [] { return attributes("structured-report"); }},
      {"attributes of key-object-note", [] { return attributes("key-object-note"); }},
      {"attributes of presentation-state", [] { return attributes("presentation-state"); }},
      {"attributes of baseline-state", [] { return attributes("baseline-state"); }},
      {"attributes of picture", [] { return attributes("picture"); }},
      {"private attributes", private_attributes},
      {"standard codes", [] { return codes_of(false); }},
      {"private codes", [] { return codes_of(true); }},
      {"attributes an intent rule may read", intent_table}};
  return all;
}

constexpr const char* kOpen = "<!-- generated: ";

TEST(Conformance, TheStatementsTablesAreTheCodes) {
  std::ifstream in(SOURCE_DIR "/node/CONFORMANCE.md");
  ASSERT_TRUE(in) << "node/CONFORMANCE.md";
  std::ostringstream right;
  std::string stated, line;
  std::set<std::string> seen;
  while (std::getline(in, line)) {
    stated += line + "\n";
    right << line << "\n";
    if (line.rfind(kOpen, 0) != 0) continue;
    const std::string name = line.substr(16, line.size() - 16 - 4);
    ASSERT_EQ(generators().count(name), 1U) << "no table called '" << name << "'";
    EXPECT_TRUE(seen.insert(name).second) << name << " twice";
    right << generators().at(name)() << "<!-- end -->\n";
    do {
      ASSERT_TRUE(std::getline(in, line)) << name << " has no end";
      stated += line + "\n";
    } while (line != "<!-- end -->");
  }
  EXPECT_EQ(seen.size(), generators().size()) << "a table is missing";
  if (right.str() == stated) return;
  const std::string path = testing::TempDir() + "CONFORMANCE.md";
  std::ofstream(path) << right.str();
  ADD_FAILURE() << "node/CONFORMANCE.md differs from the code; the right text is in " << path;
}

/// The chapters of PS3.2 annex A (template of a conformance statement), in order.
TEST(Conformance, TheChaptersOfTheTemplateAreThere) {
  std::ifstream in(SOURCE_DIR "/node/CONFORMANCE.md");
  std::ostringstream all;
  all << in.rdbuf();
  std::size_t at = 0;
  for (const char* chapter : {"# DICOM conformance statement",
                              "## 1 Overview",
                              "## 3 Introduction",
                              "## 4 Networking",
                              "### 4.1 Implementation model",
                              "#### 4.1.1 Application data flow",
                              "#### 4.1.2 Functional definition of AEs",
                              "#### 4.1.3 Sequencing",
                              "### 4.2 AE specifications",
                              "Association initiation policy",
                              "Association acceptance policy",
                              "### 4.3 Network interfaces",
                              "### 4.4 Configuration",
                              "## 5 Media interchange",
                              "## 6 Support of character sets",
                              "## 7 Security",
                              "## 8 Annexes",
                              "### 8.1 IOD contents",
                              "### 8.2 Data dictionary of private attributes",
                              "### 8.3 Coded terminology and templates",
                              "### 8.4 Grayscale image consistency",
                              "### 8.5 Standard extended",
                              "### 8.6 Private transfer syntaxes"}) {
    const std::size_t found = all.str().find(chapter, at);
    ASSERT_NE(found, std::string::npos) << chapter;
    at = found;
  }
}

}  // namespace
}  // namespace crestgate
