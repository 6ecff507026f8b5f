# Writes OUT, a C++ source that holds each of FILES (names relative to FOLDER, separated by '|') as a string under its name.
#   cmake -DFOLDER=... -DFILES=a.css|b.js -DOUT=page_assets.cpp -P embed.cmake
string(REPLACE "|" ";" FILES "${FILES}")
set(source "#include \"page_assets.hpp\"\n\nnamespace corefleck {\n\nstd::string_view page_asset(std::string_view name) {\n")
foreach(file IN LISTS FILES)
  file(READ ${FOLDER}/${file} text)
  if(text MATCHES "[)]~page~\"")
    message(FATAL_ERROR "${file} holds the mark that ends an embedded text")
  endif()
  string(APPEND source "  if (name == \"${file}\")\n    return R\"~page~(${text})~page~\";\n")
endforeach()
string(APPEND source "  return {};\n}\n\n}  // namespace corefleck\n")
file(WRITE ${OUT} "${source}")
