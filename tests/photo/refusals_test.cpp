#include "photo/photo_files.hpp"
#include "photo/sha256.hpp"

#include "corefleck/photo.hpp"

#include <catch2/catch.hpp>
#include <unistd.h>

#include <random>

using namespace corefleck;
namespace files = photo_files;

namespace {

void check_refused(const std::filesystem::path& path,
                   ErrorCode code,
                   const std::string& reason,
                   const std::string& remedy) {
  const auto photo = read_photo(path, {});
  REQUIRE_FALSE(photo);
  CHECK(photo.error().code == code);
  CHECK_THAT(photo.error().what, Catch::Contains(path.filename().string()) && Catch::Contains(reason));
  CHECK_THAT(photo.error().hint, Catch::Contains(remedy));
  CHECK(photo.error().what.find('\n') == std::string::npos);
}

files::Bytes of_text(std::string_view text) { return {text.begin(), text.end()}; }

/// One valid file of each kind and way of writing it.
std::vector<files::Bytes> valid_files(const files::Folder& folder) {
  const cv::Mat samples = files::random_samples(61, 47, CV_8UC3, 8);
  const cv::Mat deep = files::random_samples(61, 47, CV_16UC3, 8);
  const files::Bytes exif = files::exif_with_orientation(6);
  std::vector<files::Bytes> all{
      files::jpeg(samples, {.exif = exif, .icc = {}}),
      files::jpeg(samples, {.exif = exif, .icc = {}, .progressive = true}),
      files::png(samples, {.icc = {}, .exif = {exif.begin() + 6, exif.end()}}),
      files::png(deep, {.icc = {}, .exif = {}, .interlaced = true}),
  };
  const std::vector<files::TiffForm> forms{
      {.compression = 1, .icc = {}},
      {.compression = 5, .orientation = 8, .predictor = true, .icc = {}},
      {.compression = 8, .tiled = true, .icc = {}},
      {.compression = 5, .planes = true, .icc = {}},
  };
  for (const auto& form : forms) {
    files::write_tiff(folder / "v.tif", deep, form);
    all.push_back(files::bytes_of(folder / "v.tif"));
  }
  files::write_tiff_with_exif(folder / "v.tif", samples);
  all.push_back(files::bytes_of(folder / "v.tif"));
  return all;
}

}  // namespace

TEST_CASE("refusal: a missing, empty, locked or misnamed file gives its reason and the remedy", "[photo]") {
  const files::Folder folder;
  check_refused(folder / "none.jpg", ErrorCode::unreadable_photo, "no such file", "path");
  files::write_bytes(folder / "empty.jpg", {});
  check_refused(folder / "empty.jpg", ErrorCode::unreadable_photo, "empty", "copy it again");
  std::filesystem::create_directory(folder / "folder.jpg");
  check_refused(folder / "folder.jpg", ErrorCode::unreadable_photo, "folder", "inside");
  files::write_bytes(folder / "note.jpg", of_text("These are words, not a picture."));
  check_refused(folder / "note.jpg", ErrorCode::unreadable_photo, "not a JPEG, PNG or TIFF", "JPEG");
  check_refused("/dev/null", ErrorCode::unreadable_photo, "not a plain file", "save");
}

TEST_CASE("refusal: a file without read permission is named as such", "[photo]") {
  if (::geteuid() == 0) {
    WARN("skipped: the superuser may read every file");
    return;
  }
  const files::Folder folder;
  files::write_bytes(folder / "locked.jpg", of_text("x"));
  std::filesystem::permissions(folder / "locked.jpg", std::filesystem::perms::none);
  check_refused(folder / "locked.jpg", ErrorCode::unreadable_photo, "not permitted", "permission");
}

TEST_CASE("refusal: known kinds that are not read are named, with the way out", "[photo]") {
  const files::Folder folder;
  using namespace std::string_view_literals;
  files::write_bytes(folder / "phone.heic",
                     of_text("\0\0\0\x24"
                             "ftypheic\0\0\0\0mif1heic\0\0\0\0\0\0\0\0"sv));
  check_refused(folder / "phone.heic", ErrorCode::unreadable_photo, "HEIC", "export it as JPEG or TIFF");
  files::write_bytes(folder / "a.cr2", of_text("II*\0\x10\0\0\0CR\x02\0\0\0\0\0"sv));
  check_refused(folder / "a.cr2", ErrorCode::unreadable_photo, "raw", "export it as JPEG or TIFF");
  files::write_bytes(folder / "a.webp", of_text("RIFF\x10\0\0\0WEBPVP8 \0\0\0\0"sv));
  check_refused(folder / "a.webp", ErrorCode::unreadable_photo, "WebP", "export");
}

TEST_CASE("refusal: a photo above the limit is refused from its header, naming the limit", "[photo]") {
  const files::Folder folder;
  const cv::Mat samples = files::random_samples(200, 100, CV_8UC3, 1);
  files::write_bytes(folder / "a.jpg", files::jpeg(samples));
  files::write_bytes(folder / "a.png", files::png(samples));
  files::write_tiff(folder / "a.tif", samples, {});
  for (const char* name : {"a.jpg", "a.png", "a.tif"}) {
    CHECK(read_photo(folder / name, {.max_megapixels = 0.02}));
    const auto photo = read_photo(folder / name, {.max_megapixels = 0.019});
    REQUIRE_FALSE(photo);
    CHECK(photo.error().code == ErrorCode::photo_too_large);
    CHECK_THAT(photo.error().what, Catch::Contains("200 x 100") && Catch::Contains("0.019"));
    CHECK_THAT(photo.error().hint, Catch::Contains("--max-megapixels"));
  }
}

TEST_CASE("refusal: a header that claims an enormous photo allocates nothing for it", "[photo]") {
  const files::Folder folder;
  files::Bytes bytes = files::jpeg(files::random_samples(16, 16, CV_8UC3, 1));
  for (std::size_t i = 0; i + 9 < bytes.size(); ++i)
    if (bytes[i] == 0xFF &&
        bytes[i + 1] == 0xC0) {  // start of frame: height and width follow three bytes later
      bytes[i + 5] = bytes[i + 6] = bytes[i + 7] = 0xFD;
      break;
    }
  files::write_bytes(folder / "bomb.jpg", bytes);
  check_refused(folder / "bomb.jpg", ErrorCode::photo_too_large, "megapixels", "--max-megapixels");
}

TEST_CASE("refusal: a JPEG, PNG or TIFF cut anywhere is refused, and never half a photo is given",
          "[photo]") {
  const files::Folder folder;
  std::mt19937 random(20260314);
  for (const files::Bytes& whole : valid_files(folder)) {
    files::write_bytes(folder / "whole", whole);
    const auto complete = read_photo(folder / "whole", {});
    REQUIRE(complete);
    for (int i = 0; i < 200; ++i) {
      const std::size_t length = i == 0 ? whole.size() - 1 : random() % whole.size();
      files::write_bytes(folder / "cut",
                         files::Bytes(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(length)));
      const auto photo = read_photo(folder / "cut", {});
      INFO("first bytes " << int{whole[0]} << ", " << length << " of " << whole.size() << " bytes");
      if (!photo) {
        CHECK(photo.error().code == ErrorCode::unreadable_photo);
        continue;
      }
      // A TIFF may end in tags that say nothing of the samples; then the samples must all be there.
      CHECK(photo->format == "TIFF");
      CHECK(cv::norm(photo->samples, complete->samples, cv::NORM_INF) == 0.0);
    }
  }
}

TEST_CASE("refusal: the reason says 'truncated' where the picture's own data end early", "[photo]") {
  const files::Folder folder;
  for (const files::Bytes& whole : valid_files(folder)) {
    if (whole[0] == 'I' || whole[0] == 'M')
      continue;  // libtiff writes its directory last: cut there, it is damaged
    files::write_bytes(
        folder / "half",
        files::Bytes(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(whole.size() / 2)));
    check_refused(folder / "half", ErrorCode::unreadable_photo, "truncated", "copy it again");
  }
}

TEST_CASE("refusal: flipped bytes give a photo or a reason, never a crash", "[photo]") {
  const files::Folder folder;
  std::mt19937 random(5);
  for (const files::Bytes& whole : valid_files(folder))
    for (int i = 0; i < 300; ++i) {
      files::Bytes bytes = whole;
      const std::size_t reach = i % 2 == 0 ? bytes.size() : std::min<std::size_t>(bytes.size(), 200);
      // Every other round near the end too, where libtiff writes its directory.
      const std::size_t from = i % 4 == 1 ? bytes.size() - reach : 0;
      for (int flips = 1 + i % 4; flips > 0; --flips)
        bytes[from + random() % reach] = static_cast<std::uint8_t>(random());
      files::write_bytes(folder / "flipped", bytes);
      const auto photo = read_photo(folder / "flipped", {.max_megapixels = 4.0});
      if (photo) {
        const cv::Rect all(0, 0, photo->width_px(), photo->height_px());
        CHECK(linear_luminance(*photo, all).size() == photo->samples.size());
      } else {
        CHECK_FALSE(photo.error().hint.empty());
      }
    }
}

TEST_CASE("digest: the example of FIPS 180-4 is met, and a file's digest is that of its bytes", "[photo]") {
  // FIPS 180-4 with its published examples: the message "abc".
  const std::string expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
  Sha256 digest;
  digest.add(of_text("a"));
  digest.add(of_text("bc"));
  CHECK(digest.hexadecimal() == expected);

  const files::Folder folder;
  const files::Bytes bytes = files::jpeg(files::random_samples(400, 300, CV_8UC3, 1));
  files::write_bytes(folder / "a.jpg", bytes);
  const auto photo = read_photo(folder / "a.jpg", {});
  REQUIRE(photo);
  digest.add(bytes);
  const std::string of_bytes = digest.hexadecimal();
  CHECK(photo->sha256 == of_bytes);
  CHECK(photo_sha256(folder / "a.jpg") == of_bytes);
  CHECK(!photo_sha256(folder / "missing.jpg"));
  CHECK(photo->file_bytes == bytes.size());
}
