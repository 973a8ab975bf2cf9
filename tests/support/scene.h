// A radiograph to be made up: every parameter of a simulated intraoral exposure, as plain values.
//
// World frame (mm): origin = the site, by default the platform centre of the first implant; x to
// the image right seen from the source with the crown up, y away from the source (towards the
// detector), z coronal. Right-handed. Lengths along an implant are "apical of the platform".
// Scenes are values without invariants; `check` in scene_json.h names what cannot be rendered.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

namespace crestgate::phantom {

/// Attenuation data and their sources: attenuation.h.
enum class Material {
  air,
  soft_tissue,
  cortical_bone,
  trabecular_bone,
  enamel,
  dentin,
  titanium,
  gold_alloy,
  zirconia,
  porcelain,
  steel,
  amalgam,
  gutta_percha,
  aluminium,
  plastic,
};

/// Pose of a part in the world frame: position of its origin and two turns of its axis.
struct Place {
  double x_mm = 0.0, y_mm = 0.0, z_mm = 0.0;
  double lean_deg = 0.0;  ///< in the x-z plane: positive = coronal end towards image right
  double tip_deg = 0.0;   ///< in the y-z plane: positive = coronal end away from the source
};

// ---- geometry ----------------------------------------------------------------------------------

/// Cone-beam geometry. The angles belong to the ray through the site (the world origin), whose
/// angle at another implant differs by divergence: see Truth.
struct Beam {
  double source_to_site_mm = 330.0;
  double site_to_detector_mm = 8.0;   ///< along the ray through the site
  double vertical_angle_deg = 0.0;    ///< positive = source coronal (design.md section 3)
  double horizontal_angle_deg = 0.0;  ///< positive = beam travels towards +x
  double detector_tilt_deg = 0.0;     ///< phi: same sense as the vertical angle; theta = along ray
  double detector_turn_deg = 0.0;     ///< same sense as the horizontal angle
  double in_plane_turn_deg = 0.0;     ///< clockwise turn of the picture; 180 = crown hangs down
  double site_column_fraction = 0.5;  ///< where the site falls in the unturned raster, 0..1
  double site_row_fraction = 0.45;
};

// ---- implants ----------------------------------------------------------------------------------

enum class ThreadForm { v, buttress, reverse_buttress, square, rounded, fins, none };
enum class Apex { round, flat, notch };
enum class ConnectionForm { butt_internal, butt_external, conical, solid };
enum class AbutmentForm { none, cover_screw, healing, post, ball, ball_with_cap };

struct Thread {
  ThreadForm form = ThreadForm::v;
  double pitch_mm = 0.7;  ///< axial distance of crests; lead = pitch x starts
  int starts = 1;
  double depth_mm = 0.35;
  bool right_handed = true;
  double phase_deg = 0.0;        ///< turn of the implant about its axis
  double crest_fraction = 0.12;  ///< flat crest width / pitch
};

/// The half of the joint that belongs to the implant.
struct Connection {
  ConnectionForm form = ConnectionForm::butt_internal;
  double bore_radius_mm = 1.2;       ///< at the platform; external: radius of the boss
  double bore_depth_mm = 2.8;        ///< external: height of the boss
  double cone_half_angle_deg = 7.0;  ///< conical only
  double channel_radius_mm = 0.85;   ///< screw hole below the bore
  double channel_depth_mm = 5.5;     ///< from the platform
  double clearance_mm = 0.03;        ///< radial play of the male part (butt joints)
};

struct Abutment {
  AbutmentForm form = AbutmentForm::post;
  double base_diameter_mm = 3.8;  ///< at the joint: below, at or above the platform's
  double height_mm = 5.0;
  double collar_height_mm = 1.2;
  double top_diameter_mm = 3.0;
  double bevel_mm = 0.08;          ///< lower edge
  double channel_radius_mm = 1.1;  ///< access to the screw; 0 = none
  bool screw = true;
  Material material = Material::titanium;
};

/// Misfit of the mounted part. The gap at the flanks is centre +- R tan(tilt).
struct Gap {
  double centre_mm = 0.0;  ///< axial lift of the part
  double tilt_deg = 0.0;   ///< about the depth axis; positive = wider on the +x side
};

struct Crown {
  bool present = true;
  double width_mm = 8.0;  ///< largest, mesio-distal
  double depth_mm = 8.5;  ///< largest, bucco-lingual
  double height_mm = 8.0;
  double start_mm = 1.5;       ///< coronal of the platform
  double neck_width_mm = 4.6;  ///< at its lower edge
  bool screw_access = false;   ///< plastic-filled hole
  Material material = Material::porcelain;
  bool metal_coping = false;  ///< 0.5 mm gold alloy under porcelain
  double cement_mm = 0.0;     ///< radiolucent layer between crown and abutment
};

struct Implant {
  Place place;  ///< of the platform centre
  double length_mm = 10.0;
  double diameter_mm = 4.1;  ///< over the crests
  double platform_diameter_mm = 4.1;
  double collar_mm = 0.6;               ///< smooth, below the platform; tissue-level: 1.5-3
  double micro_thread_length_mm = 0.0;  ///< neck with a second, finer pitch
  double micro_thread_pitch_mm = 0.3;
  double micro_thread_depth_mm = 0.08;
  double taper_deg = 0.0;             ///< half angle
  double taper_start_fraction = 0.3;  ///< of the length
  double step_mm = 0.0;               ///< stepped body: radius lost at half length
  Apex apex = Apex::round;
  double apex_length_mm = 1.0;   ///< rounding or notch
  double bevel_mm = 0.08;        ///< platform edge, 0.03-0.3
  double window_width_mm = 0.0;  ///< transverse hole near the apex; 0 = none
  double window_height_mm = 0.0;
  double window_from_apex_mm = 2.0;
  double window_turn_deg = 0.0;  ///< 0 = seen end-on
  Thread thread;
  Connection connection;
  Abutment abutment;
  Gap gap;
  Crown crown;
};

// ---- anatomy -----------------------------------------------------------------------------------

/// A ridge running along x. Levels are on the z axis of the world, given as mm apical of the first
/// implant's platform; the crest is where bone first touches the flank line of that implant.
struct Bone {
  bool present = true;
  double width_mm = 8.0;  ///< bucco-lingual, plates included
  double buccal_plate_mm = 1.2, lingual_plate_mm = 1.4;
  double crest_left_mm = 1.0, crest_right_mm = 1.0;  ///< first bone contact, image left/right
  double outer_left_mm = 0.6, outer_right_mm = 0.6;  ///< level 5 mm and more away
  double saucer_depth_left_mm = 0.0, saucer_depth_right_mm = 0.0;  ///< funnel, part of crest_*
  double saucer_width_mm = 1.5;
  double buccal_drop_mm = 0.3, lingual_drop_mm = 0.5;  ///< plates' edges apical of the crest
  double slope_mm = 0.5;            ///< ridge rounding: full thickness is reached this deep
  double roughness_mm = 0.08;       ///< sd of the crest line
  double trabecular_density = 0.5;  ///< share of bone, the rest is marrow (soft tissue)
  double texture_contrast = 0.25;   ///< relative sd of the local density
  double texture_size_mm = 0.45;    ///< dominant trabecular spacing
  double floor_mm = 0.0;            ///< lower border or sinus floor; 0 = none in view
  double canal_mm = 0.0;            ///< nerve canal's level; 0 = none
  double cheek_mm = 10.0;           ///< soft tissue everywhere
  double gingiva_mm = 5.0;          ///< thickness of soft tissue over the crest
  double gingiva_height_mm = 2.5;   ///< coronal of the platform
};

/// Turned (rotationally symmetric, then widened in depth) tooth. Origin: cemento-enamel junction.
struct Tooth {
  Place place;
  double root_length_mm = 13.0;
  double neck_width_mm = 5.0;
  double crown_width_mm = 7.5;
  double crown_height_mm = 7.5;
  double depth_ratio = 1.3;  ///< bucco-lingual / mesio-distal
  double enamel_mm = 1.2;
  double pulp_width_mm = 0.9;
  bool root_filled = false;
  double ligament_mm = 0.22;
  double lamina_dura_mm = 0.25;
};

/// Other things in the picture, most of them easily taken for an implant.
enum class ItemKind {
  screw_post,
  cast_post,
  root_filling,
  silver_point,
  drill,
  bracket,
  clamp,
  amalgam,
  pontic,
  sphere,
  block,
};

struct Item {
  ItemKind kind = ItemKind::block;
  Place place;  ///< of its coronal end; block, sphere: its centre
  double width_mm = 1.5;
  double length_mm = 8.0;  ///< along its axis
  double depth_mm = 1.5;
  Material material = Material::titanium;
};

struct StepWedge {
  bool present = false;
  int steps = 6;
  double step_mm = 1.0;  ///< thickness added per step
  double step_length_mm = 2.0;
  double width_mm = 3.0;
  Place place;  ///< of the thin end
  Material material = Material::aluminium;
};

// ---- exposure and detector ---------------------------------------------------------------------

struct Exposure {
  double tube_kv = 65.0;
  double filter_mm_al = 2.0;
  double mono_kev = 0.0;               ///< > 0: monochromatic beam (optics tests)
  double photons_per_pixel = 20000.0;  ///< detected in air, after `level`; 0 = no noise
  double level = 0.8;                  ///< air signal / detector saturation; > 1 burns out
  double scatter_fraction = 0.12;      ///< share of the signal spread over some 4 mm
  double focal_spot_mm = 0.5;
  double motion_px = 0.0;             ///< length of a straight movement
  double motion_direction_deg = 0.0;  ///< 0 = along x
};

struct Detector {
  int columns = 840, rows = 1160;  ///< before any turn of the read-out
  double pixel_mm = 0.025;
  double blur_sigma_mm = 0.045;
  double read_noise = 0.002;  ///< of saturation
  int dead_pixels = 0, dead_lines = 0;
  int scratches = 0, dust = 0;
  double plate_wear = 0.0;  ///< relative sd of slow sensitivity changes
  std::uint64_t seed = 1;   ///< every random number of the scene comes from it
  /// Noise alone, for a second exposure of the same anatomy; 0: from `seed`.
  std::uint64_t noise_seed = 0;
};

// ---- processing and read-out -------------------------------------------------------------------

enum class ToneKind { linear, log };

struct Processing {
  ToneKind tone = ToneKind::log;  ///< of exposure, before gamma; linear = 1 - exposure
  double toe = 0.0;               ///< log: added to the signal first, so that dense metal flattens
  double gamma = 1.0;             ///< exponent on 0..1; 1 = tone stays what it says
  bool auto_window = true;        ///< from the image's own grey values
  double window_low = 0.0;        ///< mapped to black if not automatic
  double window_high = 3.0;       ///< mapped to white: log: -ln(exposure); linear: 0..1
  double low_share = 0.005;       ///< automatic: share of pixels clipped black
  double high_share = 0.0005;     ///< automatic: share clipped white
  double headroom = 1.08;         ///< automatic: white point beyond that share
  double unsharp_amount = 0.0;
  double unsharp_radius_px = 3.0;
  double equalise = 0.0;  ///< 0..1 mix of contrast-limited local equalisation
  int bits = 12;          ///< 8..16
};

struct Readout {
  bool monochrome1 = false;  ///< stored inverted and declared so
  bool inverted = false;     ///< stored inverted, not declared
  bool rgb = false;          ///< three equal 8-bit channels
  bool mirrored = false;     ///< left-right, before the turn
  int quarter_turns = 0;     ///< clockwise
  int frame_px = 0;
  bool frame_white = false;
  double corner_radius_mm = 0.0;        ///< rounded sensor corners, black
  double cone_cut_mm = 0.0;             ///< how far the collimator's circle reaches in; 0 = none
  double cone_cut_direction_deg = 0.0;  ///< side of the image it comes from; 0 = right, 90 = down
  int bar_px = 0;                       ///< black bar on top
  std::string text;                     ///< burned in, upper left
  bool ruler = false;                   ///< burned in along the left border
};

// ---- what the DICOM object says ----------------------------------------------------------------

enum class ObjectClass {
  intraoral_presentation,
  intraoral_processing,
  digital_xray,
  computed_radiography,
  secondary_capture,
};

struct Identity {
  ObjectClass object_class = ObjectClass::intraoral_presentation;
  std::string patient_name = "Sample^Patient";
  std::string patient_id = "SAMPLE-0001";
  std::string issuer_of_patient_id = "Invented Clinic";
  std::string birth_date = "19600101", sex = "O";
  std::string study_uid, series_uid, sop_uid;  ///< empty: derived from the rest and the seed
  std::string study_id = "1", accession_number;
  std::string date = "20260105", time = "101500";
  std::string study_description = "Intraoral radiograph";
  std::string series_description, requested_procedure, reason_for_procedure;
  std::string manufacturer = "Phantom", model = "phantom renderer", serial = "P0001";
  std::string detector_id = "SENSOR-1", station_name = "ROOM1", operator_name = "Operator^Sample";
  int instance_number = 1;
  std::string jaw = "mandible";  ///< "maxilla", "mandible" or empty (not stated)
  std::string tooth;             ///< ISO 3950; empty = not stated
  std::string laterality = "L";
  bool state_spacing = true;    ///< Imager Pixel Spacing (always in IO and DX objects)
  bool state_flip = true;       ///< FOV Rotation / Horizontal Flip
  bool state_tone = true;       ///< false: intensity relationship DISP
  bool state_distances = true;  ///< source to detector and patient
};

struct Scene {
  std::string name = "scene";
  Beam beam;
  std::vector<Implant> implants{Implant{}};
  bool splinted = false;  ///< crowns of successive implants joined
  Bone bone;
  std::vector<Tooth> teeth;
  std::vector<Item> items;
  StepWedge wedge;
  Exposure exposure;
  Detector detector;
  Processing processing;
  Readout readout;
  Identity identity;
};

}  // namespace crestgate::phantom
