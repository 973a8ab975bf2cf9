// The one list of every scene field, for reading and writing JSON: fields(visitor, value) calls
// visitor(key, member) for each. Keys equal the member names.
#pragma once
#include <initializer_list>
#include <type_traits>
#include <utility>
#include <vector>

#include "tests/support/scene.h"

namespace crestgate::phantom {

template <class T>
struct IsVector : std::false_type {};
template <class T>
struct IsVector<std::vector<T>> : std::true_type {};

template <class E>
using Words = std::vector<std::pair<const char*, E>>;

inline const Words<Material>& words(Material) {
  static const Words<Material> list{{"air", Material::air},
                                    {"soft_tissue", Material::soft_tissue},
                                    {"cortical_bone", Material::cortical_bone},
                                    {"trabecular_bone", Material::trabecular_bone},
                                    {"enamel", Material::enamel},
                                    {"dentin", Material::dentin},
                                    {"titanium", Material::titanium},
                                    {"gold_alloy", Material::gold_alloy},
                                    {"zirconia", Material::zirconia},
                                    {"porcelain", Material::porcelain},
                                    {"steel", Material::steel},
                                    {"amalgam", Material::amalgam},
                                    {"gutta_percha", Material::gutta_percha},
                                    {"aluminium", Material::aluminium},
                                    {"plastic", Material::plastic}};
  return list;
}
inline const Words<ThreadForm>& words(ThreadForm) {
  static const Words<ThreadForm> list{{"v", ThreadForm::v},
                                      {"buttress", ThreadForm::buttress},
                                      {"reverse_buttress", ThreadForm::reverse_buttress},
                                      {"square", ThreadForm::square},
                                      {"rounded", ThreadForm::rounded},
                                      {"fins", ThreadForm::fins},
                                      {"none", ThreadForm::none}};
  return list;
}
inline const Words<Apex>& words(Apex) {
  static const Words<Apex> list{
      {"round", Apex::round}, {"flat", Apex::flat}, {"notch", Apex::notch}};
  return list;
}
inline const Words<ConnectionForm>& words(ConnectionForm) {
  static const Words<ConnectionForm> list{{"butt_internal", ConnectionForm::butt_internal},
                                          {"butt_external", ConnectionForm::butt_external},
                                          {"conical", ConnectionForm::conical},
                                          {"solid", ConnectionForm::solid}};
  return list;
}
inline const Words<AbutmentForm>& words(AbutmentForm) {
  static const Words<AbutmentForm> list{
      {"none", AbutmentForm::none},       {"cover_screw", AbutmentForm::cover_screw},
      {"healing", AbutmentForm::healing}, {"post", AbutmentForm::post},
      {"ball", AbutmentForm::ball},       {"ball_with_cap", AbutmentForm::ball_with_cap}};
  return list;
}
inline const Words<ItemKind>& words(ItemKind) {
  static const Words<ItemKind> list{{"screw_post", ItemKind::screw_post},
                                    {"cast_post", ItemKind::cast_post},
                                    {"root_filling", ItemKind::root_filling},
                                    {"silver_point", ItemKind::silver_point},
                                    {"drill", ItemKind::drill},
                                    {"bracket", ItemKind::bracket},
                                    {"clamp", ItemKind::clamp},
                                    {"amalgam", ItemKind::amalgam},
                                    {"pontic", ItemKind::pontic},
                                    {"sphere", ItemKind::sphere},
                                    {"block", ItemKind::block}};
  return list;
}
inline const Words<ToneKind>& words(ToneKind) {
  static const Words<ToneKind> list{{"linear", ToneKind::linear}, {"log", ToneKind::log}};
  return list;
}
inline const Words<ObjectClass>& words(ObjectClass) {
  static const Words<ObjectClass> list{
      {"intraoral_presentation", ObjectClass::intraoral_presentation},
      {"intraoral_processing", ObjectClass::intraoral_processing},
      {"digital_xray", ObjectClass::digital_xray},
      {"computed_radiography", ObjectClass::computed_radiography},
      {"secondary_capture", ObjectClass::secondary_capture}};
  return list;
}

template <class V>
void fields(V& v, Place& s) {
  v("x_mm", s.x_mm);
  v("y_mm", s.y_mm);
  v("z_mm", s.z_mm);
  v("lean_deg", s.lean_deg);
  v("tip_deg", s.tip_deg);
}

template <class V>
void fields(V& v, Beam& s) {
  v("source_to_site_mm", s.source_to_site_mm);
  v("site_to_detector_mm", s.site_to_detector_mm);
  v("vertical_angle_deg", s.vertical_angle_deg);
  v("horizontal_angle_deg", s.horizontal_angle_deg);
  v("detector_tilt_deg", s.detector_tilt_deg);
  v("detector_turn_deg", s.detector_turn_deg);
  v("in_plane_turn_deg", s.in_plane_turn_deg);
  v("site_column_fraction", s.site_column_fraction);
  v("site_row_fraction", s.site_row_fraction);
}

template <class V>
void fields(V& v, Thread& s) {
  v("form", s.form);
  v("pitch_mm", s.pitch_mm);
  v("starts", s.starts);
  v("depth_mm", s.depth_mm);
  v("right_handed", s.right_handed);
  v("phase_deg", s.phase_deg);
  v("crest_fraction", s.crest_fraction);
}

template <class V>
void fields(V& v, Connection& s) {
  v("form", s.form);
  v("bore_radius_mm", s.bore_radius_mm);
  v("bore_depth_mm", s.bore_depth_mm);
  v("cone_half_angle_deg", s.cone_half_angle_deg);
  v("channel_radius_mm", s.channel_radius_mm);
  v("channel_depth_mm", s.channel_depth_mm);
  v("clearance_mm", s.clearance_mm);
}

template <class V>
void fields(V& v, Abutment& s) {
  v("form", s.form);
  v("base_diameter_mm", s.base_diameter_mm);
  v("height_mm", s.height_mm);
  v("collar_height_mm", s.collar_height_mm);
  v("top_diameter_mm", s.top_diameter_mm);
  v("bevel_mm", s.bevel_mm);
  v("channel_radius_mm", s.channel_radius_mm);
  v("screw", s.screw);
  v("material", s.material);
}

template <class V>
void fields(V& v, Gap& s) {
  v("centre_mm", s.centre_mm);
  v("tilt_deg", s.tilt_deg);
}

template <class V>
void fields(V& v, Crown& s) {
  v("present", s.present);
  v("width_mm", s.width_mm);
  v("depth_mm", s.depth_mm);
  v("height_mm", s.height_mm);
  v("start_mm", s.start_mm);
  v("neck_width_mm", s.neck_width_mm);
  v("screw_access", s.screw_access);
  v("material", s.material);
  v("metal_coping", s.metal_coping);
  v("cement_mm", s.cement_mm);
}

template <class V>
void fields(V& v, Implant& s) {
  v("place", s.place);
  v("length_mm", s.length_mm);
  v("diameter_mm", s.diameter_mm);
  v("platform_diameter_mm", s.platform_diameter_mm);
  v("collar_mm", s.collar_mm);
  v("micro_thread_length_mm", s.micro_thread_length_mm);
  v("micro_thread_pitch_mm", s.micro_thread_pitch_mm);
  v("micro_thread_depth_mm", s.micro_thread_depth_mm);
  v("taper_deg", s.taper_deg);
  v("taper_start_fraction", s.taper_start_fraction);
  v("step_mm", s.step_mm);
  v("apex", s.apex);
  v("apex_length_mm", s.apex_length_mm);
  v("bevel_mm", s.bevel_mm);
  v("window_width_mm", s.window_width_mm);
  v("window_height_mm", s.window_height_mm);
  v("window_from_apex_mm", s.window_from_apex_mm);
  v("window_turn_deg", s.window_turn_deg);
  v("thread", s.thread);
  v("connection", s.connection);
  v("abutment", s.abutment);
  v("gap", s.gap);
  v("crown", s.crown);
}

template <class V>
void fields(V& v, Bone& s) {
  v("present", s.present);
  v("width_mm", s.width_mm);
  v("buccal_plate_mm", s.buccal_plate_mm);
  v("lingual_plate_mm", s.lingual_plate_mm);
  v("crest_left_mm", s.crest_left_mm);
  v("crest_right_mm", s.crest_right_mm);
  v("outer_left_mm", s.outer_left_mm);
  v("outer_right_mm", s.outer_right_mm);
  v("saucer_depth_left_mm", s.saucer_depth_left_mm);
  v("saucer_depth_right_mm", s.saucer_depth_right_mm);
  v("saucer_width_mm", s.saucer_width_mm);
  v("buccal_drop_mm", s.buccal_drop_mm);
  v("lingual_drop_mm", s.lingual_drop_mm);
  v("slope_mm", s.slope_mm);
  v("roughness_mm", s.roughness_mm);
  v("trabecular_density", s.trabecular_density);
  v("texture_contrast", s.texture_contrast);
  v("texture_size_mm", s.texture_size_mm);
  v("floor_mm", s.floor_mm);
  v("canal_mm", s.canal_mm);
  v("cheek_mm", s.cheek_mm);
  v("gingiva_mm", s.gingiva_mm);
  v("gingiva_height_mm", s.gingiva_height_mm);
}

template <class V>
void fields(V& v, Tooth& s) {
  v("place", s.place);
  v("root_length_mm", s.root_length_mm);
  v("neck_width_mm", s.neck_width_mm);
  v("crown_width_mm", s.crown_width_mm);
  v("crown_height_mm", s.crown_height_mm);
  v("depth_ratio", s.depth_ratio);
  v("enamel_mm", s.enamel_mm);
  v("pulp_width_mm", s.pulp_width_mm);
  v("root_filled", s.root_filled);
  v("ligament_mm", s.ligament_mm);
  v("lamina_dura_mm", s.lamina_dura_mm);
}

template <class V>
void fields(V& v, Item& s) {
  v("kind", s.kind);
  v("place", s.place);
  v("width_mm", s.width_mm);
  v("length_mm", s.length_mm);
  v("depth_mm", s.depth_mm);
  v("material", s.material);
}

template <class V>
void fields(V& v, StepWedge& s) {
  v("present", s.present);
  v("steps", s.steps);
  v("step_mm", s.step_mm);
  v("step_length_mm", s.step_length_mm);
  v("width_mm", s.width_mm);
  v("place", s.place);
  v("material", s.material);
}

template <class V>
void fields(V& v, Exposure& s) {
  v("tube_kv", s.tube_kv);
  v("filter_mm_al", s.filter_mm_al);
  v("mono_kev", s.mono_kev);
  v("photons_per_pixel", s.photons_per_pixel);
  v("level", s.level);
  v("scatter_fraction", s.scatter_fraction);
  v("focal_spot_mm", s.focal_spot_mm);
  v("motion_px", s.motion_px);
  v("motion_direction_deg", s.motion_direction_deg);
}

template <class V>
void fields(V& v, Detector& s) {
  v("columns", s.columns);
  v("rows", s.rows);
  v("pixel_mm", s.pixel_mm);
  v("blur_sigma_mm", s.blur_sigma_mm);
  v("read_noise", s.read_noise);
  v("dead_pixels", s.dead_pixels);
  v("dead_lines", s.dead_lines);
  v("scratches", s.scratches);
  v("dust", s.dust);
  v("plate_wear", s.plate_wear);
  v("seed", s.seed);
  v("noise_seed", s.noise_seed);
}

template <class V>
void fields(V& v, Processing& s) {
  v("tone", s.tone);
  v("toe", s.toe);
  v("gamma", s.gamma);
  v("auto_window", s.auto_window);
  v("window_low", s.window_low);
  v("window_high", s.window_high);
  v("low_share", s.low_share);
  v("high_share", s.high_share);
  v("headroom", s.headroom);
  v("unsharp_amount", s.unsharp_amount);
  v("unsharp_radius_px", s.unsharp_radius_px);
  v("equalise", s.equalise);
  v("bits", s.bits);
}

template <class V>
void fields(V& v, Readout& s) {
  v("monochrome1", s.monochrome1);
  v("inverted", s.inverted);
  v("rgb", s.rgb);
  v("mirrored", s.mirrored);
  v("quarter_turns", s.quarter_turns);
  v("frame_px", s.frame_px);
  v("frame_white", s.frame_white);
  v("corner_radius_mm", s.corner_radius_mm);
  v("cone_cut_mm", s.cone_cut_mm);
  v("cone_cut_direction_deg", s.cone_cut_direction_deg);
  v("bar_px", s.bar_px);
  v("text", s.text);
  v("ruler", s.ruler);
}

template <class V>
void fields(V& v, Identity& s) {
  v("object_class", s.object_class);
  v("patient_name", s.patient_name);
  v("patient_id", s.patient_id);
  v("issuer_of_patient_id", s.issuer_of_patient_id);
  v("birth_date", s.birth_date);
  v("sex", s.sex);
  v("study_uid", s.study_uid);
  v("series_uid", s.series_uid);
  v("sop_uid", s.sop_uid);
  v("study_id", s.study_id);
  v("accession_number", s.accession_number);
  v("date", s.date);
  v("time", s.time);
  v("study_description", s.study_description);
  v("series_description", s.series_description);
  v("requested_procedure", s.requested_procedure);
  v("reason_for_procedure", s.reason_for_procedure);
  v("manufacturer", s.manufacturer);
  v("model", s.model);
  v("serial", s.serial);
  v("detector_id", s.detector_id);
  v("station_name", s.station_name);
  v("operator_name", s.operator_name);
  v("instance_number", s.instance_number);
  v("jaw", s.jaw);
  v("tooth", s.tooth);
  v("laterality", s.laterality);
  v("state_spacing", s.state_spacing);
  v("state_flip", s.state_flip);
  v("state_tone", s.state_tone);
  v("state_distances", s.state_distances);
}

template <class V>
void fields(V& v, Scene& s) {
  v("name", s.name);
  v("beam", s.beam);
  v("implants", s.implants);
  v("splinted", s.splinted);
  v("bone", s.bone);
  v("teeth", s.teeth);
  v("items", s.items);
  v("wedge", s.wedge);
  v("exposure", s.exposure);
  v("detector", s.detector);
  v("processing", s.processing);
  v("readout", s.readout);
  v("identity", s.identity);
}

}  // namespace crestgate::phantom
