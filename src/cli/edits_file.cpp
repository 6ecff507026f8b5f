#include "edits_file.hpp"

#include <fstream>
#include <iterator>
#include <memory>

namespace corefleck {
namespace {

constexpr std::uintmax_t kLargestFile = 64U << 20U;

}  // namespace

Result<SharedOptions> with_edits_file(SharedOptions options) {
  if (options.edits_file.empty()) return options;
  const std::string name = options.edits_file.string();
  std::error_code error;
  const bool is_file = std::filesystem::is_regular_file(options.edits_file, error);
  std::ifstream file(options.edits_file, std::ios::binary);
  if (!is_file || !file)
    return failure(ErrorCode::bad_edits, name + ": cannot be read", "check the file after --edits");
  if (std::filesystem::file_size(options.edits_file, error) > kLargestFile)
    return failure(ErrorCode::bad_edits, name + ": is no edits file", "check the file after --edits");
  const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  auto edits = parse_edits(text, name);
  if (!edits) return tl::make_unexpected(edits.error());
  options.edits = std::make_shared<const Edits>(*std::move(edits));
  return options;
}

}  // namespace corefleck
