#include "result_folders.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <fstream>
#include <set>
#include <string>

namespace corefleck {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kLongestName = 200;  // of the 255 bytes that file systems allow, with room for a number

std::string lower_case(std::string name) {
  std::transform(name.begin(), name.end(), name.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return name;
}

/// Without cutting a UTF-8 character in two.
std::string shortened(std::string name) {
  if (name.size() <= kLongestName) return name;
  std::size_t end = kLongestName;
  while (end > 0 && (static_cast<unsigned char>(name[end]) & 0xC0U) == 0x80U) --end;
  name.resize(end);
  return name;
}

std::string cleaned(std::string name) {
  std::replace_if(
      name.begin(),
      name.end(),
      [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F || c == '/' || c == '\\'; },
      '_');
  // Other systems drop blanks and dots at the end, and "." and ".." lead elsewhere.
  while (!name.empty() && (name.back() == '.' || name.back() == ' ')) name.pop_back();
  return name.empty() ? "photo" : shortened(std::move(name));
}

std::vector<std::string> distinct(const std::vector<std::string>& words, std::set<std::string> taken) {
  std::vector<std::string> names;
  for (const std::string& word : words) {
    const std::string wish = cleaned(word);
    std::string name = wish;
    for (int number = 2; !taken.insert(lower_case(name)).second; ++number)
      name = fmt::format("{}-{}", wish, number);
    names.push_back(std::move(name));
  }
  return names;
}

bool is_inside(const fs::path& path, const fs::path& folder) {
  const auto [folder_end, path_at] = std::mismatch(folder.begin(), folder.end(), path.begin(), path.end());
  return folder_end == folder.end() && path_at != path.end();
}

fs::path resolved(const fs::path& path) {
  std::error_code error;
  fs::path whole = fs::weakly_canonical(fs::absolute(path, error), error);
  if (error) whole = path.lexically_normal();
  return whole.has_filename() ? whole : whole.parent_path();
}

}  // namespace

std::vector<fs::path> folder_names(const std::vector<fs::path>& photos) {
  std::vector<std::string> stems;
  for (const fs::path& photo : photos) stems.push_back(photo.stem().string());
  const auto names = distinct(stems, {kRunFiles.begin(), kRunFiles.end()});
  return {names.begin(), names.end()};
}

std::vector<std::string> distinct_names(const std::vector<std::string>& words) { return distinct(words, {}); }

std::optional<MeasureError> photo_in_the_way(const std::vector<fs::path>& photos,
                                             const fs::path& out,
                                             const std::vector<fs::path>& folders) {
  const fs::path root = resolved(out);
  for (const fs::path& photo : photos) {
    const fs::path place = resolved(photo);
    const auto overwrites = [&](const fs::path& target) {
      return place == target || is_inside(place, target);
    };
    std::error_code ignored;
    const bool is_result = is_inside(place, root) && place.parent_path() != root &&
                           fs::exists(place.parent_path() / "record.json", ignored);
    const auto overwritten_by = [&](const fs::path& name) { return overwrites(root / name); };
    if (is_result || std::any_of(kRunFiles.begin(), kRunFiles.end(), overwritten_by) ||
        std::any_of(folders.begin(), folders.end(), overwritten_by))
      return MeasureError{ErrorCode::bad_setting,
                          fmt::format("{}: lies where results are written", photo.string()),
                          "give another folder after --out"};
  }
  return std::nullopt;
}

Result<void> prepare_output(const fs::path& out) {
  const auto refused = [&](std::string_view why) {
    return failure(ErrorCode::cannot_write,
                   fmt::format("{}: {}", out.string(), why),
                   "give a folder after --out that can be made and written to");
  };
  std::error_code error;
  const bool existed = fs::exists(out, error);
  fs::create_directories(out, error);
  if (!fs::is_directory(out))
    return refused(existed ? "is not a folder" : "cannot be made (" + error.message() + ")");
  for (const char* name : kRunFiles)
    if (fs::is_directory(out / name, error)) return refused(fmt::format("holds a folder named {}", name));
  const fs::path probe = out / fmt::format(".corefleck-{}", ::getpid());
  const bool written = static_cast<bool>(std::ofstream(probe) << "x" << std::flush);
  fs::remove(probe, error);
  if (written) return {};
  if (!existed) fs::remove(out, error);
  return refused("cannot be written to");
}

}  // namespace corefleck
