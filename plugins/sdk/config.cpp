#include "plugins/sdk/config.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <sstream>

#include "daemon/base/nearest.h"

namespace fairlead::sdk {

namespace {
// Deep nesting overflows the parser's stack; nothing honest is longer than this.
constexpr size_t kMaxConfigBytes = 256 * 1024;
constexpr int kMaxNesting = 32;

// Brackets opened and not yet closed, a rough upper bound of the nesting the parser would recurse
// to.
bool nests_too_deep(std::string_view text) {
  int depth = 0;
  for (char c : text) {
    if (c == '[' || c == '{') ++depth;
    if (c == ']' || c == '}') depth = std::max(0, depth - 1);
    if (depth > kMaxNesting) return true;
  }
  return false;
}
}  // namespace

struct Section::Impl {
  std::shared_ptr<toml::table> keep;
  const toml::table* table = nullptr;
  std::string path;
  Problems* problems = nullptr;
  std::set<std::string, std::less<>> known;

  [[nodiscard]] std::string field(std::string_view key) const {
    return path.empty() ? std::string(key) : path + "." + std::string(key);
  }
  const toml::node* ask(std::string_view key) {
    known.emplace(key);
    return table->get(key);
  }
  void add(std::string field_name, std::string problem, std::string remedy) const {
    v1::PluginConfigProblem& p = problems->emplace_back();
    p.set_field(std::move(field_name));
    p.set_problem(std::move(problem));
    p.set_remedy(std::move(remedy));
  }
  void missing(std::string_view key, std::string_view what) const {
    add(field(key), "is missing", fmt::format("give {}", what));
  }
};

Section::Section(std::shared_ptr<Impl> impl) : impl_(std::move(impl)) {}

bool Section::has(std::string_view key) const { return impl_->table->contains(key); }

std::string Section::text(std::string_view key, std::optional<std::string> fallback) {
  const toml::node* node = impl_->ask(key);
  if (node == nullptr) {
    if (!fallback) impl_->missing(key, "a text");
    return fallback.value_or("");
  }
  if (auto value = node->value_exact<std::string>(); value && !value->empty()) return *value;
  wrong(key, "is not a text", "write it in double quotes and not empty");
  return fallback.value_or("");
}

std::string Section::word(std::string_view key, std::initializer_list<std::string_view> allowed,
                          std::optional<std::string> fallback) {
  size_t before = impl_->problems->size();
  std::string value = text(key, fallback);
  if (impl_->problems->size() != before) return value;
  if (std::find(allowed.begin(), allowed.end(), value) != allowed.end()) return value;
  wrong(key, fmt::format("\"{}\" is none of its words", value),
        fmt::format("use one of {}", fmt::join(allowed, ", ")));
  return fallback.value_or(std::string(*allowed.begin()));
}

int64_t Section::whole(std::string_view key, int64_t lo, int64_t hi,
                       std::optional<int64_t> fallback) {
  const toml::node* node = impl_->ask(key);
  std::string want = fmt::format("a whole number from {} to {}", lo, hi);
  if (node == nullptr) {
    if (!fallback) impl_->missing(key, want);
    return fallback.value_or(lo);
  }
  auto value = node->value_exact<int64_t>();
  if (value && *value >= lo && *value <= hi) return *value;
  wrong(key, value ? fmt::format("{} is out of range", *value) : "is not a whole number",
        "give " + want);
  return fallback.value_or(lo);
}

double Section::number(std::string_view key, double lo, double hi, std::optional<double> fallback) {
  const toml::node* node = impl_->ask(key);
  std::string want = fmt::format("a number from {} to {}", lo, hi);
  if (node == nullptr) {
    if (!fallback) impl_->missing(key, want);
    return fallback.value_or(lo);
  }
  std::optional<double> value;
  if (node->is_number()) value = node->value<double>();
  if (value && std::isfinite(*value) && *value >= lo && *value <= hi) return *value;
  wrong(key, value ? fmt::format("{} is out of range", *value) : "is not a number", "give " + want);
  return fallback.value_or(lo);
}

std::vector<int64_t> Section::whole_list(std::string_view key, int64_t lo, int64_t hi) {
  const toml::node* node = impl_->ask(key);
  std::vector<int64_t> values;
  if (node == nullptr) return values;
  std::string remedy = fmt::format("give a list of whole numbers from {} to {}", lo, hi);
  const toml::array* list = node->as_array();
  if (list == nullptr) {
    wrong(key, "is not a list", remedy);
    return values;
  }
  for (const toml::node& item : *list) {
    auto value = item.value_exact<int64_t>();
    if (value && *value >= lo && *value <= hi) {
      values.push_back(*value);
    } else {
      wrong(key, fmt::format("entry {} does not fit", values.size() + 1), remedy);
      break;
    }
  }
  return values;
}

std::vector<Section> Section::tables(std::string_view key) {
  std::vector<Section> sections;
  const toml::node* node = impl_->ask(key);
  if (node == nullptr) return sections;
  const toml::array* list = node->as_array();
  bool fits = list != nullptr && (list->empty() || list->is_homogeneous(toml::node_type::table));
  if (!fits) {
    wrong(key, "is not a list of tables", fmt::format("write each as [[{}]]", key));
    return sections;
  }
  for (size_t i = 0; i < list->size(); ++i) {
    auto impl = std::make_shared<Impl>();
    impl->keep = impl_->keep;
    impl->table = list->get(i)->as_table();
    impl->path = fmt::format("{}[{}]", impl_->field(key), i + 1);
    impl->problems = impl_->problems;
    sections.emplace_back(std::move(impl));
  }
  return sections;
}

std::optional<Section> Section::table(std::string_view key) {
  const toml::node* node = impl_->ask(key);
  if (node == nullptr) return std::nullopt;
  if (!node->is_table()) {
    wrong(key, "is not a table", fmt::format("write it as [{}]", key));
    return std::nullopt;
  }
  auto impl = std::make_shared<Impl>();
  impl->keep = impl_->keep;
  impl->table = node->as_table();
  impl->path = impl_->field(key);
  impl->problems = impl_->problems;
  return Section(std::move(impl));
}

std::vector<std::pair<std::string, std::string>> Section::rest() {
  std::vector<std::pair<std::string, std::string>> all;
  for (auto&& [key, node] : *impl_->table) {
    if (!impl_->known.emplace(key.str()).second) continue;
    std::string text;
    if (auto words = node.value_exact<std::string>()) {
      text = *words;
    } else if (auto number = node.value_exact<int64_t>()) {
      text = fmt::format("{}", *number);
    } else if (auto real = node.value_exact<double>()) {
      text = fmt::format("{}", *real);
    } else if (auto truth = node.value_exact<bool>()) {
      text = *truth ? "true" : "false";
    } else {
      wrong(key.str(), "is neither a text nor a number", "write one value");
      continue;
    }
    all.emplace_back(key.str(), text);
  }
  return all;
}

void Section::wrong(std::string_view key, std::string problem, std::string remedy) {
  impl_->known.emplace(key);
  impl_->add(impl_->field(key), std::move(problem), std::move(remedy));
}

void Section::finish() {
  std::vector<std::string_view> names(impl_->known.begin(), impl_->known.end());
  for (auto&& [key, value] : *impl_->table) {
    if (impl_->known.contains(key.str())) continue;
    std::string near = nearest(key.str(), names);
    // No line: the daemon hands out the settings written anew, and a line of those helps nobody.
    impl_->add(impl_->field(key.str()), "unknown key",
               near.empty() ? "remove it" : fmt::format("did you mean \"{}\"?", near));
  }
}

Config::Config(std::string_view toml_text)
    : problems_(std::make_unique<Problems>()), root_(std::make_shared<Section::Impl>()) {
  root_->problems = problems_.get();
  root_->keep = std::make_shared<toml::table>();
  if (toml_text.size() > kMaxConfigBytes || nests_too_deep(toml_text)) {
    readable_ = false;
    root_->add("config", "is too long or nested too deep",
               fmt::format("keep it under {} kB", kMaxConfigBytes / 1024));
  } else {
    try {
      *root_->keep = toml::parse(toml_text);
    } catch (const toml::parse_error& e) {
      readable_ = false;
      root_->add("config",
                 fmt::format("line {}, column {}: {}", e.source().begin.line,
                             e.source().begin.column, e.description()),
                 "correct the TOML there");
    }
  }
  root_->table = root_->keep.get();
}

Section Config::root() { return Section(root_); }

std::vector<std::string> settings_for(std::string_view toml, const std::string& program) {
  std::vector<std::string> found;
  if (toml.size() > kMaxConfigBytes || nests_too_deep(toml)) return found;
  try {
    const toml::table root = toml::parse(toml);
    const toml::array* plugins = root["plugin"].as_array();
    if (plugins == nullptr) return found;
    for (const toml::node& item : *plugins) {
      const toml::table* table = item.as_table();
      if (table == nullptr) continue;
      auto path = (*table)["program"].value<std::string>();
      if (!path || path->substr(path->rfind('/') + 1) != program) continue;
      std::ostringstream text;
      if (const toml::table* own = (*table)["settings"].as_table()) {
        text << toml::toml_formatter{*own} << '\n';
      }
      found.push_back(text.str());
    }
  } catch (const toml::parse_error&) {
    // Said with its place when it is read as settings.
  }
  return found;
}

}  // namespace fairlead::sdk
