#include "daemon/judge/shipped.h"

#include <algorithm>

#include "daemon/judge/shipped_texts.h"

namespace fairlead::judge {

std::vector<std::string> shipped_procedure_ids() {
  std::vector<std::string> ids;
  for (const ShippedText& one : shipped_texts()) ids.emplace_back(one.id);
  std::sort(ids.begin(), ids.end());
  return ids;
}

std::optional<SourceFile> shipped_procedure(std::string_view id) {
  for (const ShippedText& one : shipped_texts()) {
    if (one.id == id) return SourceFile{std::string(id) + ".textproto", std::string(one.text)};
  }
  return std::nullopt;
}

}  // namespace fairlead::judge
