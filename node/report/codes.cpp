#include "node/report/codes.h"

#include <dcmtk/config/osconfig.h>

#include <dcmtk/dcmsr/dsrcodvl.h>

namespace crestgate {
namespace {

struct Tooth {
  const char* iso_3950;
  CodedConcept code;
};

/// CID 4018, version 20220922 (PS3.16); meanings as printed there.
constexpr Tooth kTeeth[] = {
    {"18", {"68085002", "SCT", "Permanent maxillary right third molar tooth"}},
    {"17", {"863902006", "SCT", "Permanent maxillary right second molar tooth"}},
    {"16", {"865995000", "SCT", "Permanent maxillary right first molar tooth"}},
    {"15", {"36492000", "SCT", "Permanent maxillary right second premolar tooth"}},
    {"14", {"57826002", "SCT", "Permanent maxillary right first premolar tooth"}},
    {"13", {"860767006", "SCT", "Permanent maxillary right canine tooth"}},
    {"12", {"424877001", "SCT", "Permanent maxillary right lateral incisor tooth"}},
    {"11", {"422653006", "SCT", "Permanent maxillary right central incisor tooth"}},
    {"21", {"424399000", "SCT", "Permanent maxillary left central incisor tooth"}},
    {"22", {"423185002", "SCT", "Permanent maxillary left lateral incisor tooth"}},
    {"23", {"860780009", "SCT", "Permanent maxillary left canine tooth"}},
    {"24", {"61897005", "SCT", "Permanent maxillary left first premolar tooth"}},
    {"25", {"23226009", "SCT", "Permanent maxillary left second premolar tooth"}},
    {"26", {"865988009", "SCT", "Permanent maxillary left first molar tooth"}},
    {"27", {"863901004", "SCT", "Permanent maxillary left second molar tooth"}},
    {"28", {"87704003", "SCT", "Permanent maxillary left third molar tooth"}},
    {"38", {"74344005", "SCT", "Mandibular left third molar tooth"}},
    {"37", {"863898000", "SCT", "Mandibular left second molar tooth"}},
    {"36", {"866006002", "SCT", "Mandibular left first molar tooth"}},
    {"35", {"24573005", "SCT", "Mandibular left second premolar tooth"}},
    {"34", {"2400006", "SCT", "Mandibular left first premolar tooth"}},
    {"33", {"860782001", "SCT", "Mandibular left canine tooth"}},
    {"32", {"423331005", "SCT", "Mandibular left lateral tooth"}},
    {"31", {"425106001", "SCT", "Mandibular left central incisor tooth"}},
    {"41", {"424575004", "SCT", "Mandibular right central incisor tooth"}},
    {"42", {"423937004", "SCT", "Mandibular right lateral incisor tooth"}},
    {"43", {"860785004", "SCT", "Mandibular right canine tooth"}},
    {"44", {"80140008", "SCT", "Mandibular right first premolar tooth"}},
    {"45", {"8873007", "SCT", "Mandibular right second premolar tooth"}},
    {"46", {"866005003", "SCT", "Mandibular right first molar tooth"}},
    {"47", {"863899008", "SCT", "Mandibular right second molar tooth"}},
    {"48", {"38994002", "SCT", "Mandibular right third molar tooth"}},
};

}  // namespace

const CodedConcept* tooth_code(const std::string& iso_3950) {
  for (const Tooth& tooth : kTeeth) {
    if (iso_3950 == tooth.iso_3950) return &tooth.code;
  }
  return nullptr;
}

std::string site_of_tooth(const std::string& code_value) {
  for (const Tooth& tooth : kTeeth) {
    if (code_value == tooth.code.value) return tooth.iso_3950;
  }
  return "";
}

const std::vector<CodedConcept>& all_codes() {
  static const std::vector<CodedConcept> table = [] {
    std::vector<CodedConcept> codes_and_teeth = {
        codes::kMeasurementReport,
        codes::kFinding,
        codes::kConclusion,
        codes::kRecommendation,
        codes::kComment,
        codes::kDerivation,
        codes::kIndications,
        codes::kSourceOfMeasurement,
        codes::kAlgorithmName,
        codes::kAlgorithmVersion,
        codes::kAlgorithmParameters,
        codes::kUncertainty,
        codes::kLevelOfSignificance,
        codes::kSignificant,
        codes::kNotSignificant,
        codes::kBaseline,
        codes::kQualityAssessment,
        codes::kQualityStandard,
        codes::kQualityFinding,
        codes::kMeetsStandard,
        codes::kMissesStandard,
        codes::kOwnStandard,
        codes::kOfInterest,
        codes::kQualityIssue,
        codes::kTitleModifier,
        codes::kKeyObjectDescription,
        codes::kPositioning,
        codes::kMotionBlur,
        codes::kUnderExposed,
        codes::kOverExposed,
        codes::kOtherFailure,
        codes::kObserverType,
        codes::kDevice,
        codes::kDeviceObserverUid,
        codes::kDeviceObserverName,
        codes::kDeviceObserverManufacturer,
        codes::kDeviceObserverModel,
        codes::kSourceImage,
        codes::kJawRegion,
        codes::kMaxilla,
        codes::kMandible,
        codes::kImplant,
        codes::kDegree,
        codes::kMillimetre,
        codes::kRatio,
        codes::kPercent,
        codes::kMillimetrePerPixel,
        codes::kPixels,
        codes::kMillimetrePerYear,
        codes::kVerticalAngle,
        codes::kVerticalAngleMagnitude,
        codes::kThreadPitch,
        codes::kOuterDiameter,
        codes::kFlankLeft,
        codes::kFlankRight,
        codes::kGap,
        codes::kGapLeft,
        codes::kGapRight,
        codes::kSmallestGap,
        codes::kCrestLeft,
        codes::kCrestRight,
        codes::kScale,
        codes::kBlur,
        codes::kNoise,
        codes::kClippedLow,
        codes::kClippedHigh,
        codes::kDetection,
        codes::kApicalMargin,
        codes::kScaleRatio,
        codes::kPlatformRatio,
        codes::kLossLeft,
        codes::kLossRight,
        codes::kLeastLossLeft,
        codes::kLeastLossRight,
        codes::kLossRateLeft,
        codes::kLossRateRight,
        codes::kAngleDifference,
        codes::kTurnDifference,
        codes::kSizeRatio,
        codes::kOutlineRest,
        codes::kToneBend,
        codes::kVerdict,
        codes::kUsable,
        codes::kUsableWithLimits,
        codes::kRepeat,
        codes::kNotAssessable,
        codes::kJoint,
        codes::kNoGapVisible,
        codes::kGapVisible,
        codes::kBoneChange,
        codes::kOtherFinding,
        codes::kProcessingChanged,
        codes::kReason,
        codes::kCaution,
        codes::kComparison,
        codes::kPredecessor,
        codes::kScaleSource,
        codes::kRepeatResult,
        codes::kBetter,
        codes::kSame,
        codes::kWorse,
        codes::kVisitViews,
        codes::kSideOfImplant,
        codes::kMesial,
        codes::kDistal,
        codes::kImplantType,
        codes::kChangeLeft,
        codes::kChangeRight,
        codes::kLoss,
        codes::kGain,
        codes::kWithinError,
        codes::kComparisonState,
        codes::kCompared,
        codes::kNotComparable,
        codes::kIdentityNotCertain,
        codes::kNewBaseline,
        codes::kPending,
        codes::kProcessing,
        codes::kNoChangeSeen,
        codes::kNotKnown,
        codes::kSilhouetteMethod,
        codes::kExpandedTwo,
    };
    for (const Tooth& tooth : kTeeth) codes_and_teeth.push_back(tooth.code);
    return codes_and_teeth;
  }();
  return table;
}

DSRBasicCodedEntry entry(const CodedConcept& code) {
  return DSRBasicCodedEntry(code.value, code.scheme, code.meaning);
}

}  // namespace crestgate
