#include "cli/program.hpp"

#include <catch2/catch.hpp>
#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <sstream>
#include <stdexcept>

namespace corefleck::testing {
namespace {

fs::path new_folder() {
  std::string pattern = (fs::temp_directory_path() / "corefleck-cli-test-XXXXXX").string();
  if (::mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder: " + pattern);
  return pattern;
}

/// Between fork and exec: only what is safe there.
[[noreturn]] void become(
    const char* program, char* const* argv, const char* folder, int out, int err, const Environment& more) {
  for (const auto& [name, value] : more) ::setenv(name.c_str(), value.c_str(), 1);
  if (::chdir(folder) == 0 && ::dup2(out, STDOUT_FILENO) >= 0 && ::dup2(err, STDERR_FILENO) >= 0)
    ::execv(program, argv);
  ::_exit(127);
}

int file_for_output(const fs::path& path) {
  const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
  if (file < 0) throw std::runtime_error("cannot write " + path.string());
  return file;
}

int status_of(pid_t child) {
  int state = 0;
  while (::waitpid(child, &state, 0) < 0)
    if (errno != EINTR) throw std::runtime_error("waitpid failed");
  return WIFEXITED(state) ? WEXITSTATUS(state) : -1;
}

bool is_newer(const fs::path& file, const fs::path& program) {
  std::error_code missing;
  const auto time = fs::last_write_time(file, missing);
  return !missing && time >= fs::last_write_time(program);
}

fs::path rendered(int seed, const Arguments& settings) {
  fs::create_directories(COREFLECK_SCENE_FOLDER);
  fs::path folder = fs::path(COREFLECK_SCENE_FOLDER) / ("making-" + std::to_string(::getpid()));
  Arguments arguments{"--out", folder.string(), "--seeds", std::to_string(seed), "--family", "plain"};
  arguments.insert(arguments.end(), {"--width", "2000", "--height", "1500"});
  arguments.insert(arguments.end(), {"--set", "bar_blocks=5", "block_mm=10", "card_reflectance=0.18"});
  arguments.insert(arguments.end(), settings.begin(), settings.end());
  const Run made = run(COREFLECK_SCENES, arguments, COREFLECK_SCENE_FOLDER);
  if (made.status != 0) throw std::runtime_error("the scene renderer failed: " + made.err);
  return folder;
}

}  // namespace

TemporaryFolder::TemporaryFolder() : path_(new_folder()) {}

TemporaryFolder::~TemporaryFolder() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

Run run(const fs::path& program,
        const Arguments& arguments,
        const fs::path& folder,
        const Environment& environment) {
  const TemporaryFolder outputs;
  std::vector<std::string> words{program.string()};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<char*> argv;
  for (std::string& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);
  const int out = file_for_output(outputs.path() / "out"), err = file_for_output(outputs.path() / "err");
  const pid_t child = ::fork();
  if (child == 0) become(program.c_str(), argv.data(), folder.c_str(), out, err, environment);
  ::close(out);
  ::close(err);
  if (child < 0) throw std::runtime_error("fork failed");
  Run result;
  result.status = status_of(child);
  result.out = bytes_of(outputs.path() / "out");
  result.err = bytes_of(outputs.path() / "err");
  return result;
}

Run run_corefleck(const Arguments& arguments, const fs::path& folder, const Environment& environment) {
  return run(COREFLECK_PROGRAM, arguments, folder, environment);
}

std::string bytes_of(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  if (!stream) throw std::runtime_error("cannot read " + file.string());
  return {std::istreambuf_iterator<char>(stream), std::istreambuf_iterator<char>()};
}

void write_bytes(const fs::path& file, const std::string& bytes) {
  std::ofstream(file, std::ios::binary) << bytes;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

std::vector<std::string> names_under(const fs::path& folder) {
  std::vector<std::string> names;
  if (!fs::exists(folder)) return names;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    names.push_back(fs::relative(entry.path(), folder).string());
  std::sort(names.begin(), names.end());
  return names;
}

std::vector<Row> csv_rows(const std::string& text) {
  std::vector<std::vector<std::string>> table(1, {""});
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted && c == '"' && i + 1 < text.size() && text[i + 1] == '"') {
      table.back().back() += text[++i];
    } else if (c == '"') {
      quoted = !quoted;
    } else if (!quoted && c == ',') {
      table.back().emplace_back();
    } else if (!quoted && c == '\n') {
      table.push_back({""});
    } else if (quoted || c != '\r') {
      table.back().back() += c;
    }
  }
  std::vector<Row> rows;
  for (std::size_t r = 1; r + 1 < table.size(); ++r) {
    if (table[r].size() != table[0].size()) throw std::runtime_error("a CSV row has another number of cells");
    Row row;
    for (std::size_t c = 0; c < table[0].size(); ++c) row[table[0][c]] = table[r][c];
    rows.push_back(row);
  }
  return rows;
}

double number(const Row& row, const std::string& column) {
  INFO(column);
  REQUIRE(!row.at(column).empty());
  return std::stod(row.at(column));
}

// ctest runs each test in a process of its own, maybe several at once: rendered photos are kept in the build
// folder, and come to their place by a rename, which one process wins.
Scene scene(const std::string& name, int seed, const Arguments& settings) {
  const fs::path folder = fs::path(COREFLECK_SCENE_FOLDER) / name;
  const fs::path photo = folder / (name + ".jpg"), truth = folder / (name + ".truth.json");
  if (!is_newer(truth, COREFLECK_SCENES)) {
    const fs::path made = rendered(seed, settings);
    for (const auto& entry : fs::directory_iterator(made)) {
      const std::string ending = entry.path().extension().string();
      if (ending == ".jpg") fs::rename(entry.path(), made / photo.filename());
      if (ending == ".json") fs::rename(entry.path(), made / truth.filename());
    }
    std::error_code ignored;
    fs::remove_all(folder, ignored);
    fs::rename(made, folder, ignored);
    fs::remove_all(made, ignored);
  }
  return {photo, nlohmann::json::parse(bytes_of(truth))};
}

}  // namespace corefleck::testing
