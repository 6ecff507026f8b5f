#include "edits_files.hpp"

#include "corefleck/photo.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <iterator>
#include <string>
#include <utility>

namespace corefleck {
namespace {

namespace fs = std::filesystem;

constexpr std::uintmax_t kLargestFile = 64U << 20U;

Result<Edits> edits_in(const fs::path& path) {
  const std::string name = path.string();
  std::error_code error;
  const bool is_file = fs::is_regular_file(path, error);
  std::ifstream file(path, std::ios::binary);
  if (!is_file || !file)
    return failure(ErrorCode::bad_edits, name + ": cannot be read", "check the file after --edits");
  if (fs::file_size(path, error) > kLargestFile)
    return failure(ErrorCode::bad_edits, name + ": is no edits file", "check the file after --edits");
  const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  return parse_edits(text, name);
}

/// Of each photo; empty where it cannot be read, which is told when its turn comes.
std::vector<std::string> digests_of(const std::vector<fs::path>& photos) {
  std::vector<std::string> digests;
  for (const fs::path& photo : photos) digests.push_back(photo_sha256(photo).value_or(std::string()));
  return digests;
}

Result<void> give(Edits edits,
                  const std::vector<std::string>& digests,
                  std::vector<std::shared_ptr<const Edits>>& of_photos) {
  const auto given = std::make_shared<const Edits>(std::move(edits));
  bool used = false, all_known = true;
  for (std::size_t i = 0; i < digests.size(); ++i) {
    all_known = all_known && !digests[i].empty();
    if (digests[i] != given->photo_sha256) continue;
    if (of_photos[i])
      return failure(ErrorCode::bad_edits,
                     fmt::format("{}: corrects the same photo as {}", given->file, of_photos[i]->file),
                     "give one edits file a photo");
    of_photos[i] = given;
    used = true;
  }
  if (used || !all_known) return {};
  return failure(
      ErrorCode::bad_edits,
      fmt::format(
          "{}: made for another photo (SHA-256 {}...)", given->file, given->photo_sha256.substr(0, 12)),
      "give the photo that was corrected, or leave --edits out and correct this one in its "
      "report.html");
}

}  // namespace

Result<std::vector<std::shared_ptr<const Edits>>> edits_of_photos(const std::vector<fs::path>& files,
                                                                  const std::vector<fs::path>& photos) {
  std::vector<std::shared_ptr<const Edits>> of_photos(photos.size());
  if (files.empty()) return of_photos;
  std::vector<Edits> all;
  for (const fs::path& file : files) {
    auto edits = edits_in(file);
    if (!edits) return tl::make_unexpected(edits.error());
    all.push_back(*std::move(edits));
  }
  const std::vector<std::string> digests = digests_of(photos);
  for (Edits& edits : all)
    if (auto given = give(std::move(edits), digests, of_photos); !given)
      return tl::make_unexpected(given.error());
  return of_photos;
}

}  // namespace corefleck
