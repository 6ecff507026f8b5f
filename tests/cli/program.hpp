#pragma once

#include <nlohmann/json.hpp>

#include <filesystem>
#include <map>
#include <string>
#include <utility>
#include <vector>

namespace corefleck::testing {

namespace fs = std::filesystem;

/// A new, empty folder that goes with this object.
class TemporaryFolder {
 public:
  TemporaryFolder();
  ~TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  [[nodiscard]] const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

struct Run {
  int status = -1;  ///< exit status; -1 if a signal ended the program
  std::string out, err;
};

using Environment = std::vector<std::pair<std::string, std::string>>;
using Arguments = std::vector<std::string>;

/// Runs a program in a folder, without a shell, its output into files.
[[nodiscard]] Run run(const fs::path& program,
                      const Arguments& arguments,
                      const fs::path& folder,
                      const Environment& environment = {});
/// The built corefleck.
[[nodiscard]] Run run_corefleck(const Arguments& arguments,
                                const fs::path& folder,
                                const Environment& environment = {});

[[nodiscard]] std::string bytes_of(const fs::path& file);
void write_bytes(const fs::path& file, const std::string& bytes);
[[nodiscard]] std::vector<std::string> lines_of(const std::string& text);
/// Relative names of every file and folder under `folder`, sorted.
[[nodiscard]] std::vector<std::string> names_under(const fs::path& folder);

/// RFC 4180: one map a row, from the header's names to the cells.
using Row = std::map<std::string, std::string>;
[[nodiscard]] std::vector<Row> csv_rows(const std::string& text);
/// The number in a row's cell; an empty cell fails the test.
[[nodiscard]] double number(const Row& row, const std::string& column);

/// A rendered photo and what is true of it.
struct Scene {
  fs::path photo;
  nlohmann::json truth;
};

/// Renders a plain scene at 2000 x 1500 px; `settings` as "card=none". One name stands for one seed and
/// settings: it is rendered once and kept. Bar and card are the ones of the default options.
[[nodiscard]] Scene scene(const std::string& name, int seed, const Arguments& settings = {});

}  // namespace corefleck::testing
