#include "pipeline/read/anatomy.h"

#include <array>

#include "config/lower_case.h"

namespace crestgate {
namespace {

struct Tooth {
  const char* iso3950;
  const char* sct;
};

// DICOM PS3.16 CID 4018, version 20220922, in the order of the retired SRT codes: T-54210 is 18,
// and each next tooth adds 10 (the 12 SRT codes that a public code table, pydicom 2.3.1, maps to
// these SCT codes all agree; tests/pipeline/read/anatomy_test.cpp).
constexpr std::array<Tooth, 32> kTeeth = {{
    {"18", "68085002"},  {"17", "863902006"}, {"16", "865995000"}, {"15", "36492000"},
    {"14", "57826002"},  {"13", "860767006"}, {"12", "424877001"}, {"11", "422653006"},
    {"21", "424399000"}, {"22", "423185002"}, {"23", "860780009"}, {"24", "61897005"},
    {"25", "23226009"},  {"26", "865988009"}, {"27", "863901004"}, {"28", "87704003"},
    {"38", "74344005"},  {"37", "863898000"}, {"36", "866006002"}, {"35", "24573005"},
    {"34", "2400006"},   {"33", "860782001"}, {"32", "423331005"}, {"31", "425106001"},
    {"41", "424575004"}, {"42", "423937004"}, {"43", "860785004"}, {"44", "80140008"},
    {"45", "8873007"},   {"46", "866005003"}, {"47", "863899008"}, {"48", "38994002"},
}};
constexpr int kFirstSrt = 54210, kSrtStep = 10;

bool contains(const std::string& text, const char* word) {
  return text.find(word) != std::string::npos;
}

}  // namespace

Jaw jaw_of_region_code(const std::string& code) {
  if (code == "70925003" || code == "T-11170") return Jaw::maxilla;
  if (code == "91609006" || code == "T-11180") return Jaw::mandible;
  return Jaw::unknown;
}

std::string tooth_of_code(const std::string& code) {
  for (std::size_t i = 0; i < kTeeth.size(); ++i) {
    const std::string srt = "T-" + std::to_string(kFirstSrt + kSrtStep * static_cast<int>(i));
    if (code == kTeeth[i].sct || code == srt) return kTeeth[i].iso3950;
  }
  return {};
}

Jaw jaw_of_tooth(const std::string& iso3950) {
  if (iso3950.size() != 2) return Jaw::unknown;
  switch (iso3950[0]) {
    case '1':
    case '2':
    case '5':
    case '6':
      return Jaw::maxilla;
    case '3':
    case '4':
    case '7':
    case '8':
      return Jaw::mandible;
    default:
      return Jaw::unknown;
  }
}

Jaw jaw_of_text(const std::string& text) {
  const std::string lower = lower_case(text);
  const bool upper_jaw = contains(lower, "maxill") || contains(lower, "upper jaw");
  const bool lower_jaw = contains(lower, "mandib") || contains(lower, "lower jaw");
  if (upper_jaw == lower_jaw) return Jaw::unknown;
  return upper_jaw ? Jaw::maxilla : Jaw::mandible;
}

}  // namespace crestgate
