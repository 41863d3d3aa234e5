#include "tests/unit/desk/small_desk.h"

#include <fmt/format.h>

#include <cstdlib>
#include <fstream>
#include <iterator>
#include <thread>

#include "daemon/desk/register.h"
#include "daemon/watch/job_id.h"

namespace fairlead::desk {
namespace {

template <typename T>
T must(Result<T> result) {
  if (result) return std::move(*result);
  fmt::print(stderr, "small desk: {}\n", result.error().message);
  std::abort();
}
void must(const Status& status) {
  if (status) return;
  fmt::print(stderr, "small desk: {}\n", status.error().message);
  std::abort();
}

}  // namespace

SmallDesk::SmallDesk(const std::string& base_name) {
  std::string name = (std::filesystem::temp_directory_path() / "fairlead-desk-XXXXXX").string();
  if (mkdtemp(name.data()) == nullptr) std::abort();
  folder_ = name;
  office_ = must(watch::Office::open(folder_, base_name));
  shelf_ = std::make_unique<watch::Shelf>();
  watch::WatchOptions options;
  options.office = office_.get();
  watch_ = std::make_unique<watch::Watch>(office_->ledger(), options);
  devices_ = std::make_unique<intake::Devices>(*office_);
  const auto key = std::make_shared<const SecretKey>(SecretKey::generate());
  const record::Id16 id = random_array<16>();
  v1::EnrolBody enrol;
  enrol.set_public_key(string_of(key->public_key().bytes));
  enrol.set_device_id(string_of(id));
  enrol.set_device_name("import");
  enrol.set_kind(v1::EnrolBody::IMPORT);
  must(devices_->enrol(enrol));
  watch::RecorderOptions recorder;
  recorder.device_id = id;
  recorder.key = key;
  recorder.clock = "base";
  recorder.pins = [this](const v1::Opened& opened) { return shelf_->pins_for(opened); };
  import_ = std::make_unique<watch::Recorder>(office_->ledger(), recorder);
  must(import_->start("test"));
  must(watch_->load());
  desk_ = std::unique_ptr<Desk>(new Desk{
      *office_, *shelf_, *watch_, *devices_, *import_, id, {}, {}, nullptr, {}, {}, nullptr});
}

SmallDesk::~SmallDesk() {
  (void)import_->stop("test over");
  desk_.reset();
  import_.reset();
  watch_.reset();
  devices_.reset();
  office_.reset();
  std::filesystem::remove_all(folder_);
}

void SmallDesk::put_file(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  v1::PutFileRequest request;
  request.set_name(path.filename().string());
  request.set_content({std::istreambuf_iterator<char>(file), {}});
  must(desk::put_file(*desk_, request));
}

bool SmallDesk::judged(const std::string& name) {
  for (int i = 0; i < 200; ++i) {
    const auto view = watch_->job(watch::job_id_of(name));
    if (view && view->closed && view->settled && !view->findings.empty()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
  }
  return false;
}

}  // namespace fairlead::desk
