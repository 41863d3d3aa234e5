// What a base and a truck do as the disk fills and is freed: the record's section 9, with a made-up
// free space. Nothing that was taken in is lost, nothing that was refused passes for recorded.
#include "daemon/watch/disk_room.h"

#include <gmock/gmock.h>

#include <filesystem>
#include <fstream>
#include <thread>

#include "daemon/ledger/sqlite/open.h"
#include "daemon/record/observation_json.h"
#include "daemon/watch/scrubber.h"

namespace fairlead::watch {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;

constexpr uint64_t kMib = 1 << 20;

v1::Observation line_of(const std::string& source, int seq, const std::string& kind) {
  const auto line = record::observation_from_line(R"({"time":"2026-11-05T12:00:00Z","source":")" +
                                                  source + R"(","seq":)" + std::to_string(seq) +
                                                  R"(,"clock":"truck",)" + kind + "}");
  EXPECT_TRUE(line) << line.error().message;
  return line.value_or(v1::Observation{});
}
v1::Observation note(int seq) {
  return line_of("desk", seq, R"("job":"t-1","note":{"text":"a note"})");
}
v1::Observation sample(int seq) {
  return line_of("line", seq, R"("sample":{"signal":"line.pull","value":2500})");
}

// A ledger with one chain of its own, a recorder on it, and a disk whose free space the test says.
class RoomTest : public testing::Test {
 protected:
  RoomTest() {
    std::string name = (std::filesystem::temp_directory_path() / "fairlead-room-XXXXXX").string();
    folder_ = ::mkdtemp(name.data());
    config_.ballast_mib = 1;
    config_.attachments_mib = 100;
    config_.entries_mib = 20;
    config_.truck_reserve_mib = 50;
  }
  ~RoomTest() override {
    recorder_.reset();
    office_.reset();
    truck_.reset();
    std::filesystem::remove_all(folder_);
  }
  SpaceProbe probe() {
    return [this]() -> Result<Space> { return space_; };
  }
  void make_recorder(ledger::Ledger& ledger) {
    RecorderOptions options;
    options.device_id.fill(7);
    options.key = key_;
    ASSERT_TRUE(ledger.start_chain({options.device_id, 1, key_->public_key(), sha256("begin")}));
    recorder_ = std::make_unique<Recorder>(ledger, options);
    ASSERT_TRUE(recorder_->start("test"));
  }
  template <typename Body>
  static std::vector<Body> bodies(const ledger::Ledger& ledger, record::Kind kind) {
    std::vector<Body> out;
    const auto entries = *ledger.entries_of_kind(kind, 0, 100);
    for (const auto& entry : entries) {
      Body body;
      EXPECT_TRUE(body.ParseFromString(entry.body));
      out.push_back(std::move(body));
    }
    return out;
  }

  std::filesystem::path folder_;
  DiskConfig config_;
  Space space_{1'000 * kMib, 10'000 * kMib};
  std::shared_ptr<const SecretKey> key_ = std::make_shared<const SecretKey>(SecretKey::generate());
  std::unique_ptr<Office> office_;
  std::unique_ptr<ledger::Ledger> truck_;
  std::unique_ptr<Recorder> recorder_;
};

TEST_F(RoomTest, ABaseRefusesPhotosThenEntriesAndTakesInAgainByItself) {
  auto opened = Office::open(folder_, "ozzlewick");
  ASSERT_TRUE(opened) << opened.error().message;
  office_ = std::move(*opened);
  ledger::Ledger& ledger = office_->ledger();
  make_recorder(ledger);
  BaseDisk disk(*office_, config_, probe(), [](const std::string&) {});
  disk.look();
  EXPECT_TRUE(std::filesystem::exists(folder_ / "ballast"));
  EXPECT_THAT(bodies<v1::DiskFullBody>(ledger, record::Kind::kDiskFull), IsEmpty());

  space_.free = 99 * kMib;
  disk.look();
  EXPECT_THAT(ledger.put_attachment("photo").error().message, HasSubstr("try again in 60 s"));
  EXPECT_TRUE(recorder_->feed({{note(1)}}));
  EXPECT_TRUE(disk.state().room == ledger::Room::kNoAttachments);

  space_.free = 19 * kMib;
  disk.look();
  EXPECT_FALSE(std::filesystem::exists(folder_ / "ballast")) << "freed to write DISK_FULL";
  const auto refused = recorder_->feed({{note(2)}});
  ASSERT_FALSE(refused);
  EXPECT_EQ(Code::kUnavailable, refused.error().code);
  EXPECT_TRUE(ledger.sign_head()) << "heads and proofs are served";
  space_.free = 20 * kMib + kMib / 2;
  disk.look();
  EXPECT_FALSE(recorder_->feed({{note(3)}})) << "the ballast's room is not room";

  space_.free = 1'000 * kMib;
  disk.look();
  EXPECT_TRUE(std::filesystem::exists(folder_ / "ballast"));
  // What was refused goes on record by itself, in its order, and then counts as known.
  Result<Fed> again;
  for (int i = 0; i < 100 && (!again || again->duplicates == 0); ++i) {
    recorder_->tick();
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
    again = recorder_->feed({{note(2)}});
  }
  ASSERT_TRUE(again) << again.error().message;
  EXPECT_EQ(1U, again->duplicates);
  EXPECT_TRUE(recorder_->feed({{note(3)}}));
  const auto said = bodies<v1::DiskFullBody>(ledger, record::Kind::kDiskFull);
  ASSERT_THAT(said, SizeIs(3));
  EXPECT_TRUE(said[0].refuses_attachments() && !said[0].refuses_entries());
  EXPECT_TRUE(said[1].refuses_attachments() && said[1].refuses_entries());
  EXPECT_TRUE(!said[2].refuses_attachments() && !said[2].refuses_entries());
  EXPECT_EQ(19 * kMib, said[1].free_bytes());
  EXPECT_EQ("", ledger.failure());
  EXPECT_THAT(ledger.audit()->problems, IsEmpty());
}

TEST_F(RoomTest, ATruckGivesUpSamplesOutsideJobsAndNeverAnEvent) {
  ledger::Options options;
  options.folder = folder_ / "ledger";
  auto opened = ledger::open_sqlite(options);
  ASSERT_TRUE(opened);
  truck_ = std::move(*opened);
  make_recorder(*truck_);
  record::Id16 device{};
  device.fill(7);
  TruckDiskRoom room(*truck_, *recorder_, device, key_, config_, probe(),
                     [](const std::string&) {});
  ASSERT_TRUE(recorder_->feed({{sample(1)}}));
  ASSERT_TRUE(recorder_->feed({{note(1)}}));
  room.look();
  EXPECT_THAT(bodies<v1::DropBody>(*truck_, record::Kind::kDrop), IsEmpty());

  space_.free = 49 * kMib;
  room.look();
  const auto drops = bodies<v1::DropBody>(*truck_, record::Kind::kDrop);
  ASSERT_THAT(drops, SizeIs(1));
  EXPECT_EQ(1U, drops[0].bodies());
  room.look();  // Nothing is left to give up.
  EXPECT_TRUE(room.state().refuses_samples);
  EXPECT_TRUE(recorder_->offer(sample(2)));
  EXPECT_FALSE(recorder_->feed({{sample(3)}})) << "not recorded, so not said to be";
  EXPECT_TRUE(recorder_->feed({{note(2)}})) << "events go on";

  space_.free = 1'000 * kMib;
  room.look();
  EXPECT_FALSE(room.state().refuses_samples);
  ASSERT_TRUE(recorder_->feed({{sample(4)}}));
  const auto gaps = bodies<v1::GapBody>(*truck_, record::Kind::kGap);
  ASSERT_THAT(gaps, SizeIs(2));
  EXPECT_FALSE(gaps[0].has_until_us());
  EXPECT_EQ("disk full", gaps[1].cause());
  EXPECT_EQ(1U, gaps[1].lost());
  EXPECT_THAT(truck_->audit()->problems, IsEmpty());
}

TEST_F(RoomTest, TheScrubNamesWhatIsDamagedOnceAndRemembersWhenItWasDone) {
  ledger::Options options;
  options.folder = folder_ / "ledger";
  auto opened = ledger::open_sqlite(options);
  ASSERT_TRUE(opened);
  truck_ = std::move(*opened);
  const auto photo = *truck_->put_attachment("photo");
  const std::string name = hex_of(photo);
  std::ofstream(folder_ / "ledger" / "attachments" / name.substr(0, 2) / name) << "phot0";
  std::vector<std::string> told;
  ScrubOptions scrubbing;
  scrubbing.every = std::chrono::hours(1);
  scrubbing.damaged = [&](const std::string& item) { told.push_back(item); };
  {
    Scrubber scrubber(*truck_, scrubbing);
    EXPECT_EQ(1U, scrubber.read_all()->problems.size());
    EXPECT_EQ(1U, scrubber.read_all()->problems.size());
    EXPECT_GT(scrubber.state().last_done_us, 0);
  }
  ASSERT_THAT(told, SizeIs(1));
  EXPECT_THAT(told[0], HasSubstr(name));
  // Due at once when the last one is longer ago than the span.
  ASSERT_TRUE(truck_->put_value("scrub_done_us", "1"));
  Scrubber again(*truck_, scrubbing);
  for (int i = 0; i < 200 && again.state().last_done_us == 0; ++i)
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
  EXPECT_THAT(again.state().problems, SizeIs(1));
}

}  // namespace
}  // namespace fairlead::watch
