#include "reports/templates/template.h"

#include <mustache.hpp>
#include <set>

namespace fairlead::reports {
namespace {

using Data = kainjow::mustache::data;

// Looks names up as mustache does and remembers those that nobody had.
class StrictContext : public kainjow::mustache::context<std::string> {
 public:
  explicit StrictContext(const Data* data) : context(data) {}
  const Data* get(const std::string& name) const override {
    const Data* found = context::get(name);
    if (found == nullptr) missing_.insert(name);
    return found;
  }
  [[nodiscard]] const std::set<std::string>& missing() const { return missing_; }

 private:
  mutable std::set<std::string> missing_;
};

Data data_of(const Json& json) {
  if (json.is_object()) {
    Data object{Data::type::object};
    for (const auto& [key, value] : json.items()) object.set(key, data_of(value));
    return object;
  }
  if (json.is_array()) {
    Data list{Data::type::list};
    for (const auto& value : json) list.push_back(data_of(value));
    return list;
  }
  if (json.is_string()) return Data{json.get<std::string>()};
  if (json.is_boolean())
    return Data{json.get<bool>() ? Data::type::bool_true : Data::type::bool_false};
  return Data{Data::type::bool_false};
}

}  // namespace

std::string escape_html(std::string_view text) {
  return kainjow::mustache::html_escape(std::string(text));
}

Result<std::string> fill_template(std::string_view text, const Json& data) {
  kainjow::mustache::mustache page{std::string(text)};
  if (!page.is_valid()) return fail(Code::kInternal, "template: " + page.error_message());
  const Data root = data_of(data);
  StrictContext context(&root);
  std::string out = page.render(context);
  if (!page.is_valid()) return fail(Code::kInternal, "template: " + page.error_message());
  if (!context.missing().empty()) {
    return fail(Code::kInternal, "template: the data lacks the key '" + *context.missing().begin() +
                                     "'; add it where the report's JSON is built");
  }
  return out;
}

}  // namespace fairlead::reports
