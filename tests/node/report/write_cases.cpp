// Writes every case's objects and picture into a folder, to be looked at and fed to other programs:
// write_cases FOLDER
#include <filesystem>
#include <fstream>
#include <iostream>

#include "tests/node/report/cases.h"

using namespace crestgate;

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "usage: write_cases FOLDER\n";
    return 1;
  }
  const std::filesystem::path folder = argv[1];
  std::filesystem::create_directories(folder);
  for (report_test::Case& c : report_test::all_cases()) {
    DcmDataset source;
    c.source(source);
    auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
    if (!built.ok()) {
      std::cerr << c.name << ": " << built.status().text << "\n";
      return 1;
    }
    int index = 0;
    for (const BuiltObject& object : built.value()) {
      std::ofstream(folder / (c.name + "-" + std::to_string(++index) + "-" + object.kind + ".dcm"),
                    std::ios::binary)
          .write(reinterpret_cast<const char*>(object.bytes.data()),
                 static_cast<std::streamsize>(object.bytes.size()));
    }
    auto png = picture_png(c.analysis, c.frame, c.rules, c.context);
    std::ofstream(folder / (c.name + ".png"), std::ios::binary)
        .write(reinterpret_cast<const char*>(png.value().data()),
               static_cast<std::streamsize>(png.value().size()));
  }
  return 0;
}
