#include "daemon/desk/unjobbed.h"

#include "daemon/base/time_text.h"

namespace fairlead::desk {

std::string work_words(const watch::UnjobbedWork& work) {
  std::string out;
  for (const watch::SensedStretch& one : work.sensed)
    out += (out.empty() ? "" : ", ") + watch::sensed_words(one);
  return out;
}

Result<v1::ListUnjobbedResponse> list_unjobbed(Desk& desk, const v1::ListUnjobbedRequest& request) {
  const auto from =
      request.from().empty() ? Result<int64_t>(INT64_MIN) : parse_time_us(request.from());
  if (!from) return fail_at("from: ", from.error());
  const auto to = request.to().empty() ? Result<int64_t>(INT64_MAX) : parse_time_us(request.to());
  if (!to) return fail_at("to: ", to.error());
  const auto works = desk.watch.unjobbed(*from, *to);
  if (!works) return std::unexpected(works.error());
  v1::ListUnjobbedResponse response;
  for (const watch::UnjobbedWork& work : *works) {
    v1::UnjobbedWork& out = *response.add_work();
    const auto device = desk.devices.find(work.device);
    out.set_device_id(hex_of(work.device));
    out.set_truck(device ? device->name : "");
    out.set_imported(device && device->kind == v1::EnrolBody::IMPORT);
    out.set_from(format_time_us(work.from_us));
    out.set_to(format_time_us(work.to_us));
    for (const watch::SensedStretch& one : work.sensed) out.add_sensed(watch::sensed_words(one));
    out.set_first_leaf(work.first_leaf);
    out.set_last_leaf(work.last_leaf);
  }
  return response;
}

}  // namespace fairlead::desk
