#include "daemon/sensors/session.h"

#include <fmt/format.h>
#include <sys/random.h>

#include <algorithm>
#include <array>
#include <utility>

#include "daemon/sensors/translate.h"

namespace fairlead::sensors {

namespace {
// Capability of plugins that can switch something.
constexpr std::string_view kOutputs = "outputs";
}  // namespace

Session::Session(std::string settings_toml, std::string clock, uint32_t heartbeat_ms, Tell tell)
    : settings_toml_(std::move(settings_toml)),
      clock_(std::move(clock)),
      heartbeat_ms_(heartbeat_ms),
      tell_(std::move(tell)) {}

void Session::renew(std::string session_id) {
  std::shared_ptr<Link> old;
  {
    std::lock_guard lock(mutex_);
    old = std::exchange(link_, nullptr);
    id_ = std::move(session_id);
    described_ = false;
    channels_.clear();
    channel_count_ = 0;
    outputs_.clear();
    commanded_ = 0;
    unanswered_.clear();
    received_ = 0;
    sent_ = {};
    acked_ = 0;
  }
  if (old) old->close();
}

Session::Sent Session::sent() const {
  std::lock_guard lock(mutex_);
  return sent_;
}

void Session::set_down(Down down) {
  std::lock_guard lock(mutex_);
  down_ = std::move(down);
}

Session::Down Session::down() const {
  std::lock_guard lock(mutex_);
  return down_;
}

std::string Session::id() const {
  std::lock_guard lock(mutex_);
  return id_;
}

Status Session::hello(const v1::PluginHello& hello, const std::shared_ptr<Link>& link) {
  if (hello.wire_core() != kWireCore) {
    return fail(Code::kBadInput, fmt::format("wire_core: {} is not {}; install a plugin built for "
                                             "this daemon",
                                             hello.wire_core(), kWireCore));
  }
  const auto& majors = hello.plugin_api();
  if (std::find(majors.begin(), majors.end(), kPluginApi) == majors.end()) {
    return fail(Code::kBadInput, fmt::format("plugin_api: none of the plugin's majors is {}; "
                                             "install a plugin built for this daemon",
                                             kPluginApi));
  }
  std::shared_ptr<Link> old;
  v1::FeedResponse answer;
  {
    std::lock_guard lock(mutex_);
    if (hello.session_id() != id_ || id_.empty()) {
      return fail(Code::kDenied, "session_id: not the running session");
    }
    old = std::exchange(link_, link);
    described_ = false;
    const auto& offers = hello.capabilities();
    takes_commands_ = std::find(offers.begin(), offers.end(), kOutputs) != offers.end();
    unanswered_.clear();
    v1::PluginWelcome& welcome = *answer.mutable_welcome();
    welcome.set_wire_core(kWireCore);
    welcome.set_plugin_api(kPluginApi);
    welcome.set_session_id(id_);
    welcome.set_config_toml(settings_toml_);
    welcome.set_clock(clock_);
    welcome.set_heartbeat_ms(heartbeat_ms_);
    welcome.set_acked_batch(acked_);
    welcome.add_capabilities(std::string(kOutputs));
    link_->send(std::move(answer));
  }
  if (old) old->close();
  return {};
}

Reading Session::frame(v1::FeedRequest frame, const std::shared_ptr<Link>& link) {
  Outcome outcome;
  {
    std::lock_guard lock(mutex_);
    if (link != link_) return Reading::kEnd;  // A later stream or process has taken over.
    switch (frame.frame_case()) {
      case v1::FeedRequest::kDescribed:
        outcome = on_described(frame.described());
        break;
      case v1::FeedRequest::kConfigRefused:
        outcome = on_config_refused(frame.config_refused());
        break;
      case v1::FeedRequest::kBatch:
        outcome = on_batch(std::move(*frame.mutable_batch()), link);
        break;
      case v1::FeedRequest::kHeartbeat:
        if (!described_) {
          outcome = breach("a heartbeat before the channels were described");
          break;
        }
        outcome.reading = put(Inbox::Beat{frame.heartbeat().wall_us()}, link);
        outcome.events.emplace_back(Event::kBeat, "");
        break;
      case v1::FeedRequest::kCommandDone:
        outcome = on_command_done(frame.command_done(), link);
        break;
      case v1::FeedRequest::kHello:
        outcome = breach("a second hello on one stream");
        break;
      case v1::FeedRequest::FRAME_NOT_SET:
        break;  // A frame of a later version: not for us.
    }
  }
  for (auto& [event, detail] : outcome.events) tell_(event, std::move(detail));
  return outcome.reading;
}

void Session::broken(const std::shared_ptr<Link>& link) {
  {
    std::lock_guard lock(mutex_);
    if (link != link_) return;
    link_ = nullptr;
    described_ = false;
  }
  tell_(Event::kStreamBroken, "");
}

Session::Outcome Session::on_described(const v1::PluginDescribed& described) {
  std::string text = described.SerializeAsString();
  if (described_ || (!channels_.empty() && channels_ != text)) {
    return breach("the channels were described anew within one session");
  }
  if (auto ok = check_channels(described); !ok) return breach(ok.error().message);
  described_ = true;
  channels_ = std::move(text);
  channel_count_ = described.channels_size();
  outputs_.clear();
  for (const v1::PluginOutput& output : described.outputs()) outputs_.insert(output.output());
  inbox_.push(Inbox::Described{{described.channels().begin(), described.channels().end()}});
  return {Reading::kGoOn, {{Event::kDescribed, ""}}};
}

Session::Outcome Session::on_config_refused(const v1::PluginConfigRefused& refused) {
  std::string words = "plugin refuses its configuration";
  for (int i = 0; i < std::min(refused.problems_size(), 5); ++i) {
    const v1::PluginConfigProblem& p = refused.problems(i);
    words += fmt::format("{} {}: {}; {}", i == 0 ? ":" : " |", p.field(), p.problem(), p.remedy());
  }
  return {Reading::kEnd, {{Event::kBreach, tame(words, 900)}}};
}

Session::Outcome Session::on_command_done(const v1::PluginCommandDone& done,
                                          const std::shared_ptr<Link>& link) {
  auto asked = unanswered_.extract(done.command_seq());
  if (asked.empty()) return breach("an answer to a command that was never given");
  asked.mapped().trouble = done.trouble();
  return {put(std::move(asked.mapped()), link), {}};
}

bool Session::command(std::string_view output, bool on, uint32_t for_ms) {
  std::lock_guard lock(mutex_);
  bool there = link_ && described_ && takes_commands_ && outputs_.contains(output);
  // One that answers nothing is told nothing more; its heartbeat decides what becomes of it.
  if (!there || unanswered_.size() >= kMaxUnanswered) return false;
  v1::FeedResponse frame;
  v1::PluginCommand& command = *frame.mutable_command();
  command.set_command_seq(++commanded_);
  command.set_output(std::string(output));
  command.set_on(on);
  command.set_for_ms(on ? for_ms : 0);
  unanswered_[commanded_] = {std::string(output), on};
  link_->send(std::move(frame));
  return true;
}

Session::Outcome Session::on_batch(v1::PluginBatch batch, const std::shared_ptr<Link>& link) {
  if (!described_) return breach("a batch before the channels were described");
  if (batch.batch_seq() <= received_) return {};  // Sent once more after a reconnect.
  if (batch.batch_seq() != received_ + 1) {
    return breach(
        fmt::format("batch {} after batch {}: one is missing", batch.batch_seq(), received_));
  }
  if (auto ok = check_batch(batch, channel_count_); !ok) return breach(ok.error().message);
  received_ = batch.batch_seq();
  sent_.readings += static_cast<uint64_t>(batch.readings_size());
  for (const v1::PluginReading& r : batch.readings()) {
    sent_.newest_us = std::max(sent_.newest_us, r.mono_us());
  }
  return {put(Inbox::Batch{id_, std::move(batch)}, link), {}};
}

Reading Session::put(Inbox::Item item, const std::shared_ptr<Link>& link) {
  bool room = inbox_.push(std::move(item), [link] { link->resume(); });
  return room ? Reading::kGoOn : Reading::kPause;
}

Session::Outcome Session::breach(std::string words) {
  words = "plugin broke the contract: " + words;
  say_refused(words);
  return {Reading::kEnd, {{Event::kBreach, tame(words, 900)}}};
}

void Session::say_refused(const std::string& reason) {
  v1::FeedResponse frame;
  frame.mutable_refused()->set_reason(tame(reason, 900));
  if (link_) link_->send(std::move(frame));
}

void Session::taken(const std::string& session_id, uint64_t batch_seq) {
  std::lock_guard lock(mutex_);
  if (session_id != id_ || batch_seq <= acked_) return;
  acked_ = batch_seq;
  if (!link_) return;
  v1::FeedResponse frame;
  frame.mutable_ack()->set_batch_seq(batch_seq);
  link_->send(std::move(frame));
}

void Session::say_stop(std::string_view reason, uint32_t grace_ms) {
  std::lock_guard lock(mutex_);
  if (!link_) return;
  v1::FeedResponse frame;
  frame.mutable_stop()->set_reason(std::string(reason));
  frame.mutable_stop()->set_grace_ms(grace_ms);
  link_->send(std::move(frame));
}

std::string new_session_id() {
  std::array<unsigned char, 16> bytes{};
  // Up to 256 bytes come whole from the kernel's generator once it is seeded.
  ssize_t got = getrandom(bytes.data(), bytes.size(), 0);
  if (got != static_cast<ssize_t>(bytes.size())) std::abort();
  return fmt::format("{:02x}", fmt::join(bytes, ""));
}

}  // namespace fairlead::sensors
