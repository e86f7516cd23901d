# What ten years of rides cost the papers; included by the CMakeLists.txt of this folder.
find_package(nlohmann_json REQUIRED)
add_executable(bench_papers papers_bench.cpp)
target_link_libraries(bench_papers PRIVATE bw_base fmt::fmt nlohmann_json::nlohmann_json)
bw_paths(bench_papers)
add_dependencies(bench_papers brakewright)
