# What learning from readings costs; included by the CMakeLists.txt of this folder.
add_executable(bench_life life_bench.cpp)
target_link_libraries(bench_life PRIVATE bw_base fmt::fmt nlohmann_json::nlohmann_json)
bw_paths(bench_life)
add_dependencies(bench_life brakewright)
