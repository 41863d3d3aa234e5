// A plugin's frame: whatever a session lets in becomes observations the recorder accepts.

#include "daemon/record/observation_check.h"
#include "daemon/sensors/courier.h"
#include "tests/fuzz/target.h"

namespace fairlead::fuzz {

class DeadLink : public sensors::Link {
 public:
  void send(v1::FeedResponse /*frame*/) override {}
  void resume() override {}
  void close() override {}
};

v1::FeedRequest described() {
  v1::FeedRequest frame;
  for (const char* signal : {"line.pull", "fix"}) {
    v1::PluginChannel& c = *frame.mutable_described()->add_channels();
    c.set_source(signal == std::string_view("fix") ? "gps.tag" : "line");
    c.set_signal(signal);
    c.set_unit(signal == std::string_view("fix") ? "fix" : "N");
  }
  return frame;
}

std::vector<std::string> seeds() {
  v1::FeedRequest batch;
  batch.mutable_batch()->set_batch_seq(1);
  v1::PluginReading& sample = *batch.mutable_batch()->add_readings();
  sample.set_wall_us(1'772'445'600'000'000);
  sample.set_value(8900);
  v1::PluginReading& fix = *batch.mutable_batch()->add_readings();
  fix.set_channel(1);
  fix.mutable_fix()->set_lat_deg(50);
  fix.mutable_fix()->set_mode(3);
  batch.mutable_batch()->add_readings()->mutable_gap()->set_cause("silent");
  batch.mutable_batch()->add_readings()->set_state("connected");
  v1::FeedRequest beat;
  beat.mutable_heartbeat()->set_wall_us(1);
  v1::FeedRequest refused;
  refused.mutable_config_refused()->add_problems()->set_field("host");
  return {batch.SerializeAsString(), beat.SerializeAsString(), refused.SerializeAsString(),
          described().SerializeAsString()};
}

void require_sane(v1::Observation observation) {
  require(observation.seq() == 0, "the recorder gives the seq");
  observation.set_seq(1);
  const auto sane = record::check_observation(observation);
  require(sane.has_value(), "what comes out is an observation the recorder accepts");
}

}  // namespace fairlead::fuzz

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace fairlead;
  v1::FeedRequest frame;
  if (!frame.ParseFromArray(data, static_cast<int>(size))) return 0;
  sensors::Session session("", "truck", 1000, [](sensors::Event, const std::string&) {});
  session.renew("s");
  v1::PluginHello hello;
  hello.set_wire_core(sensors::kWireCore);
  hello.add_plugin_api(sensors::kPluginApi);
  hello.set_session_id("s");
  auto link = std::make_shared<fuzz::DeadLink>();
  fuzz::require(session.hello(hello, link).has_value(), "a good hello is welcome");
  // A description is tried as the first frame, everything else behind a good one.
  if (!frame.has_described()) session.frame(fuzz::described(), link);
  session.frame(std::move(frame), link);
  sensors::Lane lane("plugin", "truck", 10'000'000);
  while (auto item = session.inbox().pop()) {
    for (v1::Observation& o : lane.observations(*item)) fuzz::require_sane(std::move(o));
  }
  for (v1::Observation& o : lane.observations(sensors::Inbox::Mark{true, "ended", 0})) {
    fuzz::require_sane(std::move(o));
  }
  return 0;
}
