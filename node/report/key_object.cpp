#include "node/report/key_object.h"

#include <dcmtk/dcmsr/dsrdoc.h>

#include "node/report/codes.h"
#include "node/report/quality_codes.h"
#include "node/report/wording.h"

namespace crestgate {
namespace {

struct Note {
  const CodedConcept& title;
  std::vector<const CodedConcept*> modifiers;  ///< CID 7011
  std::string description;
  std::string uid_kind;
  int instance_number;
  bool NotedImage::*kind;
};

/// Images the note names: its own first, then the study's earlier ones with a note of this kind.
std::vector<NotedImage> images_of(const Note& note, const Shared& shared) {
  const SourceIdentity& from = shared.from;
  std::vector<NotedImage> images = {{from.sop_class_uid, from.sop_instance_uid, from.series_uid}};
  for (const NotedImage& image : shared.context.noted_before) {
    if (image.*note.kind && image.sop_instance_uid != from.sop_instance_uid) {
      images.push_back(image);
    }
  }
  return images;
}

void keep_first(OFCondition& result, const OFCondition& next) {
  if (result.good()) result = next;
}

OFCondition add_code(DSRDocumentTree& tree, DSRTypes::E_RelationshipType relation,
                     const CodedConcept& name, const CodedConcept& value,
                     DSRTypes::E_AddMode mode) {
  if (tree.addContentItem(relation, DSRTypes::VT_Code, mode) == 0)
    return SR_EC_CannotAddContentItem;
  OFCondition result = tree.getCurrentContentItem().setConceptName(entry(name));
  keep_first(result, tree.getCurrentContentItem().setCodeValue(entry(value)));
  return result;
}

OFCondition add_string(DSRDocumentTree& tree, DSRTypes::E_RelationshipType relation,
                       DSRTypes::E_ValueType type, const CodedConcept& name,
                       const std::string& value) {
  if (tree.addContentItem(relation, type) == 0) return SR_EC_CannotAddContentItem;
  OFCondition result = tree.getCurrentContentItem().setConceptName(entry(name));
  keep_first(result, tree.getCurrentContentItem().setStringValue(value.c_str()));
  return result;
}

/// TID 2010 rows 1-3 and TID 1002/1004 for the observing device, description, image.
OFCondition fill(DSRDocumentTree& tree, const Note& note, const Shared& shared) {
  const ReportContext& context = shared.context;
  if (tree.addContentItem(DSRTypes::RT_isRoot, DSRTypes::VT_Container) == 0) {
    return SR_EC_CannotAddContentItem;
  }
  OFCondition result = tree.getCurrentContentItem().setConceptName(entry(note.title));
  keep_first(result, tree.getCurrentContentItem().setTemplateIdentification("2010", "DCMR"));
  DSRTypes::E_AddMode mode = DSRTypes::AM_belowCurrent;
  for (const CodedConcept* modifier : note.modifiers) {
    keep_first(result,
               add_code(tree, DSRTypes::RT_hasConceptMod, codes::kTitleModifier, *modifier, mode));
    mode = DSRTypes::AM_afterCurrent;
  }
  keep_first(result, add_code(tree, DSRTypes::RT_hasObsContext, codes::kObserverType,
                              codes::kDevice, mode));
  const std::string uid = context.device_uid.empty()
                              ? tracking_uid("", "", "", "device " + context.station_name, 0)
                              : context.device_uid;
  const auto observer = DSRTypes::RT_hasObsContext;
  keep_first(result,
             add_string(tree, observer, DSRTypes::VT_UIDRef, codes::kDeviceObserverUid, uid));
  if (!context.station_name.empty()) {
    keep_first(result, add_string(tree, observer, DSRTypes::VT_Text, codes::kDeviceObserverName,
                                  encode(shared.source, context.station_name)));
  }
  keep_first(result, add_string(tree, observer, DSRTypes::VT_Text,
                                codes::kDeviceObserverManufacturer, kManufacturer));
  keep_first(result,
             add_string(tree, DSRTypes::RT_contains, DSRTypes::VT_Text,
                        codes::kKeyObjectDescription, encode(shared.source, note.description)));
  for (const NotedImage& image : images_of(note, shared)) {
    if (result.good() && tree.addContentItem(DSRTypes::RT_contains, DSRTypes::VT_Image) == 0) {
      return SR_EC_CannotAddContentItem;
    }
    keep_first(result, tree.getCurrentContentItem().setImageReference(DSRImageReferenceValue(
                           image.sop_class_uid.c_str(), image.sop_instance_uid.c_str())));
  }
  return result;
}

Result<BuiltObject> build(const Note& note, const std::string& description, const Shared& shared) {
  DSRDocument document(DSRTypes::DT_KeyObjectSelectionDocument);
  OFCondition result = fill(document.getTree(), note, shared);
  for (const NotedImage& image : images_of(note, shared)) {
    keep_first(result, document.getCurrentRequestedProcedureEvidence().addItem(
                           shared.from.study_uid.c_str(), image.series_instance_uid.c_str(),
                           image.sop_class_uid.c_str(), image.sop_instance_uid.c_str()));
  }
  DcmDataset dataset;
  keep_first(result, document.write(dataset));
  if (result.bad()) {
    return Status::error(Code::internal, std::string("key object note: ") + result.text());
  }
  const ObjectPlan plan{"key-object-note",
                        note.uid_kind,
                        UID_KeyObjectSelectionDocumentStorage,
                        "KO",
                        9002,
                        encode(shared.source, description)};
  write_common(dataset, shared, plan);
  put(dataset, DCM_InstanceNumber, std::to_string(note.instance_number));
  return to_object(dataset, plan);
}

}  // namespace

NotesWanted notes_wanted(const Analysis& analysis, const Rules& rules,
                         const ReportContext& context) {
  if (rules.mode == Mode::trial || context.suppress_notes || !rules.output.notes) return {};
  NotesWanted wanted;
  wanted.repeat = analysis.verdict == Verdict::repeat_if_justified && analysis.intent_from_rule;
  wanted.finding = !analysis.findings.empty();
  return wanted;
}

namespace {

/// " Earlier images ..." when the note names some, else nothing.
std::string others_text(bool NotedImage::*kind, const Shared& shared, const Language& text) {
  const auto count = images_of({codes::kOfInterest, {}, "", "", 0, kind}, shared).size() - 1;
  return count == 0 ? "" : " " + text.get("note.others", {{"n", std::to_string(count)}});
}

}  // namespace

Result<BuiltObject> build_repeat_note(const Analysis& analysis, const Rules& rules,
                                      const Shared& shared, const Language& text) {
  std::vector<const CodedConcept*> reasons = quality_codes(analysis);
  if (reasons.empty()) reasons.push_back(&codes::kOtherFailure);
  return build({codes::kQualityIssue, reasons,
                text.get("note.repeat", {{"advice", action_sentence(analysis)}}) + " " +
                    text.get("caution.dose") + others_text(&NotedImage::repeat, shared, text),
                "key-object-note repeat", 1, &NotedImage::repeat},
               series_description(analysis, rules, text), shared);
}

Result<BuiltObject> build_finding_note(const Analysis& analysis, const Rules& rules,
                                       const Shared& shared, const Language& text) {
  const Headline line = headline(analysis, text);
  return build({codes::kOfInterest,
                {},
                text.get("note.finding", {{"finding", line.main + ". " + line.sub}}) + " " +
                    text.get("caution.aid") + others_text(&NotedImage::finding, shared, text),
                "key-object-note finding",
                2,
                &NotedImage::finding},
               series_description(analysis, rules, text), shared);
}

}  // namespace crestgate
