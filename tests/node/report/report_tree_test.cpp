// The structured report's tree against a row table transcribed from PS3.16. Every content item must
// be a row of its parent; mandatory rows must be there, multiplicities kept and rows come in order.
// Sources: TID 300 rows 1-4, TID 310 and TID 4019 read in stored copies of PS3.16 (2013, 2015c);
// the rest of TID 300, and TID 320, 1001/1004, 1204, 1500, 1501, 1600-1602 from the row numbers
// DCMTK's template classes document, their relationships and multiplicities from memory. TID 4019
// inside TID 1501 (HAS CONCEPT MOD) is from memory.
#include <dcmtk/config/osconfig.h>

#include <dcmtk/dcmsr/dsrdoc.h>
#include <gtest/gtest.h>

#include <map>

#include "tests/node/report/cases.h"

namespace crestgate {
namespace {

using report_test::Case;

constexpr int kMany = 1000;

struct Row {
  const char* id;
  const char* parent;
  const char* relationship;
  const char* type;
  const char* concept_code;  ///< "value" or "*" for what the template leaves open
  int least, most;
};

// Rows of one parent in the order of the template.
constexpr Row kRows[] = {
    {"1500.1", "", "", "CONTAINER", "126000", 1, 1},                  // DCID 7021
    {"1204.1", "1500.1", "HAS CONCEPT MOD", "CODE", "121049", 1, 1},  // 1500.2
    {"1002.1", "1500.1", "HAS OBS CONTEXT", "CODE", "121005", 1, 1},  // 1500.3
    {"1004.1", "1500.1", "HAS OBS CONTEXT", "UIDREF", "121012", 1, 1},
    {"1004.2", "1500.1", "HAS OBS CONTEXT", "TEXT", "121013", 0, 1},
    {"1004.3", "1500.1", "HAS OBS CONTEXT", "TEXT", "121014", 0, 1},
    {"1004.4", "1500.1", "HAS OBS CONTEXT", "TEXT", "121015", 0, 1},
    {"1004.5", "1500.1", "HAS OBS CONTEXT", "TEXT", "121016", 0, 1},
    {"1500.4", "1500.1", "HAS CONCEPT MOD", "CODE", "121058", 1, kMany},
    {"1600.1", "1500.1", "CONTAINS", "CONTAINER", "111028", 0, 1},  // 1500.5
    {"1600.2", "1600.1", "CONTAINS", "CONTAINER", "126200", 1, kMany},
    {"1601.1", "1600.2", "CONTAINS", "IMAGE", "*", 1, kMany},
    {"1602", "1601.1", "HAS ACQ CONTEXT", "*", "*", 0, kMany},
    {"1500.6", "1500.1", "CONTAINS", "CONTAINER", "126010", 1, 1},
    {"1501.1", "1500.6", "CONTAINS", "CONTAINER", "125007", 0, kMany},  // 1500.9
    {"1501.2", "1501.1", "HAS OBS CONTEXT", "TEXT", "112039", 1, 1},
    {"1501.3", "1501.1", "HAS OBS CONTEXT", "UIDREF", "112040", 1, 1},
    {"4019.1", "1501.1", "HAS CONCEPT MOD", "TEXT", "111001", 1, 1},
    {"4019.2", "1501.1", "HAS CONCEPT MOD", "TEXT", "111003", 1, 1},
    {"4019.3", "1501.1", "HAS CONCEPT MOD", "TEXT", "111002", 0, kMany},
    {"1501.3b", "1501.1", "CONTAINS", "CODE", "121071", 0, 1},
    {"1501.4", "1501.1", "HAS CONCEPT MOD", "CODE", "370129005", 0, 1},
    {"1501.5", "1501.1", "HAS CONCEPT MOD", "CODE", "363698007", 0, kMany},
    {"1501.6", "1501.5", "HAS CONCEPT MOD", "CODE", "272741003", 0, 1},
    {"1501.7", "1501.5", "HAS CONCEPT MOD", "CODE", "106233006", 0, 1},
    {"300.1", "1501.1", "CONTAINS", "NUM", "*", 1, kMany},  // 1501.10
    {"300.2", "300.1", "HAS CONCEPT MOD", "CODE", "CG-230", 0, kMany},
    {"300.3", "300.1", "HAS CONCEPT MOD", "CODE", "370129005", 0, 1},
    {"310.4", "300.1", "HAS PROPERTIES", "CODE", "121403", 0, 1},        // DCID 220
    {"310.5", "300.1", "HAS PROPERTIES", "NUM", "371884006", 0, kMany},  // DCID 225
    {"300.4", "310.5", "HAS CONCEPT MOD", "CODE", "121401", 1, 1},
    {"ext.comment", "300.1", "HAS PROPERTIES", "TEXT", "121106", 0, 2},  // extension
    {"320.1", "300.1", "INFERRED FROM", "IMAGE", "*", 0, kMany},         // 300.18
    {"320.3", "300.1", "INFERRED FROM", "SCOORD", "*", 0, kMany},        // 300.18
    {"320.4", "320.3", "SELECTED FROM", "IMAGE", "*", 1, 1},
    {"1501.11", "1501.1", "CONTAINS", "CODE|TEXT", "*", 0, kMany},
    {"1500.12", "1500.1", "CONTAINS", "CONTAINER", "C0034375", 0, 1},
    {"1500.13", "1500.12", "CONTAINS", "CODE|TEXT", "*", 0, kMany},  // and row 14
};

bool fits(const std::string& pattern, const std::string& value) {
  if (pattern == "*") return true;
  return ("|" + pattern + "|").find("|" + value + "|") != std::string::npos;
}

struct Node {
  std::string relationship, type, code, text;
  std::vector<Node> children;
};

Node node_at(DSRDocumentTree& tree) {
  Node node;
  DSRContentItem& item = tree.getCurrentContentItem();
  node.relationship = DSRTypes::relationshipTypeToDefinedTerm(item.getRelationshipType());
  node.type = DSRTypes::valueTypeToDefinedTerm(item.getValueType());
  node.code = item.getConceptName().getCodeValue().c_str();
  node.text = item.getConceptName().getCodeMeaning().c_str();
  if (tree.gotoChild() > 0) {
    do {
      node.children.push_back(node_at(tree));
    } while (tree.gotoNext() > 0);
    tree.gotoParent();
  }
  return node;
}

/// What breaks the table, empty if nothing does.
std::string check(const Node& node, const Row& row, const std::string& path) {
  std::map<std::string, int> count;
  std::string problems;
  int last = -1;
  for (const Node& child : node.children) {
    const std::string where = path + "/" + child.text;
    int found = -1;
    for (int i = std::max(last, 0); i < int(std::size(kRows)) && found < 0; ++i) {
      const Row& candidate = kRows[i];
      // A row that is full passes its like on to a later open one ('Finding' once, then
      // evaluations).
      if (candidate.parent == std::string(row.id) && candidate.relationship == child.relationship &&
          fits(candidate.type, child.type) && fits(candidate.concept_code, child.code) &&
          count[candidate.id] < candidate.most) {
        found = i;
      }
    }
    if (found < 0) {
      problems += where + ": " + child.relationship + " " + child.type + " " + child.code +
                  " is no row after " + (last < 0 ? "the first" : kRows[last].id) + "\n";
      continue;
    }
    last = found;
    ++count[kRows[found].id];
    problems += check(child, kRows[found], where);
  }
  for (const Row& expected : kRows) {
    if (expected.parent == std::string(row.id) && count[expected.id] < expected.least) {
      problems += path + ": row " + expected.id + " is missing\n";
    }
  }
  return problems;
}

Node tree_of(const Case& c) {
  DcmDataset source;
  c.source(source);
  auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  DcmFileFormat file;
  report_test::parse(built.value().at(0), file);
  DSRDocument document;
  EXPECT_TRUE(document.read(*file.getDataset()).good());
  document.getTree().gotoRoot();
  return node_at(document.getTree());
}

TEST(ReportTree, EveryReportFollowsTheTemplates) {
  for (const Case& c : report_test::all_cases()) {
    SCOPED_TRACE(c.name);
    const Node root = tree_of(c);
    EXPECT_EQ(root.code, "126000");
    EXPECT_EQ(check(root, kRows[0], ""), "");
  }
}

TEST(ReportTree, TheTableCatchesAnItemOutOfPlaceAndAMissingOne) {
  Node root = tree_of(report_test::base_case("x"));
  Node shuffled = root;
  std::swap(shuffled.children.front(), shuffled.children.back());
  EXPECT_NE(check(shuffled, kRows[0], ""), "");
  root.children.erase(root.children.begin());
  EXPECT_NE(check(root, kRows[0], ""), "");
}

int count_code(const Node& node, const std::string& code) {
  int n = node.code == code ? 1 : 0;
  for (const Node& child : node.children) n += count_code(child, code);
  return n;
}

TEST(ReportTree, OneGroupPerImplantAndOneForTheImage) {
  for (const Case& c : report_test::all_cases()) {
    EXPECT_EQ(count_code(tree_of(c), "125007"), int(c.analysis.implants.size()) + 1) << c.name;
  }
}

TEST(ReportTree, NotMeasurableIsAQualifierNeverZero) {
  Case c = report_test::base_case("x");
  c.analysis.implants[0].projection.vertical_angle_deg.reset();
  c.analysis.implants[0].projection.reason = "no thread in view";
  DcmDataset source;
  c.source(source);
  auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  DcmFileFormat file;
  report_test::parse(built.value().at(0), file);
  DSRDocument document;
  ASSERT_TRUE(document.read(*file.getDataset()).good());
  DSRDocumentTree& tree = document.getTree();
  ASSERT_GT(tree.gotoNamedNode(DSRCodedEntryValue("CG-101", "99CRESTGATE", "x")), 0U);
  const DSRNumericMeasurementValue& value = tree.getCurrentContentItem().getNumericValue();
  EXPECT_TRUE(value.getNumericValue().empty());
  EXPECT_EQ(value.getNumericValueQualifier().getCodeValue(), "114006");  // CID 42
}

}  // namespace
}  // namespace crestgate
