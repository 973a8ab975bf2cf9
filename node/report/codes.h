// Every coded concept the program writes, in one table. Sources: PS3.16 annex D (DCM), PS3.16
// context groups (SCT), UCUM; the test compares value and meaning with pydicom's dictionary.
// Private codes (99CRESTGATE) exist only where no standard code was found; their values never
// change meaning.
#pragma once
#include <string>
#include <vector>

class DSRBasicCodedEntry;

namespace crestgate {

struct CodedConcept {
  const char* value;
  const char* scheme;
  const char* meaning;
};

inline constexpr const char* kPrivateScheme = "99CRESTGATE";
inline constexpr const char* kPrivateSchemeName = "crestgate implant radiograph checks";

namespace codes {
// Titles and structure
inline constexpr CodedConcept kMeasurementReport{"126000", "DCM", "Imaging Measurement Report"};
inline constexpr CodedConcept kFinding{"121071", "DCM", "Finding"};
inline constexpr CodedConcept kConclusion{"121077", "DCM", "Conclusion"};
inline constexpr CodedConcept kRecommendation{"121075", "DCM", "Recommendation"};
inline constexpr CodedConcept kComment{"121106", "DCM", "Comment"};
inline constexpr CodedConcept kDerivation{"121401", "DCM", "Derivation"};
inline constexpr CodedConcept kIndications{"121109", "DCM", "Indications for Procedure"};
inline constexpr CodedConcept kSourceOfMeasurement{"121112", "DCM", "Source of Measurement"};
inline constexpr CodedConcept kAlgorithmName{"111001", "DCM", "Algorithm Name"};
inline constexpr CodedConcept kAlgorithmVersion{"111003", "DCM", "Algorithm Version"};
inline constexpr CodedConcept kAlgorithmParameters{"111002", "DCM", "Algorithm Parameters"};
inline constexpr CodedConcept kUncertainty{"371884006", "SCT",
                                           "+/-, range of measurement uncertainty"};
// TID 310, CID 220, 7003
inline constexpr CodedConcept kLevelOfSignificance{"121403", "DCM", "Level of Significance"};
inline constexpr CodedConcept kSignificant{"386134007", "SCT", "Significant"};
inline constexpr CodedConcept kNotSignificant{"371928007", "SCT", "Not significant"};
inline constexpr CodedConcept kBaseline{"121079", "DCM", "Baseline"};
// Image quality, PS3.16 TID 4014 concepts without claiming the template
inline constexpr CodedConcept kQualityAssessment{"111050", "DCM", "Quality Assessment"};
inline constexpr CodedConcept kQualityStandard{"111051", "DCM", "Quality Control Standard"};
inline constexpr CodedConcept kQualityFinding{"111052", "DCM", "Quality Finding"};
inline constexpr CodedConcept kMeetsStandard{"111237", "DCM",
                                             "Usable - Meets the quality control standard"};
inline constexpr CodedConcept kMissesStandard{
    "111236", "DCM", "Usable - Does not meet the quality control standard"};
inline constexpr CodedConcept kOwnStandard{"111240", "DCM",
                                           "Institutionally defined quality control standard"};
// CID 7010, 7011, TID 2010
inline constexpr CodedConcept kOfInterest{"113000", "DCM", "Of Interest"};
inline constexpr CodedConcept kQualityIssue{"113010", "DCM", "Quality Issue"};
inline constexpr CodedConcept kTitleModifier{"113011", "DCM", "Document Title Modifier"};
inline constexpr CodedConcept kKeyObjectDescription{"113012", "DCM", "Key Object Description"};
inline constexpr CodedConcept kPositioning{"111209", "DCM", "Positioning"};
inline constexpr CodedConcept kMotionBlur{"111210", "DCM", "Motion blur"};
inline constexpr CodedConcept kUnderExposed{"111211", "DCM", "Under exposed"};
inline constexpr CodedConcept kOverExposed{"111212", "DCM", "Over exposed"};
inline constexpr CodedConcept kOtherFailure{"111220", "DCM", "Other failure"};
// Observer, references
inline constexpr CodedConcept kObserverType{"121005", "DCM", "Observer Type"};
inline constexpr CodedConcept kDevice{"121007", "DCM", "Device"};
inline constexpr CodedConcept kDeviceObserverUid{"121012", "DCM", "Device Observer UID"};
inline constexpr CodedConcept kDeviceObserverName{"121013", "DCM", "Device Observer Name"};
inline constexpr CodedConcept kDeviceObserverManufacturer{"121014", "DCM",
                                                          "Device Observer Manufacturer"};
inline constexpr CodedConcept kDeviceObserverModel{"121015", "DCM", "Device Observer Model Name"};
inline constexpr CodedConcept kSourceImage{"121322", "DCM",
                                           "Source image for image processing operation"};
// Anatomy, CID 4016, 4018 (teeth: tooth_code), 244
inline constexpr CodedConcept kJawRegion{"661005", "SCT", "Jaw region"};
inline constexpr CodedConcept kMaxilla{"70925003", "SCT", "Maxilla"};
inline constexpr CodedConcept kMandible{"91609006", "SCT", "Mandible"};
inline constexpr CodedConcept kImplant{"40388003", "SCT", "Implant"};
inline constexpr CodedConcept kDistal{"46053002", "SCT", "Distal"};
// Units, UCUM
inline constexpr CodedConcept kDegree{"deg", "UCUM", "Degree"};
inline constexpr CodedConcept kMillimetre{"mm", "UCUM", "mm"};
inline constexpr CodedConcept kRatio{"{ratio}", "UCUM", "ratio"};
inline constexpr CodedConcept kPercent{"%", "UCUM", "Percent"};
inline constexpr CodedConcept kMillimetrePerPixel{"mm/{pixel}", "UCUM", "mm per pixel"};
inline constexpr CodedConcept kPixels{"{pixels}", "UCUM", "pixels"};
inline constexpr CodedConcept kMillimetrePerYear{"mm/a", "UCUM", "mm per year"};
// Private: measurements
inline constexpr CodedConcept kVerticalAngle{"CG-101", kPrivateScheme,
                                             "Vertical angle of the beam"};
inline constexpr CodedConcept kVerticalAngleMagnitude{"CG-102", kPrivateScheme,
                                                      "Vertical angle of the beam, magnitude"};
inline constexpr CodedConcept kThreadPitch{"CG-103", kPrivateScheme, "Thread pitch along the axis"};
inline constexpr CodedConcept kOuterDiameter{"CG-104", kPrivateScheme,
                                             "Outer diameter of the implant"};
inline constexpr CodedConcept kFlankLeft{"CG-105", kPrivateScheme,
                                         "Sharpness ratio of the left thread flank"};
inline constexpr CodedConcept kFlankRight{"CG-106", kPrivateScheme,
                                          "Sharpness ratio of the right thread flank"};
inline constexpr CodedConcept kGap{"CG-107", kPrivateScheme, "Gap at the implant joint"};
inline constexpr CodedConcept kGapLeft{"CG-108", kPrivateScheme,
                                       "Gap at the implant joint, left side"};
inline constexpr CodedConcept kGapRight{"CG-109", kPrivateScheme,
                                        "Gap at the implant joint, right side"};
inline constexpr CodedConcept kSmallestGap{"CG-110", kPrivateScheme,
                                           "Smallest gap that would be visible"};
inline constexpr CodedConcept kCrestLeft{"CG-111", kPrivateScheme,
                                         "Platform to crestal bone, left side"};
inline constexpr CodedConcept kCrestRight{"CG-112", kPrivateScheme,
                                          "Platform to crestal bone, right side"};
inline constexpr CodedConcept kScale{"CG-113", kPrivateScheme,
                                     "Pixel size in the plane of the implant"};
inline constexpr CodedConcept kBlur{"CG-114", kPrivateScheme, "Blur, standard deviation"};
inline constexpr CodedConcept kNoise{"CG-115", kPrivateScheme, "Noise relative to metal contrast"};
inline constexpr CodedConcept kClippedLow{"CG-116", kPrivateScheme,
                                          "Pixels clipped at the dark end"};
inline constexpr CodedConcept kClippedHigh{"CG-117", kPrivateScheme,
                                           "Pixels clipped at the bright end"};
inline constexpr CodedConcept kDetection{"CG-118", kPrivateScheme,
                                         "Confidence of implant detection"};
inline constexpr CodedConcept kApicalMargin{"CG-119", kPrivateScheme,
                                            "Margin in view beyond the apex"};
inline constexpr CodedConcept kScaleRatio{"CG-120", kPrivateScheme,
                                          "Axial over transverse scale of the implant"};
inline constexpr CodedConcept kPlatformRatio{"CG-121", kPrivateScheme,
                                             "Minor over major axis of the platform"};
inline constexpr CodedConcept kLossLeft{"CG-122", kPrivateScheme,
                                        "Loss of crestal bone since the baseline, left side"};
inline constexpr CodedConcept kLossRight{"CG-123", kPrivateScheme,
                                         "Loss of crestal bone since the baseline, right side"};
inline constexpr CodedConcept kLeastLossLeft{
    "CG-124", kPrivateScheme, "Smallest change this comparison could resolve, left side"};
inline constexpr CodedConcept kLeastLossRight{
    "CG-125", kPrivateScheme, "Smallest change this comparison could resolve, right side"};
inline constexpr CodedConcept kLossRateLeft{"CG-126", kPrivateScheme,
                                            "Mean loss of crestal bone per year, left side"};
inline constexpr CodedConcept kLossRateRight{"CG-127", kPrivateScheme,
                                             "Mean loss of crestal bone per year, right side"};
inline constexpr CodedConcept kAngleDifference{
    "CG-128", kPrivateScheme, "Vertical angle of the beam, difference to the baseline"};
inline constexpr CodedConcept kTurnDifference{
    "CG-129", kPrivateScheme, "Turn in the image plane, difference to the baseline"};
inline constexpr CodedConcept kSizeRatio{"CG-130", kPrivateScheme,
                                         "Size of the implant over that in the baseline"};
inline constexpr CodedConcept kOutlineRest{
    "CG-131", kPrivateScheme, "Distance of the implant's outlines laid on each other, rms"};
inline constexpr CodedConcept kToneBend{
    "CG-132", kPrivateScheme, "Bend of the grey values' map to the baseline, share of range"};
// Private: concepts and values of evaluations
inline constexpr CodedConcept kVerdict{"CG-201", kPrivateScheme,
                                       "Usability for the stated question"};
inline constexpr CodedConcept kUsable{"CG-202", kPrivateScheme, "usable"};
inline constexpr CodedConcept kUsableWithLimits{"CG-203", kPrivateScheme, "usable with limits"};
inline constexpr CodedConcept kRepeat{"CG-204", kPrivateScheme, "repeat if justified"};
inline constexpr CodedConcept kNotAssessable{"CG-205", kPrivateScheme, "not assessable"};
inline constexpr CodedConcept kJoint{"CG-210", kPrivateScheme, "State of the implant joint"};
inline constexpr CodedConcept kNoGapVisible{"CG-211", kPrivateScheme, "no gap visible"};
inline constexpr CodedConcept kGapVisible{"CG-212", kPrivateScheme, "gap visible"};
inline constexpr CodedConcept kBoneChange{"CG-213", kPrivateScheme, "bone change resolved"};
inline constexpr CodedConcept kOtherFinding{"CG-214", kPrivateScheme, "other finding, see text"};
inline constexpr CodedConcept kProcessingChanged{"CG-215", kPrivateScheme, "processing changed"};
inline constexpr CodedConcept kReason{"CG-220", kPrivateScheme, "Rule applied"};
inline constexpr CodedConcept kCaution{"CG-221", kPrivateScheme, "Caution"};
inline constexpr CodedConcept kComparison{"CG-222", kPrivateScheme,
                                          "Comparison with an earlier image"};
inline constexpr CodedConcept kPredecessor{"CG-223", kPrivateScheme,
                                           "Earlier report of this program"};
inline constexpr CodedConcept kScaleSource{"CG-224", kPrivateScheme, "Origin of the pixel size"};
inline constexpr CodedConcept kRepeatResult{"CG-225", kPrivateScheme,
                                            "Repeat compared with the exposure before"};
inline constexpr CodedConcept kBetter{"CG-226", kPrivateScheme, "better"};
inline constexpr CodedConcept kSame{"CG-227", kPrivateScheme,
                                    "no difference beyond measurement error"};
inline constexpr CodedConcept kWorse{"CG-228", kPrivateScheme, "worse"};
inline constexpr CodedConcept kVisitViews{"CG-229", kPrivateScheme, "Views of this visit"};
inline constexpr CodedConcept kSideOfImplant{"CG-230", kPrivateScheme, "Side of the implant"};
inline constexpr CodedConcept kMesial{"CG-231", kPrivateScheme, "mesial"};
inline constexpr CodedConcept kImplantType{"CG-232", kPrivateScheme, "Implant type"};
inline constexpr CodedConcept kChangeLeft{"CG-233", kPrivateScheme,
                                          "Change of crestal bone since the baseline, left side"};
inline constexpr CodedConcept kChangeRight{"CG-234", kPrivateScheme,
                                           "Change of crestal bone since the baseline, right side"};
inline constexpr CodedConcept kLoss{"CG-235", kPrivateScheme, "resolved: loss"};
inline constexpr CodedConcept kGain{"CG-236", kPrivateScheme, "resolved: gain"};
inline constexpr CodedConcept kWithinError{"CG-237", kPrivateScheme, "within measurement error"};
inline constexpr CodedConcept kComparisonState{"CG-238", kPrivateScheme,
                                               "State of the comparison with an earlier image"};
inline constexpr CodedConcept kCompared{"CG-239", kPrivateScheme, "compared"};
inline constexpr CodedConcept kNotComparable{"CG-240", kPrivateScheme, "not comparable"};
inline constexpr CodedConcept kIdentityNotCertain{"CG-241", kPrivateScheme,
                                                  "identity not certain, not compared"};
inline constexpr CodedConcept kNewBaseline{"CG-242", kPrivateScheme, "new baseline"};
inline constexpr CodedConcept kPending{"CG-243", kPrivateScheme, "pending"};
inline constexpr CodedConcept kProcessing{"CG-244", kPrivateScheme,
                                          "Processing of this image and of the earlier one"};
inline constexpr CodedConcept kNoChangeSeen{"CG-245", kPrivateScheme, "no change seen"};
inline constexpr CodedConcept kNotKnown{"CG-246", kPrivateScheme, "not known"};
// Private: methods and derivations
inline constexpr CodedConcept kSilhouetteMethod{"CG-301", kPrivateScheme,
                                                "Automatic measurement on the implant's image"};
inline constexpr CodedConcept kExpandedTwo{"CG-302", kPrivateScheme,
                                           "Expanded uncertainty, coverage factor 2 (JCGM 100)"};
}  // namespace codes

/// Tooth of an ISO 3950 two-digit site (CID 4018 "Anatomic Structure, Tooth"), or nullptr.
const CodedConcept* tooth_code(const std::string& iso_3950);

/// The site of a tooth's code value, or empty.
std::string site_of_tooth(const std::string& code_value);

/// The whole table, teeth included, for the conformance statement and the tests.
const std::vector<CodedConcept>& all_codes();

DSRBasicCodedEntry entry(const CodedConcept& code);

}  // namespace crestgate
