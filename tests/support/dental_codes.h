// Coded anatomy of intraoral objects (SNOMED CT), as listed in the project's evidence notes 6.1:
// CID 4016 for the region, CID 4018 for teeth by ISO 3950 designation.
#pragma once
#include <string>

namespace crestgate::phantom {

struct Code3 {
  std::string value, meaning;
};

inline Code3 jaw_code(const std::string& jaw) {
  if (jaw == "maxilla") return {"70925003", "Maxilla"};
  if (jaw == "mandible") return {"91609006", "Mandible"};
  return {"661005", "Jaw region"};
}

/// Empty value if `designation` is not a permanent tooth.
inline Code3 tooth_code(const std::string& designation) {
  static const struct {
    const char* tooth;
    const char* code;
  } kTeeth[] = {{"18", "68085002"},  {"17", "863902006"}, {"16", "865995000"}, {"15", "36492000"},
                {"14", "57826002"},  {"13", "860767006"}, {"12", "424877001"}, {"11", "422653006"},
                {"21", "424399000"}, {"22", "423185002"}, {"23", "860780009"}, {"24", "61897005"},
                {"25", "23226009"},  {"26", "865988009"}, {"27", "863901004"}, {"28", "87704003"},
                {"38", "74344005"},  {"37", "863898000"}, {"36", "866006002"}, {"35", "24573005"},
                {"34", "2400006"},   {"33", "860782001"}, {"32", "423331005"}, {"31", "425106001"},
                {"41", "424575004"}, {"42", "423937004"}, {"43", "860785004"}, {"44", "80140008"},
                {"45", "8873007"},   {"46", "866005003"}, {"47", "863899008"}, {"48", "38994002"}};
  for (const auto& t : kTeeth) {
    if (designation == t.tooth) return {t.code, "Tooth " + designation};
  }
  return {};
}

}  // namespace crestgate::phantom
