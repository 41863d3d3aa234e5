#include "tests/unit/reports/page_text.h"

#include <array>
#include <cctype>

namespace fairlead::reports {
namespace {

std::string without(std::string html, const std::string& open, const std::string& close) {
  for (size_t at = html.find(open); at != std::string::npos; at = html.find(open, at)) {
    const size_t end = html.find(close, at);
    html.erase(at, end == std::string::npos ? end : end + close.size() - at);
  }
  return html;
}

std::string attribute(const std::string& tag, const std::string& name) {
  const size_t at = tag.find(" " + name + "=\"");
  if (at == std::string::npos) return {};
  const size_t from = at + name.size() + 3;
  return " " + tag.substr(from, tag.find('"', from) - from) + " ";
}

std::string resolved(std::string text) {
  constexpr std::array<std::array<const char*, 2>, 9> kEntities = {{{"&lt;", "<"},
                                                                    {"&gt;", ">"},
                                                                    {"&quot;", "\""},
                                                                    {"&apos;", "'"},
                                                                    {"&ldquo;", "\""},
                                                                    {"&rdquo;", "\""},
                                                                    {"&rsquo;", "'"},
                                                                    {"&ensp;", " "},
                                                                    {"&amp;", "&"}}};
  for (const auto& [entity, plain] : kEntities) {
    for (size_t at = text.find(entity); at != std::string::npos; at = text.find(entity, at + 1)) {
      text.replace(at, std::string(entity).size(), plain);
    }
  }
  return text;
}

bool digit(const std::string& text, size_t at) {
  return at < text.size() && std::isdigit(static_cast<unsigned char>(text[at])) != 0;
}

}  // namespace

std::string visible_text(const std::string& html) {
  const std::string page = without(html, "<style>", "</style>");
  std::string out;
  for (size_t at = 0; at < page.size();) {
    if (page[at] != '<') {
      const size_t next = page.find('<', at);
      out += page.substr(at, next == std::string::npos ? next : next - at);
      at = next;
      if (next == std::string::npos) break;
      continue;
    }
    const size_t end = page.find('>', at);
    const std::string tag = page.substr(at, end - at);
    out += " " + attribute(tag, "alt") + attribute(tag, "aria-label");
    at = end + 1;
  }
  return resolved(out);
}

std::set<std::string> figures_in(const std::string& text) {
  std::set<std::string> out;
  for (size_t at = 0; at < text.size();) {
    if (!digit(text, at)) {
      ++at;
      continue;
    }
    size_t end = at;
    const std::string joins = ".,:-";
    while (digit(text, end) || (end < text.size() && joins.find(text[end]) != std::string::npos &&
                                digit(text, end + 1))) {
      ++end;
    }
    out.insert(text.substr(at, end - at));
    at = end;
  }
  return out;
}

std::string all_strings(const Json& json) {
  if (json.is_string()) return json.get<std::string>() + "\n";
  std::string out;
  if (json.is_structured()) {
    for (const auto& item : json) out += all_strings(item);
  }
  return out;
}

}  // namespace fairlead::reports
