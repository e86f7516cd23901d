# Work against precision of the heat engine; included by the CMakeLists.txt of this folder.
find_package(SUNDIALS REQUIRED COMPONENTS cvode nvecserial sunmatrixband sunlinsolband)
add_library(bench_heat_libraries STATIC heat_by_cvode_band.cpp heat_by_odeint.cpp)
# Boost.odeint's rosenbrock4 does not compile as C++20.
set_target_properties(bench_heat_libraries PROPERTIES CXX_STANDARD 17)
target_include_directories(bench_heat_libraries PRIVATE ${CMAKE_SOURCE_DIR}/tests/heat)
target_link_libraries(bench_heat_libraries PRIVATE SUNDIALS::cvode SUNDIALS::nvecserial SUNDIALS::sunmatrixband SUNDIALS::sunlinsolband)
add_executable(bench_heat heat_bench.cpp ${CMAKE_SOURCE_DIR}/tests/heat/random_brakes.cpp)
target_include_directories(bench_heat PRIVATE ${CMAKE_SOURCE_DIR}/tests/heat)
target_link_libraries(bench_heat PRIVATE bench_heat_libraries bw_heat bw_base fmt::fmt)
