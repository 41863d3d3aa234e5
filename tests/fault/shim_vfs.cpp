#include "tests/fault/shim_vfs.h"

#include <sqlite3.h>
#include <unistd.h>

#include <algorithm>
#include <cstring>
#include <fstream>
#include <map>
#include <mutex>
#include <string>
#include <vector>

namespace fairlead::ledger {
namespace {

constexpr size_t kSector = 512;
constexpr const char* kTemporary = "temporary";

struct Operation {
  bool truncate = false;
  uint64_t at = 0;  // Offset, or the length a file is cut to.
  std::string bytes;
};

// A file as the platters hold it, and what only the cache knows.
struct Model {
  bool synced_once = false;
  std::string durable;
  std::vector<Operation> pending;
};

struct ShimFile {
  sqlite3_file base;
  Model* model;
  sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
};

std::mutex mutex;
ShimPlan plan;
ShimCounts counts;
std::map<std::string, Model> models;
std::mt19937_64 dice;
sqlite3_vfs* real_vfs = nullptr;

void apply(std::string& file, const Operation& operation) {
  if (operation.truncate) {
    file.resize(operation.at, '\0');
    return;
  }
  const size_t end = operation.at + operation.bytes.size();
  if (file.size() < end) file.resize(end, '\0');
  file.replace(operation.at, operation.bytes.size(), operation.bytes);
}

// One write as a disk makes it: sector by sector, each alone.
std::vector<Operation> sectors_of(const Operation& operation) {
  if (operation.truncate) return {operation};
  std::vector<Operation> out;
  for (size_t done = 0; done < operation.bytes.size();) {
    const size_t to_edge = kSector - (operation.at + done) % kSector;
    const size_t size = std::min(to_edge, operation.bytes.size() - done);
    out.push_back({false, operation.at + done, operation.bytes.substr(done, size)});
    done += size;
  }
  return out;
}

std::string after_power_loss(const Model& model) {
  std::string file = model.durable;
  std::vector<Operation> sectors;
  for (const Operation& operation : model.pending) {
    for (Operation& sector : sectors_of(operation)) sectors.push_back(std::move(sector));
  }
  switch (dice() % 4) {
    case 0:  // Nothing of it reached the disk.
      return file;
    case 1:  // The beginning did, in order.
      sectors.resize(dice() % (sectors.size() + 1));
      break;
    case 2:  // Whatever, in whatever order.
      std::ranges::shuffle(sectors, dice);
      sectors.resize(dice() % (sectors.size() + 1));
      break;
    default:  // Most of it, some torn.
      std::erase_if(sectors, [](const Operation&) { return dice() % 4 == 0; });
      for (Operation& sector : sectors) {
        if (dice() % 4 == 0 && !sector.truncate)
          sector.bytes.resize(dice() % (sector.bytes.size() + 1));
      }
      break;
  }
  for (const Operation& sector : sectors) apply(file, sector);
  return file;
}

[[noreturn]] void crash() {
  std::filesystem::create_directories(plan.after_crash);
  for (const auto& [path, model] : models) {
    const std::string name = std::filesystem::path(path).filename();
    if (name.ends_with("-shm") || name == kTemporary) continue;
    if (!model.synced_once && dice() % 2 == 0) continue;  // Not even its name is there.
    std::ofstream out(plan.after_crash / name, std::ios::binary);
    const std::string bytes = after_power_loss(model);
    out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  }
  ::_exit(ShimPlan::kCrashed);
}

// With the lock held.
void count_operation() {
  if (++counts.operations == plan.crash_at) crash();
}

ShimFile* shim(sqlite3_file* file) { return reinterpret_cast<ShimFile*>(file); }
sqlite3_file* real(sqlite3_file* file) { return shim(file)->real(); }

int shim_close(sqlite3_file* file) { return real(file)->pMethods->xClose(real(file)); }
int shim_read(sqlite3_file* file, void* into, int size, sqlite3_int64 at) {
  return real(file)->pMethods->xRead(real(file), into, size, at);
}
int shim_write(sqlite3_file* file, const void* bytes, int size, sqlite3_int64 at) {
  const std::scoped_lock lock(mutex);
  ++counts.writes;
  if (plan.full_from > 0 && counts.writes >= plan.full_from &&
      counts.writes < plan.full_from + plan.full_for) {
    return SQLITE_FULL;
  }
  count_operation();
  const int done = real(file)->pMethods->xWrite(real(file), bytes, size, at);
  if (done == SQLITE_OK) {
    shim(file)->model->pending.push_back(
        {false, static_cast<uint64_t>(at),
         std::string(static_cast<const char*>(bytes), static_cast<size_t>(size))});
  }
  return done;
}
int shim_truncate(sqlite3_file* file, sqlite3_int64 size) {
  const std::scoped_lock lock(mutex);
  count_operation();
  const int done = real(file)->pMethods->xTruncate(real(file), size);
  if (done == SQLITE_OK)
    shim(file)->model->pending.push_back({true, static_cast<uint64_t>(size), {}});
  return done;
}
int shim_sync(sqlite3_file* file, int flags) {
  const std::scoped_lock lock(mutex);
  count_operation();
  Model& model = *shim(file)->model;
  if (++counts.syncs == plan.fail_sync_at) {
    // As Linux does it: the error is told once, and what was to be kept may be gone.
    model.pending.clear();
    if (plan.on_failed_sync) plan.on_failed_sync();
    return SQLITE_IOERR_FSYNC;
  }
  // The real file is not synced: the model is what survives, and it is fast.
  (void)flags;
  for (const Operation& operation : model.pending) apply(model.durable, operation);
  model.pending.clear();
  model.synced_once = true;
  return SQLITE_OK;
}
int shim_size(sqlite3_file* file, sqlite3_int64* size) {
  return real(file)->pMethods->xFileSize(real(file), size);
}
int shim_lock(sqlite3_file* file, int how) { return real(file)->pMethods->xLock(real(file), how); }
int shim_unlock(sqlite3_file* file, int how) {
  return real(file)->pMethods->xUnlock(real(file), how);
}
int shim_reserved(sqlite3_file* file, int* held) {
  return real(file)->pMethods->xCheckReservedLock(real(file), held);
}
int shim_control(sqlite3_file* file, int what, void* with) {
  return real(file)->pMethods->xFileControl(real(file), what, with);
}
int shim_sector(sqlite3_file*) { return kSector; }
int shim_device(sqlite3_file* file) {
  return real(file)->pMethods->xDeviceCharacteristics(real(file));
}
int shim_map(sqlite3_file* file, int page, int size, int extend, void volatile** at) {
  return real(file)->pMethods->xShmMap(real(file), page, size, extend, at);
}
int shim_shm_lock(sqlite3_file* file, int at, int count, int flags) {
  return real(file)->pMethods->xShmLock(real(file), at, count, flags);
}
void shim_barrier(sqlite3_file* file) { real(file)->pMethods->xShmBarrier(real(file)); }
int shim_unmap(sqlite3_file* file, int remove) {
  return real(file)->pMethods->xShmUnmap(real(file), remove);
}

constexpr sqlite3_io_methods kMethods = {
    2,           shim_close, shim_read,     shim_write,    shim_truncate, shim_sync,
    shim_size,   shim_lock,  shim_unlock,   shim_reserved, shim_control,  shim_sector,
    shim_device, shim_map,   shim_shm_lock, shim_barrier,  shim_unmap,    nullptr,
    nullptr};

std::string content_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

int shim_open(sqlite3_vfs*, const char* name, sqlite3_file* file, int flags, int* out) {
  auto* opened = shim(file);
  std::memset(static_cast<void*>(opened), 0, sizeof *opened);
  const int done = real_vfs->xOpen(real_vfs, name, opened->real(), flags, out);
  if (done != SQLITE_OK) return done;
  const std::scoped_lock lock(mutex);
  const std::string path = name != nullptr ? name : kTemporary;
  const auto [at, fresh] = models.try_emplace(path);
  if (fresh && name != nullptr) {
    // What lies there from an earlier run is on the disk.
    at->second.durable = content_of(path);
    at->second.synced_once = !at->second.durable.empty();
  }
  opened->model = &at->second;
  opened->base.pMethods = &kMethods;
  return SQLITE_OK;
}

int shim_delete(sqlite3_vfs*, const char* name, int sync_folder) {
  {
    const std::scoped_lock lock(mutex);
    count_operation();
    models.erase(name);
  }
  return real_vfs->xDelete(real_vfs, name, sync_folder);
}

}  // namespace

void install_shim(ShimPlan given) {
  plan = std::move(given);
  dice.seed(plan.seed);
  real_vfs = sqlite3_vfs_find(nullptr);
  static sqlite3_vfs vfs = *real_vfs;
  vfs.zName = "bad disk";
  vfs.szOsFile = static_cast<int>(sizeof(ShimFile)) + real_vfs->szOsFile;
  vfs.xOpen = shim_open;
  vfs.xDelete = shim_delete;
  sqlite3_vfs_register(&vfs, 1);
}

ShimCounts shim_counts() {
  const std::scoped_lock lock(mutex);
  return counts;
}

}  // namespace fairlead::ledger
