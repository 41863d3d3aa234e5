#include "daemon/watch/shelf.h"

#include <algorithm>

#include "daemon/judge/text_file.h"
#include "fairlead/v1/procedure.pb.h"
#include "fairlead/v1/register.pb.h"

namespace fairlead::watch {
namespace {

template <typename T>
std::optional<T> parse_text(const std::string& name, const std::string& bytes) {
  T message;
  if (!judge::parse_text_file({name, bytes}, message)) return std::nullopt;
  return message;
}

}  // namespace

void Shelf::add(const v1::RegisterFileBody& file, uint64_t leaf, int64_t since_us,
                const record::Id16& by) {
  ShelfFile item;
  item.pin.set_name(file.name());
  item.pin.set_kind(file.kind());
  item.pin.set_sha256(string_of(sha256(file.content())));
  item.leaf = leaf;
  item.since_us = since_us;
  item.by = by;
  if (file.kind() == v1::FileKind::PROCEDURE) {
    if (const auto procedure = parse_text<v1::Procedure>(file.name(), file.content()))
      item.procedure_id = procedure->id();
  }
  const std::lock_guard lock(mutex_);
  files_[file.name()] = versions_.size();
  versions_.push_back(std::move(item));
}

std::vector<v1::Pin> Shelf::pins_for(const v1::Opened& opened) const {
  std::vector<v1::Pin> pins;
  const std::lock_guard lock(mutex_);
  for (const std::string& id : opened.procedures()) {
    // Two files may carry one procedure: the one that came last counts.
    const ShelfFile* newest = nullptr;
    for (const auto& [name, index] : files_) {
      const ShelfFile& file = versions_[index];
      if (file.pin.kind() != v1::FileKind::PROCEDURE || file.procedure_id != id) continue;
      if (newest == nullptr || &file > newest) newest = &file;
    }
    const auto same = [&](const v1::Pin& pin) { return pin.sha256() == newest->pin.sha256(); };
    if (newest != nullptr && std::ranges::none_of(pins, same)) pins.push_back(newest->pin);
  }
  for (const auto& [name, index] : files_) {
    const v1::Pin& pin = versions_[index].pin;
    if (pin.kind() != v1::FileKind::PROCEDURE && pin.kind() != v1::FileKind::POLICY) {
      pins.push_back(pin);
    }
  }
  return pins;
}

std::vector<ShelfFile> Shelf::in_force() const {
  const std::lock_guard lock(mutex_);
  std::vector<ShelfFile> out;
  for (const auto& [name, index] : files_) out.push_back(versions_[index]);
  return out;
}

std::vector<ShelfFile> Shelf::versions(const std::string& name) const {
  const std::lock_guard lock(mutex_);
  std::vector<ShelfFile> out;
  for (const ShelfFile& file : versions_) {
    if (name.empty() || file.pin.name() == name) out.push_back(file);
  }
  return out;
}

bool Shelf::has(const std::string& sha256) const {
  const std::lock_guard lock(mutex_);
  return std::ranges::any_of(
      files_, [&](const auto& file) { return versions_[file.second].pin.sha256() == sha256; });
}

Result<v1::FileKind::Word> kind_of_file(const std::string& name, const std::string& bytes) {
  if (const auto items = parse_text<v1::Register>(name, bytes);
      items && items->ByteSizeLong() > 0) {
    const auto book = judge::Rulebook::load({}, {{name, bytes}});
    if (!book) return std::unexpected(book.error());
    if (items->vehicle_size() > 0) return v1::FileKind::VEHICLE;
    if (items->truck_size() > 0) return v1::FileKind::TRUCK;
    if (items->gear_size() > 0) return v1::FileKind::GEAR;
    return v1::FileKind::SENSOR;
  }
  const auto book = judge::Rulebook::load({{name, bytes}}, {});
  if (!book) return std::unexpected(book.error());
  return v1::FileKind::PROCEDURE;
}

}  // namespace fairlead::watch
