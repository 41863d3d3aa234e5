// Pictures for the page, through the child process; what comes back is read by Pillow (Debian
// python3-pil) in another one, with the rule of orientation from the Exif standard.
#include "reports/pictures.h"

#include <gmock/gmock.h>
#include <spawn.h>
#include <sys/wait.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

using testing::StartsWith;

class Pictures : public testing::Test {
 protected:
  void SetUp() override {
    std::string name =
        (std::filesystem::temp_directory_path() / "fairlead-pictures-XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  static bool runs(std::string python) {
    std::string program = "/usr/bin/python3", alone = "-I", command = "-c";
    python = "from PIL import Image\n" + python;
    char* arguments[] = {program.data(), alone.data(), command.data(), python.data(), nullptr};
    char* environment[] = {nullptr};
    pid_t child = 0;
    if (posix_spawn(&child, program.c_str(), nullptr, nullptr, arguments, environment) != 0)
      return false;
    int status = 1;
    return waitpid(child, &status, 0) == child && WIFEXITED(status) && WEXITSTATUS(status) == 0;
  }
  /// What Pillow makes of `python`, with `out` the file to save into.
  std::string made(const std::string& python) const {
    const auto file = folder_ / "made";
    EXPECT_TRUE(runs("out='" + file.string() + "'\n" + python)) << python;
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
  }
  /// Fails unless Pillow finds `condition` true of the picture `p`.
  void expect(const std::string& bytes, const std::string& condition) const {
    const auto file = folder_ / "shown";
    std::ofstream(file, std::ios::binary) << bytes;
    EXPECT_TRUE(runs("p=Image.open('" + file.string() + "')\np.load()\nassert " + condition +
                     ", (p.format, p.size, p.getpixel((1, 1)))"))
        << condition;
  }

  std::filesystem::path folder_;
};

TEST_F(Pictures, OfACameraAreScaledDownAndUpright) {
  // Turned by its EXIF orientation 6 (CIPA DC-008, Exif 2.3: the 0th row is the right side).
  const std::string camera = made(
      "p=Image.new(\"RGB\",(4000,3000),\"white\"); p.paste(\"black\",(0,0,2000,3000)); "
      "e=Image.Exif(); e[274]=6; p.save(out,\"JPEG\",quality=95,exif=e)");
  const auto shown = page_pictures({{"camera", {"image/jpeg", camera}}});
  ASSERT_TRUE(shown.has_value()) << shown.error().message;
  const std::string& bytes = shown->at("camera").bytes;
  EXPECT_LT(bytes.size(), camera.size());
  expect(bytes, "p.format == \"JPEG\" and p.size == (900, 1200)");
  // What was left is on top.
  expect(bytes, "p.getpixel((450, 20))[0] < 40 and p.getpixel((450, 1180))[0] > 215");
}

TEST_F(Pictures, ThatFitStayByteForByte) {
  const std::string small = striped_png(64, 48, 4);
  const auto shown = page_pictures({{"a", {"text/html", small}}});
  ASSERT_TRUE(shown.has_value()) << shown.error().message;
  EXPECT_EQ(shown->at("a").bytes, small);
  EXPECT_EQ(shown->at("a").media_type, "image/png");  // By its bytes, not by what was said.
}

TEST_F(Pictures, AreTheSameBytesEveryTime) {
  const std::string noise = made("Image.effect_noise((2500,1500),60).save(out,\"PNG\")");
  const auto once = page_pictures({{"n", {"image/png", noise}}});
  const auto again = page_pictures({{"n", {"image/png", noise}}});
  ASSERT_TRUE(once.has_value() && again.has_value());
  EXPECT_EQ(once->at("n").bytes, again->at("n").bytes);
  expect(once->at("n").bytes, "max(p.size) == 1200");
}

TEST_F(Pictures, ThatAreNoneAreLeftOutAndTheOthersKept) {
  const std::string camera = made("Image.new(\"RGB\",(2000,2000)).save(out,\"JPEG\")");
  const std::string bomb = made("Image.new(\"1\",(30000,30000)).save(out,\"PNG\")");
  EXPECT_LT(bomb.size(), 200'000u);
  const auto shown = page_pictures({{"a-cut", {"image/jpeg", camera.substr(0, 3'000)}},
                                    {"b-lie", {"image/jpeg", "\xFF\xD8\xFF<svg onload=alert(1)>"}},
                                    {"c-bomb", {"image/png", bomb}},
                                    {"d-other", {"image/png", "<svg/>"}},
                                    {"e-none", {"image/png", ""}},
                                    {"f-good", {"image/jpeg", camera}}});
  ASSERT_TRUE(shown.has_value()) << shown.error().message;
  ASSERT_EQ(shown->size(), 1u);
  EXPECT_THAT(shown->at("f-good").bytes, StartsWith("\xFF\xD8\xFF"));
}

TEST_F(Pictures, NoneAskForNoChild) {
  const auto shown = page_pictures({});
  ASSERT_TRUE(shown.has_value());
  EXPECT_TRUE(shown->empty());
}

}  // namespace
}  // namespace fairlead::reports
