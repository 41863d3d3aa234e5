#include "daemon/judge/register_book.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/time_text.h"
#include "daemon/base/units.h"
#include "daemon/judge/text_file.h"
#include "daemon/judge/vocabulary.h"
#include "daemon/physics/default_wll.h"

namespace fairlead::judge {
namespace {

namespace pb = google::protobuf;
using Tree = pb::TextFormat::ParseInfoTree;

constexpr int64_t kDayUs = 86'400'000'000;

// Reads one message's text fields into whole numbers and notes every problem with its place.
class FieldReader {
 public:
  FieldReader(Problems& problems, const Tree* tree, const pb::Message& message)
      : problems_(problems), tree_(tree), message_(message) {}

  std::optional<int64_t> quantity(const std::string& field, Dimension dimension,
                                  bool negative_allowed = false) {
    const std::string text = text_of(field);
    if (text.empty()) return std::nullopt;
    const auto read = parse_quantity(text, dimension);
    if (!read) return note(field, read.error().message);
    if (read->nearest() < 0 && !negative_allowed)
      return note(field, "'" + text + "' is negative; it must not be");
    return read->nearest();
  }
  /// The same rounded up, and down: what quantity() has noted is noted once.
  [[nodiscard]] std::optional<int64_t> up(const std::string& field, Dimension dimension) const {
    const auto read = parse_quantity(text_of(field), dimension);
    return read ? std::optional(read->ceil()) : std::nullopt;
  }
  [[nodiscard]] std::optional<int64_t> down(const std::string& field, Dimension dimension) const {
    const auto read = parse_quantity(text_of(field), dimension);
    return read ? std::optional(read->floor()) : std::nullopt;
  }
  /// 0 for an empty text and for one that is no length; finer than a length is stored.
  int64_t micrometres(const std::string& field) {
    const std::string text = text_of(field);
    if (text.empty()) return 0;
    const auto read = parse_quantity(text, Dimension::kLength);
    if (!read) return note(field, read.error().message).value_or(0);
    return static_cast<int64_t>(static_cast<__int128>(read->stored.num) * 1000 / read->stored.den);
  }
  std::optional<int64_t> date(const std::string& field) {
    const std::string text = text_of(field);
    if (text.empty()) return std::nullopt;
    const auto read = parse_date_us(text);
    if (!read) return note(field, read.error().message);
    return *read;
  }
  std::string unit(const std::string& field, Dimension dimension) const {
    const auto read = parse_quantity(text_of(field), dimension);
    return read ? read->unit : "";
  }
  std::optional<int64_t> note(const std::string& field, const std::string& what, int index = -1) {
    problems_.add(tree_, message_, field, index, what);
    return std::nullopt;
  }

 private:
  std::string text_of(const std::string& field) const {
    return message_.GetReflection()->GetString(message_,
                                               message_.GetDescriptor()->FindFieldByName(field));
  }
  Problems& problems_;
  const Tree* tree_;
  const pb::Message& message_;
};

const Tree* nested(const Tree& tree, const pb::Message& owner, const std::string& field,
                   int index) {
  return tree.GetTreeForNested(owner.GetDescriptor()->FindFieldByName(field), index);
}

VehicleItem read_vehicle(const v1::Vehicle& text, FieldReader fields, Problems& problems,
                         const Tree* tree) {
  VehicleItem item{.text = text,
                   .mass_g = {},
                   .mass_sd_g = {},
                   .fields = {},
                   .fields_up = {},
                   .units = {},
                   .points = {},
                   .points_up = {}};
  item.mass_g = fields.quantity("mass", Dimension::kMass);
  item.mass_sd_g = fields.quantity("mass_sd", Dimension::kMass);
  for (const std::string_view name : file_field_names()) {
    if (!name.starts_with("vehicle.")) continue;
    const std::string field(name.substr(8));
    const Dimension dimension = *file_field_dimension(name);
    if (const auto value = fields.quantity(field, dimension)) {
      item.fields[std::string(name)] = *value;
      item.fields_up[std::string(name)] = fields.up(field, dimension).value_or(*value);
      item.units[std::string(name)] = fields.unit(field, dimension);
    }
  }
  for (const char* field : {"front_overhang", "rear_overhang", "wheel_diameter", "height"})
    fields.quantity(field, Dimension::kLength);
  if (const auto share = fields.quantity("front_share", Dimension::kShare); share > 1'000'000)
    fields.note("front_share", "'" + text.front_share() + "' is more than the whole car");
  for (const char* field : {"front_axle_rating", "rear_axle_rating"})
    fields.quantity(field, Dimension::kMass);
  for (int i = 0; i < text.point_size(); ++i) {
    FieldReader point(problems, nested(*tree, text, "point", i), text.point(i));
    if (text.point(i).id().empty()) point.note("id", "an attachment point needs an id; add one");
    const auto rating = point.quantity("rating", Dimension::kForce);
    if (rating)
      item.points_up[text.point(i).id()] = point.up("rating", Dimension::kForce).value_or(*rating);
    if (!item.points.emplace(text.point(i).id(), rating).second) {
      point.note("id", fmt::format("point '{}' stands twice; ids must differ", text.point(i).id()));
    }
  }
  return item;
}

std::optional<physics::TiedownMaterial> material_of(v1::GearKind::Word kind,
                                                    const std::string& grade) {
  using M = physics::TiedownMaterial;
  if (kind == v1::GearKind::WEBBING || kind == v1::GearKind::RATCHET) return M::kWebbing;
  if (kind == v1::GearKind::WIRE_ROPE) return M::kWireRope;
  if (kind == v1::GearKind::CORDAGE) {
    if (grade == "manila") return M::kManila;
    if (grade == "polyester") return M::kPolyester;
    if (grade == "nylon") return M::kNylon;
    if (grade == "double nylon") return M::kDoubleNylon;
    return physics::kUnknownCordage;
  }
  if (kind != v1::GearKind::CHAIN) return std::nullopt;
  return physics::chain_of_mark(grade).value_or(physics::kUnknownChain);
}

GearItem read_gear(const v1::Gear& text, FieldReader fields) {
  GearItem item{.text = text,
                .wll = {},
                .anchor_wll_g = {},
                .anchor_wll_up_g = {},
                .in_service_us = {},
                .inspect_by_us = {},
                .out_of_service_us = {},
                .defect = {}};
  if (text.kind() == v1::GearKind::UNSET)
    fields.note("kind", "a piece of gear needs a kind, as WEBBING; add one");
  const auto wll = fields.quantity("wll", Dimension::kMass);
  const int64_t width_um = fields.micrometres("width");
  const auto by_table =
      default_wll_g(text.kind(), text.grade(), width_um, fields.micrometres("thickness"));
  fields.quantity("breaking", Dimension::kMass);
  if (wll) {
    item.wll = {fields.down("wll", Dimension::kMass), fields.up("wll", Dimension::kMass), false};
  } else if (by_table) {
    item.wll = {by_table, by_table, true};
  } else {
    item.wll = {std::nullopt, largest_default_wll_g(text.kind()), false};
  }
  item.anchor_wll_g = fields.quantity("anchor_wll", Dimension::kMass);
  if (item.anchor_wll_g) {
    item.anchor_wll_g = fields.down("anchor_wll", Dimension::kMass);
    item.anchor_wll_up_g = fields.up("anchor_wll", Dimension::kMass);
  }
  item.in_service_us = fields.date("in_service");
  item.inspect_by_us = fields.date("inspect_by");
  item.out_of_service_us = fields.date("out_of_service");
  const bool webbing = text.kind() == v1::GearKind::WEBBING || text.kind() == v1::GearKind::RATCHET;
  item.defect =
      physics::judge_defect(text.defect(), webbing ? static_cast<double>(width_um) / 1000 : 0);
  return item;
}

TruckItem read_truck(const v1::Truck& text, FieldReader fields, Problems& problems,
                     const Tree* tree) {
  TruckItem item{.text = text,
                 .line_speed_mm_s = {},
                 .line_rating_n = {},
                 .line_rating_up_n = {},
                 .layers = {}};
  for (const char* field : {"gvwr", "front_scaled", "rear_scaled", "front_axle_rating",
                            "rear_axle_rating", "payload"}) {
    fields.quantity(field, Dimension::kMass);
  }
  for (const char* field : {"deck_length", "deck_travel", "wheelbase", "deck_ahead", "deck_height",
                            "strap_reach", "strap_reach_sd", "strap_aside", "strap_aside_sd"})
    fields.quantity(field, Dimension::kLength);
  fields.quantity("deck_tilt", Dimension::kAngle);
  if (text.winch_size() > 1)
    fields.note("winch", "more than one winch; one is judged, remove the others", 1);
  if (text.winch_size() != 1) return item;
  const Tree* winch_tree = nested(*tree, text, "winch", 0);
  FieldReader winch(problems, winch_tree, text.winch(0));
  item.line_speed_mm_s = winch.quantity("line_speed", Dimension::kSpeed);
  item.line_rating_n = winch.quantity("line_rating", Dimension::kForce);
  if (item.line_rating_n) item.line_rating_up_n = winch.up("line_rating", Dimension::kForce);
  for (const char* field : {"drum_diameter", "drum_width", "rope_diameter", "rope_length"})
    winch.quantity(field, Dimension::kLength);
  for (int i = 0; i < text.winch(0).layer_size(); ++i) {
    FieldReader layer(problems, nested(*winch_tree, text.winch(0), "layer", i),
                      text.winch(0).layer(i));
    const auto pull = layer.quantity("pull", Dimension::kForce);
    const auto length = layer.quantity("length", Dimension::kLength);
    if (!pull || !length) {
      layer.note("number", "a drum layer needs `pull` and `length`; add both");
      continue;
    }
    item.layers.push_back({*pull, layer.up("pull", Dimension::kForce).value_or(*pull), *length});
  }
  std::sort(item.layers.begin(), item.layers.end(),
            [](const WinchLayer& a, const WinchLayer& b) { return a.length_mm < b.length_mm; });
  return item;
}

BaseItem read_base(const v1::Base& text, FieldReader fields) {
  BaseItem item{.text = text};
  if (!text.rules().empty()) {
    const auto rules = physics::jurisdiction_named(text.rules());
    if (rules)
      item.rules = *rules;
    else
      fields.note("rules", rules.error().message);
  }
  if (text.tiedowns() == 2) item.tiedowns = physics::VehicleCount::kTwo;
  if (text.tiedowns() != 0 && text.tiedowns() != 2 && text.tiedowns() != 4)
    fields.note("tiedowns", "49 CFR 393.128(b)(1) is read as 2 or as 4 for a vehicle; give one");
  return item;
}

// "30 N", "1 %" or "1 % + 20 N".
void read_sd(const std::string& text, Dimension dimension, FieldReader& fields, SensorItem& item) {
  size_t from = 0;
  while (from <= text.size()) {
    const size_t plus = std::min(text.find('+', from), text.size());
    std::string part = text.substr(from, plus - from);
    part.erase(0, part.find_first_not_of(' '));
    if (part.find('%') != std::string::npos) {
      const auto share = parse_quantity(part, Dimension::kShare);
      if (share && share->nearest() >= 0) {
        item.sd_share_ppm = share->ceil();
      } else {
        fields.note("sd",
                    share ? "a standard deviation must not be negative" : share.error().message);
      }
    } else {
      const auto read = parse_quantity(part, dimension);
      if (read && read->stored.num >= 0) {
        item.sd_milli = Quantity{{read->stored.num * 1000, read->stored.den}, dimension, ""}.ceil();
      } else {
        fields.note("sd",
                    read ? "a standard deviation must not be negative" : read.error().message);
      }
    }
    from = plus + 1;
  }
}

SensorItem read_sensor(const v1::Sensor& text, FieldReader fields) {
  SensorItem item{.text = text,
                  .sd_share_ppm = {},
                  .sd_milli = {},
                  .tau_us = {},
                  .valid_from_us = {},
                  .valid_until_us = {}};
  const bool receiver = text.channel() == "gps.tag" || text.channel() == "gps.truck";
  const QuantityInfo* info = find_quantity(text.channel());
  if (info == nullptr && !receiver) {
    fields.note("channel", check_quantity(text.channel()).error().message);
    return item;
  }
  if (!text.sd().empty())
    read_sd(text.sd(), receiver ? Dimension::kLength : info->dimension, fields, item);
  item.tau_us = fields.quantity("tau", Dimension::kTime);
  item.valid_from_us = fields.date("valid_from");
  item.valid_until_us = fields.date("valid_until");
  return item;
}

}  // namespace

physics::DefectFinding GearItem::counting(int64_t time_us) const {
  using physics::Verdict;
  if (in_service_us && time_us < *in_service_us)
    return {Verdict::kDeviated, "it was not in service before " + text.in_service()};
  if (inspect_by_us && time_us >= *inspect_by_us + kDayUs)
    return {Verdict::kDeviated, "its inspection was due by " + text.inspect_by()};
  if (out_of_service_us && time_us >= *out_of_service_us)
    return {Verdict::kDeviated, "it was out of service from " + text.out_of_service()};
  return defect;
}

std::vector<int64_t> GearItem::turning_points() const {
  std::vector<int64_t> points;
  if (in_service_us) points.push_back(*in_service_us);
  if (inspect_by_us) points.push_back(*inspect_by_us + kDayUs);
  if (out_of_service_us) points.push_back(*out_of_service_us);
  return points;
}

Result<RegisterBook> RegisterBook::compile(const std::vector<SourceFile>& files) {
  RegisterBook book;
  std::string problems_text;
  for (const SourceFile& file : files) {
    v1::Register text;
    TextFile places;
    if (auto parsed = parse_text_file(file, text, places); !parsed) {
      problems_text += parsed.error().message + "\n";
      continue;
    }
    Problems problems(places);
    const auto add = [&](auto& into, auto item, const std::string& id, const std::string& what,
                         FieldReader fields) {
      if (id.empty())
        fields.note("id", fmt::format("a {} needs an id; add one", what));
      else if (!into.emplace(id, std::move(item)).second)
        fields.note("id", fmt::format("{} '{}' stands twice; ids must differ", what, id));
    };
    for (int i = 0; i < text.vehicle_size(); ++i) {
      const Tree* tree = nested(places.places, text, "vehicle", i);
      FieldReader fields(problems, tree, text.vehicle(i));
      add(book.vehicles_, read_vehicle(text.vehicle(i), fields, problems, tree),
          text.vehicle(i).id(), "vehicle", fields);
    }
    for (int i = 0; i < text.gear_size(); ++i) {
      FieldReader fields(problems, nested(places.places, text, "gear", i), text.gear(i));
      add(book.gear_, read_gear(text.gear(i), fields), text.gear(i).id(), "gear item", fields);
    }
    for (int i = 0; i < text.truck_size(); ++i) {
      const Tree* tree = nested(places.places, text, "truck", i);
      FieldReader fields(problems, tree, text.truck(i));
      add(book.trucks_, read_truck(text.truck(i), fields, problems, tree), text.truck(i).id(),
          "truck", fields);
    }
    for (int i = 0; i < text.sensor_size(); ++i) {
      FieldReader fields(problems, nested(places.places, text, "sensor", i), text.sensor(i));
      if (text.sensor(i).id().empty()) fields.note("id", "a sensor needs an id; add one");
      book.sensors_.push_back(read_sensor(text.sensor(i), fields));
    }
    for (int i = 0; i < text.base_size(); ++i) {
      FieldReader fields(problems, nested(places.places, text, "base", i), text.base(i));
      if (book.base_)
        fields.note("rules", "what the base goes by stands twice; one holds, remove the other");
      book.base_ = read_base(text.base(i), fields);
    }
    for (const std::string& line : problems.lines()) problems_text += line + "\n";
  }
  if (problems_text.empty()) return book;
  problems_text.pop_back();
  return fail(Code::kBadInput, problems_text);
}

const VehicleItem* RegisterBook::vehicle(const std::string& id) const {
  const auto found = vehicles_.find(id);
  return found == vehicles_.end() ? nullptr : &found->second;
}
const GearItem* RegisterBook::gear(const std::string& id) const {
  const auto found = gear_.find(id);
  return found == gear_.end() ? nullptr : &found->second;
}
const TruckItem* RegisterBook::truck(const std::string& id) const {
  const auto found = trucks_.find(id);
  return found == trucks_.end() ? nullptr : &found->second;
}

std::vector<const SensorItem*> RegisterBook::sensors(const std::string& channel,
                                                     const std::string& truck) const {
  std::vector<const SensorItem*> found;
  for (const SensorItem& item : sensors_) {
    if (item.text.channel() == channel && (item.text.truck().empty() || item.text.truck() == truck))
      found.push_back(&item);
  }
  return found;
}

std::optional<int64_t> default_wll_g(v1::GearKind::Word kind, const std::string& grade,
                                     int64_t width_um, int64_t thickness_um) {
  if (kind == v1::GearKind::STEEL_STRAPPING) {
    const auto printed = physics::printed_strapping_wll(width_um, thickness_um);
    return printed ? std::optional<int64_t>(int64_t{printed->kg} * 1000) : std::nullopt;
  }
  const auto material = material_of(kind, grade);
  if (!material || width_um <= 0) return std::nullopt;
  const auto kg = physics::default_wll_kg(*material, width_um);
  return kg ? std::optional<int64_t>(int64_t{*kg} * 1000) : std::nullopt;
}

std::optional<int64_t> largest_default_wll_g(v1::GearKind::Word kind) {
  if (kind == v1::GearKind::STEEL_STRAPPING) return int64_t{physics::kLargestStrappingKg} * 1000;
  const auto material = kind == v1::GearKind::CORDAGE
                            ? std::optional(physics::TiedownMaterial::kPolyester)
                            : material_of(kind, "100");
  if (!material) return std::nullopt;
  return int64_t{physics::largest_default_wll_kg(*material)} * 1000;
}

}  // namespace fairlead::judge
