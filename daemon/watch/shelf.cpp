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

void Shelf::add(const v1::RegisterFileBody& file, uint64_t leaf, int64_t since_us) {
  ShelfFile item;
  item.pin.set_name(file.name());
  item.pin.set_kind(file.kind());
  item.pin.set_sha256(string_of(sha256(file.content())));
  item.leaf = leaf;
  item.since_us = since_us;
  if (file.kind() == v1::FileKind::PROCEDURE) {
    if (const auto procedure = parse_text<v1::Procedure>(file.name(), file.content()))
      item.procedure_id = procedure->id();
  }
  const std::lock_guard lock(mutex_);
  files_[file.name()] = std::move(item);
}

std::vector<v1::Pin> Shelf::pins_for(const v1::Opened& opened) const {
  std::vector<v1::Pin> pins;
  const std::lock_guard lock(mutex_);
  for (const std::string& id : opened.procedures()) {
    const auto it = std::ranges::find_if(files_, [&](const auto& file) {
      return file.second.pin.kind() == v1::FileKind::PROCEDURE && file.second.procedure_id == id;
    });
    if (it != files_.end()) pins.push_back(it->second.pin);
  }
  for (const auto& [name, file] : files_) {
    if (file.pin.kind() != v1::FileKind::PROCEDURE && file.pin.kind() != v1::FileKind::POLICY) {
      pins.push_back(file.pin);
    }
  }
  return pins;
}

std::vector<ShelfFile> Shelf::in_force() const {
  const std::lock_guard lock(mutex_);
  std::vector<ShelfFile> out;
  for (const auto& [name, file] : files_) out.push_back(file);
  return out;
}

bool Shelf::has(const std::string& sha256) const {
  const std::lock_guard lock(mutex_);
  return std::ranges::any_of(files_,
                             [&](const auto& file) { return file.second.pin.sha256() == sha256; });
}

Result<v1::FileKind::Word> kind_of_file(const std::string& name, const std::string& bytes) {
  if (const auto items = parse_text<v1::Register>(name, bytes); items && items->ByteSizeLong() > 0) {
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
