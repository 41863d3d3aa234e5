#include "daemon/desk/devices_desk.h"

#include "daemon/base/time_text.h"

namespace fairlead::desk {

Result<v1::ListDevicesResponse> list_devices(Desk& desk, const v1::ListDevicesRequest&) {
  v1::ListDevicesResponse response;
  for (const intake::Device& device : desk.devices.all()) {
    v1::DeviceState& out = *response.add_device();
    out.set_name(device.name);
    out.set_device_id(hex_of(device.id));
    out.set_suspended(device.suspended);
    if (device.chosen) out.set_chosen(hex_of(*device.chosen));
    const auto mark = desk.ledger().watermark(device.id);
    if (!mark) return std::unexpected(mark.error());
    out.set_epoch(mark->epoch);
    out.set_acked_seq(mark->seq);
    for (const intake::Copy& copy : desk.devices.copies(device.id)) {
      v1::DeviceCopy& called = *out.add_copy();
      called.set_mark(hex_of(copy.mark));
      called.set_epoch(copy.epoch);
      called.set_last_seq(copy.last_seq);
      called.set_last_called(format_time_us(copy.called_us));
    }
  }
  return response;
}

Result<v1::DecideCopyResponse> decide_copy(Desk& desk, const v1::DecideCopyRequest& request) {
  const auto device = desk.devices.decide(request.name(), request.copy(), request.words());
  if (!device) return std::unexpected(device.error());
  const auto mark = desk.ledger().watermark(device->id);
  if (!mark) return std::unexpected(mark.error());
  v1::DecideCopyResponse response;
  response.set_leaf_index(device->restore_leaf);
  response.set_new_epoch(mark->epoch);
  return response;
}

}  // namespace fairlead::desk
