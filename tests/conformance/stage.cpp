#include "tests/conformance/stage.h"

#include <time.h>

#include <algorithm>
#include <utility>

namespace fairlead::conformance {

namespace {
int64_t clock_us(clockid_t id) {
  timespec t{};
  clock_gettime(id, &t);
  return int64_t{t.tv_sec} * 1'000'000 + t.tv_nsec / 1000;
}
}  // namespace

int64_t mono_now_us() { return clock_us(CLOCK_MONOTONIC); }
int64_t wall_now_us() { return clock_us(CLOCK_REALTIME); }

Stage::Stage(std::filesystem::path socket, std::string config, std::string session)
    : socket_(std::move(socket)), config_(std::move(config)), session_(std::move(session)) {
  answer_ = [this](const v1::PluginHello&) { return welcome(); };
  grpc::ServerBuilder builder;
  builder.AddListeningPort("unix:" + socket_.string(), grpc::InsecureServerCredentials());
  builder.AddChannelArgument(GRPC_ARG_HTTP2_BDP_PROBE, 0);
  builder.AddChannelArgument(GRPC_ARG_HTTP2_STREAM_LOOKAHEAD_BYTES, 65536);
  builder.RegisterService(this);
  server_ = builder.BuildAndStart();
}

Stage::~Stage() { vanish(); }

v1::FeedResponse Stage::welcome() const {
  v1::FeedResponse answer;
  v1::PluginWelcome& w = *answer.mutable_welcome();
  w.set_wire_core(1);
  w.set_plugin_api(1);
  w.set_session_id(session_);
  w.set_config_toml(config_);
  w.set_clock("truck");
  w.set_heartbeat_ms(kHeartbeatMs);
  w.set_acked_batch(acked_);
  w.add_capabilities("outputs");
  return answer;
}

void Stage::set_answer(Answer answer) {
  std::lock_guard lock(mutex_);
  answer_ = std::move(answer);
}

void Stage::set_reading(bool on) {
  std::lock_guard lock(mutex_);
  reading_ = on;
  changed_.notify_all();
}

void Stage::set_acking(bool on) {
  std::lock_guard lock(mutex_);
  acking_ = on;
}

void Stage::break_stream() {
  std::lock_guard lock(mutex_);
  if (context_ != nullptr) context_->TryCancel();
}

void Stage::vanish() {
  {
    std::lock_guard lock(mutex_);
    closing_ = true;
    changed_.notify_all();
    if (context_ != nullptr) context_->TryCancel();
  }
  if (!server_) return;
  server_->Shutdown(std::chrono::system_clock::now());
  server_->Wait();
  server_.reset();
}

void Stage::send(const v1::FeedResponse& frame) {
  std::lock_guard lock(mutex_);
  if (wire_ != nullptr) wire_->Write(frame);
}

std::vector<Said> Stage::said() const {
  std::lock_guard lock(mutex_);
  return said_;
}

int Stage::streams() const {
  std::lock_guard lock(mutex_);
  return streams_;
}

uint64_t Stage::acked() const {
  std::lock_guard lock(mutex_);
  return acked_;
}

bool Stage::wait(std::chrono::milliseconds within,
                 const std::function<bool(const std::vector<Said>&)>& is) {
  std::unique_lock lock(mutex_);
  // In turns that count for at most kTurn: time this machine did not give us is not the plugin's.
  constexpr std::chrono::milliseconds kTurn{10};
  std::chrono::nanoseconds waited{0};
  while (!is(said_)) {
    if (waited > within) return false;
    auto from = std::chrono::steady_clock::now();
    changed_.wait_for(lock, kTurn);
    waited += std::min<std::chrono::nanoseconds>(kTurn, std::chrono::steady_clock::now() - from);
  }
  return true;
}

grpc::Status Stage::Feed(grpc::ServerContext* context, Wire* stream) {
  int number = 0;
  {
    std::lock_guard lock(mutex_);
    if (closing_) return grpc::Status::CANCELLED;
    number = ++streams_;
    context_ = context;
    wire_ = stream;
  }
  while (take(number, stream)) continue;
  std::lock_guard lock(mutex_);
  if (context_ == context) {
    context_ = nullptr;
    wire_ = nullptr;
  }
  changed_.notify_all();
  return grpc::Status::OK;
}

bool Stage::take(int number, Wire* stream) {
  {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return reading_ || closing_; });
    if (closing_) return false;
  }
  v1::FeedRequest frame;
  if (!stream->Read(&frame)) return false;
  std::lock_guard lock(mutex_);
  said_.push_back({number, mono_now_us(), frame});
  changed_.notify_all();
  if (frame.has_hello()) {
    v1::FeedResponse answer = answer_(frame.hello());
    stream->Write(answer);
    return answer.has_welcome();
  }
  if (frame.has_batch() && acking_ && frame.batch().batch_seq() == acked_ + 1) {
    ++acked_;
    v1::FeedResponse ack;
    ack.mutable_ack()->set_batch_seq(acked_);
    stream->Write(ack);
  }
  return true;
}

}  // namespace fairlead::conformance
